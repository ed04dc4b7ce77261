"""Least squares with what all cells share, and a level and a lean a cell that are drawn towards its panel.

The model of a point k on cell i of panel p is

    y = columns · shared + mean[p] + d[i] + e[i]·z + error,

with d ~ N(0, level²), e ~ N(0, lean²) and error ~ N(0, 1/weight),

where z runs along the curve from its centre: a cell differs from its panel in level and, a little, in exponent. Both
are eliminated and put back, so the matrix that is solved is as small as what is shared.

What is shared is found from differences within cells alone. Differences between cells must not speak of it: a cell of
high gain reads more under the same weight, so its level goes with its readings, and a fit that compared cells would
take gains for a flatter curve (Y. Mundlak, Econometrica 46, 1978). Levels and leans are then those of best linear
unbiased prediction (C. R. Henderson 1975; G. K. Robinson, Statistical Science 6, 1991). How far cells differ is not
assumed but found by the method of moments (R. C. Paule and J. Mandel, J. Res. NBS 87, 1982), which is what makes the
pull towards the panel honest: much where cells are alike or points few, next to none where they are many.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import CalibrationError

# The spread between cells is at least this: no sheet of film is more even (invented).
LEAST_SPREAD = 0.02
# With fewer cells than this their spread cannot be told, and the film's published one stands in: part to part ±15 to
# ±25 % (FSR Integration Guide, Interlink Electronics).
FEW_CELLS, USUAL_SPREAD = 4, 0.25
LEAST_LEAN = 1e-3
# A cell's part in the spread is not more than this many standard deviations squared: one odd cell is not the sheet.
_MOST_PART = 9.0
# Columns of which so small a part is their own say the same.
_RANK = 1e-15


@dataclass(frozen=True)
class Solved:
    """What a pooled fit gave.

    Attributes
    ----------
    shared : ndarray, shape (terms,)
    mean : ndarray, shape (panels,)
    level, lean : ndarray, shape (cells,)
        Mean and d; and e.
    residual : ndarray, shape (points,)
        y without what is shared and the level; the lean is still in it.
    error, freed : ndarray, shape (points,)
        The same without the lean; and which part of an error is left in it when level and lean have followed.
    leverage : ndarray, shape (points,)
        1 less which part of an error is left when everything has followed.
    covariance : ndarray, shape (terms, terms)
        Of `shared`.
    level_var : ndarray, shape (cells,)
    level_with : ndarray, shape (cells, terms)
        Covariance of each level with `shared`.
    """

    shared: NDArray[np.float64]
    mean: NDArray[np.float64]
    level: NDArray[np.float64]
    lean: NDArray[np.float64]
    residual: NDArray[np.float64]
    error: NDArray[np.float64]
    freed: NDArray[np.float64]
    leverage: NDArray[np.float64]
    covariance: NDArray[np.float64]
    level_var: NDArray[np.float64]
    level_with: NDArray[np.float64]


@dataclass(frozen=True)
class Cells:
    """Which cell each point lies on, and which panel each cell belongs to.

    Attributes
    ----------
    own : ndarray of int, shape (points,)
    panel : ndarray of int, shape (cells,)
        Cells that have no point too.
    """

    own: NDArray[np.intp]
    panel: NDArray[np.intp]
    panels: int

    def sums(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sum of a value of the points over each cell."""
        out: NDArray[np.float64] = np.bincount(self.own, values, self.panel.size).astype(np.float64, copy=False)
        return out


@dataclass(frozen=True)
class Spread:
    """How far cells differ: standard deviations of their level and of their exponent."""

    level: float
    lean: float


