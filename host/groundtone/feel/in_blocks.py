"""Two sides of a lesson, hit in blocks: what lies between them, with a doubt that swings of a person deserve.

Swings of one person hang together from one to the next, blocks differ for no reason, and a lesson drifts. So a measure
is taken to be

    level + (after - before) / 2 on its side + a slope over the order + an offset a block + an autoregression in it,

how strong each of the last three is counts by how well it explains the swings, times how likely it was beforehand
(`PRIOR`; earlier lessons of the golfer sharpen it by `habit`). Level, difference and log spread have flat priors, so
each strength gives a Student's t (restricted likelihood: Patterson and Thompson, Biometrika 58, 1971; Zellner 1971,
from memory), and the answer is their mixture. Where the sides did not take turns, offset and slope cannot be told from
a change: then the gap is what lies between these very blocks, with the autoregression's doubt alone, and no more can be
claimed than that they differ.

The shape for whoever brings arrays, such as a study::

    swings = Swings(values, block, after)            # (n, m), (n,), (n,), in the order in which they were hit
    between(swings, looks=10)                        # a `Gap` a measure: size, low, high, p, ...
    between(swings, alpha=0.05)                      # the same with the usual 95 % interval of each measure alone
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

ALPHA = 0.05
"""Chance that any interval of what a lesson compares misses. A claim needs it beyond the change that matters, too, so
that false ones are rarer: that leaves room for links and the pair."""
LEAST_BLOCKS = 3
"""So many blocks a side, in turn, say whether something became better; fewer say that blocks differ."""
TURN_EACH = 6
"""Swings of a block in turn, as a lesson is laid out."""
LEAST_IN_BLOCK = 3
"""A block of fewer swings does not count."""

# Strengths that are weighed: of a swing on the next, of a block's offset and of the slope over a lesson, both in
# standard deviations from swing to swing. What is expected: 0.3 to 0.6 from swing to swing and a standard deviation
# over a session (facts from memory); the offsets are invented.
_NEXT = np.linspace(0.0, 0.8, 9)
_OFFSET = np.array([0.0, 0.2, 0.4, 0.7])
_SLOPE = np.array([0.0, 1.0, 2.0])
_OFFSET_SD = 0.20
GRID = np.array([(a, b, c) for a in _NEXT for b in _OFFSET for c in _SLOPE])
"""Every strength: from swing to swing, a block's offset, the slope over the lesson."""
_PRIOR = (
    -0.5 * ((GRID[:, 0] - 0.40) / 0.25) ** 2
    - 0.5 * (GRID[:, 1] / _OFFSET_SD) ** 2
    - np.log(1.0 + GRID[:, 2] ** 2)
)  # fmt: skip
PRIOR: Array = _PRIOR - np.log(np.exp(_PRIOR).sum())
"""Log chance of each beforehand."""
_WHOLE = np.arange(len(GRID))
# Of blocks that did not take turns: from swing to swing alone.
_PLAIN = np.flatnonzero((GRID[:, 1] == 0) & (GRID[:, 2] == 0))
_WILD = 3.5
# Measures of one golfer hang together alike: so many of the others' worth is believed (invented, on the safe side).
_LENT = 3
# Between blocks, in swings (invented).
_BREAK = 1
# Nothing is surer than this part of the change that matters, however alike the swings.
_FLOOR = 0.02


@dataclass(frozen=True)
class Swings:
    """Swings in the order in which they were hit.

    Attributes
    ----------
    values : ndarray, shape (n, m)
        A column a measure; NaN where a swing has none.
    block : ndarray of int, shape (n,)
        Which block.
    after : ndarray of bool, shape (n,)
        Of the second side.
    at : ndarray of int, shape (n,), optional
        Place of each swing in the order of the whole lesson, rising, where others were hit between them.
    """

    values: Array
    block: Whole
    after: NDArray[np.bool_]
    at: Whole | None = None

    @property
    def place(self) -> Whole:
        """`at`, else counted from 0."""
        return np.arange(self.block.size) if self.at is None else self.at

    def known(self, column: int) -> Swings:
        """The swings that have one of the measures."""
        mask = np.isfinite(self.values[:, column])
        return Swings(self.values[mask][:, [column]], self.block[mask], self.after[mask], self.place[mask])

    @property
    def blocks(self) -> tuple[int, int]:
        """Blocks a side that count."""
        kept = [b for b in np.unique(self.block) if np.count_nonzero(self.block == b) >= LEAST_IN_BLOCK]
        sides = [bool(self.after[self.block == b][0]) for b in kept]
        return len(sides) - sum(sides), sum(sides)

    @property
    def in_turn(self) -> bool:
        """Blocks enough a side, hit in turn: what they say is more than that blocks differ."""
        turns = 1 + np.count_nonzero(np.diff(self.after.astype(int)))
        return bool(min(self.blocks) >= LEAST_BLOCKS and turns > LEAST_BLOCKS)


