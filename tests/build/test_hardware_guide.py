"""hardware/README.md and SAFETY.md say what the program computes, and every file and command they name exists."""

import re
from pathlib import Path

import click
import pytest

from groundtone.app.builder.build import build
from groundtone.build.divider import divide
from groundtone.build.drawing import Line, Words
from groundtone.build.eseries import in_words
from groundtone.build.layout_check import with_film
from groundtone.build.mat_file import read_mat
from groundtone.build.panel_drawings import ball_strip, pads
from groundtone.build.parts import copper_m, film_pieces, parts, total_eur
from groundtone.build.pictures import cut_through, ground_plan
from groundtone.build.scan_budget import budget
from groundtone.build.schematic import schematic
from groundtone.build.sheets import svg
from groundtone.build.steps import first_hour, steps, total_minutes
from groundtone.build.wiring import FUSE, INPUT_OHM, OUTPUT_OHM, STRIKE_LEAD_M, SUPPRESSOR, awake_ohm, soldered

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "hardware" / "README.md").read_text("utf-8")
MATS = {name: read_mat(name) for name in ("starter", "reference")}


def hours(minutes):
    return f"{minutes // 60} h {minutes % 60} min"


@pytest.mark.parametrize("work", [first_hour, steps])
def test_every_step_stands_in_the_guide_with_its_minutes(work):
    for starter, reference in zip(work(MATS["starter"]), work(MATS["reference"]), strict=True):
        row = (
            f"| {starter.title} | {starter.how} | {starter.drawing} | {starter.minutes} | {reference.minutes} "
            f"| {starter.done_when} |"
        )
        assert row in GUIDE


def test_sums_stand_in_the_guide():
    starter, reference = MATS["starter"], MATS["reference"]
    totals = [total_minutes(steps(mat)) for mat in (starter, reference)]
    assert f"| the whole mat after that | {hours(totals[0])} | {hours(totals[1])} |" in GUIDE
    firsts = [total_minutes(first_hour(mat)) for mat in (starter, reference)]
    assert f"| first hour, one panel | {firsts[0]} min | {firsts[1]} min |" in GUIDE
    prices = [f"{total_eur(parts(mat)):.0f} EUR" for mat in (starter, reference)]
    assert f"| {prices[0]} | {prices[1]} |" in GUIDE
    flat = " ".join(GUIDE.split())
    for mat, strips, cells in ((starter, 12, 60), (reference, 16, 128)):
        assert film_pieces(mat) == (strips, 162.0)
        assert mat.layout.cells == cells
        assert f"{strips} strips" in flat
        assert f"{cells} pads" in flat
    assert "8 m of copper tape" in flat
    assert 7 < copper_m(starter) <= 8
    assert "the reference 11 m" in flat
    assert 10 < copper_m(reference) <= 11


def test_figures_of_the_divider_stand_in_the_guide():
    found = divide(with_film(MATS["starter"], (2.0, 10.0), (17300.0, 4070.0)))
    assert [round(ohm, -1) for ohm in found.good_ohm] == [440.0, 1600.0]
    assert "anything from 440 to 1600 Ω is within a tenth of the least noise" in " ".join(GUIDE.split())
    assert round(found.currents[2].pin_high_ma) == 13
    assert "put 13 mA through a pin" in " ".join(GUIDE.split())
    assert 95 < budget(MATS["starter"]).load_ohm < 110  # "put 100 Ω"


def test_every_command_of_the_guide_exists():
    named = set(re.findall(r"groundtone build (\w+)", GUIDE))
    known = set(build.list_commands(click.Context(build)))
    assert named <= known
    assert {"divider", "scan", "network", "parts", "templates", "wiring", "layout", "steps"} <= named


def test_every_link_of_the_guide_leads_somewhere():
    links = re.findall(r"\]\(([^)#]+)\)", GUIDE)
    assert "firmware.md" in links
    assert "commissioning.md" in links
    for link in links:
        assert (ROOT / "hardware" / link).exists(), link