def solve(
    columns: NDArray[np.float64],
    z: NDArray[np.float64],
    y: NDArray[np.float64],
    weight: NDArray[np.float64],
    cells: Cells,
    spread: Spread,
    prior: tuple[NDArray[np.float64], NDArray[np.float64]],
    *,
    covariances: bool = True,
) -> Solved:
    """The best linear unbiased prediction for a given spread between cells.

    Parameters
    ----------
    columns : ndarray, shape (points, terms)
    z, y, weight : ndarray, shape (points,)
        Weights are inverse variances.
    prior : tuple of ndarray, shape (terms,) each
        What is expected of `shared`, and with which inverse variance (0: nothing is).
    covariances : bool
        False leaves leverage and the levels' covariances empty, which saves time.

    Raises
    ------
    CalibrationError
        Columns that say the same, with nothing expected of them.
    """
    shared, inverse = _shared(columns, z, y, weight, _Own.of(z, weight, cells, 0.0, spread.lean), spread, prior)
    # Everything below is linear in y: what holds for y holds for each column, and tells how levels go with `shared`.
    own = _Own.of(z, weight, cells, spread.level**-2.0, spread.lean)
    means = _Means.of(own, cells, spread.level)
    rest = y - columns @ shared
    mean, level, lean = means.predicted(rest[:, None])
    residual = rest - level[cells.own, 0]
    error = residual - z * lean[cells.own, 0]
    taken = own.taken(z, weight)
    empty = np.empty(0)
    if not covariances:
        return Solved(
            shared, mean[:, 0], level[:, 0], lean[:, 0], residual, error, 1 - taken, empty, inverse, empty, empty
        )  # fmt: skip
    _, level_of, lean_of = means.predicted(columns)
    apart = columns - level_of[cells.own] - z[:, None] * lean_of[cells.own]
    leverage = taken + weight * (np.einsum("kt,tu,ku->k", apart, inverse, apart, optimize=True) + means.leverage(z))
    level_with = -level_of @ inverse
    level_var = own.c + means.level_var - np.einsum("it,it->i", level_with, level_of)
    return Solved(
        shared,
        mean[:, 0],
        level[:, 0],
        lean[:, 0],
        residual,
        error,
        1 - taken,
        leverage,
        inverse,
        level_var,
        level_with,
    )


