"""From a bench run to a film: curves first, then what the film remembers, then the curves without that.

Two ways lead there. A recorded run has the whole time series, so the live path's own memory is run over it. Placements
alone are enough too: each was read at a known time after known steps of load, and what creep makes of those is known in
closed form (`groundtone.calibration.fitting.creep`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import TYPICAL_ARCH, Film
from groundtone.calibration.fitting.capture import Placement, placements_from
from groundtone.calibration.fitting.creep import CreepMemory, creep_from_drift, grown
from groundtone.calibration.fitting.fit import Fit, fit_curves
from groundtone.calibration.fitting.hysteresis import arch_from_bench
from groundtone.calibration.fitting.robust import robust_deviation


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
    fit : Fit
        Everything that the fit says of itself.
    """

    film: Film
    scatter: float
    placements: int
    missing: tuple[tuple[int, int], ...]
    fit: Fit


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
    own = np.array([p.conductance_s[p.row, p.column] for p in rising])
    creep = creep_from_drift(np.array([p.drift for p in rising]) * fit.curves.slope(own), 1.0)
    memory = CreepMemory(creep, (rows, columns))
    curved = fit.curves.force_n(np.nan_to_num(conductance_s))
    steady = np.stack([memory.force_n(float(t), force) for t, force in zip(t_s, curved, strict=True)])

    def read(row: int, column: int, dwell: slice) -> float:
        return float(steady[dwell, row, column].mean())

    # Taking creep out has made every reading smaller by about the same: the level is what it was plus that.
    readings = np.array([read(p.row, p.column, p.dwell) for p in rising])
    shift = float(np.median(np.log(np.array(fit.on_cell_n) / readings) - fit.residual))
    curves = replace(fit.curves, level=fit.curves.level + shift)
    larger = float(np.exp(shift))
    # The part of a weight that lies on its own cell is the same before and after some of it was taken off.
    falling, peaks, shares = [], [], []
    for before, after in pairwise(placements):
        if after.falling and not before.falling:
            share = fit.on_cell_n[rising.index(before)] / before.force_n
            falling.append(after)
            peaks.append(before.force_n * share)
            shares.append(share)
    on_cell = np.array([p.force_n for p in falling]) * np.array(shares)
    down = np.array([larger * read(p.row, p.column, p.dwell) for p in falling])
    arch = arch_from_bench(np.array(peaks), on_cell, down) if falling else TYPICAL_ARCH
    film = replace(film_of(fit), curves=curves, creep=creep, arch=arch)
    return BenchResult(film, robust_deviation(fit.residual), len(placements), fit.missing, fit)


def film_from_placements(
    placements: Sequence[Placement],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    dead: Sequence[tuple[int, int]] = (),
) -> BenchResult:
    """The film of a mat from placements alone, in any order, with repeats, with cells missing.

    Parameters
    ----------
    placements : sequence of Placement
        Those on dead cells are left out.
    rows, columns : int
        Of the whole mat.
    panels : int
        Equal parts of the columns.
    dead : sequence of (row, column)
        Cells that are known to read nothing.

    Raises
    ------
    CalibrationError
        Too few or useless placements; the sentence says what is missing.
    """
    gone = {(int(row), int(column)) for row, column in dead}
    alive = [p for p in placements if (p.row, p.column) not in gone]
    fit = fit_curves(alive, rows, columns, panels=panels)
    own = np.array([p.conductance_s[p.row, p.column] for p in alive])
    creep = creep_from_drift(np.array([p.drift for p in alive]) * fit.curves.slope(own), 1.0)
    factor = grown(alive, creep, fit.curves.exponent)
    fit = fit_curves(alive, rows, columns, panels=panels, factor=factor)
    film = replace(film_of(fit), creep=creep, dead=tuple(sorted(gone)))
    return BenchResult(film, fit.scatter, len(alive), fit.missing, fit)


def film_of(fit: Fit) -> Film:
    """The part of a fit that turns conductances into forces and says how sure it is; without creep."""
    arch = TYPICAL_ARCH if math.isnan(fit.arch) else float(np.clip(fit.arch, 0.0, 0.5))
    return Film(
        fit.curves, 0.0, arch, fit.level_u, fit.shape_cov, fit.highest_n, (), fit.x_centre, fit.exponent_spread,
        fit.mass_u,
    )  # fmt: skip
