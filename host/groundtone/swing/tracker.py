"""Finds swings as they happen: the live, causal form of `swing.definition`; `swing.phases` refines them for review.

Two things run side by side. `swing.phasing` tells the phases at once, so that cues can sound. Whether it was a swing is
decided once, 1.27 s after its middle, by all the evidence (`swing.evidence`), with the phases' help or without: a
centred swing, a chip, a step. A strike is judged by the evidence around it and counts for much, and what was struck
without a swing being seen is told. Where forces are not known the phases alone decide.
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from groundtone.swing.bursts import Bursts, Seen
from groundtone.swing.definition import ONE_SWING_S
from groundtone.swing.events import NOTHING, Kind, Moment, Phase, Swing, Tracked
from groundtone.swing.evidence import AFTER_S, Evidence, odds
from groundtone.swing.from_evidence import FAINT_ODDS, LEAST_PUSH, STRIKE_NEAR_S, STRIKE_ODDS, impact_of, swing_from
from groundtone.swing.phasing import PhaseFollower
from groundtone.swing.putting import hardly_moved, putt_from
from groundtone.swing.tempo import SLOWER

__all__ = ["SwingTracker", "Tracked"]

# A swing whose phases have ended waits so long for the evidence; a strike, for its own.
_PATIENCE_S = 0.3
# A second person: the force stays this far above the golfer's weight for this long; no swing that near to it.
CROWD, CROWD_S, _CROWD_NEAR_S = 1.30, 0.6, 1.5
# Two ways to tell the impact of one swing disagree from this on.
_APART_S = 0.10
# Later strikes near a swing that has been told belong to it (a ball that comes back from the net).
_SAME_STRIKE_S = 1.0
# A strike is judged so long after its evidence is complete at the latest: smoothing, and a frame at 50 Hz.
_LATE_S = 0.03
# The golfer's own strikes are at least this part as loud as they usually are; so loud before any are known (invented).
OWN_PART, OWN_LEAST = 0.6, 0.40
# Whatever its loudness, a strike with so nearly a swing's evidence around it is told of (logarithm of the odds).
_NEARLY = -1.0


class SwingTracker:
    """Follows one golfer; `swing` is the swing under way, if any, and `slow` how many times slower it is.

    While `putting`, a strike with hardly any movement around it was a putt (`swing.putting`), however loud it was.
    """

    def __init__(self) -> None:
        self.putting = False
        self._phases = PhaseFollower()
        self._bursts = Bursts()
        self._waiting: tuple[float, Swing] | None = None
        self._held: Seen | None = None
        self._accepted: Swing | None = None
        self._was_sure = self._faint = False
        self._strikes: deque[tuple[float, float]] = deque()
        self._own_peaks: deque[float] = deque(maxlen=8)
        self._told_s = self._crowd_s = self._light_s = -math.inf

    @property
    def phase(self) -> Phase:
        """Where in a swing, or out of it, the golfer is; the finish lasts until the swing is told."""
        if self._waiting is not None and self._phases.swing is None and self._phases.phase is not Phase.AWAY:
            return Phase.FINISH
        return self._phases.phase

    @property
    def swing(self) -> Swing | None:
        """The swing under way; one whose phases are over is so until the evidence has been judged."""
        if self._phases.swing is None and self._waiting is not None:
            return self._waiting[1]
        return self._phases.swing

    def watch_finish(self, seconds: float) -> None:
        """From now on a finish is followed for so long after impact at the least, s, and told then."""
        self._phases.watched_s = seconds

    @property
    def setup_share(self) -> float:
        """Lead share of the last setup."""
        return self._phases.setup_share

    @property
    def slow(self) -> float:
        """How many times slower than at full speed the swing under way is, from its turn on."""
        return self._phases.slow

    @property
    def sure(self) -> bool:
        """A tone may tell of the swing under way."""
        return self._phases.sure if self._phases.swing is not None else self._waiting is not None and self._was_sure

    def step(
        self,
        t_s: float,
        share: float,
        *,
        strike_s: float | None = None,
        strike_peak: float = math.nan,
        weights: float = math.nan,
        toes: float = math.nan,
    ) -> Tracked:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, never falling.
        share : float
            Lead share; NaN where nobody stands on the mat.
        strike_s : float, optional
            Moment of a strike reported with this frame.
        strike_peak : float, optional
            How loud it was, 0-1; the next bay's are fainter than the golfer's own.
        weights : float, optional
            Total vertical force in body weights; NaN: not known.
        toes : float, optional
            Heel-toe position of the trail foot less that of the lead foot; NaN: not known.
        """
        if self._phases.swing is not None:
            self._was_sure = self._phases.sure
        own = strike_s is not None and self._own(strike_peak)
        followed = self._phases.step(t_s, share, strike_s=strike_s, weights=weights, toes=toes, own=own)
        known = math.isfinite(weights) and math.isfinite(share)
        if not known:
            return self._without_evidence(t_s, share, followed)
        if strike_s is not None:
            self._strikes.append((strike_s, strike_peak))
        self._crowd(t_s, weights)
        seen = self._bursts.add(t_s, share, weights, toes)
        ended = None
        if self._accepted is not None and self._phases.swing is not self._accepted:
            ended, self._accepted = self._told(self._accepted, t_s), None
        elif followed.ended is not None:
            if followed.ended.kind is Kind.REHEARSAL and not self._strikes:
                ended = self._told(followed.ended, t_s)
            else:
                self._waiting = (t_s, followed.ended)
        if seen is not None and any(abs(strike - seen.at_s) <= ONE_SWING_S for strike, _ in self._strikes):
            self._held = seen  # the strike beside it is judged first
        elif seen is not None:
            ended = self._judge(t_s, seen) or ended
        unseen_s, self._faint = None, False
        if ended is None and self._strikes and t_s >= self._strikes[0][0] + AFTER_S + _LATE_S:
            ended, unseen_s = self._judge_strike(t_s)
        if self._waiting is not None and t_s - self._waiting[0] > _PATIENCE_S:
            ended = ended or self._given_up(t_s)
        if ended is None and unseen_s is None and not (followed.turned or self._faint):
            return NOTHING[self.phase]
        return Tracked(self.phase, ended, followed.turned, unseen_s, self._faint)

    def _given_up(self, t_s: float) -> Swing | None:
        """Nothing has claimed what was followed: it is told if it was a slow rehearsal, once no strike is left."""
        assert self._waiting is not None
        swing = self._waiting[1]
        if swing.kind is not Kind.REHEARSAL:
            self._waiting = None
        elif not self._strikes:
            return self._told(swing, t_s)
        return None

    def _without_evidence(self, t_s: float, share: float, followed: Tracked) -> Tracked:
        """Forces are not known, or nobody stands there any more: what the phases have told holds."""
        ended = followed.ended
        unseen_s = None
        if math.isnan(share):
            self._bursts.forget()
            self._held = None
            if ended is None and self._waiting is not None:
                ended = self._waiting[1]
            ended, self._accepted = self._accepted or ended, None
            if self._strikes and ended is None and self._own(self._strikes[0][1]):
                unseen_s = self._strikes[0][0]
            self._strikes.clear()
            self._waiting = None
        told = self._told(ended, t_s) if ended is not None else None
        return Tracked(self._phases.phase, told, followed.turned, unseen_s)

    def _crowd(self, t_s: float, weights: float) -> None:
        """Notes when more than one person stands on the mat: the force stays far above the golfer's weight."""
        if weights <= CROWD:
            self._light_s = t_s
        elif t_s - self._light_s >= CROWD_S:
            self._crowd_s = t_s

    def _own(self, peak: float) -> bool:
        """As loud as the golfer's own strikes are; not known counts as loud."""
        usual = OWN_PART * median(self._own_peaks) if len(self._own_peaks) >= 3 else OWN_LEAST
        return not peak < usual

    def _odds_of(self, strike_s: float) -> float:
        """What a strike adds to the logarithm of the odds."""
        peak = next((p for s, p in self._strikes if s == strike_s), math.nan)
        return STRIKE_ODDS if self._own(peak) else FAINT_ODDS

    def _judge_strike(self, t_s: float) -> tuple[Swing | None, float | None]:
        """The oldest strike that is left: the swing around it or around the burst beside it, or that none was seen."""
        first_s, peak = self._strikes[0]
        held, self._held = self._held, None
        if abs(first_s - self._told_s) <= _SAME_STRIKE_S:
            self._strikes.popleft()
            return None, None
        seen, swing = self._bursts.around(first_s), None
        putt = self.putting and seen is not None and hardly_moved(seen)
        struck_s = self._struck(first_s, seen) if seen is not None and not putt else None
        if seen is not None and struck_s is not None:
            swing = self._judge(t_s, Seen(struck_s, self._bursts.around(struck_s) or seen), struck_s)
        if putt and seen is not None and not self._just_told(first_s):
            swing = self._told(putt_from(self._phases.done + 1, first_s, seen), t_s)
        if swing is None and held is not None and abs(held.at_s - first_s) <= ONE_SWING_S:
            swing = self._judge(t_s, held)
        if self._strikes and self._strikes[0][0] == first_s:
            self._strikes.popleft()
        nearly = seen is not None and odds(seen) + FAINT_ODDS > _NEARLY
        self._faint = not (self._own(peak) or nearly)
        return swing, None if swing is not None or self._just_told(first_s) else first_s

    def _struck(self, first_s: float, seen: Evidence) -> float | None:
        """The strike that was the impact: of those where it may have been the loudest, for the next bay's are fainter.

        Where nobody pushed, pressure does not say where impact was: as near as that to the first strike, then.
        """
        impact_s = impact_of(first_s, seen).t_s if seen.push >= LEAST_PUSH else first_s
        near = [(0.0 if math.isnan(p) else -p, abs(s - impact_s), s) for s, p in self._strikes]
        near = [entry for entry in near if entry[1] <= STRIKE_NEAR_S]
        return min(near)[2] if near else None

    def _just_told(self, at_s: float) -> bool:
        """A swing has been told, or is about to be, to which this moment belongs."""
        accepted = self._accepted.impact.t_s if self._accepted is not None and self._accepted.impact else -math.inf
        return min(abs(at_s - self._told_s), abs(at_s - accepted)) <= ONE_SWING_S

    def _judge(self, t_s: float, seen: Seen, strike_s: float | None = None) -> Swing | None:
        """The swing around a moment, if it was one."""
        at_s, evidence = seen.at_s, seen.evidence
        likely = odds(evidence) + (0.0 if strike_s is None else self._odds_of(strike_s))
        if strike_s is None and evidence.walked:
            return None
        if self._just_told(at_s) or at_s - self._crowd_s <= _CROWD_NEAR_S or likely <= 0.0:
            return None
        swing = self._followed(at_s)
        if swing is None:
            swing = swing_from(self._phases.done + 1, at_s, evidence, strike_s)
        else:
            own = swing_from(swing.number, at_s, evidence, strike_s)
            if self._elsewhere(swing, impact_of(at_s, evidence)):
                # A turn that was none: the share had gone to the lead side before, and dipped at the ball.
                swing.setup_share, swing.takeaway, swing.turn = own.setup_share, own.takeaway, own.turn
                swing.impact, swing.top = own.impact, own.top
            elif strike_s is not None or not swing.impact_unsure:
                # The phases took the first strike that came, which may have been the next bay's.
                swing.impact, swing.top, swing.kind = own.impact, own.top, Kind.SWING
        if swing is self._phases.swing:
            # It is told when its finish is over, which the phases say within a moment.
            self._accepted = swing
            return None
        return self._told(swing, t_s)

    def _elsewhere(self, swing: Swing, impact: Moment) -> bool:
        """The phases of a swing at full speed have its impact elsewhere than the burst."""
        slow = self._phases.slow if swing is self._phases.swing else swing.slow
        apart = swing.impact is not None and abs(swing.impact.t_s - impact.t_s) > _APART_S
        return apart and swing.impact_unsure and slow < SLOWER and swing.kind is not Kind.REHEARSAL

    def _followed(self, at_s: float) -> Swing | None:
        """The swing that the phases have followed through this moment."""
        under_way = self._phases.swing
        for swing in (self._waiting[1] if self._waiting is not None else None, under_way):
            near_s = ONE_SWING_S * (swing.slow if swing is not None else 1.0)
            if swing is not None and swing.impact is not None and abs(swing.impact.t_s - at_s) <= near_s:
                return swing
        return None

    def _told(self, swing: Swing, t_s: float) -> Swing:
        swing.number = self._phases.done + 1
        swing.end_s = t_s if math.isnan(swing.end_s) else swing.end_s
        self._phases.done += 1
        self._waiting = None
        if swing.impact is not None:
            self._told_s = swing.impact.t_s
            while self._strikes and self._strikes[0][0] <= self._told_s + ONE_SWING_S:
                strike_s, peak = self._strikes.popleft()
                if strike_s == self._told_s and math.isfinite(peak):
                    self._own_peaks.append(peak)
        under_way = self._phases.swing
        if under_way is swing or (under_way is not None and under_way.takeaway.t_s < self._told_s):
            self._phases.give_up(told=under_way is swing)
        return swing
