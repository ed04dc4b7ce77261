"""The verdict: all evidence of a commissioning together, told as the fewest faults that explain it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from groundtone.build.evidence import Evidence, Idle, Stroke
from groundtone.build.faults import Fault, Namer
from groundtone.build.findings import finding_faults
from groundtone.build.permutation import Order
from groundtone.build.places import PlaceMap, joined_columns, place_map
from groundtone.build.references_check import Guess, column_addresses, explain
from groundtone.build.touches import Parts, parts_of
from groundtone.mat.layout import Layout

# A column whose readings add up to this part of the supply on an empty mat has nothing that pulls it down.
NOTHING_BELOW = 0.8
STUCK = 0.04
# Standard deviation of a resting reading, of the ADC's range: a converter has a quarter step of 12 bits or a few.
NOISY = 0.0025
# Strokes alone (no touch reached the column): this many times the other columns' answer is a wrong pull-down.
FAR = 4.0
# Price of a fault when explanations are compared, in the units of the references' misfit.
PRICE = 9.0


@dataclass(frozen=True)
class Diagnosis:
    """What is wrong, and the orders that the strokes found.

    Attributes
    ----------
    faults : list of Fault
    places : PlaceMap or None
    untested : list of str
        What could not be looked at because of a fault, in words.
    """

    faults: list[Fault]
    places: PlaceMap | None
    untested: list[str]

    @property
    def orders(self) -> tuple[Order, Order, Order] | None:
        """Row lines of the left and the right panel and column lines, by place; None before the strokes."""
        return None if self.places is None else (self.places.left, self.places.right, self.places.columns)


def rows_faults(evidence: Evidence, namer: Namer) -> list[Fault]:
    """Faults of the rows' proof, from the mat's self-test: with these no row is driven and nothing else is measured."""
    joined = [(f.a, f.b) for f in evidence.findings if f.code == JOINED]
    on_column = [(f.a, f.b) for f in evidence.findings if f.code == ROW_ON_COLUMN]
    low = [f.a for f in evidence.findings if f.code == LOW]
    out = [namer.rows_joined(a, b) for a, b in joined]
    out += [namer.row_on_column(a, b) for a, b in on_column]
    out += [namer.row_low(a) for a in low if a not in {row for row, _ in on_column}]
    out += [
        namer.other(f"Row {f.a} is held high.", "Look for a short from it to the 3.3 V supply.", (f.a,))
        for f in evidence.findings
        if f.code == HIGH
    ]
    return out


JOINED, LOW, HIGH, ROW_ON_COLUMN = 1, 2, 10, 23
"""Codes of the self-test's findings (firmware/WIRE.md) that stop everything else."""

LEVEL = 1.009
"""The rows' supply as a fraction of the ADC's reference where the divider cannot tell: 3.3 V of 3.27 (typical)."""


def diagnose(evidence: Evidence, layout: Layout) -> Diagnosis:
    """Name what is wrong.

    Every exchange of address lines that the references allow is tried in turn: it says which reading belongs to which
    column, the rest follows, and the explanation with the fewest faults and the smallest misfit stands.

    Parameters
    ----------
    evidence : Evidence
    layout : Layout
        As built; its own orders are not used.
    """
    namer = Namer(layout.columns_per_panel)
    stopping = rows_faults(evidence, namer)
    if stopping:
        return Diagnosis(stopping, None, ["everything else: rows that are not proven apart are never driven"])
    if evidence.idle is None:
        return Diagnosis([], None, [])
    by_address: dict[tuple[int, int] | None, list[Guess]] = {}
    for guess in explain(evidence.idle, layout):
        by_address.setdefault(guess.address, []).append(guess)
    tried = [_with_address(evidence, evidence.idle, layout, guesses, namer) for guesses in by_address.values()]
    diagnosis = min(tried, key=lambda pair: pair[0])[1]
    return replace(diagnosis, faults=diagnosis.faults + finding_faults(evidence.findings, diagnosis.faults, namer))


