"""Who stands still: postures in which a body presses with its weight alone, gathered frame after frame.

A body that speeds up or slows down presses with more or less than its weight. It shows as a total that changes fast or
trembles: such frames are left out and counted. (The readings' own noise is no trembling: it turns about from frame to
frame, as no body can, and is taken off.) What remains is sorted by posture (share of the feet, place along each),
so that a minute of standing in one posture weighs no more than a second of each of many.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Key = tuple[int, ...]

# A total is steady over this long when it changes by less than this part of itself a second, and trembles about its
# straight line by less than this part. A rock of five seconds over shoes that press by 15 % differently at heel and
# toes changes by up to 10 % a second without any bounce.
_WINDOW_S, _SLOPE, _TREMBLE = 0.3, 0.15, 0.006
# On a film of which neither level nor exponent is known, the total goes with the posture too: by a third of itself a
# second when somebody rocks, and no straight line any longer.
_UNKNOWN_SLOPE, _UNKNOWN_TREMBLE = 0.3, 0.01
# A slope that is not this many standard deviations beyond the noise is none.
_SLOPE_SURE = 2.0
# So much more than its mean the square of a window's noise may be: of a dozen frames it scatters by a third.
_SCATTERS = 1.6
# How quickly the size of the noise is learnt: weight of a frame; and the most of a total that is taken for noise.
_LEARN, _MOST_NOISE = 0.02, 0.25
# Below this nobody stands there, N.
NOBODY_N = 60.0
# Widths of a posture: lead share, part of a panel's length, part of its width.
_SHARE, _PLACE, _ACROSS = 0.1, 0.08, 0.06
# A foot with less than this part of the total has no place that counts.
_FREE = 0.08
# A posture counts from this many frames on.
_FRAMES = 4
# Relative standard uncertainty of a posture's total: what creep and hysteresis leave, and the noise of one frame.
_LEFT_U, _FRAME_U = 0.005, 0.02


@dataclass(frozen=True)
class Postures:
    """What was gathered.

    Attributes
    ----------
    force_n : ndarray, shape (postures, rows, columns)
        Mean forces, N.
    frames : ndarray, shape (postures,)
    u : ndarray, shape (postures,)
        Relative standard uncertainty of each total.
    moving, still : int
        Frames that were left out because the body was moving, and frames that count.
    seconds : float
        Time from the first frame with somebody on the mat to the last.
    """

    force_n: Array
    frames: NDArray[np.int64]
    u: Array
    moving: int
    still: int
    seconds: float


class _Recent:
    """The total over the last moments, and the straight line through it: sums that follow the frames."""

    def __init__(self, unknown: bool = False) -> None:
        self._slope, self._tremble = (_UNKNOWN_SLOPE, _UNKNOWN_TREMBLE) if unknown else (_SLOPE, _TREMBLE)
        self._frames: deque[tuple[float, float]] = deque()
        self._from: tuple[float, float] | None = None
        self._sums = [0.0] * 5
        self._last = (0.0, 0.0)
        self._noise, self._seen = 0.0, 0

    def steady(self, t_s: float, total_n: float) -> bool:
        """Takes a frame in; whether the total has been steady over the whole window."""
        if self._from is None:
            self._from = (t_s, total_n)
        # Counted from the first frame, so that the sums of squares keep their digits.
        now = (t_s - self._from[0], total_n - self._from[1])
        self._frames.append(now)
        self._count(now, 1.0)
        self._listen(now[1], total_n)
        while now[0] - self._frames[0][0] > _WINDOW_S:
            self._count(self._frames.popleft(), -1.0)
        count = len(self._frames)
        if count < 5 or now[0] - self._frames[0][0] < 0.8 * _WINDOW_S:
            return False
        st, sf, stt, stf, sff = self._sums
        mean = sf / count
        spread = stt - st * st / count
        slope = (stf - st * mean) / spread
        rest = sff - sf * mean - slope * (stf - st * mean)
        size = mean + self._from[1]
        flat = slope**2 < (self._slope * size) ** 2 + _SLOPE_SURE**2 * self._noise / spread
        return flat and rest < count * ((self._tremble * size) ** 2 + _SCATTERS * self._noise)

    def _listen(self, now: float, total_n: float) -> None:
        """Learns the variance of one frame's noise: a sixth of the mean square of its second differences."""
        before, last = self._last
        self._last = (last, now)
        self._seen += 1
        if self._seen > 2:
            square = min((now - 2 * last + before) ** 2 / 6, (_MOST_NOISE * total_n) ** 2)
            self._noise += max(_LEARN, 1 / (self._seen - 2)) * (square - self._noise)

    def _count(self, frame: tuple[float, float], sign: float) -> None:
        t, f = frame
        sums = self._sums
        sums[0] += sign * t
        sums[1] += sign * f
        sums[2] += sign * (t * t)
        sums[3] += sign * (t * f)
        sums[4] += sign * (f * f)


