"""The last moments of a value that is followed frame by frame: by time, the newest at the end."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator

from groundtone.swing.definition import DRIFT_SHARE

# So many moments that are past are kept before they are thrown away together.
_PAST = 1024


class Recent:
    """Moments (s, value) in order; a stretch of them costs no loop, which counts at two hundred frames a second."""

    def __init__(self) -> None:
        self._t_s: list[float] = []
        self._values: list[float] = []
        self._begin = 0

    def append(self, t_s: float, value: float) -> None:
        """Takes the newest moment, which is no earlier than the one before it."""
        self._t_s.append(t_s)
        self._values.append(value)

    def forget_before(self, t_s: float) -> None:
        """Moments before this one are past."""
        times, begin = self._t_s, self._begin
        while begin < len(times) and times[begin] < t_s:
            begin += 1
        self._begin = begin
        if begin > _PAST:
            del times[:begin], self._values[:begin]
            self._begin = 0

    def clear(self, *, but_the_last: bool = False) -> None:
        """Begins anew, or with the newest moment alone."""
        keep = slice(-1, None) if but_the_last and len(self) else slice(0, 0)
        self._t_s, self._values, self._begin = self._t_s[keep], self._values[keep], 0

    def since(self, t_s: float) -> list[float]:
        """The values from a moment on."""
        return self._values[bisect_left(self._t_s, t_s, self._begin) :]

    def backwards(self) -> Iterator[tuple[float, float]]:
        """All moments, the newest first."""
        for i in range(len(self._t_s) - 1, self._begin - 1, -1):
            yield self._t_s[i], self._values[i]

    def last_above(self, value: float, before_s: float) -> float:
        """When it was last this or more, before a moment, s; long ago where nothing is known of it."""
        return next((at for at, had in self.backwards() if at < before_s and had >= value), -math.inf)

    @property
    def first_s(self) -> float:
        """When the earliest one was."""
        return self._t_s[self._begin]

    def __len__(self) -> int:
        return len(self._t_s) - self._begin


def drifts(window: list[float]) -> bool:
    """The share goes one way all through a window, more than standing still does."""
    third = len(window) // 3
    early, late = sorted(window[:third]), sorted(window[-third:])
    return third > 0 and abs(late[third // 2] - early[third // 2]) > DRIFT_SHARE


def within(value: float, span: tuple[float, float]) -> bool:
    """Inside a span, its ends included."""
    return span[0] <= value <= span[1]
