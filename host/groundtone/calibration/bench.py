"""From a recorded bench run to a film: curves first, then what the film remembers, then the curves without that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.capture import placements_from
from groundtone.calibration.creep import CreepMemory, creep_from_drift
from groundtone.calibration.film import Film
from groundtone.calibration.fit import fit_curves, robust_deviation
from groundtone.calibration.hysteresis import arch_from_bench


@dataclass(frozen=True)
class BenchResult:
    """A film, and how well the bench run fits it.

    Attributes
    ----------
    film : Film
    scatter : float
        Robust relative standard deviation of a placement on the way up.
    placements : int
    missing : tuple of (row, column)
        Cells without a placement.
    """

    film: Film
    scatter: float
    placements: int
    missing: tuple[tuple[int, int], ...]


def film_from_bench(
    t_s: NDArray[np.float64], conductance_s: NDArray[np.float64], weights_n: Sequence[float]
) -> BenchResult:
    """The film of a mat from a bench run.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
    conductance_s : ndarray, shape (n, rows, columns)
    weights_n : sequence of float
        In the order in which they went on each cell, N; see `placements_from`.

    Raises
    ------
    CalibrationError
        Where the run cannot be understood, or is too little.
    """
    _, rows, columns = conductance_s.shape
    placements = placements_from(t_s, conductance_s, weights_n)
    rising = [p for p in placements if not p.falling]
    fit = fit_curves(rising, rows, columns)
    creep = creep_from_drift(np.array([p.drift for p in rising]), fit.curves.exponent)
    memory = CreepMemory(creep, (rows, columns))
    curved = fit.curves.force_n(np.nan_to_num(conductance_s))
    steady = np.stack([memory.force_n(float(t), force) for t, force in zip(t_s, curved, strict=True)])

    def read(row: int, column: int, dwell: slice) -> float:
        return float(steady[dwell, row, column].mean())

    # Taking creep out has made every reading smaller by about the same: the level is what it was plus that.
    readings = np.array([read(p.row, p.column, p.dwell) for p in rising])
    shift = float(np.median(np.log(np.array(fit.on_cell_n) / readings) - fit.residual))
    curves = replace(fit.curves, level=fit.curves.level + shift)
    grown = float(np.exp(shift))
    # The part of a weight that lies on its own cell is the same before and after some of it was taken off.
    falling, peaks, shares = [], [], []
    for before, after in pairwise(placements):
        if after.falling and not before.falling:
            share = fit.on_cell_n[rising.index(before)] / before.force_n
            falling.append(after)
            peaks.append(before.force_n * share)
            shares.append(share)
    on_cell = np.array([p.force_n for p in falling]) * np.array(shares)
    down = np.array([grown * read(p.row, p.column, p.dwell) for p in falling])
    arch = arch_from_bench(np.array(peaks), on_cell, down)
    return BenchResult(Film(curves, creep, arch), robust_deviation(fit.residual), len(placements), fit.missing)
