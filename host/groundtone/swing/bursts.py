"""Keeps the last seconds on an even grid and says, 1.27 s after each burst of movement, what the evidence around it is.

The live form of `groundtone.swing.evidence`; review feeds it the frames of a recording, so both see the same.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from groundtone.swing.evidence import (
    AFTER_S,
    APART_S,
    BEFORE_S,
    LEAST_BURST,
    STEP_S,
    Evidence,
    burst,
    evidence_at,
)

# Frames missing for longer than this end what was known.
MISSING_S = 0.5
_KEPT = round((BEFORE_S + AFTER_S + 2.4) / STEP_S)
_BEFORE = 200  # samples that are taken to lie before the first frame
_SIDE = 2  # samples to either side that the smoothing takes in
_RISE = 12 + _SIDE  # samples after a moment until its burst can be told
_SHARE, _WEIGHT, _TOES, _SHARE_5, _WEIGHT_5, _BURST = range(6)


@dataclass(frozen=True)
class Seen:
    """A burst of movement: its middle, s of device time, and what was seen around it."""

    at_s: float
    evidence: Evidence


class Bursts:
    """Follows the frames of whoever stands there; empty again as soon as nobody does."""

    def __init__(self) -> None:
        self._rows = np.zeros((6, 2 * _KEPT))
        self.forget()

    def forget(self) -> None:
        """Nobody stands there any more, or nobody knows."""
        self._n = 0  # samples in the rows
        self._index = 0  # grid number of the sample after the last
        self._last: tuple[float, float, float, float] | None = None
        self._told_s = -math.inf
        self._five: deque[tuple[float, float]] = deque(maxlen=2 * _SIDE + 1)

    def add(self, t_s: float, share: float, weights: float, toes: float) -> Seen | None:
        """One frame with somebody on the mat.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        share : float
            Lead share, no NaN.
        weights : float
            Total vertical force in body weights; NaN (not known) counts as standing.
        toes : float
            Heel-toe position of the trail foot less that of the lead foot; NaN: as it last was.

        Returns
        -------
        Seen or None
            A burst whose evidence is complete with this frame.
        """
        last = self._last
        if math.isnan(weights):
            weights = 1.0
        if math.isnan(toes):
            toes = last[3] if last is not None else math.nan
        if last is None or t_s - last[0] > MISSING_S:
            self.forget()
            # Whoever is followed from here on has stood there before, as quietly as now for all that is known.
            first = math.ceil(t_s / STEP_S)
            self._index = first - _BEFORE
            while self._index < first:
                self._append(share, weights, toes)
                self._index += 1
            self._last = (t_s, share, weights, toes)
            return None
        seen = None
        while self._index * STEP_S <= t_s:
            part = (self._index * STEP_S - last[0]) / (t_s - last[0]) if t_s > last[0] else 1.0
            self._append(
                last[1] + part * (share - last[1]),
                last[2] + part * (weights - last[2]),
                last[3] + part * (toes - last[3]),
            )
            self._index += 1
            seen = self._look() or seen
        self._last = (t_s, share, weights, toes)
        return seen

    def around(self, at_s: float) -> Evidence | None:
        """The evidence around any moment, if there are frames enough before and after it."""
        i = self._sample(at_s)
        if i - round(BEFORE_S / STEP_S) < 0 or i + round(AFTER_S / STEP_S) > self._n - 1 - _SIDE:
            return None
        rows = self._rows[:, : self._n]
        return evidence_at(rows[_SHARE_5], rows[_WEIGHT_5], rows[_TOES], i)

    @property
    def newest_s(self) -> float:
        """Time of the last sample, s."""
        return (self._index - 1) * STEP_S

    def _sample(self, at_s: float) -> int:
        return self._n - (self._index - round(at_s / STEP_S))

    def _append(self, share: float, weights: float, toes: float) -> None:
        rows = self._rows
        if self._n == rows.shape[1]:
            rows[:, :_KEPT] = rows[:, _KEPT:]
            self._n = _KEPT
        n = self._n
        rows[_SHARE, n], rows[_WEIGHT, n], rows[_TOES, n] = share, weights, toes
        # Until its neighbours have come a sample stands for itself.
        rows[_SHARE_5, n], rows[_WEIGHT_5, n], rows[_BURST, n] = share, weights, 0.0
        self._n = n + 1
        self._five.append((share, weights))
        if len(self._five) == self._five.maxlen:
            # Plain sums: on five numbers an array's mean takes ten times as long.
            (s0, w0), (s1, w1), (s2, w2), (s3, w3), (s4, w4) = self._five
            rows[_SHARE_5, n - _SIDE] = (s0 + s1 + s2 + s3 + s4) / 5
            rows[_WEIGHT_5, n - _SIDE] = (w0 + w1 + w2 + w3 + w4) / 5
        i = n - _RISE
        if i >= 50:
            rows[_BURST, i] = burst(rows[_SHARE_5, : n - _SIDE + 1], rows[_WEIGHT_5, : n - _SIDE + 1], i)

    def _look(self) -> Seen | None:
        """The burst 1.27 s ago, if there was one and no greater one beside it."""
        i = self._n - 1 - _SIDE - round(AFTER_S / STEP_S)
        reach = round(APART_S / STEP_S)
        if i < round(BEFORE_S / STEP_S):
            return None
        size = self._rows[_BURST, i]
        if size < LEAST_BURST or size < self._rows[_BURST, i - reach : i + reach + 1].max():
            return None
        at_s = (self._index - 1 - _SIDE - round(AFTER_S / STEP_S)) * STEP_S
        if at_s - self._told_s < APART_S:
            return None
        self._told_s = at_s
        rows = self._rows[:, : self._n]
        return Seen(at_s, evidence_at(rows[_SHARE_5], rows[_WEIGHT_5], rows[_TOES], i))
