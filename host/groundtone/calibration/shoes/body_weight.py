"""A body as a weight: whatever stands still on the mat presses with its own weight, at every instant.

Each cell's force is what the film's curve says times exp(θ), and θ of a cell has two parts: what is wrong with the
film there, and how the shoe hands its load to the film at that place of the sole (a shoe presses on a cell otherwise
than the puck that calibrated it),

    θ[cell] = film[cell] + Σ_k hat_k(place of the cell along its sole) · shoe[foot, k].

Both are expected to be 0, within spreads that are stated: `Gains` holds what is believed of them, mean and covariance.
A still person makes ln Σ F·exp(θ) = ln W true in every posture, one equation a posture, and the estimate is the
usual one of least squares with a prior (the iterated Kalman update: B. M. Bell and F. W. Cathey, IEEE Trans. Automatic
Control 38, 1993; robust by Huber's weights). The postures decide what can be seen: the rest keeps its prior.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PLACES = np.linspace(0.0, 1.0, 9)
"""Places along the sole, 0 heel edge to 1 toe edge, at which a shoe's factor is estimated; straight in between."""
# How far along the sole what a shoe does at one place says something of another, part of its length: heel, arch, ball
# and toes are parts of their own (our choice).
_REACH = 0.3
# Residuals beyond this many standard deviations are pulled in (Huber 1964).
_HUBER = 2.0
# A body of which nothing is known: this factor either way is one standard deviation of ln W.
_ANY_WEIGHT = 0.5

Sole = tuple[float, float]
"""Heel edge and toe edge of a sole along its panel, mm."""


@dataclass(frozen=True)
class Gains:
    """What is believed of the cells' factors.

    Attributes
    ----------
    mean : ndarray, shape (cells + 2 · len(PLACES),)
        ln factors: the film's, cell by cell in electrical order, then the left and the right shoe's.
    covariance : ndarray, shape (that, that)
    """

    mean: Array
    covariance: Array
    rows: int
    columns: int

    @property
    def film(self) -> Array:
        """The film's factors (not their logarithms), shape (rows, columns)."""
        cells = self.rows * self.columns
        out: Array = np.exp(self.mean[:cells]).reshape(self.rows, self.columns)
        return out

    @property
    def shoe(self) -> Array:
        """The shoes' factors at `PLACES`, shape (2, len(PLACES))."""
        out: Array = np.exp(self.mean[self.rows * self.columns :]).reshape(2, -1)
        return out

    def on_cells(self, basis: Array) -> Array:
        """Factor that each cell's force is multiplied by, shape (rows, columns); `basis` from `sole_basis`."""
        out: Array = np.exp(basis @ self.mean).reshape(self.rows, self.columns)
        return out

    def cells_covariance(self, basis: Array) -> Array:
        """Covariance of the cells' ln factors, shape (cells, cells)."""
        out: Array = basis @ self.covariance @ basis.T
        return out


def prior_gains(film_u: Array, common_u: float, shoe_span: float) -> Gains:
    """What is believed before anybody stood on the mat.

    Parameters
    ----------
    film_u : ndarray, shape (rows, columns)
        Relative standard uncertainty of each cell's own level.
    common_u : float
        And of what all cells have in common.
    shoe_span : float
        A shoe's factor at any place lies in 1 ± this, evenly.
    """
    rows, columns = film_u.shape
    cells, places = film_u.size, PLACES.size
    covariance = np.zeros((cells + 2 * places, cells + 2 * places))
    covariance[:cells, :cells] = common_u**2
    covariance[np.arange(cells), np.arange(cells)] += film_u.ravel() ** 2
    alike = np.exp(-np.abs(PLACES[:, None] - PLACES) / _REACH) * shoe_span**2 / 3
    for foot in (0, 1):
        part = slice(cells + foot * places, cells + (foot + 1) * places)
        covariance[part, part] = alike
    return Gains(np.zeros(cells + 2 * places), covariance, rows, columns)


