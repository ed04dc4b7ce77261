"""The mat's clock on the host: unwrapped, carried over gaps, set against host time; and how many frames come by it."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise

from groundtone.link.base import Stamped

_WRAP = 1 << 32
APART_US = 10_000_000
"""The mat's clock is believed as long as it agrees with the host's to within this. A frame may come late by seconds."""
LEAST_STEP_US = 1000
"""What stands for a step of the mat's clock that cannot be believed where the host's tells nothing either, µs."""

# One point is kept of each so many seconds, and so many of them: the quickest message of each.
_BUCKET_S = 1.0
_BUCKETS = 120
# A slope needs a stretch of this length: before that a late minute's start would pass for drift.
_STRETCH_S = 10.0
# A message cannot come this much before the quickest: the host's clock, or the mat's, has jumped.
_IMPOSSIBLE_S = 0.5


def carried_us(before_us: int, t_us: int, host_s: float) -> int:
    """How far device time goes on from one frame to the next, µs; more than 0, whatever happened in between.

    The step of the mat's own counter where that can be believed, else the host's: the mat was switched off, or a bit
    was flipped. A recording is read by the same rule (see `groundtone.record.frames`).

    Parameters
    ----------
    before_us, t_us : int
        The mat's counter at both frames, which wraps at 2**32.
    host_s : float
        Host time between their arrivals, s.
    """
    half = _WRAP // 2
    step = (t_us - before_us + half) % _WRAP - half
    host_us = math.floor(host_s * 1e6)
    if step <= 0 or (abs(step - host_us) > APART_US and step > APART_US):
        return min(max(host_us, LEAST_STEP_US), half)
    return step


@dataclass
class DeviceClock:
    """Unwraps the mat's 32-bit microseconds and fits their offset and drift to host time.

    A message can only be late, so the fit is the line below all points of arrival minus device time that lies closest
    to them: the edge of their lower convex hull under the middle of the last two minutes. Until ten seconds have
    passed it has no slope.

    Parameters
    ----------
    most_drift : float
        Largest slope that is believed; two poor quartzes differ by 100 parts in a million.
    """

    most_drift: float = 200e-6
    _last: int | None = None
    _turns: int = 0
    _base_s: float = 0.0
    _points: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=_BUCKETS))
    _bucket: tuple[float, float] | None = None
    _at_s: float = 0.0
    _low_s: float = 0.0
    _drift: float = 0.0

    def unwrap(self, t_us: int) -> int:
        """Device time that does not wrap, µs. Steps of up to half a wrap either way (35 min) are understood."""
        if self._last is not None:
            step = (t_us - self._last + _WRAP // 2) % _WRAP - _WRAP // 2
            if self._last + step >= _WRAP:
                self._turns += 1
            elif self._last + step < 0:
                self._turns -= 1
        self._last = t_us
        return self._turns * _WRAP + t_us

    @property
    def drift(self) -> float:
        """How much faster the host's clock runs than the mat's, as a fraction."""
        return self._drift

    def host_s(self, device_us: int) -> float:
        """Host time at which the quickest message of that device time would arrive, s; NaN before the first one."""
        if self._bucket is None:
            return math.nan
        device_s = device_us * 1e-6
        return self._base_s + device_s + self._line(device_s)

    def arrived(self, device_us: int, host_s: float) -> float:
        """Age of a frame in seconds: how much later than the quickest message it came, drift taken out.

        Parameters
        ----------
        device_us : int
            Unwrapped device time of the frame.
        host_s : float
            Host time of its arrival, s.
        """
        device_s = device_us * 1e-6
        if self._bucket is None:
            self._begin(device_s, host_s)
        late = host_s - device_s - self._base_s
        age = late - self._line(device_s)
        if age < -_IMPOSSIBLE_S:
            self._begin(device_s, host_s)
            return 0.0
        if age < 0.0:
            # Quicker than any before: the line goes down at once, its slope follows with the next bucket.
            self._low_s += age
        self._keep(device_s, late)
        return max(age, 0.0)

    def _begin(self, device_s: float, host_s: float) -> None:
        self._base_s = host_s - device_s
        self._points.clear()
        self._bucket = (device_s, 0.0)
        self._at_s, self._low_s, self._drift = device_s, 0.0, 0.0

    def _line(self, device_s: float) -> float:
        return self._low_s + self._drift * (device_s - self._at_s)

    def _keep(self, device_s: float, late: float) -> None:
        assert self._bucket is not None
        if device_s // _BUCKET_S == self._bucket[0] // _BUCKET_S:
            if late < self._bucket[1]:
                self._bucket = (device_s, late)
            return
        self._points.append(self._bucket)
        self._bucket = (device_s, late)
        self._fit()

    def _fit(self) -> None:
        points = self._points
        if points[-1][0] - points[0][0] < _STRETCH_S:
            self._drift = 0.0
        else:
            slope = _slope_below(list(points))
            self._drift = min(max(slope, -self.most_drift), self.most_drift)
        self._at_s = points[-1][0]
        self._low_s = min(late - self._drift * (at - self._at_s) for at, late in points)


def _slope_below(points: list[tuple[float, float]]) -> float:
    """Slope of the lower hull's edge under the middle of the points' time; times rise."""
    hull: list[tuple[float, float]] = []
    for point in points:
        while len(hull) >= 2 and _turns_down(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    middle = (points[0][0] + points[-1][0]) / 2
    for (x0, y0), (x1, y1) in pairwise(hull):
        if x1 >= middle:
            return (y1 - y0) / (x1 - x0)
    return 0.0


def _turns_down(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Does b lie on or above the line from a to c?"""
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