@pytest.mark.parametrize("name", list(MATS))
def test_the_pictures_in_the_repository_are_the_programs(name):
    mat, folder = MATS[name], ROOT / "hardware" / "pictures"
    for drawing in (ground_plan(mat), cut_through(mat)):
        kept = folder / f"{mat.layout.id}-{drawing.name}.svg"
        assert kept.read_text("utf-8") == svg(drawing, 0.7)
    kept = folder / f"{mat.layout.id}-schematic.svg"
    assert kept.read_bytes() == schematic(mat, "svg")
    assert all(path.stat().st_size < 100_000 for path in folder.iterdir())


PAPERS = {
    name: " ".join((ROOT / name).read_text("utf-8").split())
    for name in ("README.md", "SAFETY.md", "hardware/README.md", "hardware/commissioning.md", "hardware/firmware.md")
}


@pytest.mark.parametrize("name", list(MATS))
def test_parts_wiring_schematic_guide_and_safety_name_the_same_parts(name):
    """One part, five papers: whatever is soldered is bought and drawn, and what protects is in the guide."""
    mat = MATS[name]
    bill = {part.name: part.quantity for part in parts(mat)}
    drawn = schematic(mat, "svg").decode()
    for part, count in soldered(mat).items():
        value = part.removesuffix(" 1 %").removesuffix(" 1 W")
        bought = [n for line, n in bill.items() if line.removeprefix("resistor ").startswith(part)]
        spare = 1 if part == "1 kΩ 1 %" else 0  # the test resistor
        assert bought == [count + spare], part
        if value[0].isdigit() or part == FUSE:
            assert value in drawn, part
    guide, safety = PAPERS["hardware/README.md"], PAPERS["SAFETY.md"]
    assert f"{in_words(OUTPUT_OHM)} at its output" in guide
    assert f"{in_words(INPUT_OHM)} before each multiplexer input" in guide
    assert "**fuse** goes into the red wire of the USB lead" in guide
    assert "fuse (0.5 A) into the red wire of the USB lead" in safety
    assert f"put {in_words(awake_ohm(mat))} (1 W" in guide
    suppressor = next(line for line in bill if line.startswith(SUPPRESSOR))
    assert "one-way" in suppressor
    assert "50 pF at most" in suppressor
    assert "one-way, 50 pF at most" in guide
    # Places and lengths: drawing, bill and both papers.
    plan = " ".join(shape.text for shape in ground_plan(mat).shapes if isinstance(shape, Words))
    for text in (plan, guide, safety):
        assert "600 mm behind the heels" in text
    assert bill["shielded lead"] == STRIKE_LEAD_M == 2.0
    assert f"{STRIKE_LEAD_M:g} m of shielded lead" in guide
    ball = ball_strip(mat)
    spot = next(line for line in ball.named("ball") if isinstance(line, Line))
    sensor = ball.named("strike sensor")[0]
    assert max(y for _, y in sensor.points) + 150 <= spot.begin[1]
    for text in (guide, safety):
        assert "150 mm of the ball's line" in text
        assert "never feet" in text or "never on feet" in text
    assert any("under the whole plate" in line for line in bill)
    assert any(line.startswith("rim of firm strip") for line in bill)
    assert pads(mat, 0).named("rim")
    assert "firm rim" in guide.lower()


def test_no_paper_allows_a_bare_cell_and_all_say_the_same_time():
    assert "no bare lithium cell" in PAPERS["SAFETY.md"].replace("*", "")
    assert not any("charger board" in text for text in PAPERS.values())
    starter = total_minutes(first_hour(MATS["starter"])) + total_minutes(steps(MATS["starter"]))
    assert 6.0 <= starter / 60 <= 7.5
    for name in ("README.md", "hardware/README.md"):
        assert "about seven hours" in PAPERS[name]


def test_safety_covers_what_a_builder_must_know():
    text = (ROOT / "SAFETY.md").read_text("utf-8").lower()
    for word in (
        "usb", "bare lithium cell", "fuse", "no mains", "wet grass", "charge", "slide", "peg", "edges", "cables leave",
        "circle of the club", "eye protection", "copper tape", "85 db", "pain", "not a medical device", "child",
        "licensed electrician", "licence and insurance", "what the measurement cannot do",
    ):  # fmt: skip
        assert word in text, word