def sole_basis(soles: tuple[Sole, Sole], u_mm: Array, rows: int, columns: int) -> Array:
    """How film and shoes make up each cell's ln factor.

    Parameters
    ----------
    soles : two of (heel edge, toe edge)
        Left and right, mm along the panel.
    u_mm : ndarray, shape (rows,)
        Middle of each row.

    Returns
    -------
    ndarray, shape (rows · columns, rows · columns + 2 · len(PLACES))
    """
    cells, places = rows * columns, PLACES.size
    out = np.zeros((cells, cells + 2 * places))
    out[np.arange(cells), np.arange(cells)] = 1.0
    foot = np.arange(columns) // (columns // 2)
    for side, (heel, toe) in enumerate(soles):
        place = np.clip((u_mm - heel) / (toe - heel), 0.0, 1.0)
        hats = np.maximum(1.0 - np.abs(place[:, None] - PLACES) * (places - 1), 0.0)
        for column in np.flatnonzero(foot == side):
            out[column::columns, cells + side * places : cells + (side + 1) * places] = hats
    return out


@dataclass(frozen=True)
class Weighed:
    """Gains after somebody was weighed.

    Attributes
    ----------
    weight_n, weight_u : float
        The body's weight as found, N, and its relative standard uncertainty.
    residual : ndarray, shape (postures,)
        ln of total force over weight that is left in each posture.
    surprise : float
        Mean square of what each posture said against what was expected before, in standard deviations: about 1.
    """

    gains: Gains
    weight_n: float
    weight_u: float
    residual: Array
    surprise: float


def weigh(
    gains: Gains, basis: Array, force_n: Array, u: Array, weight_n: float | None = None, weight_u: float = 0.005
) -> Weighed:
    """Gains that make the total force of every posture equal the body's weight.

    Parameters
    ----------
    basis : ndarray
        From `sole_basis`.
    force_n : ndarray, shape (postures, cells)
        What the film's curves say, N; NaN counts as nothing.
    u : ndarray, shape (postures,)
        Relative standard uncertainty of each posture's total, apart from the gains.
    weight_n : float, optional
        The body's weight; None: unknown, then only what differs between postures counts.
    weight_u : float
        Its relative standard uncertainty, if it is known.
    """
    force = np.maximum(np.nan_to_num(force_n.reshape(len(force_n), -1)), 0.0)
    start = float(np.log(weight_n)) if weight_n else float(np.mean(np.log(force @ np.exp(basis @ gains.mean))))
    spread = weight_u if weight_n else _ANY_WEIGHT
    mean = np.append(gains.mean, start)
    size = mean.size
    covariance = np.zeros((size, size))
    covariance[:-1, :-1], covariance[-1, -1] = gains.covariance, spread**2
    at, variance = mean, u**2
    misfit = np.zeros(len(force))
    surprise = 1.0
    for turn in range(4):
        grown = force * np.exp(basis @ at[:-1])
        total = grown.sum(1)
        slope = np.column_stack([(grown / total[:, None]) @ basis, -np.ones(len(force))])
        value = np.log(total) - at[-1]
        spread_by = slope @ covariance
        expected = spread_by @ slope.T + np.diag(variance)
        # The update is always from the prior: only the point about which the sum is made straight moves.
        missing = -(value + slope @ (mean - at))
        solved = np.linalg.solve(expected, np.column_stack([missing, spread_by]))
        if turn == 0:
            surprise = float(missing @ solved[:, 0]) / len(force)
        at = mean + spread_by.T @ solved[:, 0]
        misfit = np.log((force * np.exp(basis @ at[:-1])).sum(1)) - at[-1]
        variance = u**2 * np.maximum(np.abs(misfit) / u / _HUBER, 1.0)
    after = covariance - spread_by.T @ solved[:, 1:]
    after = (after + after.T) / 2
    fresh = Gains(at[:-1], after[:-1, :-1], gains.rows, gains.columns)
    return Weighed(fresh, float(np.exp(at[-1])), float(np.sqrt(max(after[-1, -1], 0.0))), misfit, surprise)
