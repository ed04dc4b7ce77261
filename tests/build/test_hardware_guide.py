"""hardware/README.md and SAFETY.md say what the program computes, and every file and command they name exists."""

import dataclasses
import math
import re
from pathlib import Path

import click
import pytest

from groundtone.app.builder.build import build
from groundtone.build.divider import divide
from groundtone.build.drawing import Words
from groundtone.build.eseries import in_words
from groundtone.build.layout_check import with_film
from groundtone.build.mat_file import read_mat
from groundtone.build.mechanics import SHEAR_PART, beam_mpa, hardest_load_n
from groundtone.build.panel_drawings import ball_strip
from groundtone.build.parts import _GROUPS as GROUPS
from groundtone.build.parts import copper_m, film_pieces, parts, total_eur
from groundtone.build.parts import table as parts_table
from groundtone.build.pictures import cut_through, ground_plan
from groundtone.build.pins import known_boards
from groundtone.build.scan_budget import bank_hours, budget
from groundtone.build.schematic import schematic
from groundtone.build.sheets import svg
from groundtone.build.steps import first_hour, steps, total_minutes
from groundtone.build.wiring import (
    BUZZER_OHM,
    PIN_OHM,
    STRIKE_LEAD_M,
    SUPPRESSOR,
    awake_ohm,
    fuse,
    soldered,
)  # fmt: skip
from groundtone.build.wiring import table as wiring_table

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
    assert "10 m of copper tape" in flat
    assert 9 < copper_m(starter) <= 10
    assert "the reference 15 m" in flat
    assert 14 < copper_m(reference) <= 15


def test_figures_of_the_divider_stand_in_the_guide():
    found = divide(with_film(MATS["starter"], (2.0, 10.0), (17300.0, 4070.0)))
    assert [round(ohm, -1) for ohm in found.good_ohm] == [440.0, 1600.0]
    assert "anything from 440 to 1600 Ω is within a tenth of the least noise" in " ".join(GUIDE.split())
    currents = {line.name: max(line.pin_high_ma, line.pin_low_ma) for line in found.currents}
    assert round(currents["a row at ground"]) == 12
    assert round(currents["a row at 3.3 V"]) == 13
    assert currents["two rows joined, at the hardest moment"] < 8
    assert "line at ground puts 12 mA through its pin and one at 3.3 V 13 mA" in GUIDE_FLAT
    standing = []
    for ohm in (100.0, 220.0, 270.0):
        mat = MATS["reference"]
        cells = divide(dataclasses.replace(mat, electrical=dataclasses.replace(mat.electrical, series_ohm=ohm))).cells
        standing.append({cell.force_n: f"{cell.standing_n:.2f}" for cell in cells})
    at_200, at_10 = ([cells[force] for cells in standing] for force in (200.0, 10.0))
    assert f"{at_200[0]} N with 100 Ω, {at_200[1]} N with 220, {at_200[2]} N with 270" in GUIDE_FLAT
    assert f"of 10 N {', '.join(at_10)}" in GUIDE_FLAT


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
    name: " ".join((ROOT / name).read_text("utf-8").split()).replace("*", "")
    for name in ("README.md", "SAFETY.md", "hardware/README.md", "hardware/commissioning.md", "hardware/firmware.md")
}
GUIDE_FLAT, SAFETY = PAPERS["hardware/README.md"], PAPERS["SAFETY.md"]


def drawn_words(*drawings):
    return " ".join(shape.text for drawing in drawings for shape in drawing.shapes if isinstance(shape, Words))


def rows_of(markdown):
    """Cells of every row of every Markdown table."""
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in markdown.splitlines() if line[:2] == "| "]


