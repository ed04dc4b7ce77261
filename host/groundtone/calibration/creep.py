"""Creep: the film goes on giving way under a load, and remembers it for a while when it is gone.

Under a steady load F the film reads F·(1 + c·log10(t/t0)): c a decade of time. That is a linear memory, and a sum of
exponentials spread evenly over the decades comes within a few hundredths of c of it,

    reading = F + Σ_i w (low-pass of F with time constant τ_i),      w = c / (time constants a decade).

The same sum, run beside the live frames, takes the memory out again (causal, no delay). Creep in log time is the known
behaviour of such films (facts: common knowledge of force-sensing resistors, from memory); c is measured on the bench.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

_PER_DECADE = 2
TIME_CONSTANTS_S = 10.0 ** np.arange(-1.25, 3.01, 1 / _PER_DECADE)
"""From a twentieth of a second, below which calibration and use do not differ, to nearly ten minutes."""


def step_response(c_per_decade: float, t_s: float) -> float:
    """Reading over force a time after a load was set down and left."""
    weight = c_per_decade / _PER_DECADE
    return 1.0 + weight * float(np.sum(1 - np.exp(-t_s / TIME_CONSTANTS_S)))


def creep_from_drift(drift: NDArray[np.float64], exponent: float) -> float:
    """Creep per decade from the drifts of placements.

    Parameters
    ----------
    drift : ndarray
        Change of ln conductance per decade of time, each placement (NaN: not known).
    exponent : float
        Change of ln force with ln conductance.

    Returns
    -------
    float
        Median over the placements times the exponent, 0 to 0.2; 0 where nothing is known.
    """
    known = drift[np.isfinite(drift)]
    return float(np.clip(np.median(known) * exponent, 0.0, 0.2)) if known.size else 0.0


class CreepMemory:
    """Takes creep out of forces, frame after frame.

    Parameters
    ----------
    c_per_decade : float
    shape : tuple of int
        Shape of a frame's forces.
    """

    def __init__(self, c_per_decade: float, shape: tuple[int, ...]) -> None:
        self._weight = c_per_decade / _PER_DECADE
        self._state = np.zeros((TIME_CONSTANTS_S.size, *shape))
        self._last_s = math.nan

    def force_n(self, t_s: float, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Force without creep.

        Parameters
        ----------
        t_s : float
            Time of the frame, s, rising.
        reading_n : ndarray
            What the curves make of the conductances, N. NaN stays NaN and is remembered as nothing.

        Returns
        -------
        ndarray, same shape
        """
        if self._weight == 0:
            return reading_n
        step_s = t_s - self._last_s if t_s > self._last_s else 0.0
        self._last_s = t_s
        keep = np.exp(-step_s / TIME_CONSTANTS_S)
        taken = 1 - keep
        # reading = F + w Σ (keep·state + taken·F): solved for F, the force that held since the last frame.
        self._state *= keep.reshape(-1, *([1] * reading_n.ndim))
        force: NDArray[np.float64] = (reading_n - self._weight * self._state.sum(0)) / (
            1 + self._weight * float(taken.sum())
        )
        self._state += np.multiply.outer(taken, np.nan_to_num(force))
        return force
