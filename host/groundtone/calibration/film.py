"""What a calibration knows of a mat's film, and the live form that turns its conductances into forces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.creep import CreepMemory
from groundtone.calibration.curve import Curves
from groundtone.calibration.hysteresis import HysteresisMemory


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
        Size of the hysteresis loop, see `groundtone.calibration.hysteresis`.
    """

    curves: Curves
    creep: float = 0.0
    arch: float = 0.0


class ForceMeter:
    """Turns conductances into forces, frame after frame; keeps what the film remembers."""

    def __init__(self, film: Film) -> None:
        shape = film.curves.level.shape
        self._curves = film.curves
        self._creep = CreepMemory(film.creep, shape)
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
            N; NaN in, NaN out.
        """
        return self._hysteresis.force_n(self._creep.force_n(t_s, self._curves.force_n(conductance_s)))
