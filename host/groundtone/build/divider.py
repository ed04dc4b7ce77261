"""Which resistor for the film that was bought, what the mat then feels, and what flows in its pins.

Formulas. With ideal drivers a column whose cells add up to Γ reads Σv = Γ / (Gs + Γ), so a noise σ of the readings
makes a noise of (Gs + Γ)² / Gs · σ in Γ: least where Gs = Γ. On a logarithmic scale of Γ that curve is even
(cosh²), so for the two loads that matter, standing (Γ1) and the hardest moment (Γ2), the best is Gs = √(Γ1 Γ2), and the
mean of both noises there is worse by (cosh x + k) / (1 + k) with x = ln(Gs / best) and k = cosh(ln(Γ2 / Γ1) / 2).
The noise gain against an empty column is 1 / (1 − Σv).
Resolution is taken from the exact inverse: each reading is moved in turn, the conductances' answers are
added as squares, and the film's law makes newtons of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.build.board_limits import Limits, limits_of
from groundtone.build.eseries import E12, E24, in_words, nearest
from groundtone.build.film_law import FilmLaw, film_law, foot
from groundtone.build.mat_file import Mat
from groundtone.build.pin_load import (
    CurrentLine,
    current_lines,
    drivers_for,
    hardest_n,
    pin_notes,
    pin_refusals,
    standing_n,
)
from groundtone.build.protection import guard_refusals
from groundtone.errors import BuildError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import Layout
from groundtone.mat.network import Drivers, conductances, readings

FORCES_N = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 400.0)
FOOT_FORCES_N = (50.0, 100.0, 200.0, 400.0, 800.0, 1600.0)
SUM_TOP = 0.8
"""Readings of a column that add up to more are amplified more than fivefold (chosen by us)."""
_NEARLY = 1.1  # noise this near to the least is as good
_SIGMAS = 3.0  # the least force stands this far above the noise
_PULLDOWN_OHM = (47.0, 100_000.0)  # what the multiplexer and the ADC's input can follow


@dataclass(frozen=True)
class CellLine:
    """One cell under one force, N: its resistance, its reading alone, and the resolution (one sigma), N.

    `alone_n` on an otherwise empty mat, `standing_n` while the person stands on it.
    """

    force_n: float
    ohm: float
    reading: float
    alone_n: float
    standing_n: float


@dataclass(frozen=True)
class ColumnLine:
    """A foot on its ball, N: what the fullest column adds up to, and the inverse's noise gain there."""

    foot_n: float
    sum_v: float
    gain: float


@dataclass(frozen=True)
class Divider:
    """What `divide` found.

    Attributes
    ----------
    best_ohm, e12_ohm, e24_ohm : float
        Rs by the formula, and the nearest values to buy.
    good_ohm : (float, float)
        Between these the noise is within a tenth of the least.
    pulldown_ohm, series_ohm : float
        With which everything below was computed.
    sigma : float
        Noise of one value of a frame, as a fraction of the supply.
    cell_n : (float, float)
        Usable force of a cell alone: 3 sigma above the noise, and where its column's noise gain reaches five.
    foot_n : float
        The force of one foot on its ball at which the fullest column's noise gain reaches five.
    hardest_foot_n : float
        What the person of the description puts there.
    cells, columns, currents
        Tables.
    refusals, notes : list of str
        Sentences: what must not be built, and what is to know.
    """

    law: FilmLaw
    best_ohm: float
    e12_ohm: float
    e24_ohm: float
    good_ohm: tuple[float, float]
    pulldown_ohm: float
    series_ohm: float
    sigma: float
    cell_n: tuple[float, float]
    foot_n: float
    hardest_foot_n: float
    cells: list[CellLine]
    columns: list[ColumnLine]
    currents: list[CurrentLine]
    refusals: list[str]
    notes: list[str]


