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
    LEAST_S,
    PUSH_NOISE,
    PUSH_S,
    PUSH_UNIT,
    RISE_S,
    RISE_UNIT,
    STEP_S,
    Evidence,
    evidence_at,
)

# Frames missing for longer than this end what was known.
MISSING_S = 0.5
_KEPT = round((BEFORE_S + AFTER_S + 2.4) / STEP_S)
_BEFORE = 200  # samples that are taken to lie before the first frame
_SIDE = 2  # samples to either side that the smoothing takes in
_RISE_N, _PUSH_N, _LEAST_N = round(RISE_S / STEP_S), round(PUSH_S / STEP_S), round(LEAST_S / STEP_S)
_RISE = _RISE_N + _SIDE  # samples after a moment until its burst can be told
_LOOK_N, _AFTER_N, _REACH_N = round(BEFORE_S / STEP_S), round(AFTER_S / STEP_S), round(APART_S / STEP_S)


@dataclass(frozen=True)
class Seen:
    """A burst of movement: its middle, s of device time, and what was seen around it."""

    at_s: float
    evidence: Evidence


class _Sizes:
    """How much of a burst of movement each sample is in the middle of, about 1 for an ordinary swing's.

    Most and least of a stretch are followed: what a greater one has come after is never the most again.
    """

    def __init__(self) -> None:
        self._n = 0
        self._shares: deque[float] = deque(maxlen=2 * _RISE_N + 1)
        self._weights: deque[float] = deque(maxlen=_RISE_N + 1)
        self._most: deque[tuple[int, float]] = deque()
        self._least: deque[tuple[int, float]] = deque()

    def add(self, share: float, weights: float) -> float:
        """One sample, smoothed; the size of the burst `_RISE_N` samples before it, 0 until enough is known."""
        n = self._n
        self._n = n + 1
        self._shares.append(share)
        self._weights.append(weights)
        ahead = n - _RISE_N + _PUSH_N
        if ahead < 0:
            return 0.0
        most, least = self._most, self._least
        value = self._weights[_PUSH_N - _RISE_N - 1]
        while most and most[-1][1] <= value:
            most.pop()
        most.append((ahead, value))
        if most[0][0] < ahead - 2 * _PUSH_N:
            most.popleft()
        at = n - _RISE_N
        if at < 0:
            return 0.0
        value = self._weights[0]
        while least and least[-1][1] >= value:
            least.pop()
        least.append((at, value))
        if least[0][0] < at - _LEAST_N:
            least.popleft()
        if at < _LEAST_N:
            return 0.0
        rise, push = self._shares[-1] - self._shares[0], most[0][1] - least[0][1]
        return max(rise, 0.0) / RISE_UNIT + max(push - PUSH_NOISE, 0.0) / PUSH_UNIT


class Bursts:
    """Follows the frames of whoever stands there; empty again as soon as nobody does."""

    def __init__(self) -> None:
        self._rows = np.zeros((4, 2 * _KEPT))
        self._share, self._weight, self._toes, self._burst = self._rows
        self.forget()

    def forget(self) -> None:
        """Nobody stands there any more, or nobody knows."""
        self._n = 0  # samples in the rows
        self._index = 0  # grid number of the sample after the last
        self._last: tuple[float, float, float, float] | None = None
        self._told_s = -math.inf
        self._five: deque[tuple[float, float]] = deque(maxlen=2 * _SIDE + 1)
        self._sizes = _Sizes()

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
        if i - _LOOK_N < 0 or i + _AFTER_N > self._n - 1 - _SIDE:
            return None
        return self._evidence(i)

    @property
    def newest_s(self) -> float:
        """Time of the last sample, s."""
        return (self._index - 1) * STEP_S

    def _sample(self, at_s: float) -> int:
        return self._n - (self._index - round(at_s / STEP_S))

    def _append(self, share: float, weights: float, toes: float) -> None:
        if self._n == self._rows.shape[1]:
            self._rows[:, :_KEPT] = self._rows[:, _KEPT:]
            self._n = _KEPT
        n = self._n
        # Until its neighbours have come a sample stands for itself.
        self._share[n], self._weight[n], self._toes[n], self._burst[n] = share, weights, toes, 0.0
        self._n = n + 1
        five = self._five
        five.append((share, weights))
        if len(five) < 2 * _SIDE + 1:
            if len(five) <= _SIDE:
                self._sizes.add(share, weights)
            return
        # Plain sums: on five numbers an array's mean takes ten times as long.
        (s0, w0), (s1, w1), (s2, w2), (s3, w3), (s4, w4) = five
        share, weights = (s0 + s1 + s2 + s3 + s4) / 5, (w0 + w1 + w2 + w3 + w4) / 5
        self._share[n - _SIDE], self._weight[n - _SIDE] = share, weights
        size = self._sizes.add(share, weights)
        if n >= _RISE:
            self._burst[n - _RISE] = size

    def _look(self) -> Seen | None:
        """The burst 1.27 s ago, if there was one and no greater one beside it."""
        i = self._n - 1 - _SIDE - _AFTER_N
        if i < _LOOK_N:
            return None
        size = float(self._burst[i])
        if size < LEAST_BURST or size < self._burst[i - _REACH_N : i + _REACH_N + 1].max():
            return None
        at_s = (self._index - 1 - _SIDE - _AFTER_N) * STEP_S
        if at_s - self._told_s < APART_S:
            return None
        self._told_s = at_s
        return Seen(at_s, self._evidence(i))

    def _evidence(self, i: int) -> Evidence:
        n = self._n
        return evidence_at(self._share[:n], self._weight[:n], self._toes[:n], i)
