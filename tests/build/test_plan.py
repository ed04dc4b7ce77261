"""Scan budget, layouts, parts, steps, wiring and files: against sums by hand and the firmware's own files."""

import dataclasses
import math
import re
import tomllib
from pathlib import Path

import matplotlib.image
import pytest

from groundtone.build.circuit import netlist
from groundtone.build.layout_check import another_grid, check
from groundtone.build.mat_file import read_mat
from groundtone.build.parts import copper_m, film_pieces, parts, total_eur
from groundtone.build.pins import firmware_folder, known_boards
from groundtone.build.protection import cell_farad, column_farad, settling
from groundtone.build.scan_budget import budget
from groundtone.build.schematic import schematic
from groundtone.build.steps import first_hour, steps, total_minutes
from groundtone.build.wiring import SOUND_OHM, plug, table, wires
from groundtone.errors import BuildError
from groundtone.files import write_file
from groundtone.mat.layout import layout_from, layout_text
from groundtone.mat.network import Drivers
from groundtone.wire.codec import encode
from groundtone.wire.messages import Frame
from groundtone.wire.packing import frame_bytes
from studies.scan import design

REFERENCE, STARTER = read_mat("reference"), read_mat("starter")


def scanning(mat, **values):
    return dataclasses.replace(mat, scan=dataclasses.replace(mat.scan, **values))


def test_the_time_of_one_scan_by_hand():
    mat = scanning(
        REFERENCE, oversample=2, settle_us=3.0, row_settle_us=3.0, conversion_us=2.0, read_us=1.0, again_us=0.5,
        row_us=1.0, strike_us=0.0, message_us=400.0, rate_hz=200.0,
    )  # fmt: skip
    found = budget(mat)
    # 130 values of 3 + 2 + 2.5 + 1 µs, and 18 levels
    assert found.scan_us == pytest.approx(130 * 8.5 + 18)
    assert found.share == pytest.approx(found.scan_us / 5000)
    assert found.top_hz == pytest.approx(1e6 / (found.scan_us + 400))
    assert sum(us for _, us in found.parts) == pytest.approx(found.scan_us)
    assert found.frame_bytes == 244


@pytest.mark.parametrize(("readings", "wanted_us", "settle_us"), [(1, 3.0, 3.09), (2, 5.0, 5.0)])
def test_the_time_of_one_scan_against_the_counted_instructions(readings, wanted_us, settle_us):
    """The firmware's own loop, compiled for the chip and counted (make study NAME=scan): within 2 %.

    The shortest settle time that loop has is 3.09 µs.
    """
    run, _ = design(readings, wanted_us)
    found = budget(scanning(REFERENCE, oversample=readings, settle_us=settle_us, row_settle_us=settle_us))
    assert found.scan_us == pytest.approx(run.cycles / 125, rel=0.02)


