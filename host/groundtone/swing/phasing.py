"""Where in a swing the golfer is, told at once from lead share and force, so that cues can sound; it may be wrong.

Whether it was a swing is decided afterwards (`swing.tracker`); where forces are not known, here.
Causal: it knows nothing of what comes. The turn of pressure is seen when the lead share has risen by TURN_RISE from its
lowest value, about 30-60 ms after it, and is then set back to the moment of that value. Impact is seen when the
vertical force has fallen by PEAK_FALL from its peak, about 40-70 ms after it; without forces it is the turn and a usual
time. The strike sensor makes it exact where there is one.
"""

from __future__ import annotations

import math
from collections import deque

from groundtone.swing.definition import (
    ALSO_STEADY_S,
    BACK_SHARE,
    BACKSWING_LIMIT_S,
    CONFIRM_RISE,
    CONFIRM_S,
    DOWNSWING_S,
    FAR_BACK,
    FORCE_SWING,
    LEAD_LIFTED,
    LEAVE_SHARE,
    PEAK_DOUBT_S,
    PEAK_S,
    PEAK_TO_IMPACT_S,
    QUICK_PUSH,
    QUICK_RISE,
    QUICK_S,
    REST_SHARE,
    SETTLED_BACK_S,
    SETTLED_S,
    SETTLED_SHARE,
    SETUP_SHARES,
    SLOW_ACROSS_S,
    SLOW_FORTH,
    SLOW_HELD_S,
    SLOW_SHARE,
    SLOW_TOES,
    STEADY_S,
    STEADY_SHARE,
    STRIKE_DOUBT_S,
    STRIKE_WINDOW_S,
    TURN_TO_IMPACT_S,
)
from groundtone.swing.events import NOTHING, Kind, Moment, Phase, Swing, Tracked
from groundtone.swing.push import Held, Push
from groundtone.swing.recent import Recent, drifts, within
from groundtone.swing.tempo import SLOWER, Tempo, finish_s

LOOK_S = 0.009  # steadiness is looked at no more often than this
STILL_SHARE = 0.015  # within this of the setup's share nothing has begun
ONSET = 0.5  # it began this part of the time since before that: between a straight start and a square of time
TURN_RISE = 0.04  # of the share, from its lowest value
SURE_FORCE = 0.10  # body weights: so much force since the turn is on its way to a swing's
RESTED = 0.45  # who stays near the lowest value for more than this part of the backswing rests there
RECENT_S = 3.2  # frames kept
STOOD = 0.65  # and who does for this part of all of it, the rest included, stands on that foot
GOES_BACK = 0.08  # so far below its highest again, the share is on its way out of the finish
FALLEN_BACK = 0.03  # this near its lowest value again, the share has not come across
LATE_S = 2.0  # a strike this long after a turn that came to nothing may be its impact
AIR_S = 0.8  # who steps into a swing has the lead foot in the air for no longer
# A strike tells of a downswing that was not followed where force or share had moved so much in the time before it; a
# faint one where the share had, and the force by half of that.
MOVED_FORCE, MOVED_SHARE, MOVED_S = 0.06, 0.06, 0.7


