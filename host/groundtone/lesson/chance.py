"""What chance alone would do: effects with bootstrap intervals, permutation tests, and many looks paid for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

RESAMPLES = 2000
PERMUTATIONS = 4999
RANKS_FROM = 8
"""Below so many swings a side ranks can never be sure enough to pay for ten looks: a t-test has to do."""


def _stats() -> Any:
    """Distributions and tests of scipy and tests, loaded when something is reckoned: that takes a second."""
    from scipy import stats

    return stats


@dataclass(frozen=True)
class Effect:
    """An effect with its doubt.

    Attributes
    ----------
    low, high : float
        95 % bootstrap interval.
    p : float
        Chance of an effect at least as large where there is none.
    n : int
        Swings that counted.
    """

    size: float
    low: float
    high: float
    p: float
    n: int


def rank_correlation(x: NDArray[np.float64], y: NDArray[np.float64], seed: int = 1) -> Effect:
    """Spearman's rank correlation: one wild swing moves it little.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Pairs with a NaN are left out.
    seed : int
        Of the resampling: the same data give the same answer.

    Returns
    -------
    Effect
        p by permutation of y (two-sided); interval by the percentile bootstrap of Fisher's z, widened to Student's t
        of n - 3 degrees because a bootstrap of few pairs is too narrow.
    """
    keep = np.isfinite(x) & np.isfinite(y)
    rank_x, rank_y = _stats().rankdata(x[keep]), _stats().rankdata(y[keep])
    n = rank_x.size
    if n < 4 or np.ptp(rank_x) == 0 or np.ptp(rank_y) == 0:
        return Effect(math.nan, math.nan, math.nan, math.nan, n)
    rng = np.random.default_rng([seed, n])
    centred_x, centred_y = rank_x - rank_x.mean(), rank_y - rank_y.mean()
    scale = math.sqrt(float(centred_x @ centred_x) * float(centred_y @ centred_y))
    size = float(centred_x @ centred_y) / scale
    shuffled = rng.permuted(np.tile(centred_y, (PERMUTATIONS, 1)), axis=1) @ centred_x / scale
    p = (1 + np.count_nonzero(np.abs(shuffled) >= abs(size) - 1e-12)) / (PERMUTATIONS + 1)
    drawn = rng.integers(n, size=(RESAMPLES, n))
    z = np.arctanh(np.clip(_correlations(rank_x[drawn], rank_y[drawn]), -0.999, 0.999))
    widen = float(_stats().t.ppf(0.975, n - 3)) / 1.959964
    low, high = np.nanquantile(z, [0.025, 0.975])
    middle = math.atanh(min(max(size, -0.999), 0.999))
    low, high = math.tanh(middle - widen * (middle - low)), math.tanh(middle + widen * (high - middle))
    return Effect(size, low, high, float(p), n)


def _correlations(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Correlation of each row of x with the same row of y after ranking again; NaN where one is constant."""
    x, y = _stats().rankdata(x, axis=1), _stats().rankdata(y, axis=1)
    x, y = x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        out: NDArray[np.float64] = (x * y).sum(axis=1) / np.sqrt((x * x).sum(axis=1) * (y * y).sum(axis=1))
    return out


def difference(
    before: NDArray[np.float64], after: NDArray[np.float64], doubt: float = 0.0, seed: int = 1, level: float = 0.95
) -> Effect:
    """After less before: the Hodges-Lehmann shift (median of all differences), robust to a few wild swings.

    Parameters
    ----------
    before, after : ndarray, shape (n,), (m,)
        NaN is left out.
    doubt : float
        Standard uncertainty that the two have not in common (a calibration's change between them), joined to the
        interval in quadrature and to p through a normal distribution.
    level : float
        Of the interval.

    Returns
    -------
    Effect
        p, two-sided: Mann-Whitney, and Welch's t below `RANKS_FROM` on a side. Interval: percentile bootstrap of the
        shift, widened to Student's t of n + m - 2 degrees. `n` counts the smaller side. NaN below 3 on a side.
    """
    a, b = before[np.isfinite(before)], after[np.isfinite(after)]
    n = min(a.size, b.size)
    if n < 3:
        return Effect(math.nan, math.nan, math.nan, math.nan, n)
    size = float(np.median(np.subtract.outer(b, a)))
    rng = np.random.default_rng([seed, a.size, b.size])
    drawn_a = a[rng.integers(a.size, size=(RESAMPLES, a.size))]
    drawn_b = b[rng.integers(b.size, size=(RESAMPLES, b.size))]
    shifts = np.median((drawn_b[:, :, None] - drawn_a[:, None, :]).reshape(RESAMPLES, -1), axis=1)
    low, high = np.quantile(shifts, [(1 - level) / 2, (1 + level) / 2])
    normal = float(_stats().norm.ppf((1 + level) / 2))
    widen = float(_stats().t.ppf((1 + level) / 2, a.size + b.size - 2)) / normal
    # A bootstrap of n values has a variance too small by (n - 1) / n.
    widen *= math.sqrt(n / (n - 1))
    below, above = (math.hypot(widen * gap, normal * doubt) for gap in (size - low, high - size))
    p = _chance_of_shift(a, b)
    if doubt > 0:
        spread = max(below, above) / normal
        p = max(p, 2 * float(_stats().norm.sf(abs(size) / spread)))
    return Effect(size, size - below, size + above, p, n)


def _chance_of_shift(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    if min(a.size, b.size) >= RANKS_FROM:
        return float(_stats().mannwhitneyu(a, b, alternative="two-sided").pvalue)
    if np.ptp(a) == 0 and np.ptp(b) == 0:
        # No scatter at all: only the ranks are left to go by.
        return float(_stats().mannwhitneyu(a, b, alternative="two-sided", method="exact").pvalue)
    return float(_stats().ttest_ind(a, b, equal_var=False).pvalue)


def holm(p: Sequence[float]) -> list[float]:
    """Chances corrected for having looked at them all (Holm 1979); NaN stays and does not count as a look."""
    order = sorted((i for i in range(len(p)) if not math.isnan(p[i])), key=lambda i: p[i])
    out = [math.nan] * len(p)
    largest = 0.0
    for place, i in enumerate(order):
        largest = max(largest, min(1.0, p[i] * (len(order) - place)))
        out[i] = largest
    return out