def divide(mat: Mat, *, pulldown_ohm: float | None = None) -> Divider:
    """Choose Rs for a mat's film and say what follows.

    Parameters
    ----------
    pulldown_ohm : float, optional
        Rs to compute with. Without it the description's where that is as good as the best, else the E12 value.

    Raises
    ------
    BuildError
        Where the film or the resistor is out of range.
    """
    law = film_law(mat.film.weight_kg, mat.film.resistance_ohm)
    limits = limits_of(mat.board)
    at_rest, at_most = (law.conductance_s(force).sum(0).max() for force in (standing_n(mat), hardest_n(mat)))
    best = 1 / math.sqrt(at_rest * at_most)
    if not _PULLDOWN_OHM[0] <= best <= _PULLDOWN_OHM[1]:
        way = "conducts too well" if best < _PULLDOWN_OHM[0] else "hardly conducts"
        raise BuildError(
            f"this film {way}: it would want a pull-down of {best:.3g} Ω, and 47 Ω to 100 kΩ can be scanned: "
            "choose another film, or other crossings"
        )
    e12, e24 = nearest(best, E12), nearest(best, E24)
    spread = math.cosh(math.log(at_most / at_rest) / 2)
    width = math.exp(math.acosh(_NEARLY + (_NEARLY - 1) * spread))
    good = (best / width, best * width)
    described = mat.electrical.pulldown_ohm
    ohm = pulldown_ohm or (described if good[0] <= described <= good[1] else e12)
    drivers = drivers_for(mat, ohm)
    sigma = reading_noise(mat, limits)
    lines = current_lines(mat, law, drivers)
    result = Divider(
        law, best, e12, e24, good, ohm, mat.electrical.series_ohm, sigma,
        _cell_range(law, drivers, sigma), _foot_top(mat.layout, law, drivers),
        mat.person.mass_kg * STANDARD_GRAVITY * mat.person.peak * mat.person.peak_lead,
        _cells(mat, law, drivers, sigma), _columns(mat.layout, law, drivers), lines, [], [],
    )  # fmt: skip
    return replace(
        result,
        refusals=[*pin_refusals(mat, lines, limits), *guard_refusals(mat), *_full_columns(result)],
        notes=[*pin_notes(mat, lines, limits), *_notes(mat, result)],
    )


def electric_refusals(mat: Mat) -> list[str]:
    """What must not be soldered as described, with the value that mends it, whatever film is chosen."""
    law = film_law(mat.film.weight_kg, mat.film.resistance_ohm)
    lines = current_lines(mat, law, drivers_for(mat, mat.electrical.pulldown_ohm))
    return [*pin_refusals(mat, lines, limits_of(mat.board)), *guard_refusals(mat)]


def reading_noise(mat: Mat, limits: Limits) -> float:
    """Standard deviation of one value of a frame, as a fraction of the supply.

    Noise of the ADC and the rounding to its steps (variance 1/12), both averaged over the oversampled readings; what
    the ADC's nonlinearity adds is no noise and is not in it.
    """
    steps = mat.electrical.adc_noise_lsb**2 + 1 / 12
    return math.sqrt(steps / mat.scan.oversample) / float(2**limits.adc_bits)


def _alone(law: FilmLaw, drivers: Drivers, force_n: float) -> float:
    """Reading of a cell that is the only one loaded: a divider of driver, cell and pull-down."""
    ohm = law.ohm(force_n)
    return float(drivers.pulldown_ohm[0] / (drivers.pulldown_ohm[0] + ohm + drivers.high_ohm[0]))


def _cell_range(law: FilmLaw, drivers: Drivers, sigma: float) -> tuple[float, float]:
    """Forces at which a lone cell reads 3 sigma and SUM_TOP; infinite where the driver keeps it from the latter."""

    def force_at(reading: float) -> float:
        ohm = drivers.pulldown_ohm[0] * (1 / reading - 1) - drivers.high_ohm[0]
        return law.force_n(1 / ohm) if ohm > 0 else math.inf

    return force_at(_SIGMAS * sigma), force_at(SUM_TOP)


