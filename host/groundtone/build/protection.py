"""What stands between the panels and the chip: resistors at the multiplexer, suppressors, the strike sensor's clamp.

At rest they change nothing that is read. The pull-down stands on the panel's side of the multiplexer's resistor, so no
current flows through that resistor, the switch and the one behind it, and the converter sees the column itself. (On
the other side the resistor would be in series with every cell of its column, as an error of the network.) Two things
are left. The converter's sampling takes a mean current, less than a resistance of 100 kΩ would (RP2040 data sheet,
5.2.3, ADC input impedance, its least): `drawn_part` bounds what that makes of a reading. And every reading waits for
the capacitance behind the resistors to follow, and for the film's own: `settling` solves both together,

    Cc v' = -v / Rs - (v - u) / Rp,      Ca u' = (v - u) / Rp,

with v the column, Cc its capacitance to all rows and its line, u the converter's pin, Ca the multiplexer's output, Rp
the way between them. After a row has moved both begin a whole step off; after the multiplexer has moved u alone does,
and takes a part Ca / (Ca + Cc) of the column with it.

Sources
-------
A suppressor of 5 V lets 10 to 15 V through in a discharge (estimate from data sheets of such parts, from memory). A
silicon junction that clamps has about 0.85 V (from memory). A Schottky diode BAT85 leaks 2 µA at most at 25 V, a BAV199
5 nA at 75 V, a 1N4148 25 nA at 20 V (data sheets; the last from memory). A struck piezo gives 10 to 50 V.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groundtone.build.board_limits import MULTIPLEXER
from groundtone.build.eseries import E12, at_least, in_words
from groundtone.build.mat_file import Mat

_EPSILON_0 = 8.8541878128e-12  # F/m
_FILM_EPSILON = 5.0
LET_THROUGH_V = 15.0
JUNCTION_V = 0.85
INPUT_MA = 12.0
"""What a discharge may drive into one input of the multiplexer: half of what a switch bears (chosen by us)."""
CHIP_MA = 4.0
"""And from there into the chip's pin: what a pad gives by itself (chosen by us; the data sheet has no figure)."""
MOST_PF = 50.0
STRUCK_V = 50.0
CLAMP_MA = 1.0
"""What the strike sensor's clamp may be asked for at each blow (chosen by us)."""
OFFSET_V = 0.1
"""Strikes are found above 0.4 V; leakage may use up a quarter of that."""
LEAK_OHM = 1e6
"""Across the piezo, through which the clamp's leakage flows."""
CONVERTER_OHM = 100e3
NEAR = 0.002
"""Part of a step that may be left when the multiplexer has moved: the self-test's limit."""


@dataclass(frozen=True)
class Settling:
    """How long readings wait, µs, and what is left of a step at the description's waits, as a part of it.

    Attributes
    ----------
    row_us : float
        From a row's rise until half a step of the converter is left of a whole one.
    cell_us : float
        From the multiplexer's move until NEAR is left.
    row_wait_us : float
        What the mat waits after a row: what is set, or what it measures.
    row_left, cell_left : float
    """

    row_us: float
    cell_us: float
    row_wait_us: float
    row_left: float
    cell_left: float


def cell_farad(mat: Mat) -> float:
    """Capacitance of one crossing, F: measured, or ε0 εr A / d with εr of film about 5 (from memory)."""
    if mat.electrical.cell_pf:
        return mat.electrical.cell_pf * 1e-12
    return _EPSILON_0 * _FILM_EPSILON * (mat.panel.strip_mm * 1e-3) ** 2 / (mat.film.thickness_mm * 1e-3)


def column_farad(mat: Mat) -> float:
    """Capacitance of one column: its line, its suppressor, and the crossings of both panels' rows with the film, F."""
    e = mat.electrical
    return (e.line_pf + e.suppressor_pf) * 1e-12 + mat.layout.rows * cell_farad(mat)


def path_ohm(mat: Mat) -> float:
    """From a column to the converter's pin: resistor, switch, resistor, Ω."""
    return mat.electrical.input_ohm + MULTIPLEXER.on_ohm + mat.electrical.output_ohm


