"""What a load reads while it goes on lying after it was taken: how its film creeps. No clock of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.gain_memory import TELLS_S

# A hand that takes a weight off has been leaning on it or lifting it since this long, s.
_HAND_S = 0.6
# Below this part of what it read when it was taken no load lies any more, however much the film keeps of it.
_GONE = 0.7


def binned(after_s: NDArray[np.float64], value: NDArray[np.float64], from_s: float) -> tuple[tuple[float, float], ...]:
    """Means of a value over eighths of a decade of time from a time on: pairs of mean time and mean value."""
    late = after_s >= from_s
    after_s, value = after_s[late], value[late]
    if not after_s.size:
        return ()
    of = np.floor(8 * np.log10(after_s / from_s)).astype(int)
    count = np.bincount(of)
    there = count > 0
    at, mean = (np.bincount(of, v)[there] / count[there] for v in (after_s, value))
    return tuple(zip(at.tolist(), mean.tolist(), strict=True))


class Lying:
    """The placement that was taken last, for as long as it lies there."""

    def __init__(self, placement: Placement) -> None:
        self._placement = placement
        self._cell = placement.row, placement.column
        self._before = 0.0 if placement.before_s is None else float(placement.before_s[self._cell])
        self._read: list[tuple[float, float]] = []

    def take(self, t_s: float, conductance_s: NDArray[np.float64]) -> None:
        """A frame in which it lies; one with a NaN is left out."""
        reading = float(conductance_s[self._cell])
        if np.isfinite(reading):
            self._read.append((t_s, max(reading - self._before, 1e-12)))

    def lifted(self, t_s: float) -> Placement:
        """The placement when it has been lifted, with how its reading had grown where it lay for long."""
        placement = self._placement
        t_s = self._gone_s(t_s)
        read = [(at, level) for at, level in self._read if at < t_s - _HAND_S]
        if not read or read[-1][0] - placement.t_s < TELLS_S or not placement.grew:
            return replace(placement, lifted_s=t_s, grew=())
        at_s, level = np.array(read).T
        taken = max(float(placement.conductance_s[self._cell]) - self._before, 1e-12)
        later = binned(at_s - placement.t_s, np.log(level / taken), placement.grew[-1][0])
        return replace(placement, lifted_s=t_s, grew=(*placement.grew, *later))

    def _gone_s(self, noticed_s: float) -> float:
        """When it was lifted: a film that keeps much of a load shows only some while later that nothing lies there."""
        if not self._read:
            return noticed_s
        at_s, level = np.array(self._read).T
        lay = np.flatnonzero(level > _GONE * (float(self._placement.conductance_s[self._cell]) - self._before))
        gone = lay[-1] + 1 if lay.size else 0
        return float(at_s[gone]) if gone < len(at_s) else noticed_s