class SteadyFrames:
    """Gathers postures; causal, no delay. One person from step-on to step-off.

    Parameters
    ----------
    across : bool
        Tell postures apart by the place across each foot too: many more of them, to see each cell by itself.
    unknown : bool
        Nothing is known of the film: its total changes with the posture, and only a bounce tells who moves.
    """

    def __init__(self, rows: int, columns: int, *, across: bool = False, unknown: bool = False) -> None:
        self._unknown = unknown
        # By the typical curve a film that conducts little makes a child of 25 kg as light as this.
        self._nobody_n = NOBODY_N / 4 if unknown else NOBODY_N
        self._rows, self._columns = rows, columns
        self._place = (np.arange(rows) + 0.5) / rows
        half = columns // 2
        self._beside = (np.arange(half) + 0.5) / half if across else None
        self.forget()

    def forget(self) -> None:
        """Begins anew."""
        self._recent = _Recent(self._unknown)
        self._sums: dict[Key, Array] = {}
        self._counts: dict[Key, int] = {}
        self._first_s, self._last_s = math.nan, math.nan
        self.moving, self.still = 0, 0

    def add(self, t_s: float, force_n: Array) -> bool:
        """Takes one frame in; True where the body stands still in it.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        force_n : ndarray, shape (rows, columns)
            N; NaN counts as nothing.
        """
        if not np.isfinite(force_n).all():
            force_n = np.nan_to_num(force_n)
        half = self._columns // 2
        by_foot = force_n.reshape(self._rows, 2, half).sum(2)
        left, right = by_foot.sum(0).tolist()
        return self._take(t_s, force_n, left, right, by_foot)

    def add_all(self, t_s: Array, force_n: Array) -> None:
        """The same for frames one after the other, shapes (n,) and (n, rows, columns)."""
        force_n = np.nan_to_num(force_n)
        by_foot = force_n.reshape(len(t_s), self._rows, 2, -1).sum(3)
        feet = by_foot.sum(1).tolist()
        for t, force, (left, right), rows in zip(t_s.tolist(), force_n, feet, by_foot, strict=True):
            self._take(t, force, left, right, rows)

    def _take(self, t_s: float, force_n: Array, left: float, right: float, by_foot: Array) -> bool:
        total = left + right
        if total < self._nobody_n:
            self._recent = _Recent(self._unknown)
            return False
        if math.isnan(self._first_s):
            self._first_s = t_s
        self._last_s = t_s
        if not self._recent.steady(t_s, total):
            self.moving += 1
            return False
        self.still += 1
        moment = (self._place @ by_foot).tolist()
        key: Key = (
            round(left / total / _SHARE),
            round(moment[0] / left / _PLACE) if left > _FREE * total else -1,
            round(moment[1] / right / _PLACE) if right > _FREE * total else -1,
        )
        if self._beside is not None:
            sideways = (force_n.reshape(self._rows, 2, -1).sum(0) @ self._beside).tolist()
            for moment_n, carried in zip(sideways, (left, right), strict=True):
                key += (round(moment_n / carried / _ACROSS) if carried > _FREE * total else -1,)
        if key in self._sums:
            self._sums[key] += force_n
            self._counts[key] += 1
        else:
            self._sums[key] = force_n.copy()
            self._counts[key] = 1
        return True

    def postures(self) -> Postures:
        """What has been gathered so far."""
        keys = [key for key, count in self._counts.items() if count >= _FRAMES]
        counts = np.array([self._counts[key] for key in keys], dtype=np.int64)
        shape = (len(keys), self._rows, self._columns)
        force = np.stack([self._sums[key] for key in keys]) / counts[:, None, None] if keys else np.zeros(shape)
        u = np.sqrt(_LEFT_U**2 + _FRAME_U**2 / np.maximum(counts, 1))
        return Postures(force, counts, u, self.moving, self.still, _span(self._first_s, self._last_s))


def _span(first_s: float, last_s: float) -> float:
    return 0.0 if math.isnan(first_s) else last_s - first_s