@dataclass(frozen=True)
class Gap:
    """After less before, of one measure.

    Attributes
    ----------
    size, low, high : float
        The gap and the interval that decides: all looks together miss with a chance of `ALPHA` at most.
    p : float
        Chance that decides: below 0.05 where the interval leaves out nought.
    before, after : float
        Levels of both sides in the middle of the lesson; their difference is `size`.
    n : int
        Swings of the smaller side.
    spread : float
        Standard deviation from swing to swing.
    follows, offset : float
        Strength of a swing on the next; of a block's offset, in the measure's unit.
    """

    size: float
    low: float
    high: float
    p: float
    before: float
    after: float
    n: int
    spread: float
    follows: float
    offset: float

    @staticmethod
    def unknown(n: int = 0) -> Gap:
        """Nothing is known."""
        return Gap(*(math.nan,) * 6, n, *(math.nan,) * 3)


def between(
    swings: Swings,
    looks: float = 1.0,
    *,
    doubts: Sequence[float] | None = None,
    floors: Sequence[float] | None = None,
    prior: Array = PRIOR,
    alpha: float = ALPHA,
) -> list[Gap]:
    """What lies between the two sides, a `Gap` a measure.

    Parameters
    ----------
    looks : float
        How many looks are paid for (Bonferroni: intervals hold together).
    doubts : sequence of float, optional
        Standard uncertainty of each gap that more swings do not make smaller: the mat's between two calibrations or
        stands.
    floors : sequence of float, optional
        The smallest change of each measure that matters.
    prior : ndarray, shape (len(GRID),) or (m, len(GRID))
        Log chance of the strengths: `PRIOR`, or what `habit` says.
    alpha : float
        Chance of a miss that all looks share: 0.05 and one look give the usual 95 % interval.

    Returns
    -------
    list of Gap
        Unknown where a side has fewer than 4 values in blocks of 3 or more.
    """
    many = swings.values.shape[1]
    used = _WHOLE if swings.in_turn else _PLAIN
    doubts = doubts if doubts is not None else (0.0,) * many
    floors = floors if floors is not None else (0.0,) * many
    priors = np.broadcast_to(prior, (many, len(GRID)))[:, used]
    out = [Gap.unknown()] * many
    found: dict[int, tuple[_Fits, Array, int, tuple[Array, Array, Array]]] = {}
    for mask, columns in _alike(swings):
        keep = mask & _counts(swings.block, mask)
        n = int(min(np.count_nonzero(keep & swings.after), np.count_nonzero(keep & ~swings.after)))
        if n < 4:
            for column in columns:
                out[column] = Gap.unknown(n)
            continue
        block = swings.block[keep]
        fits = _fits(tuple(block), tuple(swings.after[keep]), tuple(swings.place[keep]), turns=swings.in_turn)
        values = _tamed(swings.values[keep][:, columns], block)
        for column, one in zip(columns, values.T, strict=True):
            found[column] = fits, one, n, _weighed(fits, one, _FLOOR * floors[column])
    for column, (fits, one, n, seen) in found.items():
        others = [log for other, (_, _, _, (log, _, _)) in found.items() if other != column]
        prior = priors[column] + (min(_LENT, len(others)) * np.mean(others, axis=0) if others else 0.0)
        out[column] = _gap(fits, one.size, n, seen, prior, doubts[column], alpha / looks)
    return out


