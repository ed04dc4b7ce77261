"""What must be heard of a simulated swing: worked out from the twin's truth by arithmetic of its own, not by the cues'.

A cue must sound where the true value lay outside the band by the tolerance for longer than the dwell, and must not
where it never came nearer than the tolerance. Between the two no mat can tell, and nothing is judged.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.swing_knots import SwingTimes
from groundtone.twin.truth import Truth

TOES_SETUP, TOES, TOES_LEAD, TRAIL, TOLERANCE = 0.72, 0.67, 0.70, 0.58, 0.03
"""The program's own limits, written down once more: a change there has to be one here."""
DWELL_SETUP_S, DWELL_S, ARMED_S = 0.25, 0.03, 0.36
ONCE_OVER = 0.60
"""Who came across to this and went back is not told of the trail side."""
# The backswing is seen no later than this after the takeaway, s; until then the setup's limit may still be in force.
_BACK_SEEN_S = 0.3
FINISH_S, FOLLOW_S = 1.3, 0.45
# A setup is seen once the lead share has kept within 0.06 for so long, between these shares; for certain where it truly
# kept within a little less.
_STEADY, _STEADY_S, _SHARES = 0.05, 0.6, (0.35, 0.70)
# At the edges of a phase, s: what begins within it belongs to either side.
_EDGE_S = 0.1

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wanted:
    """What must be heard of one cue in one part of a swing.

    Attributes
    ----------
    cue, part : str
        Part: "setup" (until the turn of pressure) or "swing" (from it on).
    span_s : (float, float)
        Where it may sound.
    must : bool or None
        None: not judged.
    onset_s : float
        When it must begin, dwell included; NaN where it need not.
    latest_s : float
        And when at the latest: in the setup, where values drift over the limit slowly and where the setup may have to
        be seen first, when it was seen for certain and the dwell was over since the true value was outside by the
        tolerance; else the same.
    """

    cue: str
    part: str
    span_s: tuple[float, float]
    must: bool | None
    onset_s: float = math.nan
    latest_s: float = math.nan

    def late_s(self, begin_s: float) -> float:
        """By how much a tone that began then was late; negative: early."""
        return begin_s - min(max(begin_s, self.onset_s), self.latest_s)


def wanted(known: Truth, swing: SwingTimes, lead: int, frame_s: float) -> list[Wanted]:
    """What must be heard of a swing.

    Parameters
    ----------
    known : Truth
    swing : SwingTimes
    lead : int
        Which foot leads, 0 left or 1 right.
    frame_s : float
        Time between frames: an excursion must last that much longer than the dwell to be seen for certain.
    """
    with np.errstate(invalid="ignore"):
        begun = known.t_s >= swing.takeaway_s
        before = known.heel_toe_overall - np.where(begun, TOES, TOES_SETUP)
        surely = known.heel_toe_overall - np.where(known.t_s >= swing.takeaway_s + _BACK_SEEN_S, TOES, TOES_SETUP)
        after = np.fmax(known.heel_toe_overall - TOES, known.heel_toe[:, lead] - TOES_LEAD)
    slow = swing.slow
    over_s = min(swing.impact_s + FINISH_S + FOLLOW_S * (slow - 1.0), swing.end_s)
    trail = _judged(known.t_s, TRAIL - known.lead_share, "trail side", "swing",
                    (swing.turn_s + ARMED_S * slow, over_s), 0.0, frame_s)  # fmt: skip
    return [
        _at_setup(known, before, surely, swing, frame_s),
        _judged(known.t_s, after, "toes", "swing", (swing.turn_s, over_s), DWELL_S * slow, frame_s),
        _unless_it_was_across(known, swing, trail),
    ]


def _unless_it_was_across(known: Truth, swing: SwingTimes, trail: Wanted) -> Wanted:
    """The trail side's judgement, but for a golfer who came across before it could begin and went back."""
    if not trail.must:
        return trail
    cut = slice(int(np.searchsorted(known.t_s, swing.turn_s)), int(np.searchsorted(known.t_s, trail.onset_s)))
    most = float(np.nanmax(known.lead_share[cut])) if cut.stop > cut.start else 0.0
    if most <= ONCE_OVER - TOLERANCE:
        return trail
    return replace(trail, must=False if most > ONCE_OVER + TOLERANCE else None, onset_s=math.nan, latest_s=math.nan)


def _at_setup(known: Truth, excess: Array, surely: Array, swing: SwingTimes, frame_s: float) -> Wanted:
    """Toes at setup: it must sound once the setup is seen for certain, and must not from its very begin on."""
    seen_s = _setup_seen_s(known, swing)
    all_of_it = (min(swing.setup_s, seen_s), swing.turn_s)
    want = _judged(known.t_s, excess, "toes", "setup", all_of_it, DWELL_SETUP_S, frame_s)
    if want.must is False:
        return want
    want = _judged(known.t_s, surely, "toes", "setup", (seen_s, swing.turn_s), DWELL_SETUP_S, frame_s)
    return replace(want, must=want.must or None)


def _setup_seen_s(known: Truth, swing: SwingTimes) -> float:
    """When standing in the setup was seen for certain: the share has been steady for a while, s."""
    step_s = float(known.t_s[1] - known.t_s[0])
    width = round(_STEADY_S / step_s) + 1
    begin, end = (int(np.searchsorted(known.t_s, at)) for at in (swing.setup_s - 1.5, swing.takeaway_s))
    window = np.lib.stride_tricks.sliding_window_view(known.lead_share[begin:end], width)
    level = np.median(window[:, ::4], axis=1)
    steady = (np.ptp(window, axis=1) <= _STEADY) & (level >= _SHARES[0]) & (level <= _SHARES[1])
    # Where it is steady now and stays so: who rests on the way into the setup is seen too early, and not judged.
    seen = np.flatnonzero(~steady)[-1] + 1 if not steady.all() else 0
    return float(known.t_s[min(begin + seen + width - 1, end)])


def _judged(
    t_s: Array, excess: Array, cue: str, part: str, span_s: tuple[float, float], dwell_s: float, frame_s: float
) -> Wanted:
    cut = slice(int(np.searchsorted(t_s, span_s[0])), int(np.searchsorted(t_s, span_s[1] - _EDGE_S)))
    times, out = t_s[cut], np.nan_to_num(excess[cut], nan=-1.0)
    if times.size < 2 or out.max() <= -TOLERANCE:
        return Wanted(cue, part, span_s, False)
    lasting = dwell_s + 2 * frame_s
    for begin, end in _runs(out > TOLERANCE):
        if times[end - 1] - times[begin] >= lasting:
            # It crossed the limit itself a little before it was outside by the tolerance. Into the setup it may have
            # crossed before the setup was seen.
            first = 0 if part == "setup" else cut.start
            onset = float(t_s[_since(excess > 0, cut.start + begin, first)]) + dwell_s
            if part != "setup":
                return Wanted(cue, part, span_s, True, onset, onset)
            sure = float(t_s[_since(excess > TOLERANCE, cut.start + begin, first)]) + dwell_s
            return Wanted(cue, part, span_s, True, onset, max(sure, float(times[0])))
    return Wanted(cue, part, span_s, None)


def _since(on: NDArray[np.bool_], at: int, first: int) -> int:
    """Begin of the stretch of True that holds `at`, no earlier than `first`."""
    while at > first and on[at - 1]:
        at -= 1
    return at


def _runs(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Begin and end of each stretch of True."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edge[::2], edge[1::2], strict=True)]