LEAST_HZ = 50.0
"""Fewer frames a second than this are recorded, and no cue follows them."""

# So many seconds of frames are averaged, and the rate must be clearly over the edge: no flutter between two words.
_OVER_S = 1.0
_CLEAR = 0.1
# A pause is no rate.
_PAUSE_S = 0.5
# Frames this late, for this long: what is heard is no longer what happens.
_LATE_S, _LATE_FOR_S = 0.1, 0.5


class RateWatch:
    """Counts frames against the mat's own clock.

    Parameters
    ----------
    by_radio : bool
        They come by radio, which distance slows down; on a cable a busy computer alone makes frames few.

    Attributes
    ----------
    hz : float
        Frames a second over the last second; 0 before it has passed.
    too_slow : bool
        Cues are to be silent.
    """

    def __init__(self, *, by_radio: bool = False) -> None:
        self._remedy = (
            "come closer or use the cable" if by_radio else "the computer is too busy for more: close other programs"
        )
        self.hz = 0.0
        self.too_slow = False
        self._last_us: int | None = None
        self._over_s = 0.0
        self._frames = 0.0

    def sentence_at(self, item: Stamped) -> str | None:
        """One frame; a sentence when it has become too slow, or is quick enough again."""
        last_us, self._last_us = self._last_us, item.device_us
        if last_us is None:
            return None
        passed_s = (item.device_us - last_us) * 1e-6
        if passed_s <= 0.0 or passed_s > _PAUSE_S:
            return None
        # What comes is what counts: a frame that was skipped tells nothing.
        self._over_s += passed_s
        self._frames += 1.0
        if self._over_s < _OVER_S:
            return None
        self.hz = self._frames / self._over_s
        self._over_s = self._frames = 0.0
        if not self.too_slow and self.hz < LEAST_HZ * (1.0 - _CLEAR):
            self.too_slow = True
            return (
                f"Only {self.hz:.0f} frames a second come, and below {LEAST_HZ:.0f} no cue sounds: {self._remedy}. "
                "The recording goes on."
            )
        if self.too_slow and self.hz >= LEAST_HZ * (1.0 - _CLEAR / 2):
            self.too_slow = False
            return f"{self.hz:.0f} frames a second come: the cues sound again."
        return None


class LateWatch:
    """Notices, once, that frames come late and go on doing so."""

    def __init__(self) -> None:
        self._since_us: int | None = None
        self._said = False

    def sentence_at(self, item: Stamped) -> str | None:
        """A sentence with the frame at which it is due."""
        if item.age_s <= _LATE_S:
            self._since_us = None
            return None
        if self._since_us is None:
            self._since_us = item.device_us
        if self._said or item.device_us - self._since_us < _LATE_FOR_S * 1e6:
            return None
        self._said = True
        return f"Frames come {item.age_s:.1f} s late: close other programs, or choose a lower frame rate."
