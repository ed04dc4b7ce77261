"""Curves from placements of known weights: a robust linear least-squares fit in logarithms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.capture import Placement
from groundtone.calibration.curve import UNIT_S, Curves
from groundtone.errors import CalibrationError

# A slipped weight must not spoil a cell. Residuals beyond this many standard deviations are pulled in (Huber 1964);
# from there on, those beyond so many more count next to nothing (bisquare; Beaton and Tukey 1974).
_HUBER, _BISQUARE = 1.5, 4.685
# What "next to nothing" is: a cell whose points are all odd still has a level of its own.
_LEAST_WEIGHT = 0.05
# No placement is known better than this, relative.
_LEAST_SCATTER = 0.002
# Each cell's level is drawn towards the panel's mean with the weight of this many of its points: little, unless it has
# few.
_SHRINK_POINTS = 0.02
# A neighbour carries part of a weight when it reads more than this part of the loaded cell; less is noise or creep.
_HEARD = 0.01


@dataclass(frozen=True)
class Fit:
    """Curves, and how well they fit.

    Attributes
    ----------
    curves : Curves
    residual : ndarray, shape (placements,)
        ln of measured over fitted force.
    scatter : float
        Robust standard deviation of the residuals (about the relative error of one placement).
    missing : tuple of (row, column)
        Cells without a placement; they take the panel's mean level.
    on_cell_n : tuple of float
        Force of each placement that lay on its own cell, N; the neighbours carried the rest.
    """

    curves: Curves
    residual: NDArray[np.float64]
    scatter: float
    missing: tuple[tuple[int, int], ...]
    on_cell_n: tuple[float, ...]


def fit_curves(placements: list[Placement], rows: int, columns: int) -> Fit:
    """Curves of all cells.

    Parameters
    ----------
    placements : list of Placement
        At least two different weights in all, and a conductance above zero each.
    rows, columns : int

    Raises
    ------
    CalibrationError
        Too few or useless placements; the sentence says what is missing.
    """
    if len(placements) < 8:
        raise CalibrationError(f"only {len(placements)} placements: a calibration needs at least 8, better every cell")
    force = np.array([p.force_n for p in placements])
    grids = np.stack([p.conductance_s for p in placements])
    cell = np.array([p.row * columns + p.column for p in placements])
    conductance = grids.reshape(len(placements), -1)[np.arange(len(placements)), cell]
    if not (np.isfinite(force).all() and (force > 0).all()):
        raise CalibrationError("a weight is zero, negative or not a number: give each weight in newtons above zero")
    if not (np.isfinite(conductance).all() and (conductance > 0).all()):
        raise CalibrationError("a loaded cell read nothing: press it and look whether it is alive, then repeat it")
    if np.ptp(np.log(force)) < np.log(1.5):
        raise CalibrationError("all weights are about the same: use at least two that differ by half")
    x = np.log(conductance / UNIT_S)
    used, own = np.unique(cell, return_inverse=True)
    low, high = float(x.min()), float(x.max())
    on_cell = force
    for _ in range(3):
        exponent, bend, level, residual = _solve(x, np.log(on_cell), own, used.size)
        if exponent + 2 * bend * low <= 0 or exponent + 2 * bend * high <= 0:
            raise CalibrationError("force falls where conductance rises: weights and readings do not belong together")
        full = np.full(rows * columns, level.mean())
        full[used] = level
        curves = Curves(full.reshape(rows, columns), exponent, bend, low, high)
        # A puck that is a little off its cell leaves part of the weight with the neighbours, and they tell how much.
        forces = curves.force_n(grids).reshape(len(placements), -1)
        heard = np.where(forces > _HEARD * forces.max(1, keepdims=True), forces, 0.0)
        on_cell = force * forces[np.arange(len(placements)), cell] / heard.sum(1)
    missing = tuple((int(c) // columns, int(c) % columns) for c in np.setdiff1d(np.arange(rows * columns), used))
    return Fit(curves, residual, robust_deviation(residual), missing, tuple(on_cell.tolist()))


def _solve(
    x: NDArray[np.float64], y: NDArray[np.float64], own: NDArray[np.intp], cells: int
) -> tuple[float, float, NDArray[np.float64], NDArray[np.float64]]:
    """Exponent, bend, level of each cell and residuals, by iteratively reweighted least squares."""
    several = len(np.unique(np.round(y, 2))) >= 3
    film = np.stack([x, x * x], axis=1) if several else x[:, None]
    weight = np.ones_like(x)
    for weigh in (_huber, _bisquare):
        shape = np.zeros(film.shape[1])
        for _ in range(30):
            fresh, level = _weighted(film, y, own, cells, weight)
            residual = y - film @ fresh - level[own]
            weight = weigh(np.abs(residual) / max(robust_deviation(residual), _LEAST_SCATTER))
            if np.abs(fresh - shape).max() < 1e-10:
                break
            shape = fresh
    exponent, bend = (float(fresh[0]), float(fresh[1])) if several else (float(fresh[0]), 0.0)
    return exponent, bend, level, residual


def _weighted(
    film: NDArray[np.float64], y: NDArray[np.float64], own: NDArray[np.intp], cells: int, weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The film's coefficients and each cell's level for given weights: levels are eliminated, then put back."""
    points: NDArray[np.float64] = np.bincount(own, weight, cells).astype(np.float64)
    # In proportion to the points' weights: else a cell that lies far from the mean would lose its weights to the pull.
    pull = _SHRINK_POINTS * points / np.bincount(own, minlength=cells)
    mass = points + pull
    centre_y = (np.bincount(own, weight * y, cells) + pull * y.mean()) / mass
    sums = [np.bincount(own, weight * term, cells) + pull * term.mean() for term in film.T]
    centre_film = np.stack(sums, axis=1) / mass[:, None]
    root = np.sqrt(weight)
    fresh, *_ = np.linalg.lstsq((film - centre_film[own]) * root[:, None], (y - centre_y[own]) * root, rcond=None)
    return fresh, centre_y - centre_film @ fresh


def _huber(size: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.minimum(1.0, _HUBER / np.maximum(size, 1e-12))


def _bisquare(size: NDArray[np.float64]) -> NDArray[np.float64]:
    weight: NDArray[np.float64] = np.maximum((1 - np.minimum(size / _BISQUARE, 1.0) ** 2) ** 2, _LEAST_WEIGHT)
    return weight


def robust_deviation(residual: NDArray[np.float64]) -> float:
    """1.4826 times the median absolute deviation: the standard deviation of a normal sample (Hampel 1974)."""
    return float(1.4826 * np.median(np.abs(residual - np.median(residual))))
