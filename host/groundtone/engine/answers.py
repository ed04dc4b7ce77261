"""Answers with the foot: after a swing's tick the golfer taps once, and the pressure itself tells with what.

Toe of the lead foot: a strike towards the toe. Heel of the lead foot: towards the heel. Trail foot, whole or heel:
heavy. Toe of the trail foot: thin. Two quick taps of the lead foot, wherever: a good strike. A tap with the other foot
takes the answer back. Nothing: not told.

A tap is a foot, or one end of it, that is in the air, touches for a moment and is in the air again, while the other
foot carries the body. Whoever sets a foot down, shifts, waggles, walks off or wavers in the finish does not lift it
again at once, or has weight on that end before. Where it touched is the centre of what the touch added, so a heel that
rests on the mat while the toe taps does not count. Causal: an answer is told `SURE_S` after the foot has left again.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout
from groundtone.pressure.footprint import Footprint

UNDO, GOOD = "undo", "good"
# Two taps of the lead foot belong together when the second is told no later than this after the first, s.
PAIR_S = 1.2
# So long after the tick an answer counts, and so long after an answer it can be taken back, s.
WINDOW_S, UNDO_S = 12.0, 8.0
# The foot is in the air this long before the touch, and this long after it, s.
AIR_S, SURE_S = 0.06, 0.12
# A touch is no shorter (a graze) and no longer (the foot is set down), s.
TOUCH_S = (0.025, 0.5)
# All in body weights: a touch begins with this much more, and is a tap from this on and up to that.
BEGIN, LEAST, MOST = 0.015, 0.025, 0.5
# The foot carries no more than this before, and the end that taps no more than that; the other foot carries the body.
REST, END, STANDS = 0.27, 0.05, 0.45
TOTAL = (0.8, 1.25)
# And in N, for the smallest golfers: below, the film says nothing.
BEGIN_N, LEAST_N, END_N = 6.0, 9.0, 8.0
# Where a touch counts as one of the toe, of the heel, part of the print; between them, as one of the whole foot.
TOE_FROM, HEEL_TO = 0.64, 0.34
# The trail foot's whole and heel say the same, so its toe has to be beyond doubt.
THIN_FROM = 0.67
_BEFORE_S = 0.25


@dataclass(frozen=True)
class _Load:
    """One foot in one frame: its force N, that times its position, and the forces of its heel's and its toe's half."""

    t_s: float
    force: float
    moment: float
    heel: float
    toe: float


class AnswerReader:
    """Reads answers; to be fed once a frame.

    Parameters
    ----------
    lead : int
        LEFT or RIGHT.
    """

    def __init__(self, layout: Layout, lead: int) -> None:
        self._layout = layout
        self._lead = lead
        self._answered: tuple[float, int] | None = None
        self._tapped_s = -math.inf
        self._until_s = -math.inf
        self._weights: NDArray[np.float64] = np.zeros((2, 4, layout.rows))
        self._feet = (_Foot(1.0), _Foot(1.0))
        self._body_n = math.nan

    @property
    def waits(self) -> bool:
        """An answer, or its taking back, is waited for."""
        return self._until_s > -math.inf

    @property
    def tapping(self) -> bool:
        """An end of a foot that was in the air touches just now, or has just left: what moves now is no swing."""
        return self.waits and any(foot.touches for foot in self._feet)

    def open(self, t_s: float, prints: tuple[Footprint | None, Footprint | None], weight_n: float) -> None:
        """A swing has ended: from now on the golfer may answer.

        Parameters
        ----------
        t_s : float
            Device time, s.
        prints : two of Footprint or None
            Left and right foot; without both, or without a weight, nothing is waited for.
        weight_n : float
            The golfer's weight as the mat reads it, N.
        """
        self.close()
        left, right = prints
        if left is None or right is None or not weight_n > 0:
            return
        for panel, mark in enumerate((left, right)):
            place = np.array([mark.position(u) for u in self._layout.u_mm.tolist()])
            self._weights[panel] = np.stack([np.ones_like(place), place, place < 0.5, place >= 0.5])
        self._body_n = weight_n
        self._feet = (_Foot(weight_n), _Foot(weight_n))
        self._until_s = t_s + WINDOW_S

    def close(self) -> None:
        """The next swing has begun, or nobody is there: no answer is waited for any more."""
        self._until_s = self._tapped_s = -math.inf
        self._answered = None

    def look(self, t_s: float, force_n: NDArray[np.float64]) -> str | None:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        force_n : ndarray, shape (rows, columns)
            Forces on the soles, N.

        Returns
        -------
        str or None
            "toe", "heel", "fat", "thin", `GOOD` or `UNDO` in the one frame in which it is beyond doubt.
        """
        if not self.waits:
            return None
        if t_s > self._until_s:
            self.close()
            return None
        rows = self._layout.by_panel(force_n).sum(-1)
        loads = [_Load(t_s, *(self._weights[panel] @ rows[panel]).tolist()) for panel in (0, 1)]
        stands = TOTAL[0] <= (loads[0].force + loads[1].force) / self._body_n <= TOTAL[1]
        told = None
        for panel in (0, 1):
            other = loads[1 - panel].force >= STANDS * self._body_n
            place = self._feet[panel].step(loads[panel], alone=stands and other)
            if place is not None and told is None:
                told = self._told(t_s, panel, place)
        return told

    def _told(self, t_s: float, panel: int, place: float) -> str | None:
        if panel == self._lead:
            again = t_s - self._tapped_s <= PAIR_S
            # A third tap belongs to nothing.
            self._tapped_s = -math.inf if again else t_s
            if again and (self._answered is None or self._answered[1] == panel):
                self._answered, self._until_s = (t_s, panel), t_s + UNDO_S
                return GOOD
        if self._answered is not None:
            _, foot = self._answered
            if panel == foot:
                return None
            self._answered, self._until_s = None, t_s + WINDOW_S
            return UNDO
        answer = self._meant(panel, place)
        if answer is not None:
            self._answered, self._until_s = (t_s, panel), t_s + UNDO_S
        return answer

    def _meant(self, panel: int, place: float) -> str | None:
        if panel != self._lead:
            return "thin" if place >= THIN_FROM else "fat"
        if place >= TOE_FROM:
            return "toe"
        return "heel" if place <= HEEL_TO else None


