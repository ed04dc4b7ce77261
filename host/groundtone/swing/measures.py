"""What can be measured of one swing: every measure with its uncertainty, or NaN with the reason.

The definitions, with a drawing of heel work and side work, are in docs/measures.md; names here and there are the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from groundtone.pressure.ellipse import ellipse, sway
from groundtone.pressure.series import Series
from groundtone.swing.doubts import Doubts, Measure, guessed_doubts
from groundtone.swing.events import Kind, Moment, Swing, backswing, later, part_way, unturned
from groundtone.swing.extremes import Pick, at_pick, extreme, most_back
from groundtone.swing.ground import ground_measures
from groundtone.swing.putting import putt_measures
from groundtone.swing.track import GRID_S, smooth
from groundtone.swing.window import Window, any_known, finite, known, middle, window_of

Array = NDArray[np.float64]

EVENTS = ("setup", "takeaway", "turn", "top", "impact", "finish")
NO_PLACE = "the foot carries too little to have a place"
NO_PRINT = "no footprint was found: rock once from the heels to the toes"
NO_EVENT = "the {} was not found"
NO_FRAMES = "no frames arrived at that time"
NO_SIDE = "the pressure went to neither side"
# Standing still is judged over this long, s, and over no less than that.
STILL_S, LEAST_STILL_S = 1.0, 0.5
# The lead heel has taken over by this long after impact, s; a slow swing takes so many times longer.
HEEL_S = 0.65
# A foot lifted later than this after impact is no longer part of the swing, s.
STEPPED_S = 3.0
# The downswing's late part begins this part of the way from its begin to impact: a deep trail heel is no fault of it.
LATE = 1 / 3
# A shoe is about so broad (from memory), mm: two places across a foot are as sure as two along it, by its breadth.
BREADTH_MM = 100.0
# These are told only where their doubt leaves something of them: no more than this part of the value.
SURE, MOST_U = ("tempo", "backswing_s", "downswing_s"), 0.7
UNSURE = "the moments of takeaway and top are too uncertain"
NEEDS_STRIKE = "only a strike sensor tells when the ball was struck"
# The finish is reached and left where the share comes within a limit and goes out of it: by so much each way, s.
HELD_U_S = 0.042
# Zero-phase low-pass of the centre before its path is measured, Hz: 5 as in Prieto and others for standing.
SWAY_HZ, PATH_HZ = 5.0, 12.0


def measures(swing: Swing, series: Series, doubts: Doubts | None = None) -> dict[str, Measure]:
    """Every measure of a swing, by name.

    Parameters
    ----------
    swing : Swing
        From `groundtone.swing.phases.find_swings`.
    series : Series
        In which it was found.
    doubts : Doubts, optional
        Of the calibration; None: those of a mat that nobody has calibrated.
    """
    return _Measuring(swing, window_of(swing, series), doubts or guessed_doubts()).all()


class _Measuring:
    """The measures of one swing, gathered one by one."""

    def __init__(self, swing: Swing, window: Window, doubts: Doubts) -> None:
        self.swing, self.w, self.doubts = swing, window, doubts
        self.curves = self._curves()
        self.out: dict[str, Measure] = {}
        self.moments: dict[str, Moment | None] = {
            "takeaway": swing.takeaway, "turn": swing.turn, "top": swing.top, "impact": swing.impact,
            "finish": swing.finish,
        }  # fmt: skip
        # Where pressure does not turn, the downswing begins as long before impact as in others; a putt has none.
        self.moments["down"] = down = swing.turn or (unturned(swing) if swing.kind is not Kind.PUTT else None)
        self.moments["late"] = part_way(down, swing.impact, LATE)

    def all(self) -> dict[str, Measure]:
        self._at_events()
        self._extremes()
        self._times()
        self._work()
        self._force()
        self._finish()
        self._edges()
        self._lateness()
        self._steadiness()
        return self.out | ground_measures(self.swing, self.w) | putt_measures(self.swing, self.w, self.doubts)

    def put(self, name: str, value: float, u: float, unit: str, reason: str = NO_FRAMES, common: float = 0.0) -> None:
        if name in SURE and u > MOST_U * abs(value):
            value, reason = math.nan, UNSURE
        known = math.isfinite(value)
        numbers = (float(value), float(u), unit, "", float(common)) if known else (math.nan, math.nan, unit, reason)
        self.out[name] = Measure(name, *numbers)

    def _curves(self) -> dict[str, tuple[Array, Array, Array]]:
        """Each curve with what its footprint leaves open and what the calibration does, frame by frame."""
        w = self.w
        share_u, place_u = self.doubts.of_frames(w.t_s, w.share, (w.lead_mm, w.trail_mm))
        # What the two feet's places do is told by the foot that carries more, which counts more.
        carried = np.where(np.nan_to_num(w.share, nan=0.5) >= 0.5, place_u[:, 0], place_u[:, 1])
        return {
            "share": (w.share, np.zeros(w.t_s.shape), share_u),
            "lead": (w.lead, w.lead_u, place_u[:, 0]),
            "trail": (w.trail, w.trail_u, place_u[:, 1]),
            "overall": (w.overall, np.nan_to_num(np.fmax(w.lead_u, w.trail_u) / math.sqrt(2)), carried),
        }

    def _missing(self, which: str) -> str:
        lengths = {"lead": (self.w.lead_mm,), "trail": (self.w.trail_mm,), "overall": (self.w.lead_mm, self.w.trail_mm)}
        if all(map(math.isnan, lengths.get(which, (1.0,)))):
            return NO_PRINT
        return NO_PLACE if which in ("lead", "trail") else NO_FRAMES

    def _at_events(self) -> None:
        for which, (values, own, doubt) in self.curves.items():
            for event in EVENTS:
                name = f"{which}_{event}"
                still = self._still() if event == "setup" else self._held() if event == "finish" else None
                if still is not None:
                    seen = finite(values[still])
                    mats = math.hypot(middle(doubt[still]), middle(own[still]))
                    u = math.hypot(mats, float(seen.std()))
                    self.put(name, float(np.median(seen)), u, "1", self._missing(which), mats)
                    continue
                moment = self.moments[event]
                if moment is None:
                    self.put(name, math.nan, math.nan, "1", NO_EVENT.format(event))
                    continue
                value = self._value(values, moment.t_s)
                mats = math.hypot(self._value(doubt, moment.t_s), known(self._value(own, moment.t_s)))
                u = math.hypot(mats, self._moving(values, moment))
                self.put(name, value, u, "1", self._missing(which), mats)

    def _still(self) -> slice:
        takeaway = self.swing.takeaway.t_s
        begin = self.swing.setup.t_s if self.swing.setup is not None else takeaway - 1.0
        return self.w.cut(max(begin, takeaway - 1.5), takeaway - 0.05)

    def _held(self) -> slice | None:
        """Where the finish is held; None where it is not, and its moment has to do."""
        finish, end_s = self.swing.finish, self.swing.end_s
        if finish is None or not end_s - finish.t_s >= 0.4:
            return None
        return self.w.cut(finish.t_s + 0.15 * self.swing.slow, min(end_s, finish.t_s + 1.2 * self.swing.slow))

    def _value(self, values: Array, when_s: float) -> float:
        """Straight between the frames around; NaN beside NaN and outside."""
        t = self.w.t_s
        if not t.size or not t[0] <= when_s <= t[-1]:
            return math.nan
        after = int(np.clip(np.searchsorted(t, when_s), 1, t.size - 1))
        part = (when_s - t[after - 1]) / (t[after] - t[after - 1])
        if part <= 0 or part >= 1:
            return float(values[after if part >= 1 else after - 1])
        return float(values[after - 1] + part * (values[after] - values[after - 1]))

    def _moving(self, values: Array, moment: Moment) -> float:
        """What the event's doubt in time makes of the value: its spread over one doubt to either side."""
        before, here, after = (self._value(values, moment.t_s + k * moment.doubt_s) for k in (-1, 0, 1))
        steps = [abs(v - here) for v in (before, after) if math.isfinite(v)]
        return max(steps, default=0.0) if math.isfinite(here) else 0.0

    def _span(self, begin: str, end: str) -> slice | None:
        low, high = self.moments[begin], self.moments[end]
        return None if low is None or high is None else self.w.cut(low.t_s, high.t_s)

    def _extremes(self) -> None:
        spans = {
            "back": ("takeaway", "down"), "down": ("down", "impact"), "late": ("late", "impact"),
            "after": ("impact", "finish"),
        }  # fmt: skip
        for part, (begin, end) in spans.items():
            span = self._span(begin, end)
            for which, (values, own, doubt) in self.curves.items():
                for most, pick in (("least", np.min), ("most", np.max)):
                    name = f"{which}_{most}_{part}"
                    if span is None:
                        self.put(name, math.nan, math.nan, "1", NO_EVENT.format(end))
                        continue
                    value, ends = self._extreme(values, begin, end, pick)
                    at = at_pick(values, span, pick)
                    mats = math.hypot(float(doubt[at]) if at is not None else 0.0, middle(own[span]))
                    self.put(name, value, math.hypot(mats, ends), "1", self._missing(which), mats)
        self._when("trail_most", "takeaway", "impact", lambda share: 1 - share)
        self._when("lead_most", "down", "finish", lambda share: share)

    def _extreme(self, values: Array, begin: str, end: str, pick: Pick) -> tuple[float, float]:
        """What is picked between two events, with what their doubt and noise make of it; NaN without the events."""
        low, high = self.moments[begin], self.moments[end]
        return extreme(self.w.t_s, values, low, high, pick) if low and high else (math.nan, 0.0)

    def _when(self, name: str, begin: str, end: str, of: Callable[[Array], Array]) -> None:
        """Largest share of a side, and when, from impact."""
        span, impact = self._span(begin, end), self.moments["impact"]
        seen = of(self.w.share[span]) if span is not None else np.array([])
        if impact is None or not np.isfinite(seen).any():
            self.put(f"{name}_share", math.nan, math.nan, "1", NO_EVENT.format(end))
            self.put(f"{name}_s", math.nan, math.nan, "s", NO_EVENT.format(end))
            return
        value = float(np.nanmax(seen))
        near = self.w.t_s[span][seen >= value - 0.005] - impact.t_s
        ends = self._extreme(of(self.w.share), begin, end, np.max)[1]
        mats = float(self.curves["share"][2][span][int(np.nanargmax(seen))])
        self.put(f"{name}_share", value, math.hypot(mats, ends), "1", common=mats)
        self.put(f"{name}_s", float(near.mean()), math.hypot(float(near.std()), 0.01, impact.doubt_s), "s")

    def _between(self, name: str, begin: str, end: str) -> tuple[float, float]:
        low, high = self.moments[begin], self.moments[end]
        if low is None or high is None:
            self.put(name, math.nan, math.nan, "s", NO_EVENT.format(end if high is None else begin))
            return math.nan, math.nan
        value, u = high.t_s - low.t_s, math.hypot(low.doubt_s, high.doubt_s)
        self.put(name, value, u, "s")
        return value, u

    def _times(self) -> None:
        self._between("to_turn_s", "takeaway", "turn")
        forth, forth_u = self._between("turn_to_impact_s", "turn", "impact")
        back, _ = self._between("backswing_s", "takeaway", "top")
        down, _ = self._between("downswing_s", "top", "impact")
        self._between("turn_lead_s", "turn", "top")
        whole, whole_u = self._between("takeaway_to_impact_s", "takeaway", "impact")
        top = self.swing.top
        # The top's doubt moves both parts of the tempo, against each other; those of the ends one part each.
        takeaway, impact = self.swing.takeaway, self.swing.impact
        u = math.nan
        if top is not None and impact is not None and down > 0:
            u = math.hypot(whole * top.doubt_s, down * takeaway.doubt_s, back * impact.doubt_s) / down**2
        self.put("tempo", back / down if down > 0 else math.nan, u, "1", NO_EVENT.format("top"))
        part = forth / whole if whole > 0 else math.nan
        u = math.hypot(forth_u / whole, part * whole_u / whole) if whole > 0 else math.nan
        self.put("turn_early", part, u, "1", NO_EVENT.format("turn" if self.moments["turn"] is None else "impact"))

    def _work(self) -> None:
        w, swing = self.w, self.swing
        place_mm = self.doubts.place_mm
        for part, begin, end in (
            ("back", "takeaway", "down"), ("down", "down", "impact"), ("swing", "takeaway", "finish"),
        ):  # fmt: skip
            span = self._span(begin, end)
            path = sway(*_evenly(w.t_s[span], w.centre_mm[span], PATH_HZ)) if span is not None else None
            length = path.path_mm if path is not None else math.nan
            self.put(
                f"path_{part}_mm", length, math.hypot(place_mm, 0.03 * length), "mm", NO_EVENT.format(end), place_mm
            )
        trail, trail_u = self._heel_work("trail", "takeaway", self.moments["down"])
        lead, lead_u = self._heel_work("lead", "down", later(swing.impact, HEEL_S * swing.slow))
        span = self._span("takeaway", "finish")
        side = float(np.ptp(finite(w.centre_mm[span, 0]))) if span is not None and span.stop > span.start else math.nan
        side_u = math.hypot(place_mm, self._shifted("takeaway", "impact") * w.width_mm)
        self.put("side_work_mm", side, side_u, "mm", NO_EVENT.format("finish"), side_u)
        heel = trail * w.trail_mm + lead * w.lead_mm
        heel_u = math.hypot(trail_u * w.trail_mm, lead_u * w.lead_mm)
        reason = self.out["lead_heel_work"].reason or self.out["trail_heel_work"].reason
        self.put("heel_work_mm", heel, heel_u, "mm", reason)
        ratio = heel / side if side > 0 else math.nan
        u = math.hypot(heel_u / side, ratio * side_u / side) if side > 0 else math.nan
        self.put("heel_side_ratio", ratio, u, "1", reason or self.out["side_work_mm"].reason or NO_SIDE)
        shift, ends = self._extreme(w.share, "down", "impact", np.ptp)
        mats = self._shifted("down", "impact")
        self.put("side_shift", shift, math.hypot(mats, ends), "1", NO_EVENT.format("impact"), mats)
        speed = np.gradient(w.share, w.t_s) if w.t_s.size > 2 else np.full(w.t_s.shape, np.nan)
        fastest, ends = self._extreme(speed, "down", "impact", np.max)
        self.put("shift_speed", fastest, math.hypot(0.01 * fastest + 0.05, ends), "1/s", NO_EVENT.format("impact"))

    def _heel_work(self, foot: str, begin: str, stop: Moment | None) -> tuple[float, float]:
        """How far a foot's pressure goes to its heel, part of its length."""
        values = self.w.lead if foot == "lead" else self.w.trail
        start = self.moments[begin]
        name = f"{foot}_heel_work"
        if start is None or stop is None:
            self.put(name, math.nan, math.nan, "1", NO_EVENT.format("turn or impact"))
            return math.nan, math.nan
        least, ends = extreme(self.w.t_s, values, start, stop, np.min)
        work = self._value(values, start.t_s) - least
        at = at_pick(values, self.w.cut(start.t_s, stop.t_s), np.min)
        foot_mm = self.w.lead_mm if foot == "lead" else self.w.trail_mm
        mats = self.doubts.moved(int(foot == "trail"), start.t_s, float(self.w.t_s[at or 0]), foot_mm)
        u = math.hypot(mats, self._moving(values, start), ends)
        self.put(name, work, u, "1", self._missing(foot), mats)
        return work, u

    def _shifted(self, begin: str, end: str, **part: float) -> float:
        """What the mat leaves of a change of the share between two events."""
        first, last = self.moments[begin], self.moments[end]
        return self.doubts.shifted(first.t_s, last.t_s, **part) if first and last else self.doubts.share

    def _force(self) -> None:
        w, slow = self.w, self.swing.kind is Kind.REHEARSAL
        reason = "a slow rehearsal takes no force" if slow else NO_EVENT.format("impact")
        turn, impact = self.moments["down"], self.swing.impact
        if slow or turn is None or impact is None:
            for name in ("force_least", "force_most", "force_impact"):
                self.put(name, math.nan, math.nan, "body weights", reason)
            return
        span = w.cut(turn.t_s - 0.1, impact.t_s + 0.05)
        seen = w.weights[span]
        known = any_known(w.weights, span)
        most = int(np.nanargmax(seen)) if known else 0
        values = {
            "force_least": float(np.nanmin(seen[: most + 1])) if known else math.nan,
            "force_most": float(np.nanmax(seen)) if known else math.nan,
        }
        push_u = self.doubts.pushed(self.swing.takeaway.t_s, impact.t_s)
        for name, value in values.items():
            self.put(name, value, push_u * value, "body weights", common=push_u * value)
        at = self._value(w.weights, impact.t_s)
        u = math.hypot(push_u, self._moving(w.weights, impact))
        self.put("force_impact", at, u, "body weights", common=push_u)

    def _finish(self) -> None:
        w, finish = self.w, self.swing.finish
        if finish is None:
            for name in ("held_s", "stepped_s"):
                self.put(name, math.nan, math.nan, "s", NO_EVENT.format("finish"))
            return
        held = self.swing.end_s - finish.t_s
        self.put("held_s", held, HELD_U_S, "s", NO_EVENT.format("end"))
        impact = self.swing.impact
        stepped = w.lifted_s - impact.t_s if impact is not None else math.nan
        stepped = stepped if stepped < STEPPED_S else math.nan
        self.put("stepped_s", stepped, 0.08, "s", "no foot was lifted within three seconds of impact")

    def _edges(self) -> None:
        """How far each foot's pressure goes to its outer edge, from where it was at setup, mm."""
        w, still = self.w, self._still()
        for name, values, begin, end in (
            ("trail_outer_back_mm", w.trail_out_mm, "takeaway", "down"),
            ("lead_outer_down_mm", w.lead_out_mm, "down", "impact"),
            ("lead_outer_after_mm", w.lead_out_mm, "impact", "finish"),
        ):
            span = self._span(begin, end)
            if span is None or not (any_known(values, span) and any_known(values, still)):
                self.put(name, math.nan, math.nan, "mm", NO_EVENT.format(end) if span is None else NO_PLACE)
                continue
            most, ends = self._extreme(values, begin, end, np.max)
            at, foot = at_pick(values, span, np.max), int(name.startswith("trail"))
            most_s = float(w.t_s[at]) if at is not None else w.t_s[span.start]
            mats = BREADTH_MM * self.doubts.moved(foot, self.swing.takeaway.t_s, most_s, (w.lead_mm, w.trail_mm)[foot])
            self.put(name, most - float(np.nanmedian(values[still])), math.hypot(mats, ends), "mm", common=mats)

    def _lateness(self) -> None:
        """The share's change in the backswing, and when the force was greatest from impact."""
        setup, turn = self.out["share_setup"], self.out["share_turn"]
        mats = self._shifted("takeaway", "turn", part=0.5)
        change_u = math.hypot(mats, 0.01)
        self.put("share_change_back", turn.value - setup.value, change_u, "1", turn.reason or setup.reason, mats)
        back = backswing(self.swing, self.moments["down"])
        most, edge = most_back(self.w.t_s, self.w.share, back, setup.value - 2 * change_u)
        over_u, why = math.hypot(change_u, edge), setup.reason or NO_EVENT.format("impact")
        self.put("share_over_back", most - setup.value, over_u, "1", why, mats)
        impact = self.swing.impact
        if impact is None or self.swing.kind is Kind.REHEARSAL:
            self.put("force_most_s", math.nan, math.nan, "s", NO_EVENT.format("impact"))
            return
        near = self.w.cut(impact.t_s - 0.25, impact.t_s + 0.25)
        seen = self.w.weights[near]
        when = float(self.w.t_s[near][int(np.nanargmax(seen))]) - impact.t_s if np.isfinite(seen).any() else math.nan
        # Without a strike sensor impact itself was told by this peak: then it says nothing.
        when = math.nan if self.swing.impact_unsure else when
        self.put("force_most_s", when, math.hypot(0.008, impact.doubt_s), "s", NEEDS_STRIKE)

    def _steadiness(self) -> None:
        w = self.w
        self._steady("setup", self._still(), "the setup was not still for half a second")
        finish = self.swing.finish
        if finish is None:
            self._steady("finish", slice(0, 0), NO_EVENT.format("finish"))
            return
        end_s = min(self.swing.end_s, finish.t_s + 0.1 + STILL_S)
        self._steady("finish", w.cut(finish.t_s + 0.1, end_s), "the finish was not held for half a second")

    def _steady(self, name: str, span: slice, reason: str) -> None:
        w = self.w
        t, at = w.t_s[span], w.centre_mm[span]
        enough = t.size > 1 and t[-1] - t[0] >= LEAST_STILL_S - 0.02
        area = ellipse(at) if enough else None
        moved = sway(*_evenly(t, at, SWAY_HZ)) if enough else None
        # Half a second to one and a half hold about as many independent places as seconds times four.
        few = math.sqrt(1 / max(4 * float(t[-1] - t[0]), 1.0)) if enough else math.nan
        self.put(f"{name}_ellipse_mm2", area.area_mm2 if area else math.nan, (area.area_mm2 if area else 0) * few,
                 "mm²", reason)  # fmt: skip
        self.put(f"{name}_sway_mm_s", moved.speed_mm_s if moved else math.nan,
                 (moved.speed_mm_s if moved else 0) * 0.3, "mm/s", reason)  # fmt: skip


def _evenly(t_s: Array, at_mm: Array, cut_hz: float) -> tuple[Array, Array]:
    """Places on the even grid, smoothed without delay: the length of a noisy path is mostly noise."""
    known = np.isfinite(at_mm).all(axis=1)
    if np.count_nonzero(known) < 10:
        return t_s, at_mm
    grid = np.arange(t_s[known][0], t_s[known][-1], GRID_S)
    parts = [smooth(np.interp(grid, t_s[known], at_mm[known, axis]), cut_hz) for axis in (0, 1)]
    return grid, np.stack(parts, axis=1)