def test_links_and_power_bank_by_hand():
    found = budget(REFERENCE)
    assert found.radio_hz == pytest.approx(4 / 0.015)
    assert found.radio_part == pytest.approx(100 / (4 / 0.015))
    assert found.usb_part == pytest.approx(100 * 247 / 1_216_000)
    assert found.usb_h == pytest.approx(5000 * 3.7 / 5 * 0.85 / 35)
    # 1.1 x 75 mA are wanted, 35 are there: 5 V / 47.5 mA
    assert found.radio_h == pytest.approx(5000 * 3.7 / 5 * 0.85 / 60)
    # and 5 V / 22.5 mA with the radio on; sold are 100 and 220 ohm, which draw 50 and 22.7 mA more
    off, on = found.awake
    assert (off.ohm, on.ohm) == (100, 220) == (5 / 0.0475 // 10 * 10, 5 / 0.0225 // 10 * 10)
    assert off.hours == pytest.approx(3145 / (35 + 50))
    assert on.hours == pytest.approx(3145 / (60 + 5000 / 220))
    assert (off.watt, on.watt) == (0.25, pytest.approx(25 / 220))
    power = dataclasses.replace(REFERENCE.power, bank_stays_on_ma=20.0)
    assert budget(dataclasses.replace(REFERENCE, power=power)).awake == (None, None)


def wired(mat, **values):
    return dataclasses.replace(mat, electrical=dataclasses.replace(mat.electrical, **values))


def test_settling_by_hand():
    # Crossings of 10 x 10 mm, 0.2 mm apart, relative permittivity 5; 100 pF of line and 50 of the suppressor.
    assert cell_farad(REFERENCE) == pytest.approx(8.854e-12 * 5 * 1e-4 / 0.2e-3, rel=1e-3)
    assert column_farad(REFERENCE) == pytest.approx(150e-12 + 16 * cell_farad(REFERENCE), rel=1e-9)
    # What stands behind the column is quick beside a slow film: half a step of 4096 is left after 13 ln 2 of its time
    # constant, with the multiplexer's 60 pF on it, and of the way there the column has to be waited for first.
    slow = wired(REFERENCE, cell_pf=1000.0)
    tau_us = 1e-3 * (150 + 16_000 + 60)
    assert settling(slow, 12).row_us == pytest.approx(13 * math.log(2) * tau_us, rel=0.01)
    # Without film what is left is the multiplexer's own: 60 pF behind 1 + 0.15 + 0.22 kOhm and the column's 1 kOhm.
    bare = wired(REFERENCE, cell_pf=1e-6, line_pf=1.0, suppressor_pf=0.0)
    assert settling(bare, 12).row_us == pytest.approx(13 * math.log(2) * 2.37 * 60e-3, rel=0.02)
    # 1 kOhm more on that way: by hand about 60 ns for each time constant.
    before = settling(wired(bare, input_ohm=0.0), 12).row_us
    assert (settling(bare, 12).row_us - before) / (13 * math.log(2)) == pytest.approx(0.060, rel=0.02)


@pytest.mark.parametrize(("mat", "waits_us"), [(STARTER, 12), (REFERENCE, 17)], ids=["starter", "reference"])
def test_film_of_100_pf_a_cell_is_waited_for_once_a_row(mat, waits_us):
    found, quick = budget(wired(mat, cell_pf=100.0)), budget(wired(mat, cell_pf=10.0))
    assert found.settling.row_wait_us == waits_us
    assert quick.settling.row_wait_us == 5
    assert found.scan_us - quick.scan_us == pytest.approx((mat.layout.rows + 1) * (waits_us - 5))
    hasty = budget(scanning(wired(mat, cell_pf=100.0), row_settle_us=5.0))
    assert 0.01 < hasty.settling.row_left < 0.08
    (sentence,) = [said for said in hasty.wrong if "after a row" in said]
    assert f"scan.row_settle_us = 0, which is what the mat measures, or {waits_us}" in sentence
    after_multiplexer = budget(scanning(wired(mat, cell_pf=100.0), settle_us=1.0)).wrong
    assert any("after the multiplexer and has 1: scan.settle_us = " in said for said in after_multiplexer)


def test_a_rate_that_does_not_fit_is_said():
    found = budget(scanning(REFERENCE, rate_hz=400.0, oversample=8, settle_us=10.0))
    assert any("lower the rate" in sentence for sentence in found.wrong)
    assert found.share > 1


@pytest.mark.parametrize(("cells", "bits"), [(128, 14), (60, 14), (128, 12), (72, 14)])
def test_frame_lengths_are_the_codecs(cells, bits):
    import numpy as np

    frame = Frame(0, 0, 0, 0, 0, 0, 0, np.zeros(cells, np.uint16))
    assert frame_bytes(cells, bits) == len(encode(frame, bits=bits))


def test_another_grid_keeps_what_is_not_given_and_its_files_are_read_again():
    mat = another_grid(STARTER, name="long-panel", rows=14, row_pitch_mm=24.0, pulldown_ohm=1500.0)
    assert mat.layout.id == "long-panel-14x3"
    assert mat.layout.pulldown_ohm == 1500.0
    assert mat.layout.column_pitch_mm == STARTER.layout.column_pitch_mm
    assert layout_from(tomllib.loads(layout_text(mat.layout)), "x") == mat.layout
    assert check(mat).frame_bytes == 16 + 14 * 6 * 14 // 8 + 4


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"rows": 20}, "20 rows need as many pins and the Raspberry Pi Pico W has 16 for them"),
        ({"columns_per_panel": 5}, "10 columns need as many inputs and the multiplexer has 8 free"),
        ({"rows": 30, "columns_per_panel": 6}, "a frame of 360 cells would be 650 bytes and one notification has 244"),
        ({"board": "ESP32-S3"}, "the ESP32-S3 is not supported yet"),
        ({"board": "Toaster"}, "the board 'Toaster' is not known: name one of"),
        ({"name": "no spaces please"}, "use letters, digits and hyphens"),
        ({"row_pitch_mm": 8.0}, "panel.strip_mm is wider than the row pitch"),
        ({"row_pitch_mm": 17.1, "column_pitch_mm": 14.1}, "strips of film 0.1 mm apart are less than 3 mm"),
    ],
)
def test_grids_that_do_not_fit_get_one_sentence(given, words):
    with pytest.raises(BuildError) as refused:
        another_grid(STARTER, **{"name": "mine", **given})
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_coarse_and_short_grids_are_told():
    mat = another_grid(STARTER, name="mine", rows=5, row_pitch_mm=50.0)
    notes = " ".join(check(mat).notes)
    assert "rows 50 mm apart are coarse" in notes
    assert "250 mm is shorter than a large shoe" in notes
    assert check(STARTER).notes == check(REFERENCE).notes == []


