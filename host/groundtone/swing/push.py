"""The push of a swing: the vertical force since the downswing began, and when it was greatest."""

from __future__ import annotations

import math

from groundtone.swing.definition import FORCE_SWING

PEAK_FALL = 0.04  # of the body's weight, from the force's peak


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
