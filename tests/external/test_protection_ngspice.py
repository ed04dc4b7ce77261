"""What protects the chip, against ngspice: settling, the multiplexer's resistors, the strike's clamp, the ripple.

Source: ngspice.sourceforge.io, Debian package ngspice. The circuits are written here, part by part; what is expected
of them comes from `groundtone.build.protection`.
"""

import dataclasses
import re
import shutil
import subprocess

import numpy as np
import pytest

from groundtone.build.mat_file import read_mat
from groundtone.build.protection import LEAK_OHM, drawn_part, settling
from groundtone.build.wiring import PIN_OHM, STRIKE_FARAD

REFERENCE = read_mat("reference")
SUPPLY, STEP = 3.3, 3.3 / 4096
ON_OHM, OUTPUT_F = 150.0, 60e-12
# A small silicon diode, and a pin's own clamp (both typical, from memory).
MODELS = ".model clamp D(IS=4n N=1.8 RS=0.5 CJO=2p)\n.model own D(IS=1f N=1 RS=10)"


def run(folder, lines, *measures):
    """Values of `.meas` lines by their names."""
    assert shutil.which("ngspice"), "install ngspice (Debian: apt install ngspice)"
    netlist = folder / "one.cir"
    options = ".options reltol=1e-6 abstol=1e-14 vntol=1e-9"
    netlist.write_text("\n".join(["protection", options, *lines, *measures, ".end"]))
    done = subprocess.run(["ngspice", "-b", str(netlist)], capture_output=True, text=True, timeout=120, check=False)
    found = re.findall(r"^(\w+)\s+=\s+([-+.\de]+)", done.stdout, re.MULTILINE)
    assert len(found) >= len(measures), done.stdout[-800:] + done.stderr[-400:]
    return {name: float(value) for name, value in found}


def with_film(picofarad):
    return dataclasses.replace(REFERENCE, electrical=dataclasses.replace(REFERENCE.electrical, cell_pf=picofarad))


def column(mat, rises, held=0.0):
    """One column with all its cells, every row behind its resistor, and the way to the converter's pin."""
    e = mat.electrical
    lines = []
    for row in range(mat.layout.rows):
        level = f"pulse({SUPPLY} 0 1u 1n 1n 1 2)" if rises else "0"
        lines += [
            f"V{row} p{row} 0 {level}", f"RD{row} p{row} r{row} {e.series_ohm + e.pin_low_ohm}",
            f"CF{row} r{row} c {e.cell_pf}p", f"RF{row} r{row} c 1g",
        ]  # fmt: skip
    return [
        *lines, f"CL c 0 {e.line_pf + e.suppressor_pf}p", f"RS c 0 {e.pulldown_ohm}",
        f"RP c a {e.input_ohm + ON_OHM + e.output_ohm}", f"CA a 0 {OUTPUT_F} ic={held}",
    ]  # fmt: skip


@pytest.mark.parametrize("picofarad", [10.0, 22.0, 100.0])
def test_columns_settle_when_the_calculator_says_so(picofarad, tmp_path):
    mat = with_film(picofarad)
    found = settling(mat, 12)
    # All rows fall at 1 us: a step of the whole range, which the film puts onto the column.
    at, before = 1e-6 + found.row_us * 1e-6, 1e-6 + 0.85 * found.row_us * 1e-6
    got = run(tmp_path, [*column(mat, rises=True), ".tran 5n 40u"],
              f".meas tran left find v(a) at={at}", f".meas tran hasty find v(a) at={before}")  # fmt: skip
    assert abs(got["left"]) <= STEP / 2 * 1.05
    assert abs(got["hasty"]) > STEP / 2
    # The multiplexer comes from a column at the whole range to one at 0 V.
    got = run(tmp_path, [*column(mat, rises=False, held=SUPPLY), ".tran 5n 40u uic"],
              f".meas tran left find v(a) at={found.cell_us * 1e-6}",
              f".meas tran hasty find v(a) at={0.8 * found.cell_us * 1e-6}")  # fmt: skip
    assert abs(got["left"]) <= 0.002 * SUPPLY * 1.1
    assert abs(got["hasty"]) > 0.002 * SUPPLY


