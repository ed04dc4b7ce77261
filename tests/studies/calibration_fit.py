"""The fit of a bench run: how long it takes, against a loop of scipy's curve_fit and against scipy's sparse solver.

128 invented cells under eight loads, three times each, with a scatter of 3 %. Three things are timed: the fit as the
program does it (`fit_curves`: pooled shape, robust, five forms compared, covariances); a loop of
`scipy.optimize.curve_fit`, each cell by itself with three parameters of its own; and one form with fixed weights, all
cells at once, by the solver within `fit_curves` (`Descent`) and by `scipy.optimize.least_squares` with the sparse
Jacobian of all 258 unknowns. These two minimise the same sum of squares from the same start, and the sums are compared.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit, least_squares
from scipy.sparse import coo_array

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.descent import Descent
from groundtone.calibration.fitting.fit import fit_curves
from groundtone.calibration.fitting.pooled import Cells, Spread, apart
from groundtone.calibration.force_curve import UNIT_S

Array = NDArray[np.float64]
ROWS, COLUMNS = 16, 8
LOADS_N = (5.0, 10.0, 20.0, 40.0, 80.0, 120.0, 160.0, 220.0)
REPEATS = 3
SCATTER = 0.03
START = np.array([3.6, 1.1, 100.0])


def invented_run(seed: int = 1) -> list[Placement]:
    """Placements of all loads on all cells, by a law of saturation."""
    rng = np.random.default_rng(seed)
    level = rng.normal(math.log(35.0), 0.25, (ROWS, COLUMNS))
    out = []
    for row, column in np.ndindex(ROWS, COLUMNS):
        for load in LOADS_N * REPEATS:
            force = load * math.exp(SCATTER * rng.standard_normal())
            free = UNIT_S * math.exp((math.log(force) - level[row, column]) / 1.1)
            grid = np.zeros((ROWS, COLUMNS))
            grid[row, column] = free / (1 + free / 5e-3)
            out.append(Placement(row, column, load, grid, slice(0, 1), False, 0.0))
    return out


def law(conductance_s: Array, level: float, exponent: float, inverse: float) -> Array:
    """Force of one cell: exp(level) (G / (1 - G·inverse) / 100 µS)^exponent, N."""
    out: Array = np.exp(level + exponent * np.log(conductance_s / UNIT_S / (1 - conductance_s * inverse)))
    return out


def looped(conductance: Array, force: Array) -> tuple[Array, Array]:
    """Parameters and sums of squares by one curve_fit a cell."""
    values, squares = [], []
    for g, f in zip(conductance, force, strict=True):
        value, _ = curve_fit(law, g, f, p0=START, sigma=SCATTER * f, absolute_sigma=True)
        values.append(value)
        squares.append(float(np.sum(((law(g, *value) - f) / (SCATTER * f)) ** 2)))
    return np.array(values), np.array(squares)


class Saturating:
    """ln F = level + exponent·x(G, inverse) + lean·z of all cells, as `Descent` asks for a curve."""

    def __init__(self, conductance: Array, force: Array) -> None:
        self.g, self.y = conductance.ravel(), np.log(force.ravel())
        self.cells = Cells(np.repeat(np.arange(len(force)), force.shape[1]), np.zeros(len(force), np.intp), 1)
        self.z = np.log(self.g / UNIT_S)
        self.z -= self.z.mean()
        self.weight = np.full(self.y.size, SCATTER**-2.0)
        self.spread = Spread(0.25, 0.02)
        self.prior = np.zeros(2), np.zeros(2)

    def rest(self, value: Array) -> Array:
        """What exponent and inverse leave of y."""
        out: Array = self.y - value[0] * np.log(self.g / UNIT_S / (1 - self.g * value[1]))
        return out

    def slopes(self, value: Array) -> tuple[Array, Array]:
        """Derivatives by exponent and inverse."""
        left = 1 - self.g * value[1]
        return np.stack([np.log(self.g / UNIT_S / left), value[0] * self.g / left], axis=1), self.z

    def square(self, value: Array) -> float:
        """What is minimised."""
        return apart(self.rest(value), self.z, self.weight, self.cells, self.spread)


def descended(curve: Saturating) -> Array:
    """Exponent and inverse by the program's solver."""
    descent = Descent(curve, START[1:])
    while not descent.still:
        descent.step(curve.weight, curve.cells, curve.spread, curve.prior)
    return descent.value


def sparse(curve: Saturating) -> Array:
    """The same by scipy, with a level and a lean a cell among the unknowns."""
    own, count, points = curve.cells.own, curve.cells.panel.size, curve.y.size
    root, tie = np.sqrt(curve.weight), 1 / curve.spread.lean
    rows = np.arange(points)
    where = (
        np.concatenate([rows, rows, rows, rows, points + np.arange(count)]),
        np.concatenate([rows * 0, rows * 0 + 1, 2 + own, 2 + count + own, 2 + count + np.arange(count)]),
    )

    def residual(v: Array) -> Array:
        left = curve.rest(v[:2]) - v[2 : 2 + count][own] - curve.z * v[2 + count :][own]
        return np.concatenate([root * left, tie * v[2 + count :]])

    def jacobian(v: Array) -> Any:
        by = curve.slopes(v[:2])[0] * root[:, None]
        data = np.concatenate([-by[:, 0], -by[:, 1], -root, -root * curve.z, np.full(count, tie)])
        return coo_array((data, where), shape=(points + count, 2 + 2 * count)).tocsr()

    start = np.concatenate([START[1:], np.full(count, START[0]), np.zeros(count)])
    out: Array = least_squares(residual, start, jacobian, x_scale="jac", ftol=1e-12, xtol=1e-12, gtol=1e-12).x[:2]
    return out


def busy(work: Callable[[], object], repeats: int) -> list[float]:
    """Processor times of `repeats` runs after one that does not count: others on the machine do not disturb them."""
    work()
    out = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        out.append(time.process_time() - began)
    return out


def study_calibration_fit(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for."""
    run = invented_run()
    cells = ROWS * COLUMNS
    conductance = np.array([p.conductance_s[p.row, p.column] for p in run]).reshape(cells, -1)
    force = np.array([p.force_n for p in run]).reshape(cells, -1)
    whole = busy(lambda: fit_curves(run, ROWS, COLUMNS), 5)
    loop = busy(lambda: looped(conductance, force), 5)
    curve = Saturating(conductance, force)
    ours, theirs = busy(lambda: descended(curve), 10), busy(lambda: sparse(curve), 3)
    apart_by = curve.square(descended(curve)) / curve.square(sparse(curve)) - 1
    slowest = float(np.median(whole))
    return {
        "placements": len(run),
        "fit_curves, processor time, s (0.5 asked)": round(slowest, 3),
        "loop of curve_fit over the cells, s": round(float(np.median(loop)), 3),
        "fit_curves, times as fast as that loop": round(float(np.median(loop)) / slowest, 2),
        "one form with fixed weights, Descent, s": round(float(np.median(ours)), 4),
        "the same by scipy's least_squares with a sparse Jacobian, s": round(float(np.median(theirs)), 4),
        "Descent, times as fast as that": round(float(np.median(theirs) / np.median(ours)), 1),
        "one form, times as fast as the loop of curve_fit (20 asked, missed)": round(
            float(np.median(loop) / np.median(ours)), 1
        ),
        "sums of squares, Descent over scipy, relative": apart_by,
        "ok": slowest <= 0.5 and apart_by < 1e-9,
    }