@dataclass(frozen=True)
class Level:
    """Where a golfer is with a measure, as far as some swings tell: its 95 % interval, and how many swings."""

    value: float
    low: float
    high: float
    n: int


def level(swings: Swings, *, prior: Array = PRIOR) -> list[Level]:
    """The golfer's level in each measure, whichever the sides; no interval below 4 swings."""
    out = [Level(*(math.nan,) * 3, 0)] * swings.values.shape[1]
    for mask, columns in _alike(swings):
        n = int(np.count_nonzero(mask))
        if n < 4:
            for column in columns:
                out[column] = Level(float(swings.values[mask, column].mean()) if n else math.nan, *(math.nan,) * 2, n)
            continue
        block = swings.block[mask]
        fits = _fits(tuple(block), (False,) * n, tuple(swings.place[mask]))
        for column in columns:
            one = _tamed(swings.values[mask][:, [column]], block)[:, 0]
            mixture = _mixture(fits, n, _weighed(fits, one, 0.0), prior, 0.0, 0)[0]
            low, high = mixture.quantile(0.025), mixture.quantile(0.975)
            out[column] = Level(float(mixture.weight @ mixture.middle), low, high, n)
    return out


def expected_variance(block: Whole, after: NDArray[np.bool_]) -> float:
    """Variance of a gap, in that of the swings, of a golfer of whom nothing is known beforehand."""
    turns = Swings(np.empty((block.size, 0)), block, after).in_turn
    fits = _fits(tuple(block), tuple(after), tuple(range(block.size)), turns=turns)
    weight = np.exp(PRIOR[_WHOLE if turns else _PLAIN])
    return float(weight @ fits.inverse[:, 1, 1] / weight.sum())


def habit(lessons: Sequence[Swings], column: int = 0) -> Array:
    """What earlier lessons of a golfer say of the strengths of a measure, on top of what is expected.

    Returns
    -------
    ndarray, shape (len(GRID),)
        For `between`. Lessons with fewer than 8 values say nothing.
    """
    out = PRIOR.copy()
    for swings in lessons:
        mask = np.isfinite(swings.values[:, column])
        keep = mask & _counts(swings.block, mask)
        if np.count_nonzero(keep) >= 8:
            block = swings.block[keep]
            fits = _fits(tuple(block), tuple(swings.after[keep]), tuple(swings.place[keep]))
            out += _weighed(fits, _tamed(swings.values[keep][:, [column]], block)[:, 0], 1e-9)[0]
    return np.asarray(out - out.max(), dtype=np.float64)


def _alike(swings: Swings) -> list[tuple[NDArray[np.bool_], list[int]]]:
    """Columns by where they are known, so that those alike are reckoned together."""
    found: dict[bytes, tuple[NDArray[np.bool_], list[int]]] = {}
    for column, known in enumerate(np.isfinite(swings.values).T):
        found.setdefault(known.tobytes(), (known, []))[1].append(column)
    return list(found.values())


