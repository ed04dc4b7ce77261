"""What flows in the pins: in order, with rows joined, wet, grounded or at 3.3 V; and what of it no board can bear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.build.board_limits import FAULT_ALLOWANCE, Limits
from groundtone.build.circuit import Join, currents
from groundtone.build.eseries import E12, at_least, in_words
from groundtone.build.film_law import FilmLaw, both
from groundtone.build.mat_file import Mat
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.network import Drivers

_BALL_STANDING = 0.5  # part of a standing foot's force under its ball


@dataclass(frozen=True)
class CurrentLine:
    """One state of the mat: the largest currents, mA, and whether a fault makes them."""

    name: str
    pin_high_ma: float
    pin_low_ma: float
    total_ma: float
    fault: bool


def drivers_for(mat: Mat, pulldown_ohm: float) -> Drivers:
    """Drivers of a mat with another pull-down."""
    e, layout = mat.electrical, mat.layout
    return Drivers.equal(
        layout.rows, layout.columns, e.series_ohm + e.pin_high_ohm, e.series_ohm + e.pin_low_ohm, pulldown_ohm
    )


def water_ohm(mat: Mat) -> float:
    """Resistance between two neighbouring row lines under water, both panels wet: gap / (σ · depth · length), Ω."""
    water, layout = mat.water, mat.layout
    gap_mm = layout.row_pitch_mm - mat.panel.strip_mm
    siemens = water.conductivity_s_m * water.depth_mm * 1e-3 * 2 * layout.width_mm / gap_mm
    return 1 / siemens if siemens > 0 else math.inf


def joins_when_wet(mat: Mat) -> list[Join]:
    """Every row joined to its neighbours by water."""
    ohm = water_ohm(mat)
    return [(k, k + 1, ohm) for k in range(mat.layout.rows - 1)] if math.isfinite(ohm) else []


def standing_n(mat: Mat) -> NDArray[np.float64]:
    """The person of the description, standing, shape (rows, columns), N."""
    return both(mat.layout, mat.person.mass_kg * STANDARD_GRAVITY, 0.5, _BALL_STANDING)


def hardest_n(mat: Mat) -> NDArray[np.float64]:
    """The person at the hardest moment, the lead foot on its ball, shape (rows, columns), N."""
    person = mat.person
    return both(mat.layout, person.mass_kg * STANDARD_GRAVITY * person.peak, person.peak_lead, 1.0)


def current_lines(mat: Mat, law: FilmLaw, drivers: Drivers) -> list[CurrentLine]:
    """The largest currents in every state: in order, two rows joined (the pair that carries most), wet, shorted.

    Joined and wet rows are given on the empty mat and at the hardest moment. A row's line that touches ground loads its
    pin while it is high, one that touches 3.3 V all other times; of the loop only the pin and the row's resistor are
    left. The proof at power-up finds both.
    """
    hardest = hardest_n(mat)
    empty = np.zeros_like(hardest)
    busiest = int(np.argmax(hardest.sum(1)[:-1] + hardest.sum(1)[1:]))
    pair = [(busiest, busiest + 1, mat.water.joined_ohm)]
    wet = joins_when_wet(mat)
    none: list[Join] = []
    volts = mat.electrical.supply_v
    grounded, supplied = (float(1e3 * volts / ohm.min()) for ohm in (drivers.high_ohm, drivers.low_ohm))
    return [
        _current(mat, law, drivers, name, force, joins)
        for name, force, joins in (
            ("in order, at the hardest moment", hardest, none),
            ("two rows joined, mat empty", empty, pair),
            ("two rows joined, at the hardest moment", hardest, pair),
            ("wet, mat empty", empty, wet),
            ("wet, at the hardest moment", hardest, wet),
        )
    ] + [
        CurrentLine("a row at ground", grounded, 0.0, 0.0, True),
        CurrentLine("a row at 3.3 V", 0.0, supplied, supplied, True),
    ]


def _current(
    mat: Mat, law: FilmLaw, drivers: Drivers, name: str, force_n: NDArray[np.float64], joins: Sequence[Join]
) -> CurrentLine:
    found = currents(law.conductance_s(force_n), drivers, mat.electrical.supply_v, joins)
    high, low = found.high_a.max() * 1e3, found.sunk_a.max() * 1e3
    in_all = found.sunk_a.sum(1).max() * 1e3
    return CurrentLine(name, float(high), float(low), float(in_all), not name.startswith("in order"))


def pin_refusals(mat: Mat, lines: Sequence[CurrentLine], limits: Limits) -> list[str]:
    """Sentences: what the board does not bear, and what to change."""
    out = []
    dry = [line for line in lines if not line.name.startswith("wet")]
    mends = at_least(max(_series_for(mat, line, limits, 1.0) for line in dry), E12)
    for line in lines:
        allowed = limits.pin_ma * _allowance(line)
        worst = max(line.pin_high_ma, line.pin_low_ma)
        if worst > allowed:
            why = "allowed in a fault" if line.fault else "at which its levels are promised"
            out.append(
                f"{line.name}: a pin of the {mat.board} would carry {worst:.1f} mA, more than the {allowed:g} mA "
                f"{why}: "
                + (
                    "keep it dry, or choose larger resistors in the rows"
                    if line not in dry
                    else f"put {in_words(mends)} into each row"
                )
            )
        if line.pin_high_ma > limits.source_ma or line.total_ma > limits.sink_ma:
            out.append(
                f"{line.name}: all pins together would carry {max(line.pin_high_ma, line.total_ma):.1f} mA and the "
                f"{mat.board} bears {limits.sink_ma:g} mA: choose larger resistors in the rows"
            )
    return out


def pin_notes(mat: Mat, lines: Sequence[CurrentLine], limits: Limits) -> list[str]:
    """A sentence where a fault goes over a pin's figure and is allowed all the same."""
    out = []
    close = [
        (max(line.pin_high_ma, line.pin_low_ma), line)
        for line in lines
        if limits.pin_ma < max(line.pin_high_ma, line.pin_low_ma) <= limits.pin_ma * FAULT_ALLOWANCE and line.fault
    ]
    if close:
        worst, line = max(close, key=lambda pair: pair[0])
        out.append(
            f"{line.name}: {worst:.1f} mA is over the {limits.pin_ma:g} mA at which a pin's levels are promised; "
            f"allowed in a fault up to {limits.pin_ma * FAULT_ALLOWANCE:g} mA, and "
            f"{in_words(at_least(_series_for(mat, line, limits, 1 / FAULT_ALLOWANCE), E12))} in each row would keep it "
            "under"
        )
    return out


def _allowance(line: CurrentLine) -> float:
    return FAULT_ALLOWANCE if line.fault else 1.0


def _series_for(mat: Mat, line: CurrentLine, limits: Limits, part: float) -> float:
    """Row resistors with which the same state would stay under a part of what it may carry, Ω.

    Two joined rows have two of them in their loop, every other state one; what else is in it is kept.
    """
    volts = mat.electrical.supply_v * 1e3
    loop = volts / max(line.pin_high_ma, line.pin_low_ma, 1e-9)
    more = (volts / (part * limits.pin_ma * _allowance(line)) - loop) / (2 if line.name.startswith("two") else 1)
    return max(1.0, mat.electrical.series_ohm + more)