def fullest(layout: Layout, law: FilmLaw, drivers: Drivers, foot_n: float) -> float:
    """Σv of the fullest column under the ball of one foot."""
    force = np.zeros((layout.rows, layout.columns))
    force[:, : layout.columns_per_panel] = foot(layout, foot_n, 1.0)
    return float(readings(law.conductance_s(force)[None], drivers)[0].sum(0).max())


def _foot_top(layout: Layout, law: FilmLaw, drivers: Drivers) -> float:
    """The foot's force at which the fullest column reaches SUM_TOP, N."""
    return _rising(lambda force: fullest(layout, law, drivers, force), SUM_TOP)


def _rising(function: Callable[[float], float], value: float) -> float:
    """Where a rising function of a force reaches a value; infinite beyond 100 kN."""
    low, high = 1e-2, 1e5
    if function(high) < value:
        return math.inf
    for _ in range(60):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if function(middle) < value else (low, middle)
    return math.sqrt(low * high)


def _cells(mat: Mat, law: FilmLaw, drivers: Drivers, sigma: float) -> list[CellLine]:
    lines = []
    background = standing_n(mat)
    row, column = (int(i) for i in np.unravel_index(np.argmax(background), background.shape))
    for force in FORCES_N:
        both_ways = []
        for under in (np.zeros_like(background), background):
            load = under.copy()
            load[row, column] = force
            both_ways.append(resolution_n(law, drivers, load, row, column, sigma))
        lines.append(CellLine(force, law.ohm(force), _alone(law, drivers, force), *both_ways))
    return lines


def resolution_n(
    law: FilmLaw, drivers: Drivers, force_n: NDArray[np.float64], row: int, column: int, sigma: float
) -> float:
    """One sigma of a cell's force while all cells are loaded as given, N.

    Parameters
    ----------
    force_n : ndarray, shape (rows, columns)
    row, column : int
        The cell.
    sigma : float
        Noise of a reading, fraction of the supply; the readings' noises are independent.

    Returns
    -------
    float
        NaN where the column is too full for the inverse.
    """
    reading = readings(law.conductance_s(force_n)[None], drivers)[0]
    step = 1e-6
    moved = np.repeat(reading[None], 2 * reading.size, axis=0).reshape(2, reading.size, *reading.shape)
    each = np.arange(reading.size)
    flat = moved.reshape(2, reading.size, reading.size)
    flat[0, each, each] += step
    flat[1, each, each] -= step
    solved, _ = conductances(moved.reshape(-1, *reading.shape), drivers, tolerance=1e-12)
    ends = solved[:, row, column].reshape(2, reading.size)
    slope = (ends[0] - ends[1]) / (2 * step)
    force = float(force_n[row, column])
    per_newton = law.exponent * float(law.conductance_s(np.array(force))) / force
    return float(sigma * np.sqrt((slope**2).sum()) / per_newton)


def _columns(layout: Layout, law: FilmLaw, drivers: Drivers) -> list[ColumnLine]:
    lines = []
    for force in FOOT_FORCES_N:
        total = fullest(layout, law, drivers, force)
        lines.append(ColumnLine(force, total, 1 / (1 - total)))
    return lines


def _full_columns(found: Divider) -> list[str]:
    """A sentence where the person of the description fills a column."""
    out = []
    if found.hardest_foot_n > found.foot_n:
        out.append(
            f"at the hardest moment a foot presses {found.hardest_foot_n:.0f} N and the columns are full at "
            f"{found.foot_n:.0f} N: choose a smaller pull-down than {in_words(found.pulldown_ohm)}"
        )
    return out


def _notes(mat: Mat, found: Divider) -> list[str]:
    out = []
    heaviest = found.law.measured_n[1]
    out.append(
        f"the film was measured up to {heaviest:.0f} N on one cell; beyond that its law is an extrapolation, for film "
        "saturates"
    )
    if found.pulldown_ohm != mat.electrical.pulldown_ohm:
        out.append(
            f"the description has a pull-down of {in_words(mat.electrical.pulldown_ohm)}: what is soldered must stand "
            "in it and in the layout file (`groundtone build layout --pulldown`)"
        )
    return out