@pytest.mark.parametrize("mat", [STARTER, REFERENCE], ids=["starter", "reference"])
def test_parts_are_counted_from_the_description(mat):
    layout = mat.layout
    bill = {part.name: part.quantity for part in parts(mat)}
    # Across the earphones' socket; the other of its two is 1 kΩ.
    assert bill["resistor 100 Ω 1 %"] == 1
    # Pull-down and input of each column; reference; inputs of 0 V and tap; test resistor; sound.
    kilo = next(n for name, n in bill.items() if name.startswith("resistor 1 kΩ 1 %"))
    assert kilo == 2 * layout.columns + 1 + 2 + 1 + 1
    assert bill["earphone socket 3.5 mm"] == bill["capacitor 10 µF"] == 1
    # Rows, at the multiplexer's output and before the buzzer; a capacitor at the multiplexer and one at the board.
    assert bill["resistor 220 Ω 1 %"] == layout.rows + 2
    assert bill["capacitor 100 nF"] == 2
    # The strike sensor: before its clamp and at the transistor's base; into both pins.
    assert bill["resistor 100 kΩ 1 %"] == bill["resistor 4.7 kΩ 1 %"] == 2
    assert next(n for name, n in bill.items() if name.startswith("low-leakage diode")) == 2
    assert bill["resettable fuse 0.5 A"] == 1
    ribbon = next(n for name, n in bill.items() if name.startswith("ribbon cable"))
    assert ribbon >= 2 * (mat.base_length_mm + mat.ground.box_behind_mm + 300) / 1000
    assert (
        next(n for name, n in bill.items() if name.startswith("transient suppressor"))
        == layout.rows + layout.columns + 1
    )
    assert next(n for name, n in bill.items() if name.startswith("stiff pads")) == layout.cells
    strips = 2 * (layout.rows * (layout.width_mm + 30) + 2 * layout.columns_per_panel * (layout.length_mm + 40)) / 1000
    folds = 2 * (layout.rows + 2 * layout.columns_per_panel) * 0.03
    assert copper_m(mat) == pytest.approx(1.15 * (strips + folds))
    assert next(n for name, n in bill.items() if name.startswith("copper tape")) >= copper_m(mat)
    assert film_pieces(mat) == (2 * layout.columns_per_panel * 2, 162.0)
    assert 50 < total_eur(parts(mat)) <= 140


def test_earphones_get_no_more_than_a_player_may_give():
    before, across = SOUND_OHM
    # A square wave of 3.3 V is 1.65 V rms behind the capacitor, at most; 150 mV by EN 50332-2 (from memory).
    assert 1.65 * across / (before + across) <= 0.150 + 1e-9
    # A pin of the RP2040 may be shorted through it: 12 mA are its strongest setting (data sheet, from memory).
    assert 3.3 / before < 0.004


def test_other_resistors_are_on_the_bill_and_in_the_table():
    mat = another_grid(STARTER, name="mine", pulldown_ohm=1500.0, series_ohm=120.0)
    assert "resistor 1.5 kΩ 1 %" in {part.name for part in parts(mat)}
    assert "| 120 Ω 1 %" in table(mat)


