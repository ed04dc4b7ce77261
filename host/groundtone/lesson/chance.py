"""What chance alone would do: shares between two sides, what goes with what, and many looks paid for.

What a lesson compares (`groundtone.feel.in_blocks`) hangs together in 95 of 100 lessons and is claimed only beyond what
matters; its two links have a chance of three in 100 of being claimed falsely, and what tells good swings from
poor ones half of one, so that five in 100 lessons are kept in all.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from groundtone.feel.in_blocks import ALPHA
from groundtone.lesson.strike_counts import FOLLOWS, OFFSET, share_interval

Array = NDArray[np.float64]

ALPHA_LINKS = 0.030
ALPHA_PAIR = 0.005
LEAST_SHARE = 10
"""Fewer swings a side are too few to compare counts."""
SHARE_STEP = 0.10
"""A smaller change of a share matters to nobody (chosen by us)."""
LEAST_IN_RUN = 6
"""A run of fewer swings says nothing of what goes with what: a trend would take it all."""
# Shifts that are drawn where there are more ways, and ways that are enough to be sure of a link.
_SHIFTS, _ENOUGH = 4999, 300
# What a lesson drifts by, in standard deviations of what is behind a share (as expected in `in_blocks`).
_SLOPE = 0.85


@dataclass(frozen=True)
class ShareGap:
    """A share after less before, with the interval that decides."""

    size: float
    low: float
    high: float


def share_gap(
    before: tuple[int, int],
    after: tuple[int, int],
    looks: float = 1.0,
    *,
    blocks: int = 1,
    alpha: float = ALPHA,
    alone: bool = False,
) -> ShareGap:
    """What lies between two shares: Newcombe's method 10 (1998) on intervals that are as wide as swings deserve.

    Each side's interval is Wilson's of fewer swings, as they hang together, and wider by what blocks differ and lessons
    drift by where blocks take turns (put together as Zou and Donner do, Statistics in Medicine 27, 2008).

    Parameters
    ----------
    before, after : (int, int)
        So many of so many.
    looks : float
        How many looks are paid for.
    blocks : int
        A side, in turn; with one it is asked whether these very two differ.
    alpha : float
        As for `groundtone.feel.in_blocks.between`.
    alone : bool
        Swings that have nothing to do with each other: Newcombe's own interval.

    Examples
    --------
    >>> gap = share_gap((3, 12), (9, 14), alpha=0.05, alone=True)
    >>> round(gap.size, 3), round(gap.low, 3), round(gap.high, 3)
    (0.393, 0.012, 0.645)
    """
    if not before[1] or not after[1]:
        return ShareGap(math.nan, math.nan, math.nan)
    z = NormalDist().inv_cdf(1 - alpha / looks / 2)
    # Of one block a side it is asked whether these two differ: their offsets and the drift are part of that.
    unsure = 0.0
    if blocks > 1:
        unsure = math.hypot(OFFSET / math.sqrt(blocks), _SLOPE / (2 * math.sqrt(2) * blocks))
    follows = 0.0 if alone else FOLLOWS
    (l1, u1), (l2, u2) = (share_interval(*side, z, follows=follows, unsure=unsure) for side in (before, after))
    p1, p2 = (good / total for good, total in (before, after))
    size = p2 - p1
    return ShareGap(size, size - math.hypot(p2 - l2, u1 - p1), size + math.hypot(u2 - p2, p1 - l1))


@dataclass(frozen=True)
class Linked:
    """How measures go with something, swing by swing, each in its own run.

    Attributes
    ----------
    size : ndarray, shape (m,)
        Rank correlation of what is left when the trend over the order of each run is taken out.
    p : ndarray, shape (m,)
        Chance of one as large in any of them, where they have nothing to do with each other.
    most : ndarray, shape (shifts,)
        The largest correlation of each shift, rising.
    n : int
        Swings that counted.
    """

    size: Array
    p: Array
    most: Array
    n: int

    def interval(self, at: int, alpha: float) -> tuple[float, float]:
        """Of one correlation, by Fisher's z: it leaves out nought where its chance is below `alpha`."""
        if not math.isfinite(self.size[at]):
            return math.nan, math.nan
        beyond = self.most[max(0, self.most.size - 1 - int(alpha * self.most.size))]
        half, z = (math.atanh(min(abs(float(r)), 1 - 1e-9)) for r in (beyond, self.size[at]))
        z = math.copysign(z, self.size[at])
        return math.tanh(z - half), math.tanh(z + half)


