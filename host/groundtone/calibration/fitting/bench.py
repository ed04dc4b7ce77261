"""From placements to a film: curves first, then what the film remembers, then the curves without that.

Each placement was read at a known time after known steps of load, and what creep makes of those is known in closed form
(`groundtone.calibration.fitting.creep.grown`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import TYPICAL_ARCH, Film
from groundtone.calibration.fitting.capture import Placement, placements_from
from groundtone.calibration.fitting.creep import creep_from_drift, grown
from groundtone.calibration.fitting.fit import Fit, fit_curves


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
    placements = placements_from(t_s, conductance_s, weights_n)
    return film_from_placements(placements, *conductance_s.shape[1:])


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