def drawn_part(mat: Mat) -> float:
    """The most that the converter's sampling takes off a reading, as a part of it.

    Nearly the same of all inputs, so what is left in a fraction of the supply is what their sources differ by.
    """
    ohm = path_ohm(mat) + mat.electrical.pulldown_ohm
    return ohm / (ohm + CONVERTER_OHM)


def settling(mat: Mat, bits: int) -> Settling:
    """Solve the two capacitances of a column (derivation above)."""
    rs, rp = mat.electrical.pulldown_ohm, path_ohm(mat)
    cc, ca = column_farad(mat), MULTIPLEXER.output_pf * 1e-12
    rates, modes = np.linalg.eig(np.array([[-(1 / rs + 1 / rp) / cc, 1 / (rp * cc)], [1 / (rp * ca), -1 / (rp * ca)]]))

    def left(start: tuple[float, float], us: float) -> float:
        part = np.linalg.solve(modes, np.array(start))
        return float(abs((modes[1] * part * np.exp(rates * us * 1e-6)).sum()))

    def until(start: tuple[float, float], limit: float) -> float:
        low, high = 0.0, 1e4
        for _ in range(50):
            middle = (low + high) / 2
            low, high = (middle, high) if left(start, middle) > limit else (low, middle)
        return high

    both, pin_alone = (1.0, 1.0), (0.0, 1.0)
    scan = mat.scan
    row_us, cell_us = until(both, 2.0 ** -(bits + 1)), until(pin_alone, NEAR)
    wait = max(scan.settle_us, scan.row_settle_us or math.ceil(row_us))
    return Settling(row_us, cell_us, wait, left(both, wait), left(pin_alone, scan.settle_us))


def guard_refusals(mat: Mat) -> list[str]:
    """Sentences: what does not keep a discharge or a blow from the chip, each with the value that mends it."""
    e, out = mat.electrical, []
    over = LET_THROUGH_V - e.supply_v - JUNCTION_V
    if e.input_ohm < over / (INPUT_MA * 1e-3):
        out.append(
            f"a suppressor lets {LET_THROUGH_V:g} V through, and behind {in_words(e.input_ohm)} the multiplexer would "
            f"take {'any current' if not e.input_ohm else f'{1e3 * over / e.input_ohm:.0f} mA'}: "
            f"electrical.input_ohm = {at_least(over / (INPUT_MA * 1e-3), E12):.0f}, before each of its inputs in use"
        )
    if e.output_ohm < JUNCTION_V / (CHIP_MA * 1e-3):
        out.append(
            f"what the multiplexer clamps at goes into the converter's pin behind {in_words(e.output_ohm)} only: "
            f"electrical.output_ohm = {at_least(JUNCTION_V / (CHIP_MA * 1e-3), E12):.0f}, behind its output"
        )
    if e.suppressor_pf > MOST_PF:
        out.append(
            f"suppressors of {e.suppressor_pf:g} pF slow the columns: electrical.suppressor_pf = {MOST_PF:g} at most, "
            "one-way, 5 V"
        )
    if e.strike_series_ohm < STRUCK_V / (CLAMP_MA * 1e-3):
        out.append(
            f"a struck piezo of {STRUCK_V:g} V drives {1e3 * STRUCK_V / e.strike_series_ohm:.0f} mA through "
            f"{in_words(e.strike_series_ohm)} into its clamp: "
            f"electrical.strike_series_ohm = {at_least(2 * STRUCK_V / (CLAMP_MA * 1e-3), E12):.0f}"
        )
    if e.clamp_leak_ua * 1e-6 * (LEAK_OHM + e.strike_series_ohm) > OFFSET_V:
        out.append(
            f"diodes that leak {e.clamp_leak_ua:g} µA lift the strike sensor by "
            f"{e.clamp_leak_ua * 1e-6 * (LEAK_OHM + e.strike_series_ohm):.1f} V, and strikes are lost: "
            "electrical.clamp_leak_ua = 0.05 at most, as a BAV199 or two 1N4148 have it"
        )
    return out
