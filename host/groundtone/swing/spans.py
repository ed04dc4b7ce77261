"""Moments and stretches of a swing that measures are read from, and samples with gaps in them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groundtone.swing.definition import TURN_TO_IMPACT_S
from groundtone.swing.events import Moment, Swing
from groundtone.swing.track import GRID_S, smooth

Array = NDArray[np.float64]

# Pressure turns 0 to 0.25 s before the top in others: a standard deviation of that, s.
UNTURNED_U_S = 0.07


def unturned(swing: Swing) -> Moment | None:
    """Where the downswing of a swing begins whose pressure does not turn: as long before impact as is usual."""
    impact = swing.impact
    if impact is None:
        return swing.top
    return Moment(impact.t_s - TURN_TO_IMPACT_S * swing.slow, "estimate", UNTURNED_U_S * swing.slow)


def part_way(first: Moment | None, second: Moment | None, part: float) -> Moment | None:
    """A moment so far on the way between two, with what both leave open of it; None where one is missing."""
    if first is None or second is None:
        return None
    doubt_s = math.hypot((1 - part) * first.doubt_s, part * second.doubt_s)
    return Moment(first.t_s + part * (second.t_s - first.t_s), "estimate", doubt_s)


def later(moment: Moment | None, by_s: float) -> Moment | None:
    """The same so many seconds later."""
    return None if moment is None else replace(moment, t_s=moment.t_s + by_s)


def evenly(t_s: Array, at_mm: Array, cut_hz: float) -> tuple[Array, Array]:
    """Places on the even grid, smoothed without delay: the length of a noisy path is mostly noise."""
    known = np.isfinite(at_mm).all(axis=1)
    if np.count_nonzero(known) < 10:
        return t_s, at_mm
    grid = np.arange(t_s[known][0], t_s[known][-1], GRID_S)
    parts = [smooth(np.interp(grid, t_s[known], at_mm[known, axis]), cut_hz) for axis in (0, 1)]
    return grid, np.stack(parts, axis=1)


def or_zero(value: float) -> float:
    """A number, 0 for NaN."""
    return value if math.isfinite(value) else 0.0


def finite(values: Array) -> Array:
    """What is known of values, NaN alone where nothing is."""
    seen: Array = values[np.isfinite(values)]
    return seen if seen.size else np.array([math.nan])


def some(values: Array, span: slice | None) -> bool:
    """Anything is known within a span."""
    return span is not None and bool(np.isfinite(values[span]).any())
