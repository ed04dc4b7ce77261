"""The push of a swing: the vertical force since the downswing began, when it was greatest, and how long it is held."""

from __future__ import annotations

import math

from groundtone.swing.definition import FORCE_SWING, SLOW_SHARE, SLOW_TOES

PEAK_FALL = 0.04  # of the body's weight, from the force's peak
HELD_SHARE = 0.06  # a finish is held while the share stays this near to where it was


class Push:
    """The vertical force since the turn, in body weights: its least, its peak and when that was."""

    def __init__(self, weights: float) -> None:
        self.least = self.most = weights
        self._at_s = math.nan
        self._told = False

    @property
    def range(self) -> float:
        """From the least to the peak after it."""
        return self.most - self.least

    def untell(self) -> None:
        """What was told so far is told again when the next frame agrees: nobody has listened yet."""
        self._told = False

    def step(self, t_s: float, weights: float) -> float | None:
        """One frame; the peak's time in the frame in which it is clear that it was one, and a swing's."""
        if math.isnan(weights):
            return None
        if weights < self.least and self.range < FORCE_SWING / 2:
            self.least = self.most = weights
        if weights > self.most:
            self.most, self._at_s, self._told = weights, t_s, False
        if not self._told and self.range >= FORCE_SWING and weights < self.most - PEAK_FALL:
            self._told = True
            return self._at_s
        return None


class Held:
    """How long a finish on the lead side is held, the trail foot on its toes: the longest so far, s."""

    def __init__(self, t_s: float = math.nan, share: float = math.inf) -> None:
        self.most_s = self._now_s = 0.0
        self._at, self._newest_s = share, t_s

    def step(self, t_s: float, share: float, toes: float) -> None:
        """One frame; `toes` as `SwingTracker.step` has it."""
        if abs(share - self._at) > HELD_SHARE:
            self._at, self._now_s = share, 0.0
        elif share >= SLOW_SHARE - 0.05 and toes >= SLOW_TOES:
            self._now_s += t_s - self._newest_s
        self.most_s, self._newest_s = max(self.most_s, self._now_s), t_s
