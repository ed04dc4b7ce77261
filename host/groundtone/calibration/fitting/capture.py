"""Placements from a recorded bench run: which cell was loaded, and what the mat read once it was steady."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import CalibrationError

# A cell may count as loaded above this, about 2 N on the reference film.
LOADED_S = 5e-6
# The film stays pressed for seconds after a weight is gone: a load is what makes a reading this much larger than it
# was shortly before, and it is gone when the reading has fallen to this part of what it was.
_RISE = 2.5
_SHORTLY_S = 0.3
_FALL = 0.2

DWELL_S = (0.45, 0.95)
"""What counts is the mean over this time after a weight was set down: the same for every one, because film creeps."""
DWELL_MID_S = sum(DWELL_S) / 2
_EARLY_S, _LATE_S = (0.15, 0.35), (0.70, 0.95)


@dataclass(frozen=True)
class Placement:
    """One weight on one cell.

    Attributes
    ----------
    force_n : float
        Weight of what lay there, N.
    conductance_s : ndarray, shape (rows, columns)
        Mean over the dwell, S; a puck a little off the cell's middle shows in the neighbours.
    dwell : slice
        The frames of the dwell.
    falling : bool
        The weight was reached by taking others off.
    drift : float
        ln of the cell's conductance late over early in the dwell, per decade of time; NaN where `falling`.
    mass_u : float
        Relative standard uncertainty of the weight.
    peak_n : float
        Where `falling`: what lay there before some of it was taken off, N. NaN: not known.
    peak_s : float
        Where `falling`: how long the peak had lain when it was taken off, s.
    t_s : float
        When this load began, s. NaN: not known.
    after_s : float
        Mean time of the dwell after that, s: the film creeps, so the reading belongs to this time.
    before_s : ndarray, shape (rows, columns), or None
        What the mat read just before the weight came, S: what the neighbours still remembered of earlier weights.
    reading_u : float
        Relative standard uncertainty of the cell's own reading: noise that the dwell has not averaged out.
    lifted_s : float
        When the cell was free again, s. NaN: not known, or more was put on or taken off where it lay.
    grew : tuple of (s, float)
        Where it lay for long: times after it came, and ln of the cell's reading over that of the dwell.
    """

    row: int
    column: int
    force_n: float
    conductance_s: NDArray[np.float64]
    dwell: slice
    falling: bool
    drift: float
    mass_u: float = 0.0
    peak_n: float = math.nan
    peak_s: float = 1.0
    t_s: float = math.nan
    after_s: float = DWELL_MID_S
    before_s: NDArray[np.float64] | None = None
    reading_u: float = 0.0
    lifted_s: float = math.nan
    grew: tuple[tuple[float, float], ...] = ()


def placements_from(
    t_s: NDArray[np.float64], conductance_s: NDArray[np.float64], weights_n: Sequence[float]
) -> list[Placement]:
    """Placements of a run in which the same weights went on every cell in the same order.

    A placement begins when a cell comes to be loaded, or when weights are taken off it where it is (its reading falls
    by a quarter and it stays loaded), and ends with the next beginning or when the cell is free.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Time of each frame, s.
    conductance_s : ndarray, shape (n, rows, columns)
        S; NaN counts as nothing.
    weights_n : sequence of float
        The weights in the order in which they went on each cell, N.

    Raises
    ------
    CalibrationError
        A cell saw more or fewer placements than there are weights; the sentence names the first such cell.
    """
    flat = np.nan_to_num(conductance_s.reshape(len(conductance_s), -1))
    seen: dict[int, list[Placement]] = {}
    for first, end, cell in _loaded(t_s, flat):
        seen.setdefault(cell, []).extend(_held(t_s, flat, slice(first, end), cell, conductance_s.shape[1:]))
    if not any(seen.values()):
        raise CalibrationError("no loaded cell was seen: put the weights on the mat while it records")
    return [placement for _, made in sorted(seen.items()) for placement in _named(made, weights_n)]


def _held(
    t_s: NDArray[np.float64], flat: NDArray[np.float64], stretch: slice, cell: int, shape: tuple[int, ...]
) -> Iterator[Placement]:
    """Placements of one stretch under load, before it is known which weights they were: their force is NaN."""
    first = stretch.start
    earlier = (t_s >= t_s[first] - _SHORTLY_S) & (t_s < t_s[first])
    before = flat[earlier].mean(0) if earlier.any() else np.zeros(flat.shape[1])
    # A frame comes up to its period after the weight; half of it is the fair guess.
    late = 0.5 * float(t_s[first] - t_s[first - 1]) if first else 0.0
    reading = flat[stretch, cell]
    free_s = float(t_s[stretch.stop]) if stretch.stop < len(t_s) else math.nan
    for begin, stop in _levels(reading):
        after = t_s[first + begin : first + stop] - t_s[first + begin]
        inside = np.flatnonzero(_during(after, DWELL_S)) + first + begin
        if not inside.size:
            continue
        dwell = slice(int(inside[0]), int(inside[-1]) + 1)
        began = float(t_s[first + begin]) - late
        yield Placement(
            *divmod(cell, shape[1]),
            math.nan,
            flat[dwell].mean(0).reshape(shape),
            dwell,
            begin > 0,
            math.nan if begin else _drift(after, reading[begin:stop]),
            t_s=began,
            after_s=float(t_s[dwell].mean()) - began,
            before_s=before.reshape(shape),
            lifted_s=free_s if stop == len(reading) else math.nan,
        )


def _named(made: Sequence[Placement], weights_n: Sequence[float]) -> Iterator[Placement]:
    """A cell's placements with their weights.

    Raises
    ------
    CalibrationError
        More or fewer placements than weights.
    """
    if len(made) != len(weights_n):
        raise CalibrationError(
            f"row {made[0].row}, column {made[0].column} was loaded {len(made)} times where {len(weights_n)} weights "
            "were named: repeat this cell"
        )
    for i, (force, each) in enumerate(zip(weights_n, made, strict=True)):
        peak_n, peak_s = math.nan, 1.0
        if each.falling and i:
            # Weights are taken off one after the other: the peak is the largest since the cell was free.
            onset = max(k for k in range(i) if not made[k].falling)
            top = max(range(onset, i), key=lambda k: weights_n[k])
            peak_n, peak_s = weights_n[top], each.t_s - made[top].t_s
        yield replace(each, force_n=force, peak_n=peak_n, peak_s=peak_s)


def _during(after_s: NDArray[np.float64], span_s: tuple[float, float]) -> NDArray[np.bool_]:
    return (after_s >= span_s[0]) & (after_s <= span_s[1])


def _drift(after_s: NDArray[np.float64], reading: NDArray[np.float64]) -> float:
    early, late = _during(after_s, _EARLY_S), _during(after_s, _LATE_S)
    if not early.any() or not late.any():
        return math.nan
    decades = math.log10(float(after_s[late].mean()) / float(after_s[early].mean()))
    return math.log(float(reading[late].mean()) / float(reading[early].mean())) / decades


def _loaded(t_s: NDArray[np.float64], flat: NDArray[np.float64]) -> Iterator[tuple[int, int, int]]:
    """First index, end index and cell of each stretch in which one cell carries a load."""
    strongest = flat.argmax(1)
    i, n = 0, len(t_s)
    while i < n:
        cell = int(strongest[i])
        before = flat[np.searchsorted(t_s, t_s[i] - _SHORTLY_S), cell]
        if flat[i, cell] <= max(LOADED_S, _RISE * before):
            i += 1
            continue
        first, level = i, 0.0
        while i < n and flat[i, cell] > _FALL * level:
            level = max(flat[i, cell], 0.5 * level)
            i += 1
        yield first, i, cell


def _levels(reading: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Where a loaded cell's reading begins, and where it falls to a lower level: pairs of first and end index."""
    falls = np.flatnonzero(reading[1:] < 0.75 * reading[:-1]) + 1
    # A fall that takes several frames is one fall; the level begins with its last.
    last = falls[np.append(np.diff(falls) > 1, True)] if falls.size else falls
    bounds = [0, *last.tolist(), reading.size]
    return list(pairwise(bounds))
