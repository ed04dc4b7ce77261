"""Hysteresis: what the film reads too much on the way down.

Coming down from a heavy load the film reads more than it did on the way up.

Between a peak P and nothing the way down lies above the way up by a flat arch,

    excess = b · (P − r) · r / P,

zero at both ends; b is measured on the bench, where weights are taken off. A turn of the load does not jump from one
way to the other but passes over within a tenth of the peak. This is a plain description of a loop, chosen for its one
number; nothing in it knows how the film does it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

# A turn of the load has gone over to the other way within about this part of the peak.
_PASSAGE = 0.1
# Movements smaller than this are noise and turn nothing: part of the peak, and N.
_QUIET, _QUIET_N = 0.01, 0.5
# Below this part of the peak the load is gone, and so is what the film remembers of it.
_GONE = 0.05


class HysteresisMemory:
    """Takes the way down's excess out of readings, frame after frame; causal, no delay.

    Parameters
    ----------
    arch : float
        b of the module's text.
    shape : tuple of int
        Shape of a frame's forces.
    """

    def __init__(self, arch: float, shape: tuple[int, ...]) -> None:
        self._arch = arch
        self._peak = np.full(shape, 1e-3)
        self._followed = np.zeros(shape)
        self._excess = np.zeros(shape)

    def force_n(self, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Force without hysteresis.

        Parameters
        ----------
        reading_n : ndarray
            Forces by the curve of the way up, N. NaN stays NaN and changes nothing that is remembered.

        Returns
        -------
        ndarray, same shape
        """
        if self._arch == 0:
            return reading_n
        reading = np.where(np.isnan(reading_n), self._followed, reading_n)
        peak = np.maximum(self._peak, reading)
        gone = peak > reading / _GONE
        self._peak = np.where(gone, np.maximum(reading, 1e-3), peak)
        quiet = np.maximum(_QUIET_N, _QUIET * self._peak)
        followed = np.clip(self._followed, reading - quiet, reading + quiet)
        moved = followed - self._followed
        self._followed = followed
        most = self._arch * np.maximum(self._peak - reading, 0) * np.maximum(reading, 0) / self._peak
        kept = np.exp(-np.abs(moved) / (_PASSAGE * self._peak))
        goal = np.where(moved < 0, most, 0.0)
        self._excess = np.where(gone, 0.0, np.minimum(self._excess * kept + goal * (1.0 - kept), most))
        return reading_n - self._excess

    def forces_n(self, reading_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces without hysteresis of a block of frames: the same numbers as `force_n` for one after the other.

        Only what a frame needs of the one before it is done frame by frame, all the rest for the block. A block in
        which a cell comes and goes (NaN in some frames) is taken frame by frame.

        Parameters
        ----------
        reading_n : ndarray, shape (n, ...)

        Returns
        -------
        ndarray, same shape
        """
        if self._arch == 0 or not len(reading_n):
            return reading_n
        reading = reading_n
        if math.isnan(float(reading_n.sum())):
            unknown = np.isnan(reading_n)
            if (unknown.any(0) != unknown.all(0)).any():
                return np.stack([self.force_n(reading) for reading in reading_n])
            reading = np.where(unknown, self._followed, reading_n)
        peak, gone = self._peaks(reading)
        # From here on each array is filled again as soon as what it held has been used: they stay in the cache.
        quiet = _QUIET * peak
        np.maximum(quiet, _QUIET_N, out=quiet)
        low = reading - quiet
        followed = np.add(reading, quiet, out=quiet)
        maximum, minimum, multiply, add = np.maximum, np.minimum, np.multiply, np.add
        last = self._followed
        for now, least in zip(followed, low, strict=True):
            maximum(last, least, out=least)
            last = minimum(least, now, out=now)
        moved = low
        np.subtract(followed[0], self._followed, out=moved[0])
        np.subtract(followed[1:], followed[:-1], out=moved[1:])
        self._followed = followed[-1].copy()
        most = peak - reading
        maximum(most, 0, out=most)
        most *= self._arch
        most *= maximum(reading, 0, out=followed)
        most /= peak
        np.copyto(most, 0.0, where=gone)
        goal = np.where(moved < 0, most, 0.0)
        np.abs(moved, out=moved)
        moved /= _PASSAGE * peak
        np.negative(moved, out=moved)
        kept = np.exp(moved, out=moved)
        goal *= 1.0 - kept
        last = self._excess
        for keep, to, limit in zip(kept, goal, most, strict=True):
            multiply(last, keep, keep)
            add(keep, to, keep)
            last = minimum(keep, limit, out=keep)
        self._peak, self._excess = peak[-1].copy(), kept[-1].copy()
        return reading_n - kept

    def _peaks(self, reading: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """The peak that counts in each frame of a block, and where the load was gone."""
        peaks, gone = np.empty_like(reading), np.empty(reading.shape, bool)
        fresh = np.maximum(reading, 1e-3)
        last = self._peak
        # A peak above this is a load that has gone; one that is reached just now is none.
        most = reading / _GONE
        maximum, greater, copyto = np.maximum, np.greater, np.copyto
        for now, away, value, high, new in zip(peaks, gone, reading, most, fresh, strict=True):
            maximum(last, value, out=now)
            greater(now, high, out=away)
            copyto(now, new, where=away)
            last = now
        return peaks, gone