def _with_address(
    evidence: Evidence, idle: Idle, layout: Layout, guesses: list[Guess], namer: Namer
) -> tuple[float, Diagnosis]:
    """Price and diagnosis under one exchange of address lines, or none."""
    at, usable = column_addresses(guesses[0].address, layout.columns)
    best = guesses[0]
    plain = best.address is None and best.divider == 0.5 and best.zero
    level = 2.0 * (idle.supply - idle.zero) if plain else LEVEL
    mean = idle.mean[:, at]
    floating = frozenset(int(c) for c in np.flatnonzero(usable & (mean.sum(axis=0) / level > NOTHING_BELOW)))
    touches = [replace(t, rise=t.rise[:, at]) for t in evidence.touches]
    strokes = [_moved(s, at) for s in evidence.strokes]
    joined = joined_columns(strokes, usable)
    parts = parts_of(touches, layout, level, usable, floating, joined)
    own = [namer.no_pulldown(c) for c in sorted(floating)] + _part_faults(parts, layout, namer, floating)
    places = place_map(strokes, namer, usable, floating) if strokes else None
    if places is not None:
        own += places.faults
        own += _by_strokes(places, parts, layout, namer, floating)
    own += _idle_faults(replace(idle, mean=mean, spread=idle.spread[:, at]), usable, floating, namer)
    series_0 = parts.series.get(0)
    # Row 0's resistor is measured twice, by the touches and by the tap: they must agree.
    best = min(guesses, key=lambda g: g.cost + 3 * PRICE * (series_0 is not None and g.series != series_0))
    price = best.cost + PRICE * (len(own) + 3 * (series_0 is not None and best.series != series_0))
    untested = [namer.column(int(c)) for c in np.flatnonzero(~usable)]
    return price, Diagnosis(_board_faults(best, series_0, layout, namer) + own, places, untested)


def _moved(stroke: Stroke, at: np.ndarray) -> Stroke:
    return replace(
        stroke, rise=stroke.rise[:, at], onset_s=stroke.onset_s[:, at], again_s=stroke.again_s[:, at],
        apart=stroke.apart[np.ix_(at, at)], together=stroke.together[np.ix_(at, at)],
    )  # fmt: skip


def _board_faults(guess: Guess, series_0: float | None, layout: Layout, namer: Namer) -> list[Fault]:
    out = []
    if guess.address is not None:
        out.append(namer.address(*guess.address))
    if guess.divider != 0.5:
        out.append(namer.divider(guess.divider))
    if not guess.tap:
        out.append(namer.tap_open())
    if not guess.zero:
        out.append(namer.zero())
    if guess.reference != 1.0:
        out.append(namer.reference(guess.reference, layout.reference_ohm))
    if guess.series != 1.0 and series_0 is None:
        out.append(namer.series(0, guess.series, layout.series_ohm))
    return out


def _part_faults(parts: Parts, layout: Layout, namer: Namer, floating: frozenset[int]) -> list[Fault]:
    out = []
    for c, factor in parts.pulldown.items():
        if factor == 1.0 or c in floating:
            continue
        others = parts.doubt.get(c, ())
        if math.isinf(factor):
            found = namer.no_pulldown(c)
            out.append(replace(found, alternatives=tuple(namer.no_pulldown(o) for o in others)))
        else:
            also = tuple(namer.pulldown(o, factor, layout.pulldown_ohm) for o in others)
            out.append(namer.pulldown(c, factor, layout.pulldown_ohm, also))
    out += [namer.series(r, f, layout.series_ohm) for r, f in sorted(parts.series.items()) if f != 1.0]
    return out


def _by_strokes(places: PlaceMap, parts: Parts, layout: Layout, namer: Namer, floating: frozenset[int]) -> list[Fault]:
    """Wrong pull-downs of columns that no touch reached: they answer all strokes much more, or much less."""
    answer = np.where(places.answer > 0, places.answer, np.nan)
    with np.errstate(invalid="ignore"):
        middle = np.array([np.nanmedian(col) if np.isfinite(col).any() else np.nan for col in answer.T])
    out = []
    for place, line in enumerate(places.columns):
        if line in parts.pulldown or line in floating or not np.isfinite(middle[place]):
            continue
        others = np.nanmedian(np.delete(middle, place))
        ratio = float(middle[place] / others)
        if ratio > FAR or ratio < 1 / FAR:
            out.append(namer.pulldown(line, 10.0 if ratio > 1 else 0.1, layout.pulldown_ohm))
    return out


def _idle_faults(idle: Idle, usable: np.ndarray, floating: frozenset[int], namer: Namer) -> list[Fault]:
    """Cells that conduct or jump on an empty mat."""
    look = usable.copy()
    look[list(floating)] = False
    stuck = (idle.mean > STUCK) & look
    noisy = (idle.spread > NOISY) & look & ~stuck
    out = [namer.cell_stuck(int(r), int(c)) for r, c in np.argwhere(stuck)]
    return out + [namer.cell_noisy(int(r), int(c)) for r, c in np.argwhere(noisy)]
