"""Fits that set a time into a smooth curve: when something began, when it turned, when it peaked."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groundtone.swing.track import GRID_S, SHARE_HZ

# A curve that was smoothed to SHARE_HZ has so many independent values for each sample of its grid: with the samples
# taken as independent, an event was told to be a third as doubtful as it is.
INDEPENDENT = 2 * SHARE_HZ * GRID_S

Array = NDArray[np.float64]


def onset(t_s: Array, depth: Array, tries: Array) -> tuple[float, float]:
    """When a curve left its level: steady before t0, then a·τ² + b·τ³ more with τ = t − t0, least squares.

    A movement under smooth forces starts with a square of time; the cube lets it bend afterwards. The level is part of
    the fit, for a standing body sways.

    Parameters
    ----------
    t_s, depth : ndarray, shape (n,)
        From the quiet before to well into the movement.
    tries : ndarray
        Times to try for t0, evenly spaced, s.

    Returns
    -------
    t0_s, u_s : float
        And its standard uncertainty by the fit's own scatter; NaN where there is nothing to fit.
    """
    if t_s.size < 8 or tries.size < 3:
        return math.nan, math.nan
    errors = np.full(tries.size, np.inf)
    for i, begin in enumerate(tries.tolist()):
        since = np.maximum(t_s - begin, 0.0)
        fit, error = _fitted(depth, np.ones_like(since), since**2, since**3)
        if fit[1] > 0:
            errors[i] = error
    return _least(tries, errors, t_s.size - 4)


def turning(t_s: Array, values: Array, tries: Array) -> tuple[float, float]:
    """When a curve turned at its lowest point: a square of time on either side, each with its own steepness.

    Parameters
    ----------
    t_s, values : ndarray, shape (n,)
        Around the lowest point.
    tries : ndarray
        Times to try, evenly spaced, s.

    Returns
    -------
    turn_s, u_s : float
    """
    if t_s.size < 8 or tries.size < 3:
        return math.nan, math.nan
    errors = np.empty(tries.size)
    for i, turn in enumerate(tries.tolist()):
        since = t_s - turn
        left, right = np.minimum(since, 0.0) ** 2, np.maximum(since, 0.0) ** 2
        errors[i] = _fitted(values, np.ones_like(since), left, right)[1]
    return _least(tries, errors, t_s.size - 4)


def _fitted(values: Array, *columns: Array) -> tuple[Array, float]:
    """Least-squares weights of columns and the sum of squares that is left."""
    basis = np.stack(columns, axis=1)
    fit, *_ = np.linalg.lstsq(basis, values, rcond=None)
    out: Array = np.asarray(fit, np.float64)
    return out, float(((values - basis @ fit) ** 2).sum())


def _least(tries: Array, errors: Array, freedom: int) -> tuple[float, float]:
    """Time of least error, between the tries by a parabola, and its standard uncertainty from how sharp it is."""
    i = int(np.argmin(errors))
    if not np.isfinite(errors[i]):
        return math.nan, math.nan
    if not 0 < i < tries.size - 1 or not np.isfinite(errors[i - 1 : i + 2]).all():
        return float(tries[i]), float(tries[1] - tries[0])
    before, here, after = errors[i - 1 : i + 2].tolist()
    bend = before - 2 * here + after
    step = float(tries[1] - tries[0])
    if bend <= 0:
        return float(tries[i]), step
    shift = 0.5 * (before - after) / bend
    scatter = here / max(freedom, 1) / INDEPENDENT
    return float(tries[i]) + shift * step, math.sqrt(max(2 * scatter / (bend / step**2), 0.0))


def peak(t_s: Array, values: Array) -> tuple[float, float]:
    """Time and height of the highest point, between the frames by a parabola."""
    i = int(np.argmax(values))
    if not 0 < i < values.size - 1:
        return float(t_s[i]), float(values[i])
    before, here, after = values[i - 1 : i + 2].tolist()
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(t_s[i] + shift * (t_s[i + 1] - t_s[i])), float(here - 0.25 * (before - after) * shift)
