"""The fit of a bench run: how long it takes, and against a loop of scipy's curve_fit over the cells.

128 invented cells under eight loads, three times each, with a scatter of 3 %. Two things are timed. The fit as the
program does it (`fit_curves`): pooled shape, robust, five forms compared, covariances. And the same model fitted to
every cell by itself, once by a loop of `scipy.optimize.curve_fit` and once by `fit_many`: both minimise the same sum of
squares from the same start, and the sums they reach are compared.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from groundtone.calibration.curve import UNIT_S
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.fit import fit_curves
from groundtone.calibration.fitting.lsq_many import fit_many
from studies.timing import spread

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


def together(conductance: Array, force: Array) -> tuple[Array, Array]:
    """The same by `fit_many`."""

    def model(value: Array, which: NDArray[np.intp]) -> tuple[Array, Array]:
        g = conductance[which]
        level, exponent, inverse = value.T[:, :, None]
        left = 1 - g * inverse
        x = np.log(g / UNIT_S / left)
        made = np.exp(level + exponent * x)
        return made, np.stack([made, made * x, made * exponent * g / left], axis=1)

    start = np.tile(START, (len(conductance), 1))
    found = fit_many(model, start, force, (SCATTER * force) ** -2.0)
    return found.value, found.square


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
    ours = busy(lambda: together(conductance, force), 40)
    loop_value, loop_square = looped(conductance, force)
    our_value, our_square = together(conductance, force)
    apart = float(np.abs(our_square / loop_square - 1).max())
    times = float(np.median(loop) / np.median(ours))
    slowest = float(np.median(whole))
    return {
        "placements": len(run),
        "fit_curves, processor time, s (0.5 asked)": round(slowest, 3),
        "model of each cell by itself": "exp(level) (G / (1 - G inverse) / 100 uS)^exponent, three parameters",
        "curve_fit, a cell (processor time)": spread(loop, cells),
        "fit_many, a cell (processor time)": spread(ours, cells),
        "times as fast as the loop of curve_fit (20 asked)": round(times, 1),
        "sums of squares apart, relative": apart,
        "exponents apart": float(np.abs(our_value[:, 1] - loop_value[:, 1]).max()),
        "ok": slowest <= 0.5 and times >= 20 and apart < 1e-6,
    }
