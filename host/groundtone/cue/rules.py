"""When a cue is out of its band, and by how much: the rules of a rulebook, frame by frame.

Toes: the overall position at setup and in the backswing; after the turn of pressure the overall position and the lead
foot's. The trail foot alone never sounds: in every good swing it runs onto its toes after impact.
Trail side: armed by the turn of pressure; never in the backswing, where pressure belongs on the trail side.
Heels, slide and a finish that is not held are there for whoever switches them on (rules.toml).

Slide: how far the lead share went across between the turn of pressure and impact, counted only while the lead heel has
not taken over, that is while the lead foot's pressure has come less than `HEEL_WORK` towards its heel since the turn,
and once that pressure has gone `EDGE_MM` to the foot's outer edge from where it was at setup.
That is the finding of the review (swing/bands.toml, after impact), heard a moment after impact: before, nobody can know
whether the heel will still take over. Not a fault in every school.

Unsteady: how far the lead share has moved from where the finish had settled. It settles `SETTLE_S` after impact; so
falling back, stepping out and lifting the lead foot are one thing. Both are causal, without delay, NaN where unknown.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from groundtone.cue.bands import Bands
from groundtone.cue.rulebook import WHEN, Band, Rule, Rulebook, with_bands
from groundtone.cue.rulefile import default_rules
from groundtone.swing.events import Phase

# The lead heel has taken over when the lead foot's position has come this much towards the heel, part of its length.
HEEL_WORK = 0.04
EDGE_MM = 6.0
# The finish is reached between these times after impact, s at full speed (from memory: about 0.45 s).
SETTLE_S = (0.45, 0.60)
# Nor before the share has come to the end of its way: it rises by no more than this within that time, s at full speed.
# In a slow swing, and in drills, the trail side does not begin to sound while it still rises by more than the second.
RISES, WAY, RISES_S = 0.02, 0.03, 0.12


class SlideAndFinish:
    """Follows one swing after the other.

    Attributes
    ----------
    slide, unsteady : float
        See the module's text; NaN outside of a swing and where they are not known.
    comes : bool
        The share is still on its way across.
    """

    def __init__(self) -> None:
        self.slide = self.unsteady = math.nan
        self.forget()

    @property
    def begun(self) -> bool:
        """A swing is being followed."""
        return self._lowest < math.inf or self._most > -math.inf

    def forget(self) -> None:
        """No swing is under way."""
        self.slide = self.unsteady = math.nan
        self.comes = False
        self._lowest = math.inf
        self._most = -math.inf
        self._lead_turn = self._lead_least = self._out_setup = math.nan
        self._out = -math.inf
        self._settled: list[float] = []
        self._recent: deque[tuple[float, float]] = deque()
        self._level = self._end = math.nan

    def stand(self, lead_out_mm: float) -> None:
        """A frame before the takeaway: where the lead foot's pressure lies across it."""
        if not math.isnan(lead_out_mm):
            before = lead_out_mm if math.isnan(self._out_setup) else self._out_setup
            self._out_setup = before + _SETUP_PART * (lead_out_mm - before)

    def back(self, share: float, lead_foot: float) -> None:
        """A frame of the backswing: the lowest share, and the lead foot at it."""
        if share <= self._lowest:
            self._lowest = share
            if not math.isnan(lead_foot):
                self._lead_turn = lead_foot

    def forth(
        self, t_s: float, share: float, lead_foot: float, lead_out_mm: float, since_impact_s: float, slow: float
    ) -> None:
        """A frame after the turn of pressure.

        Parameters
        ----------
        share, lead_foot, lead_out_mm : float
            NaN where not known.
        since_impact_s : float
            NaN before impact.
        slow : float
            How many times slower than at full speed the swing is.
        """
        self._lead_least = lead_foot if math.isnan(self._lead_least) else min(self._lead_least, lead_foot)
        # Impact of a slow one is an estimate, and the way across may end after it.
        if not since_impact_s > (0.0 if slow == 1.0 else SETTLE_S[0] * slow) and not math.isnan(share):
            self._most = max(self._most, share)
        worked = self._lead_turn - self._lead_least
        self._out = max(self._out, lead_out_mm) if not math.isnan(lead_out_mm) else self._out
        slides = worked < HEEL_WORK and self._lowest < math.inf and self._out - self._out_setup >= EDGE_MM
        self.slide = self._most - self._lowest if slides else math.nan
        begin, end = (when * slow for when in SETTLE_S)
        if math.isnan(share):
            return
        self._recent.append((t_s, share))
        while self._recent[0][0] < t_s - RISES_S * slow:
            self._recent.popleft()
        risen = share - self._recent[0][1]
        self.comes = risen > WAY
        if not since_impact_s >= begin:
            return
        if math.isnan(self._end):
            if risen > RISES:
                return
            self._end = since_impact_s + end - begin
        if since_impact_s <= self._end:
            self._settled.append(share)
        elif self._settled and math.isnan(self._level):
            self._level = sorted(self._settled)[len(self._settled) // 2]
        self.unsteady = abs(share - self._level)


# Each frame of the setup moves what is known of the lead foot's place across it by this part of the way.
_SETUP_PART = 0.05
# Frames further apart than this do not belong together: half the lowest rate at which cues sound, 50 Hz.
_NEXT_S = 0.04
_AFTER_TURN = (Phase.DOWNSWING, Phase.FINISH)
# A setup is seen only when it has lasted a while. What lies outside then has done so before: its time is counted while
# standing, and nothing sounds of it.
_COUNTED = {**{at: name for name, at in WHEN.items()}, Phase.STANDING: "setup"}


CueSizes = Mapping[str, float]
"""Size of each cue that sounds by its name, above 0 to 1 (as far out as it gets); what is not named is silent."""

SILENT: CueSizes = {}


@dataclass
class _State:
    """Since when a cue has been outside, whether it sounds, and how far outside it was in the frame before."""

    since: float | None = None
    sounds: bool = False
    before: float = -math.inf
    at_s: float = math.nan


@dataclass(frozen=True)
class _Now:
    """One frame, as the bands see it."""

    t_s: float
    phase: Phase
    since_turn_s: float
    since_impact_s: float
    slow: float
    values: Mapping[str, float]


class CueRules:
    """The state of the cues.

    Parameters
    ----------
    rules : Rulebook or Bands, optional
        The program's own without them; `Bands` changes the limits of the two main cues alone.
    """

    def __init__(self, rules: Rulebook | Bands | None = None) -> None:
        self.book = with_bands(default_rules(), rules) if isinstance(rules, Bands) else rules or default_rules()
        self._extra = SlideAndFinish()
        self._states: dict[str, _State] = {}
        self._impact_s = math.nan
        self._highest: dict[str, float] = {}
        self._waits = False
        self._prepare()

    @property
    def bands(self) -> Bands:
        """The two main cues' limits in the short form."""
        return self._bands

    def change(self, book: Rulebook) -> None:
        """Other rules from the next frame on; what sounds goes on by them."""
        self.book = book
        self._prepare()

    def sizes_out(
        self,
        t_s: float,
        phase: Phase,
        *,
        share: float,
        overall: float,
        lead_foot: float,
        since_turn_s: float,
        sure: bool,
        after_impact: bool,
        slow: float = 1.0,
        lead_out_mm: float = math.nan,
        patient: bool = False,
    ) -> CueSizes:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s.
        share, overall, lead_foot : float
            Lead share, overall heel-toe position and the lead foot's; NaN (nothing known) is silent.
        since_turn_s : float
            Time since the turn of pressure; NaN before it.
        sure : bool
            The swing under way is one beyond doubt.
        slow : float
            How many times slower than at full speed the swing is; its time limits stretch with it.
        lead_out_mm : float
            Where the lead foot's pressure lies across it, outwards positive, from any zero; NaN: not known.
        patient : bool
            As in a slow swing the trail side waits until the share has come to the end of its way, whatever the tempo.
        """
        self._waits = patient or slow > 1.0
        if not after_impact or phase not in _AFTER_TURN:
            self._impact_s = math.nan
        elif math.isnan(self._impact_s):
            self._impact_s = t_s
        since_impact_s = t_s - self._impact_s
        self._watch(t_s, phase, share, lead_foot, lead_out_mm, since_impact_s, slow)
        values = {"overall": overall, "lead foot": lead_foot, "share": share}
        values["slide"], values["unsteady"] = self._extra.slide, self._extra.unsteady
        if phase not in _AFTER_TURN:
            self._highest.clear()
        else:
            for name, value in values.items():
                if value > self._highest.get(name, -math.inf):
                    self._highest[name] = value
        now = _Now(t_s, phase, since_turn_s, since_impact_s, slow if phase is not Phase.SETUP else 1.0, values)
        out = {}
        for rule, when in self._rules:
            silent = (rule.sure and not sure) or (after_impact and not rule.after_impact)
            if (size := self._size(rule, () if silent else when.get(phase, ()), now)) > 0:
                out[rule.name] = size
        return out

    def _prepare(self) -> None:
        """The rules that are on, each with its bands by phase: nothing of that has to be looked up in a frame."""
        self._bands = self.book.as_bands()
        self._rules = [
            (
                rule,
                {
                    at: tuple(band for band in rule.bands if name in band.when)
                    for at, name in _COUNTED.items()
                    if name == "setup" or not self.book.setup_only
                },
            )
            for rule in self.book.rules
            if rule.on
        ]

    def _watch(
        self, t_s: float, phase: Phase, share: float, lead_foot: float, lead_out_mm: float, since_impact_s: float,
        slow: float,
    ) -> None:  # fmt: skip
        if phase is Phase.BACKSWING:
            self._extra.back(share, lead_foot)
        elif phase in _AFTER_TURN:
            self._extra.forth(t_s, share, lead_foot, lead_out_mm, since_impact_s, slow)
        else:
            if self._extra.begun:
                self._extra.forget()
            self._extra.stand(lead_out_mm)

    def _size(self, rule: Rule, bands: tuple[Band, ...], now: _Now) -> float:
        state = self._states.setdefault(rule.name, _State())
        excess, dwell = -math.inf, 0.0
        for band in bands:
            # NaN: at any time, and a comparison with what has not come yet is false.
            early = now.since_turn_s < band.from_turn_s * now.slow or now.since_impact_s < band.from_impact_s * now.slow
            unknown = (not math.isnan(band.from_turn_s) and math.isnan(now.since_turn_s)) or (
                not math.isnan(band.from_impact_s) and math.isnan(now.since_impact_s)
            )
            beyond = band.excess(now.values[band.measure])
            back = not state.sounds and self._highest.get(band.measure, -math.inf) >= band.once_over
            back = back or (self._waits and self._extra.comes and not state.sounds and band.measure == "share")
            if not early and not unknown and not back and beyond > excess:
                excess, dwell = beyond, band.dwell_s * now.slow
        before, at_s = state.before, state.at_s
        state.before, state.at_s = excess, now.t_s
        if excess <= (-rule.ease if state.sounds else 0.0):
            state.since, state.sounds = None, False
            return 0.0
        if state.since is None:
            state.since = now.t_s
            if math.isfinite(before) and now.t_s - at_s <= _NEXT_S:
                # It crossed the limit between the two frames.
                state.since -= (now.t_s - at_s) * excess / (excess - before)
        state.sounds = now.phase is not Phase.STANDING and (state.sounds or now.t_s - state.since >= dwell)
        return rule.size(excess) if state.sounds else 0.0