class _Foot:
    """Looks for taps of one foot."""

    def __init__(self, body_n: float) -> None:
        self._body_n = body_n
        self._begin_n = max(BEGIN * body_n, BEGIN_N)
        self._least_n = max(LEAST * body_n, LEAST_N)
        self._end_n = max(END * body_n, END_N)
        self._air: deque[_Load] = deque()
        self._touch: list[_Load] = []
        self._before: _Load | None = None
        self._left_s: float | None = None

    @property
    def touches(self) -> bool:
        """A touch is under way, or has just ended."""
        return self._before is not None

    def step(self, load: _Load, *, alone: bool) -> float | None:
        """One frame; the place of the touch on the print in the frame in which it is one beyond doubt.

        `alone`: the other foot carries the body, and nothing but a body stands there.
        """
        if not alone or not load.force <= REST * self._body_n + MOST * self._body_n:
            self._forget()
            return None
        if self._before is None:
            self._in_air(load)
            return None
        return self._touching(load, self._before)

    def _forget(self) -> None:
        self._air.clear()
        self._touch.clear()
        self._before = self._left_s = None

    def _in_air(self, load: _Load) -> None:
        air = self._air
        while air and air[0].t_s < load.t_s - _BEFORE_S:
            air.popleft()
        floor = min((each.force for each in air), default=math.inf)
        if air and load.force > floor + self._begin_n:
            still = [each for each in air if each.force <= floor + 0.5 * self._begin_n]
            before = _mean(still)
            in_air = min(before.heel, before.toe) <= self._end_n and floor <= REST * self._body_n
            if in_air and still[-1].t_s - still[0].t_s >= AIR_S:
                self._before, self._touch = before, [load]
                return
        air.append(load)

    def _touching(self, load: _Load, before: _Load) -> float | None:
        peak = max((each.force for each in self._touch), default=load.force) - before.force
        added = load.force - before.force
        began_s = self._touch[0].t_s
        if self._left_s is None:
            self._touch.append(load)
            if load.t_s - began_s > TOUCH_S[1] or added > MOST * self._body_n:
                # It is set down.
                self._forget()
            elif added < 0.4 * peak:
                self._left_s = load.t_s
            return None
        if added > 0.5 * peak:
            # It bounced: one touch still.
            self._left_s = None
            self._touch.append(load)
            return None
        if load.t_s - self._left_s < SURE_S:
            return None
        place = self._judged(before, self._left_s - began_s, peak)
        self._forget()
        self._air.append(load)
        return place

    def _judged(self, before: _Load, seconds: float, peak: float) -> float | None:
        if not (TOUCH_S[0] <= seconds and self._least_n <= peak):
            return None
        strong = [each for each in self._touch if each.force - before.force >= 0.6 * peak]
        top = _mean(strong)
        place = (top.moment - before.moment) / (top.force - before.force)
        # What taps was in the air; with the whole foot, all of it was.
        if place >= TOE_FROM:
            loaded = before.toe
        elif place <= HEEL_TO:
            loaded = before.heel
        else:
            loaded = before.force
        return place if loaded <= self._end_n else None


def _mean(loads: list[_Load]) -> _Load:
    n = len(loads)
    return _Load(
        loads[0].t_s,
        sum(each.force for each in loads) / n,
        sum(each.moment for each in loads) / n,
        sum(each.heel for each in loads) / n,
        sum(each.toe for each in loads) / n,
    )