def linked(x: Array, y: Array, run: Sequence[Hashable], seed: int = 1) -> Linked:
    """What goes with what within runs: swings hang together, so one side is shifted in turn against the other.

    A shift keeps the order in itself, and with it how swings follow each other; every run is shifted by itself, so what
    blocks, clubs, lies and cues differ by says nothing. Where there are few shifts a run of 12 swings or more is taken
    in pieces; a straight trend of each run or piece is taken out of both sides. The largest of all measures is looked
    at in every shift (Westfall and Young 1993, from memory), so all are paid for.

    Parameters
    ----------
    x : ndarray, shape (n, m)
        Measures in the order of swings; NaN is left out (the swing with it, in all measures).
    y : ndarray, shape (n,)
        What they may go with.
    run : sequence
        Of each swing: recording, block, club, lie and cues, whatever must not be mixed.
    """
    known = np.isfinite(y) & np.isfinite(x).all(axis=1)
    runs = [[i for i in range(y.size) if known[i] and run[i] == each] for each in dict.fromkeys(run)]
    runs = _pieces([places for places in runs if len(places) >= LEAST_IN_RUN])
    n, many = sum(map(len, runs)), x.shape[1]
    nothing = Linked(np.full(many, math.nan), np.full(many, math.nan), np.zeros(0), n)
    if not runs:
        return nothing
    ranked_x = np.stack([_ranks(x[:, column], runs) for column in range(many)], axis=1)
    ranked_y = _ranks(y, runs)
    left_x, left_y = (_without_trend(side, runs) for side in (ranked_x, ranked_y[:, None]))
    norm = np.sqrt((left_x**2).sum(axis=0))
    if float((left_y**2).sum()) < 1e-12 or not (norm > 1e-6).all():
        return nothing
    shifted = _shifted(ranked_y, runs, seed)
    left = _without_trend(shifted, runs)
    sizes = left_x.T @ left / norm[:, None] / np.maximum(np.sqrt((left**2).sum(axis=0)), 1e-9)
    most = np.abs(sizes).max(axis=0)
    size = sizes[:, 0]
    p = np.array([np.mean(most >= abs(each) - 1e-12) for each in size])
    return Linked(size, p, np.sort(most), n)


def _pieces(runs: list[list[int]]) -> list[list[int]]:
    """Runs, the longest of them cut in pieces until there are shifts enough to be sure of something."""
    cuts = [1] * len(runs)

    def sizes() -> list[int]:
        return [-(-len(places) // many) for places, many in zip(runs, cuts, strict=True)]

    def ways() -> int:
        return math.prod((len(places) // many) ** many for places, many in zip(runs, cuts, strict=True))

    while ways() < _ENOUGH:
        long = max(range(len(runs)), key=lambda i: sizes()[i], default=None)
        if long is None or len(runs[long]) // (cuts[long] + 1) < LEAST_IN_RUN:
            break
        cuts[long] += 1
    return [piece.tolist() for places, many in zip(runs, cuts, strict=True) for piece in np.array_split(places, many)]


def _ranks(values: Array, runs: Sequence[Sequence[int]]) -> Array:
    """Ranks over all runs together, ties shared, between -0.5 and 0.5, run after run."""
    kept = values[[i for places in runs for i in places]]
    order = np.sort(kept)
    below, upto = np.searchsorted(order, kept, "left"), np.searchsorted(order, kept, "right")
    return np.asarray((below + upto) / 2 / kept.size - 0.5, dtype=np.float64)


def _without_trend(values: Array, runs: Sequence[Sequence[int]]) -> Array:
    """What each run's own trend leaves, shape as given: (n, columns)."""
    out, at = np.empty_like(values), 0
    for places in runs:
        size = len(places)
        along = np.linspace(-1, 1, size)
        base, _ = np.linalg.qr(np.vander(along, 2))
        part = values[at : at + size]
        out[at : at + size] = part - base @ (base.T @ part)
        at += size
    return out


def _shifted(values: Array, runs: Sequence[Sequence[int]], seed: int) -> Array:
    """Values with each run shifted in a circle, shape (n, shifts); the first is as it was."""
    sizes = [len(places) for places in runs]
    ways = math.prod(sizes)
    if ways <= _SHIFTS:
        by = np.array(list(itertools.product(*(range(size) for size in sizes))))
    else:
        rng = np.random.default_rng([seed, values.size])
        by = np.stack([rng.integers(size, size=_SHIFTS + 1) for size in sizes], axis=1)
        by[0] = 0
    starts = np.cumsum([0, *sizes[:-1]])
    places = np.concatenate(
        [start + (np.arange(size)[:, None] + by[:, i]) % size
         for i, (start, size) in enumerate(zip(starts, sizes, strict=True))]
    )  # fmt: skip
    return np.asarray(values[places], dtype=np.float64)


def holm(p: Sequence[float]) -> list[float]:
    """Chances corrected for having looked at them all (Holm 1979); NaN stays and does not count as a look."""
    order = sorted((i for i in range(len(p)) if not math.isnan(p[i])), key=lambda i: p[i])
    out = [math.nan] * len(p)
    largest = 0.0
    for place, i in enumerate(order):
        largest = max(largest, min(1.0, p[i] * (len(order) - place)))
        out[i] = largest
    return out