def _counts(block: Whole, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Swings of blocks that count."""
    big = [b for b in np.unique(block) if np.count_nonzero(mask & (block == b)) >= LEAST_IN_BLOCK]
    return np.isin(block, big)


def _tamed(values: Array, block: Whole) -> Array:
    """Values with a wild one drawn in to 3.5 standard deviations of its block: one swing moves little."""
    out = values.copy()
    middles = np.empty_like(values)
    for each in np.unique(block):
        middles[block == each] = np.median(values[block == each], axis=0)
    reach = _WILD * 1.4826 * np.median(np.abs(values - middles), axis=0)
    held = np.clip(values, middles - reach, middles + reach)
    return np.where(reach > 0, held, out)


@dataclass(frozen=True)
class _Fits:
    """For every strength that is weighed: what takes out how swings hang together, the design after it, its parts."""

    whiten: Array
    design: Array
    inverse: Array
    log_det: Array
    strengths: Array


@lru_cache(maxsize=8)
def _fits(block: tuple[int, ...], after: tuple[bool, ...], place: tuple[int, ...], *, turns: bool = True) -> _Fits:
    """Of an order of swings; the same for every measure that is known in the same ones."""
    labels, at = np.array(block), np.array(place, dtype=np.float64)
    same = labels[:, None] == labels[None, :]
    # To begin another block takes a while.
    at = at + _BREAK * np.cumsum(np.diff(labels, prepend=labels[:1]) != 0)
    apart = np.abs(at[:, None] - at[None, :])
    along = np.linspace(-0.5, 0.5, at.size)
    sides = [np.where(after, 0.5, -0.5)] if len(set(after)) > 1 else []
    design = np.stack([np.ones(at.size), *sides], axis=1)
    strengths = GRID[_WHOLE if turns else _PLAIN][:, :, None, None]
    follow = np.where(apart == 0, 1.0, strengths[:, 0] ** apart)
    whole = follow + strengths[:, 1] ** 2 * same + strengths[:, 2] ** 2 * np.outer(along, along)
    root = np.linalg.cholesky(whole)
    whiten = np.linalg.inv(root)
    x = whiten @ design
    inner = np.swapaxes(x, 1, 2) @ x
    log_det = -np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
    return _Fits(whiten, x, np.linalg.inv(inner), log_det, strengths[:, :, 0, 0])


def _weighed(fits: _Fits, values: Array, floor: float) -> tuple[Array, Array, Array]:
    """Log weight of each strength without the prior, its coefficients, and the spread's square."""
    y = fits.whiten @ values
    best = np.einsum("gij,gkj,gk->gi", fits.inverse, fits.design, y, optimize=True)
    left = y - np.einsum("gki,gi->gk", fits.design, best)
    free = values.size - best.shape[1]
    rest = np.maximum((left**2).sum(axis=1), free * floor**2 + 1e-18)
    return fits.log_det - 0.5 * free * np.log(rest), best, rest / free


def _mixture(
    fits: _Fits, swings: int, seen: tuple[Array, Array, Array], prior: Array, doubt: float, column: int
) -> tuple[_Mixture, Array]:
    """One coefficient, and the weight of each strength."""
    log, best, variance = seen
    weight = np.exp(log + prior - (log + prior).max())
    weight /= weight.sum()
    used = weight > 1e-5
    spreads = np.hypot(np.sqrt(variance[used] * fits.inverse[used, column, column]), doubt)
    return _Mixture(weight[used] / weight[used].sum(), best[used, column], spreads, swings - best.shape[1]), weight


def _gap(
    fits: _Fits, swings: int, n: int, seen: tuple[Array, Array, Array], prior: Array, doubt: float, alpha: float
) -> Gap:
    mixture, weight = _mixture(fits, swings, seen, prior, doubt, 1)
    _, best, variance = seen
    below = mixture.below(0.0)
    p = float(min(1.0, 2 * min(below, 1 - below) * 0.05 / alpha))
    middle, size = (float(weight @ best[:, column]) for column in (0, 1))
    spread = math.sqrt(float(weight @ variance))
    # Blocks that did not take turns say nothing of their offsets: then what is expected is told.
    offset = math.sqrt(float(weight @ fits.strengths[:, 1] ** 2)) if len(weight) == len(GRID) else _OFFSET_SD
    return Gap(
        size, mixture.quantile(alpha / 2), mixture.quantile(1 - alpha / 2), p, middle - size / 2, middle + size / 2, n,
        spread, *(float(part) for part in (weight @ fits.strengths[:, 0], spread * offset)),
    )  # fmt: skip


@dataclass(frozen=True)
class _Mixture:
    """Students' t of the same degrees, each with its weight, middle and spread."""

    weight: Array
    middle: Array
    spread: Array
    free: int

    def below(self, value: float) -> float:
        from scipy.special import stdtr  # a second to load: not before it is needed

        return float(self.weight @ stdtr(self.free, (value - self.middle) / self.spread))

    def quantile(self, part: float) -> float:
        from scipy.special import stdtrit

        ends = self.middle + self.spread * stdtrit(self.free, part)
        low, high = float(ends.min()), float(ends.max())
        small = 1e-6 * float(self.spread.max())
        while high - low > small:
            middle = (low + high) / 2
            # Values that are all alike leave less between the ends than numbers can tell apart.
            if not low < middle < high:
                break
            low, high = (middle, high) if self.below(middle) < part else (low, middle)
        return (low + high) / 2
