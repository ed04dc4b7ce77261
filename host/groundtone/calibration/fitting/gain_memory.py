"""Creep that acts on the gain of a loaded cell: how it grows, how it is taken out live, what long loads tell of it.

The gain of a cell grows with the time for which it has been loaded, however much, and is itself again when the load is
gone. Whether it is the gain or its logarithm that goes straight with the logarithm of time the first seconds do not
tell, and after a minute on a film that creeps by a fifth a decade the two lie a tenth apart. So one or two loads of a
bench run lie for a while, and the family of G. E. P. Box and D. R. Cox (J. Roy. Statist. Soc. B 26, 1964) stands
between: the gain is (1 + s c g)^(1/s), with g of `step_response`, s = 1 straight, s = 0 straight in its logarithm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.film_memory import DRIFT_S, MOST_CREEP, gain_growth, growth

Array = NDArray[np.float64]

# A cell counts as loaded above this, N, and no cell below this conductance, S (noise).
LOADED_N, _LEAST_LOADED_S = 0.5, 0.6e-6
# Ages at which the growth of a gain is worked out, s; between them it is straight.
_AGES_S = np.concatenate([[0.0], np.geomspace(2e-3, 6e3, 240)])
USUAL_STRAIGHT = 0.6
"""Where no load lay for long (between the two)."""
# A load that lay for so long tells, s; what is believed of s beforehand, and how well a growth is read (ln).
TELLS_S, _STRAIGHT_U, _READ_U = 15.0, 0.4, 0.004
_STRAIGHTS = np.linspace(0.0, 1.2, 13)
_CREEPS = np.geomspace(2e-3, MOST_CREEP, 160)


def same_start(c_per_decade: float, straight: float, between_s: tuple[float, float] = DRIFT_S) -> float:
    """The creep whose gain grows, with another `straight`, by as much between two times as a straight one's."""

    def between(c: float, s: float) -> float:
        early, late = gain_growth(c, s, np.array(between_s)).tolist()
        return math.log(late / early)

    wanted = between(c_per_decade, 1.0)
    low, high = 0.0, c_per_decade
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if between(middle, straight) < wanted else (low, middle)
    return 0.5 * (low + high)


def told_by_holds(placements: Sequence[Placement], kept: float) -> tuple[float, float] | None:
    """Creep of conductance a decade, and how straight its gain grows, from loads that lay for long.

    Parameters
    ----------
    kept : float
        Part of the creep that is a memory; that part grows straight.

    Returns
    -------
    (c_per_decade, straight) or None
        None where none lay for long.
    """
    series = [np.array(p.grew) for p in placements if p.grew and p.grew[-1][0] >= TELLS_S]
    if not series:
        return None
    best, found = math.inf, (0.0, USUAL_STRAIGHT)
    for straight in _STRAIGHTS.tolist() if kept < 1.0 else [USUAL_STRAIGHT]:
        cost = np.full(_CREEPS.size, ((straight - USUAL_STRAIGHT) / _STRAIGHT_U) ** 2)
        for t_s, read in (each.T for each in series):
            memory = kept * _CREEPS[:, None] * growth(t_s)
            off = np.log(gain_growth((1 - kept) * _CREEPS[:, None], straight, t_s) + memory) - read
            cost += (((off - off.mean(1, keepdims=True)) / _READ_U) ** 2).sum(1)
        if cost.min() < best:
            best, found = float(cost.min()), (float(_CREEPS[int(cost.argmin())]), straight)
    return found


class GainMemory:
    """Takes out of conductances what creep has done to the gain of cells that are loaded, frame after frame.

    Nothing is remembered of a load that was lifted, and nothing is taken off then.

    Parameters
    ----------
    c_per_decade : float
        Of conductance.
    loaded_s : ndarray
        Conductance above which each cell counts as loaded, S.
    straight : float
        See `gain_growth`.
    """

    def __init__(self, c_per_decade: float, loaded_s: Array, straight: float = 1.0) -> None:
        self._growth = gain_growth(c_per_decade, straight, _AGES_S)
        self._loaded_s = np.maximum(loaded_s, _LEAST_LOADED_S)
        self._free_s = np.full(loaded_s.shape, -math.inf)

    def steady_s(self, t_s: float, conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Conductance without creep, of one frame: t_s in s, rising; NaN stays NaN and changes no cell's age."""
        out: NDArray[np.float64] = self.steadies_s(np.array([t_s]), conductance_s[None])[0]
        return out

    def steadies_s(self, t_s: NDArray[np.float64], conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """The same of a block of frames, shapes (n,) and (n, ...)."""
        if not len(t_s):
            return conductance_s
        # What is loaded when the first frame comes has been since then, as far as anybody knows.
        self._free_s = np.where(np.isinf(self._free_s), t_s[0], self._free_s)
        at_s = t_s.reshape(-1, *([1] * self._free_s.ndim))
        free = np.where(conductance_s <= self._loaded_s, at_s, -math.inf)
        free[0] = np.maximum(free[0], self._free_s)
        free = np.maximum.accumulate(free, axis=0)
        self._free_s = free[-1].copy()
        out: NDArray[np.float64] = conductance_s / np.interp(at_s - free, _AGES_S, self._growth)
        return out