@pytest.mark.parametrize("name", list(MATS))
def test_parts_wiring_schematic_guide_and_safety_name_the_same_parts(name):
    """One part, five papers, read as they are printed: whatever is soldered is bought and drawn."""
    mat = MATS[name]
    bill = {cells[1]: float(cells[2].split()[0]) for cells in rows_of(parts_table(mat)) if cells[0] in GROUPS}
    through = [cells[1] for cells in rows_of(wiring_table(mat)) if len(cells) == 3]
    drawn = schematic(mat, "svg").decode()
    for part, count in soldered(mat).items():
        assert sum(len(re.findall(rf"(?:^|, ){re.escape(part)}", cell)) for cell in through) == count, part
        value = part.removesuffix(" 1 %").removesuffix(" 1 W")
        bought = [n for line, n in bill.items() if line.removeprefix("resistor ").startswith(part)]
        spare = 1 if part == "1 kΩ 1 %" else 0  # the test resistor
        assert bought == [count + spare], part
        if value[0].isdigit() or part == fuse(mat):
            assert value in drawn, part
    electrical = MATS["reference"].electrical
    assert f"{in_words(electrical.output_ohm)} at its output" in GUIDE_FLAT
    assert f"{in_words(electrical.input_ohm)} before each multiplexer input" in GUIDE_FLAT
    assert f"from there through {in_words(electrical.strike_series_ohm)}" in GUIDE_FLAT
    assert f"and {in_words(PIN_OHM)} into the ADC's pin" in GUIDE_FLAT
    assert f"from its pin, through {in_words(BUZZER_OHM)}, to the switch" in GUIDE_FLAT
    suppressor = next(line for line in bill if line.startswith(SUPPRESSOR))
    assert "one-way" in suppressor
    assert "50 pF at most" in suppressor
    assert "one-way, 50 pF at most" in GUIDE_FLAT
    assert bill["shielded lead"] == STRIKE_LEAD_M == 2.0
    assert f"{STRIKE_LEAD_M:g} m of shielded lead" in GUIDE_FLAT
    ground = next(cells for cells in rows_of(wiring_table(mat)) if cells[2].startswith("shield of the piezo"))
    assert ground[0] == "AGND, pin 33 too"
    assert "shield to its brass and at the box to AGND" in GUIDE_FLAT
    assert "AGND, pin 33" in drawn


@pytest.mark.parametrize("name", list(MATS))
def test_the_fuse_and_what_keeps_a_power_bank_awake_have_one_place_in_all_papers(name):
    mat = MATS[name]
    wires_by_begin = {cells[0]: cells for cells in rows_of(wiring_table(mat)) if len(cells) == 3}
    assert wires_by_begin["VBUS, pin 40"][1:] == [f"{fuse(mat)} in the cut red wire of the USB lead", "USB plug, 5 V"]
    on, off = awake_ohm(mat)
    assert (on, off) == (220.0, 100.0)
    keeps = wires_by_begin["5 V, behind the fuse"][1]
    assert keeps.startswith(
        "220 Ω 1 W fitted last, with a power bank that switches off only (100 Ω where the radio is off)"
    )
    work = {step.title: step for step in steps(mat)}
    titles = list(work)
    assert titles.index("Board") < titles.index("USB lead") < titles.index("Power bank")
    assert "Cut the red wire 100 mm before the board's plug" in work["USB lead"].how
    assert "5 V to ground measured, fit the resistor" in work["Power bank"].how
    drawn = " ".join(
        re.findall(r">([^<>]+)</tspan>|>([^<>]+)</text>", schematic(mat, "svg").decode()).__str__().split()
    )
    for words in ("USB plug,", "5 V, red", fuse(mat), "VBUS, pin 40", "220 Ω, 1 W (100 Ω where the radio is off)"):
        assert words in drawn, words
    for text in (GUIDE_FLAT, SAFETY):
        assert "red wire" in text
        assert "100 mm before the board" in text
        assert (
            "nothing else: no bare lithium cell" in text.lower()
            or "no bare lithium cell, and nothing at vsys" in text.lower()
        )
    assert f"fuse ({mat.power.fuse_a:g} A) into the cut red wire" in SAFETY
    told = GUIDE_FLAT[GUIDE_FLAT.index("Power. By the USB lead") : GUIDE_FLAT.index("Boards.")]
    for words in ("100 mm before the board's plug", f"put {on:g} Ω (1 W", f"{off:g} Ω where the radio is off"):
        assert words in told
    # Measured before it is fitted, so that "over 10 kΩ" and the resistor do not contradict each other.
    measured = {(cells[0], cells[1]): cells[2] for cells in rows_of(GUIDE) if len(cells) == 4}
    assert measured["5 V", "ground, before the resistor of 1 W is fitted"] == "over 10 kΩ"
    assert measured["5 V", "ground, with it"] == f"{on:g} Ω, or {off:g} Ω"
    assert "and before the resistor that keeps a power bank awake is fitted" in SAFETY
    # Its hours: 3,145 mAh at 5 V over what is drawn.
    found = budget(mat)
    hours = [round(h) for h in (found.usb_h, found.radio_h, found.awake[1].hours, found.awake[0].hours)]
    assert hours == [90, 52, 38, 37]
    assert "lasts 90 or 52 h" in GUIDE_FLAT
    wrong = round(bank_hours(mat.power, mat.power.radio_ma + 50))
    assert f"It then lasts 38 or 37 h ({wrong} h with 100 Ω and the radio on)" in GUIDE_FLAT


