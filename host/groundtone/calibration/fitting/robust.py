"""What is robust in a fit: trust of placements, their scatter, and how far exponents of cells differ."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.pooled import Cells

# A slipped weight must not spoil a cell. Up to so many standard deviations a placement counts whole, from so many on
# next to nothing (F. R. Hampel, J. Amer. Statist. Assoc. 69, 1974). Weights that fall from the middle on (bisquare) fed
# on themselves where a cell has two loads: a cell that leans was held for slipped, so leans were found too small, and
# more cells were held for slipped.
_WHOLE, _NOTHING = 3.0, 6.0
# What tells the scatter by its own weights (bisquare; Beaton and Tukey 1974).
_BISQUARE = 4.685
_BISQUARE_SQUARE = 0.828
# What "next to nothing" is: a cell whose points are all odd still has a level of its own.
_LEAST_WEIGHT = 0.05
# No placement is known better than this, relative.
LEAST_SCATTER = 0.002
EXPONENT_SPREAD = 0.08
"""How far the exponent differs from cell to cell where placements cannot tell."""
# A point that its cell's level follows by more than the rest of this tells nothing of the scatter.
LEAST_FREED = 0.1
_LEAST_LEFT = 1e-4
# Scatters and spreads of the exponent that are tried, and what is believed of the spread beforehand, in ln.
_SCATTERS = np.geomspace(LEAST_SCATTER, 0.5, 24)
_SPREADS = np.geomspace(0.002, 0.5, 48)
_USUAL_SPREAD, _USUAL_WITHIN = 0.08, 0.8
_SLIPPED = 0.15


def first_look(rest: NDArray[np.float64], cells: Cells) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Trust of each placement, and its cell's level: through the middle of what a typical curve leaves of y.

    Where three or more lie on a cell, one far from the middle is not trusted from the start: least squares would share
    its error out among the others.
    """
    own = cells.own
    order = np.lexsort((rest, own))
    count = np.bincount(own, minlength=cells.panel.size)
    first = np.minimum(np.cumsum(count) - count, own.size - 1)
    low, high = (np.minimum(first + (count - 1 + up) // 2, own.size - 1) for up in (0, 1))
    middle = 0.5 * (rest[order[low]] + rest[order[high]])[own]
    error = rest - middle
    several = count[own] >= 3
    if several.sum() < 6:
        return np.ones_like(rest), middle
    size = np.abs(error) / max(1.4826 * float(np.median(np.abs(error[several]))), LEAST_SCATTER)
    return np.where(several, trusted(size), 1.0), middle


def exponent_spread(
    z: NDArray[np.float64], residual: NDArray[np.float64], trust: NDArray[np.float64], known_var: NDArray[np.float64],
    cells: Cells,
) -> float:  # fmt: skip
    """Standard deviation of the exponent from cell to cell, told apart from the scatter of placements.

    Both are found together, as most likely, from differences within cells alone (restricted likelihood; H. D. Patterson
    and R. Thompson, Biometrika 58, 1971): two loads a cell cannot tell one from the other, but the few cells under many
    loads can, and where they cannot either, what is usual counts.

    Parameters
    ----------
    z, residual, trust, known_var : ndarray, shape (points,)
        Place along the curve, what is shared and the level taken off y, trust, and variance stated beforehand.
    cells : Cells
    """
    finite = np.isfinite(known_var)
    # Slipped weights have no voice; all others a whole one, for a far cell's trust is low because it leans.
    trust = np.where(finite & (trust > _SLIPPED), 1.0, 0.0)
    several = np.bincount(cells.own, trust > 0.0, cells.panel.size) >= 2
    if several.sum() < 6:
        return EXPONENT_SPREAD
    counts = trust * several[cells.own]
    best, found = np.inf, EXPONENT_SPREAD
    for scatter in _SCATTERS:
        variance = scatter**2 + np.where(finite, known_var, 0.0)
        weight = counts / variance
        whole = cells.sums(weight)[several]
        rest, along = (cells.sums(weight * v)[several] / whole for v in (residual, z))
        szz = cells.sums(weight * z * z)[several] - whole * along**2
        szr = cells.sums(weight * z * residual)[several] - whole * along * rest
        srr = cells.sums(weight * residual**2)[several] - whole * rest**2
        grown = 1.0 + np.multiply.outer(_SPREADS**2, np.maximum(szz, 0.0))
        cost = np.log(grown).sum(1) - _SPREADS**2 * (szr**2 / grown).sum(1)
        cost += float(srr.sum() + np.log(whole).sum() + counts @ np.log(variance))
        cost += (np.log(_SPREADS / _USUAL_SPREAD) / _USUAL_WITHIN) ** 2
        if cost.min() < best:
            best, found = float(cost.min()), float(_SPREADS[int(cost.argmin())])
    return found


def scatter_of(
    residual: NDArray[np.float64], known_var: NDArray[np.float64], freed: NDArray[np.float64], before: float
) -> float:
    """Scatter beyond what is stated of weights and readings, such that the middle error is as large as it should be."""
    tells = (freed > 2 * LEAST_FREED) & np.isfinite(known_var)
    if tells.sum() < 4:
        return max(before, LEAST_SCATTER)
    residual, known_var, freed = residual[tells], known_var[tells], freed[tells]
    middle, square = float(np.median(known_var)), before**2
    for _ in range(3):
        size = robust_deviation(residual / np.sqrt((square + known_var) * freed))
        square = max((square + middle) * size**2 - middle, LEAST_SCATTER**2)
    return math.sqrt(square)


def final_scatter(
    error: NDArray[np.float64], known_var: NDArray[np.float64], freed: NDArray[np.float64], before: float
) -> float:
    """Scatter from all placements that did not slip, by the bisquare's own weights.

    The median of the errors finds the slipped ones, but a robust fit lies too near to the middle of few points, so the
    median comes out small. Of a normal sample the weighted mean square is 0.828 of the variance: the moments of
    (1 - (z/c)²)² at c = 4.685.
    """
    tells = (freed > 2 * LEAST_FREED) & np.isfinite(known_var)
    if tells.sum() < 4:
        return before
    error, known_var, freed = error[tells], known_var[tells], freed[tells]
    variance = before**2 + known_var
    size = np.minimum(np.abs(error) / np.sqrt(variance * freed) / _BISQUARE, 1.0)
    weight = (1 - size**2) ** 2
    whole = float(np.sum(weight * freed))
    if not whole > 0:
        return before  # one load a cell, say: hardly anything is left that could scatter
    ratio = float(np.sum(weight * error**2 / variance)) / whole / _BISQUARE_SQUARE
    middle = float(np.median(known_var))
    return math.sqrt(max((before**2 + middle) * ratio - middle, LEAST_SCATTER**2))


def surprise(
    error: NDArray[np.float64], freed: NDArray[np.float64], variance: NDArray[np.float64], trust: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Each placement against what all others say of it, in standard deviations.

    Its own trust does not count: a placement that is trusted little is followed little, lies far off for that alone,
    and would never be trusted again.
    """
    left = np.maximum(freed, _LEAST_LEFT)
    known = np.isfinite(variance)
    whole = np.where(known, variance, 1.0)
    predicted = whole / np.maximum(trust, _LEAST_WEIGHT) * (1 / left - 1)
    return np.where(known, np.abs(error) / left / np.sqrt(whole + predicted), 0.0)


def trusted(size: NDArray[np.float64]) -> NDArray[np.float64]:
    """Trust of an error of so many standard deviations: whole up to three, next to nothing from six on."""
    part: NDArray[np.float64] = np.clip((_NOTHING - size) / (_NOTHING - _WHOLE), _LEAST_WEIGHT, 1.0)
    return part


def robust_deviation(residual: NDArray[np.float64]) -> float:
    """1.4826 times the median absolute deviation: the standard deviation of a normal sample (Hampel 1974)."""
    return float(1.4826 * np.median(np.abs(residual - np.median(residual))))