def _shared(
    columns: NDArray[np.float64],
    z: NDArray[np.float64],
    y: NDArray[np.float64],
    weight: NDArray[np.float64],
    own: _Own,
    spread: Spread,
    prior: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What is shared, and its covariance.

    Three sorts of rows: the points without what their cells follow of them, what the leans cost, and what is expected.
    Their triangle is found without their products, which would lose half of the digits (A. Bjorck, Numerical Methods
    for Least Squares Problems, 1996, section 2.4).
    """
    both = np.column_stack([columns, y])
    level, lean = own.follow(both)
    apart = np.sqrt(weight)[:, None] * (both - level[own.cells.own] - z[:, None] * lean[own.cells.own])
    root = np.sqrt(prior[1])
    expected = np.column_stack([np.diag(root), root * prior[0]])
    rows = np.concatenate([apart, lean / max(spread.lean, LEAST_LEAN), expected])
    size = np.linalg.norm(rows[:, :-1], axis=0)
    scaled = np.column_stack([rows[:, :-1] / np.where(size > 0, size, 1.0), rows[:, -1]])
    triangle = np.asarray(np.linalg.qr(scaled, mode="r"), np.float64)
    upper, right = triangle[:-1, :-1], triangle[:-1, -1]
    singular = np.linalg.svd(upper, compute_uv=False)
    if singular[-1] <= _RANK * singular[0]:
        raise CalibrationError("the data cannot tell the parameters apart: vary what was the same in all of them")
    back = np.asarray(np.linalg.inv(upper), np.float64) / size[:, None]
    return back @ right, back @ back.T


@dataclass(frozen=True)
class _Own:
    """Each cell's inverse two by two matrix [[c, -b], [-b, a]] for its level and its lean, and the sums with it."""

    a: NDArray[np.float64]
    b: NDArray[np.float64]
    c: NDArray[np.float64]
    weight: NDArray[np.float64]
    along: NDArray[np.float64]
    cells: Cells

    @classmethod
    def of(cls, z: NDArray[np.float64], weight: NDArray[np.float64], cells: Cells, tie: float, lean: float) -> _Own:
        along = weight * z
        a = cells.sums(weight) + tie
        b = cells.sums(along)
        c = cells.sums(along * z) + max(lean, LEAST_LEAN) ** -2.0
        whole = a * c - b * b
        # A cell without points and without a tie has no level of its own.
        inner = np.divide(1.0, whole, out=np.zeros_like(whole), where=a > 0)
        return cls(a * inner, b * inner, c * inner, weight, along, cells)

    def follow(self, values: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Level and lean of each cell that follow values of the points, shapes (points, k) to (cells, k)."""
        pull, turn = self._sums(self.weight, values), self._sums(self.along, values)
        return self.c[:, None] * pull - self.b[:, None] * turn, self.a[:, None] * turn - self.b[:, None] * pull

    def taken(self, z: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
        """Which part of a point's error its own cell follows, shape (points,)."""
        at = self.cells.own
        out: NDArray[np.float64] = weight * (self.c[at] - 2 * self.b[at] * z + self.a[at] * z * z)
        return out

    def _sums(self, weight: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([self.cells.sums(weight * column) for column in values.T], axis=1)


@dataclass(frozen=True)
class _Means:
    """The panels' means, given what is shared."""

    own: _Own
    free: NDArray[np.float64]
    turned: NDArray[np.float64]
    inverse: NDArray[np.float64]

    @classmethod
    def of(cls, own: _Own, cells: Cells, spread: float) -> _Means:
        ones = np.ones((cells.own.size, 1))
        level, lean = own.follow(ones)
        panel = cells.panel[:, None] == np.arange(cells.panels)
        mass = cells.sums(own.weight) * (1 - level[:, 0]) - cells.sums(own.along) * lean[:, 0]
        normal = np.diag(panel.T @ mass)
        # A panel without points takes its mean from the others; a loaded panel's many cells hardly feel the tie.
        normal += 1e-3 * spread**-2.0 * (np.eye(cells.panels) - 1 / cells.panels)
        return cls(own, 1 - level[:, 0], lean[:, 0], np.linalg.inv(normal))

    def predicted(
        self, values: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Means, levels and leans that follow values of the points, shapes (panels, k), (cells, k), (cells, k)."""
        cells = self.own.cells
        panel = cells.panel[:, None] == np.arange(cells.panels)
        level, lean = self.own.follow(values)
        by_cell = np.stack([cells.sums(self.own.weight * column) for column in values.T], axis=1)
        by_cell -= cells.sums(self.own.weight)[:, None] * level + cells.sums(self.own.along)[:, None] * lean
        mean = self.inverse @ (panel.T @ by_cell)
        of_cell = mean[cells.panel]
        return mean, level + self.free[:, None] * of_cell, lean - self.turned[:, None] * of_cell

    @property
    def level_var(self) -> NDArray[np.float64]:
        """What the means' uncertainty adds to each level's variance."""
        out: NDArray[np.float64] = self.free**2 * np.diag(self.inverse)[self.own.cells.panel]
        return out

    def leverage(self, z: NDArray[np.float64]) -> NDArray[np.float64]:
        """What the means add to each point's leverage, before its weight."""
        at = self.own.cells.own
        apart = self.free[at] - self.turned[at] * z
        out: NDArray[np.float64] = apart**2 * np.diag(self.inverse)[self.own.cells.panel[at]]
        return out


def spread_between(
    rest: NDArray[np.float64], weight: NDArray[np.float64], cells: Cells, before: float = USUAL_SPREAD
) -> float:
    """Standard deviation between cells, with the scatter of their points taken off.

    Parameters
    ----------
    rest : ndarray, shape (points,)
        y without what is shared, the levels still in it.
    weight : ndarray, shape (points,)
        Inverse variances.
    before : float
        Where the search begins.

    Returns
    -------
    float
        At least `LEAST_SPREAD`; `USUAL_SPREAD` with too few cells to tell.
    """
    mass = cells.sums(weight)
    known = mass > 0
    if known.sum() < FEW_CELLS:
        return USUAL_SPREAD
    middle = cells.sums(weight * rest)[known] / mass[known]
    noise, panel = 1 / mass[known], cells.panel[known]
    freedom = known.sum() - np.unique(panel).size
    variance = before**2
    for _ in range(30):
        part = 1 / (variance + noise)
        mean = np.bincount(panel, part * middle, cells.panels) / np.maximum(
            np.bincount(panel, part, cells.panels), 1e-300
        )
        square = np.minimum((middle - mean[panel]) ** 2 * part, _MOST_PART)
        # Paule and Mandel: the squares, each over its own variance, must add up to their freedom.
        new = max(variance * float(square.sum()) / freedom, LEAST_SPREAD**2)
        if abs(new - variance) < 1e-4 * variance:
            break
        variance = new
    return math.sqrt(variance)


def apart(
    rest: NDArray[np.float64], z: NDArray[np.float64], weight: NDArray[np.float64], cells: Cells, spread: Spread
) -> float:
    """Weighted sum of squares of what levels and leans of cells leave, the leans' cost in it; levels are free."""
    level, lean = _Own.of(z, weight, cells, 0.0, spread.lean).follow(rest[:, None])
    left = rest - level[cells.own, 0] - z * lean[cells.own, 0]
    return float(weight @ left**2) + float(np.sum((lean / max(spread.lean, LEAST_LEAN)) ** 2))