@pytest.mark.parametrize("name", list(MATS))
def test_places_and_lengths_are_one_in_drawings_bill_guide_and_safety(name):
    mat = MATS[name]
    bill = " | ".join(part.name for part in parts(mat))
    plan, cut, strip = ground_plan(mat), cut_through(mat), ball_strip(mat)
    words = drawn_words(plan)
    # The box: on the plan measured between the box and the plates, in words everywhere.
    heel = min(y for edge in plan.named("edge") for _, y in edge.points if edge.layer == "cut")
    box_top = max(y for _, y in plan.named("box")[0].points)
    behind = mat.ground.box_behind_mm
    assert heel - box_top == pytest.approx(behind)
    assert behind >= 600
    assert f"{behind:g} mm behind the heels" in words
    assert f"{behind:g} mm behind the heels (600 mm at least)" in GUIDE_FLAT
    assert "at least 600 mm behind the heels" in SAFETY
    for text in (words, GUIDE_FLAT, SAFETY):
        assert "trip" in text
        assert "flat and taped" in text or "flat and are taped" in text
    # The lead reaches from the disc to the box along the plan, with slack.
    way = sum(math.dist(line.begin, line.end) for line in plan.named("lead"))
    assert 1.1 * way < 1000 * STRIKE_LEAD_M
    # Heights: the cut's layers add up, and every paper has them.
    layers = [float(x) for x in re.findall(r", ([\d.]+) mm", drawn_words(cut))]
    assert sum(layers[:10]) == pytest.approx(mat.height_mm)
    high = f"{mat.height_mm:.1f} mm"
    assert high in drawn_words(strip)
    assert high in words
    assert f"wedge {mat.bevel_mm:g} × {high}" in bill
    assert f"{high} high in all" in bill
    assert f"A panel is {high} high" in GUIDE_FLAT
    assert f"a step of about {mat.height_mm:.0f} mm" in SAFETY
    assert f"bevelled, {mat.bevel_mm:g} mm wide for {high}" in GUIDE_FLAT
    assert "1 : 2 or flatter" in SAFETY
    # The strip for the ball.
    long, deep = strip.size_mm
    assert f"{long:.0f} × {deep:.0f} mm" in bill
    assert f"{long:.0f} × {deep:.0f} mm, faced with turf, bevelled {mat.bevel_mm:g} mm" in GUIDE_FLAT
    assert f"at least {long:.0f} mm long, turf-faced, bevelled and pegged" in SAFETY
    for text in (GUIDE_FLAT, SAFETY, drawn_words(strip)):
        assert "within 150 mm of" in text
    # The plate and its sheet.
    assert f"{mat.stack.base_mm:g} mm of {mat.base.material}" in bill
    assert f"× {mat.stack.sheet_mm:g} mm, under the whole plate" in bill
    assert "under the whole plate" in drawn_words(cut)
    for text in (GUIDE_FLAT, SAFETY, bill + " ".join(part.instead for part in parts(mat))):
        assert "never feet" in text or "never on feet" in text
    load = hardest_load_n(mat.person.mass_kg, mat.person.peak, mat.person.peak_lead)
    bent = beam_mpa(340, MATS["starter"].base_width_mm, 6, load)
    assert f"{bent:.0f} MPa by the beam's formula under a heavy person's hardest step ({load:,.0f} N)" in GUIDE_FLAT


