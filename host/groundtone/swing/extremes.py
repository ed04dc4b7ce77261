"""The least or most of a curve between two events, and what the events' doubt and the frames' noise make of it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from groundtone.swing.events import Moment

Array = NDArray[np.float64]
# How well the lowest place of a small turn is known, s (invented).
TURN_U_S = 0.03
Pick = Callable[[Array], float]


def extreme(t_s: Array, values: Array, begin: Moment, end: Moment, pick: Pick) -> tuple[float, float]:
    """A value picked from all frames between two events, and its standard uncertainty.

    Impact is where most curves move fastest, and an extreme often lies at the end of its span: so the span is also cut
    one doubt earlier and later at either end. And of many noisy values the greatest is too great: the noise of a frame
    is added once.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        s, rising.
    values : ndarray, shape (n,)
        NaN where not known.
    begin, end : Moment
    pick : callable
        From known values to one: `np.min`, `np.max`, `np.ptp`.

    Returns
    -------
    value, u : float
        NaN, 0 where nothing is known.

    Examples
    --------
    >>> t = np.arange(0.0, 1.001, 0.01)
    >>> value, u = extreme(t, t, Moment(0.2, "pressure", 0.01), Moment(0.8, "pressure", 0.05), np.max)
    >>> round(value, 3), round(u, 3)
    (0.8, 0.05)
    """

    def known(low_s: float, high_s: float) -> Array:
        inside = values[int(t_s.searchsorted(low_s)) : int(t_s.searchsorted(high_s, "right"))]
        seen: Array = inside[np.isfinite(inside)]
        return seen

    def between(low_s: float, high_s: float) -> float:
        inside = known(low_s - 1e-9, high_s + 1e-9)
        return float(pick(inside)) if inside.size else math.nan

    value = between(begin.t_s, end.t_s)
    if math.isnan(value):
        return math.nan, 0.0
    ends = [
        [between(begin.t_s - begin.doubt_s, end.t_s), between(begin.t_s + begin.doubt_s, end.t_s)],
        [between(begin.t_s, end.t_s - end.doubt_s), between(begin.t_s, end.t_s + end.doubt_s)],
    ]
    moved = [max((abs(other - value) for other in pair if math.isfinite(other)), default=0.0) for pair in ends]
    return value, math.hypot(*moved, _noise(known(begin.t_s, end.t_s)))


def at_pick(values: Array, span: slice | None, pick: Pick) -> int | None:
    """Which of all values the least (`np.min`) or the most (else) of a span is; None where nothing is known there."""
    inside = np.flatnonzero(np.isfinite(values[span])) if span is not None else np.array([], int)
    if span is None or not inside.size:
        return None
    seen = values[span][inside]
    return int(span.start + inside[seen.argmin() if pick is np.min else seen.argmax()])


def most_back(t_s: Array, share: Array, back: tuple[Moment, Moment] | None, below: float) -> tuple[float, float]:
    """The most of the share on the way back and its doubt; NaN, 0 where no way back is known.

    Where the share falls `below` a limit the way back ends at its lowest: a turn too small to be claimed is one still,
    and what rises after it is the way forth. It is looked for from when the way back may have begun.
    """
    if back is None:
        return math.nan, 0.0
    first_s = back[0].t_s - back[0].doubt_s
    inside = np.flatnonzero((t_s >= first_s) & (t_s <= back[1].t_s) & np.isfinite(share))
    if inside.size and share[least := inside[np.argmin(share[inside])]] < below:
        back = Moment(first_s, "pressure", 0.0), Moment(float(t_s[least]), "pressure", TURN_U_S)
    return extreme(t_s, share, *back, np.max)


def _noise(values: Array) -> float:
    """Noise of one frame, from how it bends: standard deviation, robust."""
    if values.size < 5:
        return 0.0
    bent = np.diff(values, 2)
    return float(1.4826 * np.median(np.abs(bent - np.median(bent))) / math.sqrt(6))
