"""What a calibration knows of a mat's film, and the live form that turns its conductances into forces."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.film_memory import CreepMemory
from groundtone.calibration.fitting.gain_memory import LOADED_N, GainMemory
from groundtone.calibration.fitting.hysteresis import HysteresisMemory
from groundtone.calibration.force_curve import Curves, typical_curves
from groundtone.calibration.shoes.dead_cells import PITCH_MM, filled, filling

TYPICAL_CREEP, TYPICAL_ARCH = 0.033, 0.06
"""Creep of the force in a decade of time, and the loop's arch, of a film on which neither was measured: 3 % of
conductance and a loop of about 4 % (invented; films differ).
"""
UNSEEN_ARCH = 0.03
"""The loop of a calibrated film on which no weight was taken off: between none and a maker's 10 % (invented)."""

# What noise makes of an empty cell's conductance at most, S.
_NOISE_S = 0.3e-6


@dataclass(frozen=True)
class Film:
    """A mat's film.

    Attributes
    ----------
    curves : Curves
        The way up, creep taken out.
    creep : float
        Part of a steady force that a decade of time adds to its reading.
    arch : float
        Size of the hysteresis loop, see `groundtone.calibration.fitting.hysteresis`.
    level_u : ndarray, shape (rows, columns), or None
        Relative standard uncertainty of each cell's force at `x_centre`, shape errors left out; a cell that was never
        loaded has the spread between cells. None: not known.
    shape_cov : ndarray, shape (2, 2)
        Covariance of exponent and bend, which all cells share.
    highest_n : float
        Highest load that was calibrated, N; NaN: none was.
    dead : tuple of (row, column)
        Cells that read nothing, whatever lies on them.
    x_centre : float
        The x = ln(G / 100 µS) about which errors of shape turn: there they do not touch the force.
    exponent_spread : float
        Standard deviation of the exponent from cell to cell.
    mass_u : float
        Relative standard uncertainty that all weights share; no cell's `level_u` holds it.
    kept : float
        Part of the creep that is a memory of conductance and stays after lifting; the rest acts on the gain of a
        loaded cell. NaN: it was looked for and could not be told, so nothing is taken out and the budget carries it.
    straight : float
        How straight a gain grows, see `groundtone.calibration.fitting.gain_memory`.
    """

    curves: Curves
    creep: float = 0.0
    arch: float = 0.0
    level_u: NDArray[np.float64] | None = None
    shape_cov: NDArray[np.float64] = field(default_factory=lambda: np.zeros((2, 2)))
    highest_n: float = math.nan
    dead: tuple[tuple[int, int], ...] = ()
    x_centre: float = 0.0
    exponent_spread: float = 0.0
    mass_u: float = 0.0
    kept: float = 1.0
    straight: float = 1.0


def typical_film(rows: int, columns: int) -> Film:
    """The film of a mat on which nothing was measured: the typical curve, with the memory that films have."""
    return Film(typical_curves(rows, columns), TYPICAL_CREEP, TYPICAL_ARCH)


def _never_pulls(steady_s: NDArray[np.float64], conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """A memory that is taken for a little too large makes nothing negative beyond the noise: no foot pulls."""
    out: NDArray[np.float64] = np.maximum(steady_s, np.minimum(conductance_s, -_NOISE_S))
    return out


# What a step makes of so many frames is still in the processor's cache at the next step.
_AT_ONCE = 128


class ForceMeter:
    """Turns conductances into forces, frame after frame; keeps what the film remembers, and fills dead cells.

    Parameters
    ----------
    pitch_mm : tuple of float
        Row and column pitch of the mat: which neighbours of a dead cell are the near ones.
    """

    def __init__(self, film: Film, pitch_mm: tuple[float, float] = PITCH_MM) -> None:
        shape = film.curves.level.shape
        self._filling = filling(film.dead, *shape, pitch_mm=pitch_mm) if film.dead else None
        self._curves = film.curves
        # It is the conductance that creeps. Just under a foot that has left, what it remembers goes through the same
        # curve as everything else: taken out of the forces instead, it left -0.5 N under each cell of a heel.
        share, kept = film.creep / film.curves.exponent, film.kept
        self._creep = CreepMemory(0.0 if math.isnan(kept) else share * kept, shape)
        of_gain = 0.0 if math.isnan(kept) else share * (1 - kept)
        self._gain = GainMemory(of_gain, film.curves.conductance_of(LOADED_N), film.straight) if of_gain > 0 else None
        self._hysteresis = HysteresisMemory(film.arch, shape)

    def force_n(self, t_s: float, conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces of one frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)

        Returns
        -------
        ndarray, shape (rows, columns)
            N; NaN in, NaN out; dead cells are filled from their neighbours.
        """
        steady = _never_pulls(self._creep.force_n(t_s, conductance_s), conductance_s)
        if self._gain is not None:
            steady = self._gain.steady_s(t_s, steady)
        force = self._hysteresis.force_n(self._curves.force_n(steady))
        return force if self._filling is None else filled(force, self._filling)

    def forces_n(self, t_s: NDArray[np.float64], conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces of a block of frames, as `force_n` one after the other.

        Parameters
        ----------
        t_s : ndarray, shape (n,)
            Device time, s, rising.
        conductance_s : ndarray, shape (n, rows, columns)

        Returns
        -------
        ndarray, shape (n, rows, columns)
            N; NaN in, NaN out; dead cells are filled from their neighbours.
        """
        t_s = np.asarray(t_s, np.float64)
        if len(t_s) > _AT_ONCE:
            parts = [slice(at, at + _AT_ONCE) for at in range(0, len(t_s), _AT_ONCE)]
            return np.concatenate([self.forces_n(t_s[part], conductance_s[part]) for part in parts])
        steady = _never_pulls(self._creep.forces_n(t_s, conductance_s), conductance_s)
        if self._gain is not None:
            steady = self._gain.steadies_s(t_s, steady)
        force = self._hysteresis.forces_n(self._curves.force_n(steady))
        return force if self._filling is None else filled(force, self._filling)
