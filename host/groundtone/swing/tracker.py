"""Finds swings as they happen, from the lead share alone; the strike sensor makes impact exact where there is one.

Causal: it knows nothing of what comes. The turn of pressure is seen when the lead share has risen by TURN_RISE from its
lowest value, about 30-60 ms after it, and is then set back to the moment of that value.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from groundtone.swing.events import Moment, Phase, Swing

# All of these are common practice or chosen on the twin; none is a law.
STEADY_S = 0.6  # setup is steady when the share keeps within STEADY_SHARE for this long
STEADY_SHARE = 0.06
SETUP_SHARES = (0.35, 0.70)  # both feet carry; a held finish is steady too, and no setup
LEAVE_SHARE = 0.07  # the backswing has begun when the share is this far below the setup's
BACK_SHARE = 0.12  # and it was one if it came at least this far
TURN_RISE = 0.04
CONFIRM_RISE = 0.10  # a swing, not a sway: the share rises by this much
CONFIRM_S = 0.6  # within this time after the turn (or the ball is struck)
BACKSWING_LIMIT_S = 4.0
DOWNSWING_S = 0.25  # usual length from top to impact (Grober and Cholewicki; from memory)
TURN_TO_IMPACT_S = 0.36  # without a strike sensor: the turn leads the top by 0-0.25 s
STRIKE_WINDOW_S = (0.08, 1.2)
FINISH_S = 1.3  # the swing is over this long after impact


@dataclass(frozen=True)
class Tracked:
    """What one step brought: the phase, and the swing that ended in this very step, if one did."""

    phase: Phase
    ended: Swing | None = None
    turned: bool = False


class SwingTracker:
    """Follows one golfer; `swing` is the swing under way, if any."""

    def __init__(self) -> None:
        self.phase = Phase.AWAY
        self.swing: Swing | None = None
        self.setup_share = math.nan
        self._count = 0
        self._recent: deque[tuple[float, float]] = deque()
        self._lowest = (math.nan, math.inf)
        self._confirmed = False

    @property
    def confirmed(self) -> bool:
        """The swing under way is one beyond doubt: the share rose fast, or the ball was struck."""
        return self._confirmed

    def step(self, t_s: float, share: float, *, strike_s: float | None = None) -> Tracked:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, never falling.
        share : float
            Lead share; NaN where nobody stands on the mat.
        strike_s : float, optional
            Moment of a strike reported with this frame.
        """
        if math.isnan(share):
            ended = self._end(t_s) if self.phase is Phase.FINISH else None
            self._drop(Phase.AWAY)
            self._recent.clear()
            return Tracked(self.phase, ended)
        self._recent.append((t_s, share))
        while self._recent[0][0] < t_s - 3.0:
            self._recent.popleft()
        match self.phase:
            case Phase.AWAY | Phase.STANDING | Phase.SETUP:
                return self._before(t_s, share)
            case Phase.BACKSWING:
                return self._backswing(t_s, share)
            case _:
                return self._after_turn(t_s, share, strike_s)

    def _before(self, t_s: float, share: float) -> Tracked:
        if self.phase is Phase.SETUP and share < self.setup_share - LEAVE_SHARE:
            self._count += 1
            self.swing = Swing(self._count, self.setup_share, Moment(self._left_setup(), "pressure", 0.03))
            self._lowest = (t_s, share)
            self.phase = Phase.BACKSWING
            return Tracked(self.phase)
        window = [value for at, value in self._recent if at >= t_s - STEADY_S]
        long_enough = t_s - self._recent[0][0] >= STEADY_S
        # The median: the first frames of the takeaway are in the window already.
        level = sorted(window)[len(window) // 2]
        if long_enough and max(window) - min(window) <= STEADY_SHARE and _within(level, SETUP_SHARES):
            self.phase = Phase.SETUP
            self.setup_share = level
        elif self.phase is not Phase.SETUP or abs(share - self.setup_share) > 2 * LEAVE_SHARE:
            self.phase = Phase.STANDING
        return Tracked(self.phase)

    def _left_setup(self) -> float:
        """The last moment at which the share was still the setup's."""
        for at, value in reversed(self._recent):
            if value >= self.setup_share - 0.015:
                return at
        return self._recent[0][0]

    def _backswing(self, t_s: float, share: float) -> Tracked:
        swing = self.swing
        assert swing is not None
        if share < self._lowest[1]:
            self._lowest = (t_s, share)
        deep = self._lowest[1] <= self.setup_share - BACK_SHARE
        if deep and share >= self._lowest[1] + TURN_RISE:
            swing.turn = Moment(self._lowest[0], "pressure", 0.02)
            self._confirmed = False
            self.phase = Phase.DOWNSWING
            return Tracked(self.phase, turned=True)
        if (not deep and share >= self.setup_share - 0.03) or t_s - swing.takeaway.t_s > BACKSWING_LIMIT_S:
            self._drop(Phase.STANDING)
        return Tracked(self.phase)

    def _after_turn(self, t_s: float, share: float, strike_s: float | None) -> Tracked:
        swing = self.swing
        assert swing is not None
        assert swing.turn is not None
        since = t_s - swing.turn.t_s
        if strike_s is not None and swing.impact_unsure and _within(strike_s - swing.turn.t_s, STRIKE_WINDOW_S):
            swing.impact = Moment(strike_s, "strike sensor", 0.002)
            swing.top = Moment(max(swing.turn.t_s, strike_s - DOWNSWING_S), "estimate", 0.03)
            self._confirmed = True
            self.phase = Phase.FINISH
        if not self._confirmed:
            self._confirmed = share >= self._lowest[1] + CONFIRM_RISE
            if not self._confirmed and since > CONFIRM_S:
                self._drop(Phase.STANDING)
                return Tracked(self.phase)
        if swing.impact is None and since >= TURN_TO_IMPACT_S:
            impact = swing.turn.t_s + TURN_TO_IMPACT_S
            swing.impact = Moment(impact, "estimate", 0.08)
            swing.top = Moment(impact - DOWNSWING_S, "estimate", 0.08)
            self.phase = Phase.FINISH
        if self._confirmed and swing.impact is not None and t_s >= swing.impact.t_s + FINISH_S:
            ended = self._end(t_s)
            self._drop(Phase.STANDING)
            return Tracked(self.phase, ended)
        return Tracked(self.phase)

    def _end(self, t_s: float) -> Swing | None:
        if self.swing is not None and self._confirmed:
            self.swing.end_s = t_s
            return self.swing
        return None

    def _drop(self, phase: Phase) -> None:
        if self.swing is not None and math.isnan(self.swing.end_s):
            # It was none: the next one takes its number.
            self._count -= 1
        self.phase = phase
        self.swing = None
        self._confirmed = False
        self._lowest = (math.nan, math.inf)
        # Steadiness is counted anew: what moved just now was no setup.
        last = self._recent[-1] if self._recent else None
        self._recent.clear()
        if last is not None:
            self._recent.append(last)


def _within(value: float, span: tuple[float, float]) -> bool:
    return span[0] <= value <= span[1]