class PhaseFollower:
    """Follows one golfer; `swing` is the swing under way, if any, and `slow` how many times slower it is.

    `done` swings have been told, which gives the next one its number; whoever tells them counts. `slow` is known from
    the turn on (see `groundtone.swing.tempo`), and times after the turn stretch with it. Whoever practises holding the
    finish is followed for `watched_s` after impact at the least.
    """

    def __init__(self) -> None:
        self.phase = Phase.AWAY
        self.swing: Swing | None = None
        self.setup_share = math.nan
        self.done = 0
        self._recent = Recent()
        self._lowest = (math.nan, math.inf)
        self._confirmed = False
        self._force: Push | None = None
        self._highest = -math.inf
        self._toes = -math.inf
        self._tempo = Tempo()
        self._back_s = math.nan
        self._rested = self._stood = False
        self._forth_s = self._air_s = math.nan
        self._steady_s = self._looked_s = -math.inf
        self._across_s = math.inf
        self._held = Held()
        self._weights: deque[tuple[float, float]] = deque()
        self.slow = 1.0
        self.watched_s = 0.0
        self._given_up: Swing | None = None
        self._given_up_s = -math.inf

    @property
    def sure(self) -> bool:
        """A tone may tell of the swing under way: a swing's force is coming, or the ball was struck.

        A slow one has no force: it has to be confirmed, and not to rest before its turn as who shifts about does. Where
        forces are not known it has to be confirmed.
        """
        swing, force = self.swing, self._force
        if swing is None or math.isnan(self._forth_s):
            return False
        if force is None or not swing.impact_unsure:
            return self._confirmed
        if self.slow > 1.0:
            return self._confirmed and not self._rested
        return force.range >= SURE_FORCE

    def step(
        self,
        t_s: float,
        share: float,
        *,
        strike_s: float | None = None,
        weights: float = math.nan,
        toes: float = math.nan,
        own: bool = False,
    ) -> Tracked:
        """One frame, its parameters as `SwingTracker.step` has them.

        Where `weights` is not known, impact is the usual time after the turn. A strike may tell
        of a swing whose downswing was not followed, sooner where it is as loud as the golfer's `own`.
        """
        if self.swing is not None and toes > self._toes:
            self._toes = toes
        if math.isnan(share):
            ended = self._end(t_s) if self.phase is Phase.FINISH else None
            self._drop(Phase.AWAY)
            self._recent.clear()
            return Tracked(self.phase, ended)
        self._recent.append(t_s, share)
        self._recent.forget_before(t_s - RECENT_S)
        if math.isfinite(weights):
            self._weights.append((t_s, weights))
            while self._weights[0][0] < t_s - 1.0:
                self._weights.popleft()
        match self.phase:
            case Phase.AWAY | Phase.STANDING | Phase.SETUP | Phase.BACKSWING if strike_s is not None:
                return self._struck(t_s, share, weights, strike_s, own)
            case Phase.AWAY | Phase.STANDING | Phase.SETUP:
                return self._before(t_s, share, weights)
            case Phase.BACKSWING:
                return self._backswing(t_s, share, weights)
            case _:
                return self._after_turn(t_s, share, strike_s, weights, toes)

    def _before(self, t_s: float, share: float, weights: float) -> Tracked:
        if self._quick(t_s, share):
            recent = self._given_up if t_s - self._given_up_s <= QUICK_S * 2 else None
            self._begin(recent.takeaway.t_s if recent is not None else self._left_setup(t_s))
            assert self.swing is not None
            return self._go_forth(t_s, share, weights, None)
        if self.phase is Phase.SETUP and share < self.setup_share - LEAVE_SHARE:
            self._begin(self._left_setup(t_s))
            self._lowest = (t_s, share)
            self.phase = Phase.BACKSWING
            return NOTHING[self.phase]
        if t_s - self._looked_s < LOOK_S and self.phase is not Phase.AWAY:
            return NOTHING[self.phase]
        self._looked_s = t_s
        window = self._recent.since(t_s - STEADY_S)
        steady = t_s - self._recent.first_s >= STEADY_S and max(window) - min(window) <= STEADY_SHARE
        # The median: the first frames of the takeaway are in the window already.
        level = sorted(window)[len(window) // 2] if steady else math.nan
        # A setup does not follow whoever leaves it slowly.
        if within(level, SETUP_SHARES) and not (self.phase is Phase.SETUP and drifts(window)):
            self.phase = Phase.SETUP
            self.setup_share = level
            self._steady_s = t_s
        elif self.phase is not Phase.SETUP or abs(share - self.setup_share) > 2 * LEAVE_SHARE:
            self.phase = Phase.STANDING
        return NOTHING[self.phase]

    def _struck(self, t_s: float, share: float, weights: float, strike_s: float, own: bool) -> Tracked:
        """A ball was struck though nothing like a downswing was seen: centred, short, or with the feet together."""
        shares = self._recent.since(t_s - MOVED_S)
        forces = [value for at, value in self._weights if at >= t_s - MOVED_S] or [weights]
        far, hard = max(shares) - min(shares) >= MOVED_SHARE, max(forces) - min(forces)
        moved = (own and (far or hard >= MOVED_FORCE)) or (far and hard >= MOVED_FORCE / 2)
        # Still on the way back: somebody else's ball.
        back = self.swing is not None and share < self._lowest[1] + STILL_SHARE
        if not moved or back or t_s - self._steady_s > BACKSWING_LIMIT_S:
            return self._backswing(t_s, share, weights) if self.swing is not None else self._before(t_s, share, weights)
        given_up = self._given_up
        turn = None
        if self.swing is None:
            self._begin(max(self._recent.first_s, min(self._steady_s, strike_s - MOVED_S)))
            if given_up is not None and given_up.turn is not None and strike_s - given_up.turn.t_s <= LATE_S:
                # A sway that came across too slowly was the swing after all.
                self.swing, turn = given_up, given_up.turn
        self._go_forth(t_s, share, weights, turn)
        self._forth_s = min(self._forth_s, strike_s - STRIKE_WINDOW_S[0])
        self._lowest = (self._forth_s, min(self._lowest[1], share - CONFIRM_RISE))
        return self._after_turn(t_s, share, strike_s, weights, math.nan)

    def _begin(self, takeaway_s: float) -> None:
        self.swing = Swing(self.done + 1, self.setup_share, Moment(takeaway_s, "pressure", 0.04))

    def _quick(self, t_s: float, share: float) -> bool:
        """The share comes across as fast as in a downswing, from a setup, though it had not gone to the trail side."""
        if not self._weights or t_s - self._steady_s > ALSO_STEADY_S or share < self.setup_share + QUICK_RISE / 2:
            return False
        # Who shifts or steps off does not push.
        force = [value for at, value in self._weights if at >= t_s - 2 * QUICK_S]
        if max(force) - min(force) < QUICK_PUSH:
            return False
        least = min(self._recent.since(t_s - QUICK_S))
        return share >= least + QUICK_RISE and least > LEAD_LIFTED

    def _left_setup(self, t_s: float) -> float:
        """When the share began to leave the setup's, now that it is LEAVE_SHARE below it.

        A movement starts slowly: the moment at which the share was last the setup's, and somewhat earlier.
        """
        first_s = self._recent.first_s
        for at, value in self._recent.backwards():
            if value >= self.setup_share - STILL_SHARE:
                return max(first_s, at - ONSET * (t_s - at))
        return first_s

    def _backswing(self, t_s: float, share: float, weights: float) -> Tracked:
        swing = self.swing
        assert swing is not None
        if share < self._lowest[1] or share < LEAD_LIFTED:
            self._lowest = (t_s, min(share, self._lowest[1]))
        if share < LEAD_LIFTED:
            # The lead foot is off: somebody steps into the swing, or walks.
            self._air_s = t_s if math.isnan(self._air_s) else self._air_s
            if t_s - self._air_s > AIR_S:
                self._drop(Phase.STANDING)
            return NOTHING[self.phase]
        deep = self._lowest[1] <= self.setup_share - BACK_SHARE
        if deep and share >= self._lowest[1] + TURN_RISE:
            self._back_s = self._backswing_s(swing)
            self.slow = self._tempo.slow(self._back_s)
            return self._go_forth(t_s, share, weights, Moment(self._lowest[0], "pressure", 0.02))
        if self._quick(t_s, share):
            return self._go_forth(t_s, share, weights, None)
        back = not deep and share >= self.setup_share - 0.03
        settled = self._settled(t_s)
        if back or t_s - swing.takeaway.t_s > BACKSWING_LIMIT_S or settled:
            recent = self._recent
            if back:  # a centred one comes across from here
                self._given_up, self._given_up_s = swing, t_s
            if settled:  # the next swing may begin at once: what was seen stays
                self._recent = Recent()
            self._drop(Phase.STANDING)
            if settled:
                self._recent = recent
                return self._before(t_s, share, weights)
        return NOTHING[self.phase]

    def _settled(self, t_s: float) -> bool:
        """The share has stood still for longer than any pause: it settled there, between two balls."""
        assert self.swing is not None
        # Who has gone far back may be in a slow rehearsal, waiting at its turn.
        settled_s = SETTLED_BACK_S if self._lowest[1] <= self.setup_share - FAR_BACK else SETTLED_S
        if t_s - max(self._recent.first_s, self.swing.takeaway.t_s) < settled_s:
            return False
        still = self._recent.since(t_s - settled_s)
        return max(still) - min(still) <= SETTLED_SHARE

    def _go_forth(self, t_s: float, share: float, weights: float, turn: Moment | None) -> Tracked:
        """The downswing begins, with a turn of pressure or without one."""
        swing = self.swing
        assert swing is not None
        swing.turn = turn
        self._forth_s = t_s - QUICK_S if turn is None else turn.t_s
        self._lowest = self._lowest if turn is not None else (self._forth_s, share - QUICK_RISE)
        self._confirmed = False
        self._force = None
        if math.isfinite(weights):
            # The force of a swing may be under way before its turn is seen.
            since = [value for at, value in self._weights if at >= self._forth_s] or [weights]
            self._force = Push(since[0])
            for at, value in self._weights:
                if at >= self._forth_s:
                    self._force.step(at, value)
            self._force.untell()
        self._highest, self._toes = share, -math.inf
        self._across_s = math.inf
        self._held = Held(t_s, share)
        self.phase = Phase.DOWNSWING
        return Tracked(self.phase, turned=turn is not None)

    def _backswing_s(self, swing: Swing) -> float:
        """How long the backswing took to the turn; twice its second half where that is less: a drift before is none."""
        turn_s, lowest = self._lowest
        halfway = (swing.setup_share + lowest) / 2
        half_s = self._recent.last_above(halfway, turn_s)
        back_s = min(turn_s - swing.takeaway.t_s, 2 * (turn_s - half_s))
        low_s = self._recent.last_above(lowest + REST_SHARE, turn_s)
        self._rested = turn_s - low_s > RESTED * back_s
        now_s = next(at for at, _ in self._recent.backwards())
        self._stood = now_s - low_s > STOOD * (now_s - swing.takeaway.t_s)
        return back_s

    def _after_turn(self, t_s: float, share: float, strike_s: float | None, weights: float, toes: float) -> Tracked:
        swing = self.swing
        assert swing is not None
        since = t_s - self._forth_s
        self._highest = max(self._highest, share)
        if share >= SLOW_SHARE and math.isinf(self._across_s):
            self._across_s = t_s
        self._held.step(t_s, share, toes)
        if strike_s is not None and swing.impact_unsure and within(strike_s - self._forth_s, STRIKE_WINDOW_S):
            self.slow = 1.0
            swing.impact = Moment(strike_s, "strike sensor", STRIKE_DOUBT_S)
            swing.top = Moment(max(self._forth_s, strike_s - DOWNSWING_S), "estimate", 0.03)
            self._confirmed = True
            self.phase = Phase.FINISH
        if (swing.impact is None or swing.impact.source == "estimate") and self._fell_back(share):
            self._drop(Phase.STANDING)
            return NOTHING[self.phase]
        if not self._confirmed:
            self._confirmed = share >= self._lowest[1] + CONFIRM_RISE
            if not self._confirmed and since > CONFIRM_S * self.slow:
                self._given_up, self._given_up_s = swing, t_s
                self._drop(Phase.STANDING)
                return NOTHING[self.phase]
        if self._force is not None and swing.impact_unsure and PEAK_S[0] <= since <= PEAK_S[1]:
            peak_s = self._force.step(t_s, weights)
            if peak_s is not None:
                self.slow = 1.0
                impact = peak_s + PEAK_TO_IMPACT_S
                swing.impact = Moment(impact, "pressure", PEAK_DOUBT_S)
                swing.top = Moment(max(self._forth_s, impact - DOWNSWING_S), "estimate", 0.05)
                self.phase = Phase.FINISH
        if swing.impact is None and since >= TURN_TO_IMPACT_S * self.slow:
            impact = self._forth_s + TURN_TO_IMPACT_S * self.slow
            swing.impact = Moment(impact, "estimate", 0.08 * self.slow)
            swing.top = Moment(impact - DOWNSWING_S * self.slow, "estimate", 0.08 * self.slow)
            self.phase = Phase.FINISH
        due_s = math.inf if swing.impact is None else swing.impact.t_s + max(finish_s(self.slow), self.watched_s)
        if self._confirmed and t_s >= due_s and not self._still_coming(t_s, share):
            ended = self._end(t_s)
            self._drop(Phase.STANDING)
            return Tracked(self.phase, ended)
        return NOTHING[self.phase]

    def _fell_back(self, share: float) -> bool:
        """The share is where it turned again, or lower, after a rise: a foot touched the mat, or somebody shifts."""
        return self._highest >= self._lowest[1] + CONFIRM_RISE and share <= self._lowest[1] + FALLEN_BACK

    def _still_coming(self, t_s: float, share: float) -> bool:
        """A slow one on its way to its finish, for as long as the way back and some more; who stands still was none."""
        slow = self.slow >= SLOWER and self._held.most_s < SLOW_HELD_S and share > self._highest - GOES_BACK
        if not slow or t_s - self._forth_s > SLOW_FORTH * self._back_s + finish_s(self.slow):
            return False
        still = self._recent.since(t_s - STEADY_S)
        return self._highest >= SLOW_SHARE or max(still) - min(still) > SETTLED_SHARE

    def _end(self, t_s: float) -> Swing | None:
        force = self._force
        # Where forces are known, a swing took some, or went across as a slow one does; the rest was shifting about.
        across_s = self._across_s - self._forth_s
        in_time = SLOW_ACROSS_S <= across_s <= SLOW_FORTH * self._back_s or self.slow == 1.0
        slowly = (
            self._highest >= SLOW_SHARE and self._toes >= SLOW_TOES and self._held.most_s >= SLOW_HELD_S and in_time
        ) and not self._stood
        shifted = force is not None and force.range < FORCE_SWING and not slowly
        struck = self.swing is not None and not self.swing.impact_unsure
        if self.swing is not None and self._confirmed and (struck or not shifted):
            self.swing.end_s = t_s
            self.swing.slow = self.slow
            if shifted is False and slowly and not struck and (force is None or force.range < FORCE_SWING):
                self.swing.kind = Kind.REHEARSAL
            if self.swing.turn is not None and (struck or (force is not None and force.range >= FORCE_SWING)):
                self._tempo.add(self._back_s)
            return self.swing
        return None

    def give_up(self, *, told: bool) -> None:
        """What was followed is over, whatever it was; its tempo is the golfer's own where it was told as a swing."""
        swing, force = self.swing, self._force
        if told and swing is not None and swing.turn is not None:
            swing.slow = self.slow
            if not swing.impact_unsure or (force is not None and force.range >= FORCE_SWING):
                self._tempo.add(self._back_s)
        self._drop(Phase.STANDING)

    def _drop(self, phase: Phase) -> None:
        self.phase = phase
        self.swing = None
        self.slow = 1.0
        self._confirmed = False
        self._force = None
        self._forth_s = self._air_s = math.nan
        self._lowest = (math.nan, math.inf)
        # Steadiness is counted anew: what moved just now was no setup.
        self._recent.clear(but_the_last=True)