def test_steps_have_minutes_drawings_and_an_end():
    for mat in (STARTER, REFERENCE):
        for step in first_hour(mat) + steps(mat):
            assert step.minutes > 0
            assert step.done_when
            assert step.drawing
        assert total_minutes(first_hour(mat)) <= 65
    assert total_minutes(steps(REFERENCE)) > total_minutes(steps(STARTER))


def test_wiring_uses_every_pin_once_and_reaches_every_line():
    for mat in (STARTER, REFERENCE):
        found = wires(mat)
        begins = [wire.begin for wire in found if "GND" not in wire.begin]  # grounds may be one pin
        assert len(set(begins)) == len(begins)
        ends = [wire.end for wire in found]
        for row in range(mat.layout.rows):
            assert f"row R{row}, both panels" in ends
        for column in range(mat.layout.columns):
            panel = "left" if column < mat.layout.columns_per_panel else "right"
            within = column % mat.layout.columns_per_panel + 1
            assert f"column C{column}: {panel} panel, strip {within} from its left edge" in ends


def test_a_plug_has_every_line_of_its_panel_once():
    for mat in (STARTER, REFERENCE):
        contacts = plug(mat)
        assert [number for number, _, _ in contacts] == list(range(1, mat.ways + 1))
        rows = {f"R{k}" for k in range(mat.layout.rows)}
        half = mat.layout.columns_per_panel
        for panel in (0, 1):
            lines = [contact[1 + panel] for contact in contacts if contact[1 + panel] != "ground"]
            assert set(lines) == rows | {f"C{panel * half + c}" for c in range(half)}
            assert len(lines) == len(set(lines)) < len(contacts)


def test_pins_come_from_the_firmwares_file():
    text = (firmware_folder() / "mat" / "board.py").read_text()
    pins = known_boards()["Raspberry Pi Pico W"]
    assert f'"adc": {pins.adc}' in text
    assert f'"edge": {pins.edge}' in text
    rows = ", ".join(map(str, pins.rows))
    assert f'"rows": ({rows})' in text
    assert re.search(rf"^INPUT_TAP = {pins.tap}\b", text, re.MULTILINE)


@pytest.mark.parametrize("mat", [STARTER, another_grid(REFERENCE, name="mine", board="Raspberry Pi Pico 2 W")])
def test_the_schematic_names_every_pin_it_draws(mat, tmp_path):
    pins = known_boards()[mat.board]
    drawn = schematic(mat, "svg").decode()
    for gpio in (
        pins.rows[0],
        pins.rows[mat.layout.rows - 1],
        pins.ref,
        pins.adc,
        *pins.address,
        pins.strike,
        pins.edge,
    ):
        assert pins.where(gpio) in drawn
    for value in ("100 Ω", "1 kΩ", "10 kΩ", "1 MΩ", "100 kΩ"):
        assert value in drawn
    picture = schematic(mat, "png")
    (tmp_path / "s.png").write_bytes(picture)
    pixels = matplotlib.image.imread(tmp_path / "s.png")
    assert pixels.shape[1] > 800
    assert len(picture) < 130_000
    assert (pixels[..., :3].min(2) < 0.3).mean() > 0.005  # there is ink on it


def test_a_netlist_holds_every_resistor_once():
    import numpy as np

    cells = np.full((3, 2), 1e-4)
    cells[2, 1] = 0.0
    text = netlist(cells, Drivers.equal(3, 2, 150.0, 130.0, 1000.0), 3.3, [(0, 1, 50.0)])
    assert len(re.findall(r"^RG", text, re.MULTILINE)) == 5
    assert len(re.findall(r"^RS\d c\d 0 1000$", text, re.MULTILINE)) == 2
    assert "RJ0 r0 r1 50" in text
    assert text.splitlines()[0] == "groundtone mat"
    assert text.rstrip().endswith(".end")


def test_a_file_is_the_old_one_or_the_new_one(tmp_path):
    path = tmp_path / "deep" / "file.txt"
    write_file(path, "old")
    assert path.read_text() == "old"
    write_file(path, "new")
    assert path.read_text() == "new"
    assert [entry.name for entry in path.parent.iterdir()] == ["file.txt"]
    with pytest.raises(BuildError, match="cannot be written"):
        write_file(path / "under a file", "x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(BuildError, match="cannot be written"):
        write_file(tmp_path / "folder", "x")
    assert sorted(entry.name for entry in Path(tmp_path).iterdir()) == ["deep", "folder"]
