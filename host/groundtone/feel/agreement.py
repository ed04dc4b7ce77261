"""How well two things agree, try by try, and what was kept: lines and levels whose misses hang together in time.

Swings of one person are not independent. So the misses are taken as a first-order autoregression; how strongly they
hang together is not known either, and every strength counts by how well it explains the tries (flat priors on line and
log spread: Zellner 1971, from memory). Intervals are those of the mixture, drawn with a seed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Strengths that are weighed, each as likely beforehand: up to 0.6 must be expected from swing to swing (from memory).
_STRENGTHS = np.linspace(0.0, 0.6, 13)
_DRAWS = 4000


@dataclass(frozen=True)
class Sure:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    @staticmethod
    def unknown() -> Sure:
        """Nothing is known."""
        return Sure(math.nan, math.nan, math.nan)


@dataclass(frozen=True)
class Agreement:
    """A line through tries.

    Attributes
    ----------
    slope : Sure
        Done over asked: 1 is as asked, 0 is whatever was asked.
    offset : Sure
        Done less asked in the middle of what was asked.
    spread : Sure
        Standard deviation of the misses from the line.
    at : tuple of Sure
        The line at each of the places it was asked about.
    """

    slope: Sure
    offset: Sure
    spread: Sure
    at: tuple[Sure, ...]


def agree(asked: Array, done: Array, places: tuple[float, ...] = (), seed: int = 1) -> Agreement:
    """The line through some tries in their order.

    Parameters
    ----------
    asked, done : ndarray, shape (n,)
        At least 5 tries, at two values of `asked` or more.
    places : tuple of float
        Values of `asked` at which the line is wanted.
    seed : int
        Of the drawing: the same tries give the same answer.
    """
    middle = float(np.mean(asked))
    lines, spreads = _drawn(np.stack([np.ones(done.size), asked - middle], axis=1), done, seed)
    at = tuple(sure_of(lines[:, 0] + lines[:, 1] * (place - middle)) for place in places)
    return Agreement(sure_of(lines[:, 1]), sure_of(lines[:, 0] - middle), sure_of(spreads), at)


def levels(values: Array, seed: int = 1, own: float = 0.0) -> Array:
    """Draws of the level behind four or more values in their order, as far as they leave it open, shape (draws,).

    Parameters
    ----------
    own : float
        By how much a block or a day lies off for no reason, in the scatter from swing to swing.
    """
    lines, spreads = _drawn(np.ones((values.size, 1)), values, seed)
    rng = np.random.default_rng([seed, values.size, 2])
    return np.asarray(lines[:, 0] + own * spreads * rng.standard_normal(spreads.size))


def _drawn(design: Array, done: Array, seed: int) -> tuple[Array, Array]:
    """Draws of the coefficients, shape (draws, columns), and of the spread."""
    n, columns = design.shape
    rng = np.random.default_rng([seed, n])
    fits = [_fit(design, done, strength) for strength in _STRENGTHS]
    weight = np.array([fit[0] for fit in fits])
    chance = np.exp(weight - weight.max())
    chosen = rng.choice(_STRENGTHS.size, _DRAWS, p=chance / chance.sum())
    free = n - columns
    lines, spreads = np.empty((_DRAWS, columns)), np.empty(_DRAWS)
    for index in np.unique(chosen):
        _, best, root, rest = fits[index]
        mine = chosen == index
        fresh = np.sqrt(rest / rng.chisquare(free, mine.sum()))
        lines[mine] = best + fresh[:, None] * (rng.standard_normal((int(mine.sum()), columns)) @ root.T)
        spreads[mine] = fresh / math.sqrt(1.0 - _STRENGTHS[index] ** 2)
    return lines, spreads


def _fit(design: Array, done: Array, strength: float) -> tuple[float, Array, Array, float]:
    """Log weight of a strength, its best line, a root of the line's covariance for spread 1, and what is left."""
    x, y = _whitened(design, strength), _whitened(done, strength)
    inner = x.T @ x
    best = np.asarray(np.linalg.solve(inner, x.T @ y), dtype=np.float64)
    root: Array = np.linalg.cholesky(np.linalg.inv(inner))
    rest = max(float(np.sum((y - x @ best) ** 2)), 1e-12)
    free = done.size - design.shape[1]
    # The first try's variance is the whole one: its part of the determinant is 1 - strength².
    weight = 0.5 * math.log(1.0 - strength**2) - 0.5 * np.linalg.slogdet(inner)[1] - 0.5 * free * math.log(rest)
    return float(weight), best, root, rest


def _whitened(values: Array, strength: float) -> Array:
    """Values with what each has in common with the one before it taken out."""
    first = values[:1] * math.sqrt(1.0 - strength**2)
    return np.concatenate([first, values[1:] - strength * values[:-1]])


def sure_of(drawn: Array) -> Sure:
    """Median and 95 % interval of draws."""
    low, value, high = np.quantile(drawn, [0.025, 0.5, 0.975])
    return Sure(float(value), float(low), float(high))


# Blocks of a day, and days, lie off for no reason, in the scatter from swing to swing (invented).
_BLOCK_OWN, _DAY_OWN = 0.20, 0.35
FEWEST_KEPT = 6
"""With fewer swings in one of the tests nothing is claimed."""


@dataclass(frozen=True)
class Kept:
    """What became of a measure.

    Attributes
    ----------
    n : (int, int, int)
        Swings before, in the test and in the retention test.
    learnt, stayed : Sure
        Test less before; retention test less before.
    part : Sure
        Stayed over learnt: 1 is all of it, 0 nothing; not known where it is not clear that anything was learnt.
    """

    n: tuple[int, int, int]
    learnt: Sure
    stayed: Sure
    part: Sure

    @property
    def told(self) -> bool:
        """There were swings enough."""
        return min(self.n) >= FEWEST_KEPT


def kept(before: Array, test: Array, later: Array) -> Kept:
    """What was learnt of a measure and what stayed.

    Parameters
    ----------
    before, test, later : ndarray, shape (n,)
        The measure in each swing without a tone, in order; NaN is left out.
    """
    sides = [side[np.isfinite(side)] for side in (before, test, later)]
    n = (sides[0].size, sides[1].size, sides[2].size)
    nothing = Sure.unknown()
    if min(n) < FEWEST_KEPT:
        return Kept(n, nothing, nothing, nothing)
    own = (_BLOCK_OWN, _BLOCK_OWN, _DAY_OWN)
    first, second, third = (levels(side, seed, off) for seed, (side, off) in enumerate(zip(sides, own, strict=True), 1))
    learnt, stayed = second - first, third - first
    clear = sure_of(learnt)
    part = sure_of(stayed / learnt) if clear.low > 0 or clear.high < 0 else nothing
    return Kept(n, clear, sure_of(stayed), part)
