"""Many small nonlinear least-squares problems of one kind at once: a cell each, all cells in every step.

Levenberg-Marquardt with a damping of its own for each problem (D. W. Marquardt 1963; the damping follows what a step
kept of its promise, H. B. Nielsen, IMM-REP-1999-05, from memory). Every step is a handful of array operations over all
problems that still move, so a panel costs little more than a cell.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_TURNS = 200
# A problem stands still when no step promises more than this part of its sum of squares.
_GAIN = 1e-8
_FIRST_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-3, 1e-12, 1e12


@dataclass(frozen=True)
class FoundMany:
    """What the fits found.

    Attributes
    ----------
    value : ndarray, shape (problems, p)
    covariance : ndarray, shape (problems, p, p)
        (JᵀWJ)⁻¹, not scaled; NaN where the data cannot tell the parameters apart.
    square : ndarray, shape (problems,)
        Weighted sum of squared residuals.
    still : ndarray of bool, shape (problems,)
        The search came to rest; False: its value is where it was left.
    """

    value: Array
    covariance: Array
    square: Array
    still: NDArray[np.bool_]


def fit_many(
    model: Callable[[Array, NDArray[np.intp]], tuple[Array, Array]], start: Array, y: Array, weight: Array
) -> FoundMany:
    """Fits all problems.

    Parameters
    ----------
    model : callable
        From parameters, shape (k, p), and the indices of their problems, shape (k,), to what y ought to be, shape
        (k, n), and its derivatives, shape (k, p, n).
    start : ndarray, shape (problems, p)
    y, weight : ndarray, shape (problems, n)
        Weights are inverse variances; 0 where a problem has fewer data than n (its y must still be a number).
    """
    value = start.astype(np.float64)
    count, p = value.shape
    moving = np.arange(count)
    with np.errstate(all="ignore"):
        square, normal, right = _system(model, value, moving, y, weight)
    damping = np.full(count, _FIRST_DAMPING)
    still = np.zeros(count, bool)
    index = np.arange(p)
    for _ in range(_TURNS):
        matrix, slope = normal[moving], right[moving]
        scale = matrix[:, index, index]
        damped = damping[moving, None] * np.where(scale > 0, scale, 1.0)
        matrix[:, index, index] += damped
        step = np.linalg.solve(matrix, slope[..., None])[..., 0]
        promised = (step * (damped * step + slope)).sum(1)
        # What is promised is what there was to gain: it falls with the square of the distance. So little is not tried.
        small = promised <= _GAIN * square[moving]
        if small.any():
            value[moving[small]] += step[small]
            still[moving[small]] = True
            moving, step, promised = moving[~small], step[~small], promised[~small]
            if not moving.size:
                break
        tried = value[moving] + step
        with np.errstate(all="ignore"):
            new, new_normal, new_right = _system(model, tried, moving, y, weight)
            kept = (square[moving] - new) / promised
        better = np.isfinite(new) & (new <= square[moving])
        if better.all():
            value[moving], square[moving], normal[moving], right[moving] = tried, new, new_normal, new_right
        else:
            good = moving[better]
            value[good], square[good] = tried[better], new[better]
            normal[good], right[good] = new_normal[better], new_right[better]
        apart = 2 * kept - 1
        factor = np.where(better, np.maximum(0.1, 1 - apart * apart * apart), 8.0)
        damping[moving] = np.clip(damping[moving] * factor, _LEAST_DAMPING, _MOST_DAMPING)
        moving = moving[damping[moving] < _MOST_DAMPING]
        if not moving.size:
            break
    return FoundMany(value, _inverses(normal), square, still)


def _inverses(normal: Array) -> Array:
    """Inverse of each matrix; NaN where it has none."""
    index = np.arange(normal.shape[1])
    scale = np.sqrt(normal[:, index, index])
    both = scale[:, :, None] * scale[:, None, :]
    with np.errstate(all="ignore"):
        even = normal / both
        told = np.isfinite(even).all((1, 2))
        told &= np.abs(np.linalg.det(even if told.all() else np.nan_to_num(even))) > 1e-15
        if told.all():
            whole: Array = np.linalg.inv(even) / both
            return whole
        out = np.full_like(normal, np.nan)
        out[told] = np.linalg.inv(even[told]) / both[told]
    return out


def _system(
    model: Callable[[Array, NDArray[np.intp]], tuple[Array, Array]],
    value: Array,
    which: NDArray[np.intp],
    y: Array,
    weight: Array,
) -> tuple[Array, Array, Array]:
    """Sum of squares, normal matrix and right-hand side of some problems."""
    made, slopes = model(value, which)
    if len(which) < len(y):
        y, weight = y[which], weight[which]
    residual = y - made
    weighted = residual * weight
    # Residuals as one more derivative: the normal matrix and its right-hand side come out of one product.
    both = np.concatenate([slopes, residual[:, None]], axis=1)
    product = (slopes * weight[:, None]) @ both.transpose(0, 2, 1)
    return (weighted * residual).sum(1), product[:, :, :-1].copy(), product[:, :, -1]