@pytest.mark.parametrize("name", list(MATS))
def test_what_is_glued_to_what_is_one_in_cut_steps_bill_and_guide(name):
    mat = MATS[name]
    cut = drawn_words(cut_through(mat))
    bill = " ".join(part.name for part in parts(mat))
    work = " ".join(f"{step.how} {step.done_when}" for step in steps(mat))
    assert "button, glued to its pad alone" in cut
    assert "pad, glued to the cover" in cut
    assert "rim to plate and cover" in cut
    assert "pads and rim to cover, buttons to pads, rim to plate" in bill
    assert "the cover glued on them; turn it over, a button on each pad" in work
    assert "Cover glued to the rim" in work
    assert "glue the rim to the plate" in work
    assert "Pads are glued to the cover, buttons to the pads and to nothing else" in GUIDE_FLAT
    assert "glued to plate and cover" in GUIDE_FLAT
    assert f"A firm rim {mat.rim_mm:g} mm high" in GUIDE_FLAT
    assert abs(mat.void_mm - mat.rim_mm) < 0.7  # what it is packed with makes up the rest
    # Glue is drawn where it is said: over rim, pads, lid and buttons, and nowhere at film, copper or upper foil.
    drawing = cut_through(mat)
    glue = [max(y for _, y in shape.points) for shape in drawing.named("glue")]
    layer = {key: drawing.named(key)[0].points for key in ("base plate", "upper foil", "button", "pad", "lower foil")}
    low, high = max(y for _, y in layer["lower foil"]), min(y for _, y in layer["button"])
    assert not [y for y in glue if low < y < high]
    assert len([y for y in glue if y > max(y for _, y in layer["pad"])]) == 2 + 1 + 1
    # The shear on the rim, as it is said: half of the hardest step.
    shear = SHEAR_PART * hardest_load_n(mat.person.mass_kg, mat.person.peak, mat.person.peak_lead)
    assert f"{shear:.0f} N are" in GUIDE_FLAT
    assert f"{shear / mat.rim_mm2:.2f}" in GUIDE_FLAT


def test_numbers_on_the_multiplexers_board_are_the_pins():
    pins = known_boards()["Raspberry Pi Pico W"]
    assert f"our 0 V, half supply and tap to their C{pins.zero}, C{pins.supply}, C{pins.tap}" in GUIDE_FLAT
    assert "our column C5 goes to their C5" in GUIDE_FLAT
    begins = {cells[2].split(":")[0]: cells[0] for cells in rows_of(wiring_table(MATS["reference"])) if len(cells) == 3}
    assert begins["column C5"] == "multiplexer I5"


def test_wear_is_told_with_what_shows_it_and_what_is_calibrated_again():
    wear = GUIDE_FLAT[GUIDE_FLAT.index("## Wear") :]
    for words in ("Tinned tape", "two layers", "before you stick", "Strain relief", "groundtone check --history",
                  "One strip replaced", "calibrate bench --strip left 1"):  # fmt: skip
        assert words in wear, words
    for path in (*ROOT.glob("*.md"), *ROOT.glob("hardware/*.md"), *ROOT.glob("docs/*.md")):
        assert not re.search(r"10[,. ]?000 swings", path.read_text("utf-8")), path


def test_no_paper_allows_a_bare_cell_and_all_say_the_same_time():
    assert "no bare lithium cell" in SAFETY
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