def test_resistors_at_the_multiplexer_change_no_reading_at_rest(tmp_path):
    e = REFERENCE.electrical
    cell = [f"V p 0 {SUPPLY}", f"RD p r {e.series_ohm + e.pin_high_ohm}", "RC r c 2k", f"RS c 0 {e.pulldown_ohm}"]
    way = f"{e.input_ohm + ON_OHM + e.output_ohm}"
    plain = run(tmp_path, [*cell, "RX c a 1m", "CA a 0 60p", ".tran 1u 20u"], ".meas tran v find v(a) at=10u")["v"]
    behind_them = [*cell, f"RX c a {way}", "CA a 0 60p", ".tran 1u 20u"]
    guarded = run(tmp_path, behind_them, ".meas tran v find v(a) at=10u")["v"]
    assert guarded == pytest.approx(plain, rel=1e-6)
    # The converter as the 100 kOhm that the data sheet gives for the worst.
    sampled = [*cell, f"RX c a {way}", "RA a 0 100k", ".tran 1u 20u"]
    drawn = run(tmp_path, sampled, ".meas tran v find v(a) at=10u")["v"]
    assert 0 < 1 - drawn / plain < drawn_part(REFERENCE)
    # On the multiplexer's side of that resistor the pull-down would halve what the column gives.
    behind = [line if not line.startswith("RS") else f"RS a 0 {e.pulldown_ohm}" for line in cell]
    wrong = run(tmp_path, [*behind, f"RX c a {way}", ".tran 1u 20u"], ".meas tran v find v(a) at=10u")["v"]
    assert wrong < 0.8 * plain


def struck(volts, series, leak_ua=0.05, hz=3000.0):
    """A piezo of 20 nF that rings, its lead's clamp, the pins behind it with their own diodes to the supply."""
    return [
        f"VP s 0 sin(0 {volts} {hz} 1m 500)", "CP s n 20n", f"RL n 0 {LEAK_OHM}", f"RQ n q {series}",
        f"CQ q 0 {STRIKE_FARAD}", "D1 q v clamp", "D2 0 q clamp", f"VS v 0 {SUPPLY}", f"IL v q {leak_ua}u",
        f"RX q x {PIN_OHM}", "VX x y 0", "D3 y v own", "CX y 0 5p", MODELS, ".tran 2u 4m",
    ]  # fmt: skip


@pytest.mark.parametrize("volts", [10.0, 30.0, 50.0])
def test_a_struck_piezo_is_heard_and_harms_no_pin(volts, tmp_path):
    e = REFERENCE.electrical
    got = run(tmp_path, struck(volts, e.strike_series_ohm, e.clamp_leak_ua), ".meas tran top max v(y)",
              ".meas tran into max i(VX)", ".meas tran bottom min v(y)",
              ".meas tran first when v(y)=0.4 rise=1", ".meas tran second when v(y)=0.4 rise=2",
              ".meas tran rest find v(y) at=0.9m")  # fmt: skip
    assert got["top"] < SUPPLY + 0.8
    assert got["into"] < 0.2e-3
    assert got["bottom"] > -0.8
    assert got["top"] > 0.6  # what the edge's transistor needs
    assert 1e-3 < got["first"] < 1e-3 + 0.3e-3
    assert got["second"] - got["first"] < 1e-3  # so it is a ring (firmware/mat/strike.py)
    assert got["rest"] < 0.1


def test_a_clamp_that_leaks_lifts_the_sensor_over_its_level(tmp_path):
    rest = run(tmp_path, struck(1e-6, 100e3, 2.0), ".meas tran rest find v(y) at=0.9m")["rest"]
    assert rest > 1.9  # two BAT85 at their most
    low = run(tmp_path, struck(1e-6, 100e3, 0.05), ".meas tran rest find v(y) at=0.9m")["rest"]
    assert low == pytest.approx(0.055, abs=0.03)


def test_the_regulators_quiet_mode_is_worth_more_than_half_of_the_noise(tmp_path):
    """Ripple of one board's 3V3 as published (pico-adc.markomo.me, PSU noise): 11.1 and 3.9 mV rms, at half the range.

    Its frequencies are ours: bursts at 50 kHz, switching at 1 MHz. The converter's reference is filtered, so nothing
    of it cancels.
    """
    e = REFERENCE.electrical

    def steps(rms_mv, hz):
        amplitude = rms_mv * 1e-3 * np.sqrt(2)
        lines = [
            f"V p 0 sin({SUPPLY} {amplitude} {hz})", f"RD p r {e.series_ohm + e.pin_high_ohm}", "RC r c 730",
            "CC r c 22p", f"RS c 0 {e.pulldown_ohm}", "CL c 0 482p",
            f"RP c a {e.input_ohm + ON_OHM + e.output_ohm}", "CA a 0 60p", ".tran 20n 400u 200u",
        ]  # fmt: skip
        got = run(tmp_path, lines, ".meas tran top max v(a)", ".meas tran bottom min v(a)")
        return (got["top"] - got["bottom"]) / 2 / np.sqrt(2) / STEP

    saving, quiet = steps(11.1, 50e3), steps(3.9, 1e6)
    assert saving == pytest.approx(6.9, rel=0.1)  # 11.1 mV of 3.3 V at half of 4096 steps
    assert quiet < 2.4 + 0.1
    print(f"ripple at half the range: {saving:.1f} steps saving power, {quiet:.1f} quiet")
