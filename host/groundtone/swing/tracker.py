"""Finds swings as they happen: the live, causal form of `swing.definition`; `swing.phases` refines them for review.

Two things run side by side. `swing.phasing` tells the phases at once, so that cues can sound. Whether it was a swing is
decided once, 1.27 s after its middle, by all the evidence (`swing.evidence`), with the phases' help or without: a
centred swing, a chip, a step. A strike counts for much, and what was struck without a swing being seen is told. Where
forces are not known the phases alone decide.
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from groundtone.swing.bursts import Bursts
from groundtone.swing.definition import ONE_SWING_S
from groundtone.swing.events import Kind, Phase, Swing
from groundtone.swing.evidence import AFTER_S, Evidence, odds
from groundtone.swing.from_evidence import STRIKE_NEAR_S, STRIKE_ODDS, impact_of, swing_from
from groundtone.swing.phasing import PhaseFollower, Tracked

__all__ = ["SwingTracker", "Tracked"]

# A swing whose phases have ended waits so long for the evidence; a strike, for its own.
_PATIENCE_S = 0.3
# A second person: the force stays this far above the golfer's weight for this long; no swing that near to it.
CROWD, CROWD_S, _CROWD_NEAR_S = 1.30, 0.6, 1.5
_LEAST_PUSH, _FLAT = 0.025, 0.10
# Later strikes near a swing that has been told belong to it (a ball that comes back from the net).
_SAME_STRIKE_S = 1.0
# The golfer's own strikes are at least this part as loud as they usually are; so loud before any are known (invented).
OWN_PART, OWN_LEAST = 0.6, 0.40


def _only_shifting(seen: Evidence) -> bool:
    """Nobody pushed, or a foot was lifted and the feet stayed flat: shifting about, or walking.

    A slow rehearsal, which has no force either, is told by its phases.
    """
    flat = seen.values["trail toes"] < _FLAT
    return seen.push < _LEAST_PUSH or (flat and seen.values["one foot"] > 0.0)


class SwingTracker:
    """Follows one golfer; `swing` is the swing under way, if any, and `slow` how many times slower it is."""

    def __init__(self) -> None:
        self._phases = PhaseFollower()
        self._bursts = Bursts()
        self._waiting: tuple[float, Swing] | None = None
        self._accepted: Swing | None = None
        self._was_sure = False
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
        followed = self._phases.step(t_s, share, strike_s=strike_s, weights=weights, toes=toes)
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
            if followed.ended.kind is Kind.REHEARSAL:
                ended = self._told(followed.ended, t_s)
            else:
                self._waiting = (t_s, followed.ended)
        if seen is not None:
            ended = self._judge(t_s, seen.at_s, seen.evidence) or ended
        unseen_s = None
        if ended is None and self._strikes and t_s >= self._strikes[0][0] + AFTER_S + 0.1:
            ended, unseen_s = self._judge_strike(t_s, *self._strikes[0])
        if self._waiting is not None and t_s - self._waiting[0] > _PATIENCE_S:
            self._waiting = None
        return Tracked(self.phase, ended, followed.turned, unseen_s)

    def _without_evidence(self, t_s: float, share: float, followed: Tracked) -> Tracked:
        """Forces are not known, or nobody stands there any more: what the phases have told holds."""
        ended = followed.ended
        unseen_s = None
        if math.isnan(share):
            self._bursts.forget()
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

    def _strike_near(self, at_s: float) -> float | None:
        """The strike near a moment: the loudest, where that is known, for the next bay's are fainter."""
        near = [(0.0 if math.isnan(peak) else -peak, abs(strike - at_s), strike) for strike, peak in self._strikes]
        near = [entry for entry in near if entry[1] <= STRIKE_NEAR_S]
        return min(near)[2] if near else None

    def _own(self, peak: float) -> bool:
        """As loud as the golfer's own strikes are; not known counts as loud."""
        usual = OWN_PART * median(self._own_peaks) if len(self._own_peaks) >= 3 else OWN_LEAST
        return not peak < usual

    def _judge_strike(self, t_s: float, strike_s: float, peak: float) -> tuple[Swing | None, float | None]:
        """A strike that no burst has claimed: the swing around it, or that none was seen."""
        same = abs(strike_s - self._told_s) <= _SAME_STRIKE_S
        evidence = None if same else self._bursts.around(strike_s)
        swing = self._judge(t_s, strike_s, evidence) if evidence is not None else None
        if self._strikes and self._strikes[0][0] == strike_s:
            self._strikes.popleft()
        told = same or swing is not None or not self._own(peak)
        return swing, None if told else strike_s

    def _judge(self, t_s: float, at_s: float, evidence: Evidence) -> Swing | None:
        """The swing around a moment, if it was one; a strike counts where the swing's impact would be."""
        if abs(at_s - self._told_s) <= ONE_SWING_S:
            return None
        strike_s = self._strike_near(impact_of(at_s, evidence).t_s)
        if strike_s is None and _only_shifting(evidence):
            return None
        if (
            at_s - self._crowd_s <= _CROWD_NEAR_S
            or odds(evidence) + (STRIKE_ODDS if strike_s is not None else 0.0) <= 0.0
        ):
            return None
        swing = self._followed(at_s)
        if swing is None:
            swing = swing_from(self._phases.done + 1, at_s, evidence, strike_s)
        elif strike_s is not None or not swing.impact_unsure:
            # The phases took the first strike that came, which may have been the next bay's.
            own = swing_from(swing.number, at_s, evidence, strike_s)
            swing.impact, swing.top = own.impact, own.top
        if swing is self._phases.swing:
            # It is told when its finish is over, which the phases say within a moment.
            self._accepted = swing
            return None
        return self._told(swing, t_s)

    def _followed(self, at_s: float) -> Swing | None:
        """The swing that the phases have followed through this moment."""
        under_way = self._phases.swing
        for swing in (self._waiting[1] if self._waiting is not None else None, under_way):
            if swing is not None and swing.impact is not None and abs(swing.impact.t_s - at_s) <= ONE_SWING_S:
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
