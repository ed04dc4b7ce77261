"""From touches of the test resistor to the board's own resistors: pull-downs and series resistors, line by line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from groundtone.build.evidence import Touch
from groundtone.mat.layout import Layout

TEST_OHM = 1000.0
"""The test resistor: one like the reference resistor, 1 %."""

FACTORS = (1.0, 10.0, 0.1)
# Tolerances of 1 % and contacts of a few ohms move a divider's reading v by less than this part of v (1 - v), and the
# converter by less than the other; a fault must explain three times that.
SPREAD, LEAST_SPREAD = 0.012, 0.0004
PENALTY = 9.0
# A touch has to lift a reading by this much; a pull-down ten times too small still gives 0.046.
FELT = 0.02


@dataclass(frozen=True)
class Parts:
    """Factors by which the resistors are wrong, as far as they were measured.

    Attributes
    ----------
    pulldown : dict of int to float
        By column line; inf where there is none, 1 where it is right.
    series : dict of int to float
        By row line.
    doubt : dict of int to tuple of int
        Columns whose fault may as well be another's, which is joined to it.
    """

    pulldown: dict[int, float]
    series: dict[int, float]
    doubt: dict[int, tuple[int, ...]]


@dataclass(frozen=True)
class _Hit:
    """A touch as it was felt: row line, column line, reading as a fraction of the supply."""

    row: int
    column: int
    v: float


def felt(touch: Touch, level: float, usable: np.ndarray) -> _Hit | None:
    """Where a touch was felt and how strongly; None where it was not.

    Parameters
    ----------
    touch : Touch
    level : float
        The supply as a fraction of the ADC's reference.
    usable : (C,) array of bool
        Columns whose readings mean something.
    """
    rise = np.where(usable, touch.rise, 0.0) / level
    row, column = np.unravel_index(int(np.argmax(rise)), rise.shape)
    strongest = float(rise[row, column])
    return _Hit(int(row), int(column), strongest) if strongest > FELT else None


def parts_of(
    touches: Sequence[Touch],
    layout: Layout,
    level: float,
    usable: np.ndarray,
    floating: frozenset[int],
    joined: Sequence[tuple[int, int]],
) -> Parts:
    """Decide for each resistor which factor explains the touches best.

    A touch makes a divider of known parts: the reading is Rs / (Rs + R + Rd + Rr) with the test resistor R, the
    driver Rd and the row's resistor Rr. One touch cannot always tell the column's resistor from the row's, but all
    touches of a column share the one, and its rows differ.

    Parameters
    ----------
    touches : sequence of Touch
    layout : Layout
    level : float
    usable : (C,) array of bool
    floating : frozenset of int
        Columns that are known to have no pull-down.
    joined : sequence of pairs
        Columns that are one.
    """
    hits = [h for t in touches if (h := felt(t, level, usable)) is not None]
    group = _groups(joined, usable.size)
    driver = _driver_ohm(hits, layout, group)
    pulldown: dict[int, float] = {}
    said: dict[int, list[tuple[bool, float]]] = {}
    doubt: dict[int, tuple[int, ...]] = {}
    for members in sorted({group[h.column] for h in hits}):
        mine = [h for h in hits if h.column in members]
        # Which resistor of joined columns is wrong cannot be seen: the first stands for them.
        choices = [f for f in (*FACTORS, math.inf) if math.isfinite(f) or len(members) > 1 or members[0] in floating]
        if members[0] in floating and len(members) == 1:
            choices = [math.inf]
        many = len(members)
        best = min(choices, key=lambda f: _misfit(f, mine, many, layout, driver))
        hides = not usable.all() and not floating.intersection(members)
        if hides and _misfit(1.0, mine, many + 1, layout, driver) + PENALTY < _misfit(best, mine, many, layout, driver):
            # It shares its readings with a column that cannot be seen now; that is found once it can.
            best, many = 1.0, many + 1
        for c in members:
            pulldown[c] = 1.0
        pulldown[members[0]] = best
        if best != 1.0 and len(members) > 1:
            doubt[members[0]] = members[1:]
        for h in mine:
            cost = {f: _cost(h, best, f, many, layout, driver) for f in FACTORS}
            # A column without a pull-down reads the same whatever its row's resistor is.
            if math.isfinite(best):
                said.setdefault(h.row, []).append((best != 1.0, min(FACTORS, key=lambda f: cost[f])))
    # What a right column says of a row counts before what a wrong one says.
    series = {row: min(words)[1] for row, words in said.items()}
    return Parts(pulldown, series, doubt)


def _groups(joined: Sequence[tuple[int, int]], columns: int) -> list[tuple[int, ...]]:
    """For each column, all columns that are one with it."""
    group = [{c} for c in range(columns)]
    for a, b in joined:
        both = group[a] | group[b]
        for c in both:
            group[c] = both
    return [tuple(sorted(members)) for members in group]


def _expected(pulldown: float, series: float, many: int, layout: Layout, driver: float) -> float:
    """The reading of a touch; one of `many` joined pull-downs is wrong."""
    single = layout.pulldown_ohm
    siemens = (many - 1) / single + (0.0 if math.isinf(pulldown) else 1.0 / (single * pulldown))
    if siemens == 0.0:
        return 1.0
    rs = 1.0 / siemens
    return rs / (rs + TEST_OHM + driver + layout.series_ohm * series)


def _cost(hit: _Hit, pulldown: float, series: float, many: int, layout: Layout, driver: float) -> float:
    expected = _expected(pulldown, series, many, layout, driver)
    off = (hit.v - expected) / (SPREAD * expected * (1.0 - expected) + LEAST_SPREAD)
    return off * off + PENALTY * (series != 1.0)


def _misfit(pulldown: float, hits: Sequence[_Hit], many: int, layout: Layout, driver: float) -> float:
    each = [min(_cost(h, pulldown, s, many, layout, driver) for s in FACTORS) for h in hits]
    return sum(each) + PENALTY * (pulldown != 1.0)


def _driver_ohm(hits: Sequence[_Hit], layout: Layout, group: list[tuple[int, ...]]) -> float:
    """The drivers' own resistance, from the touches that a right board explains."""
    found = []
    for hit in hits:
        many = len(group[hit.column])
        plain = [
            (abs(hit.v - _expected(p, s, many, layout, layout.driver_ohm)), p, s) for p, s in product(FACTORS, FACTORS)
        ]
        off, p, s = min(plain)
        if (p, s) == (1.0, 1.0) and off < 0.008:
            rs = layout.pulldown_ohm / many
            found.append(rs / hit.v - rs - TEST_OHM - layout.series_ohm)
    return float(np.clip(np.median(found), 5.0, 100.0)) if found else layout.driver_ohm
