"""A putt: a stroke of its own, struck by somebody who hardly moves, and what is measured of it.

Nothing in the pressure tells a putt from standing, so only the strike sensor tells of one, and only with a putter in
hand. It has no turn and no downswing; what counts is how still the golfer stayed: how far the centre swayed and how
much the share drifted until impact. Lengths are common practice: about twice as long back as forth.
"""

from __future__ import annotations

import math

import numpy as np

from groundtone.swing.definition import STRIKE_DOUBT_S
from groundtone.swing.doubts import Doubts, Measure
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.swing.evidence import Evidence
from groundtone.swing.window import Window

# From takeaway to impact, and from the top, s, with their doubts.
STROKE_S, STROKE_U_S, FORTH_S, FORTH_U_S = 0.95, 0.25, 0.30, 0.08
# More push (body weights) or share than this, whatever is in hand, was a swing.
MOST_PUSH, MOST_FALL, MOST_SPEED = 0.08, 0.08, 0.08
# Places of one stance differ truly.
_PLACE_U_MM = 1.0
NO_PUTT = "it is told of putts alone"
NO_FRAMES = "no frames arrived at that time"


def hardly_moved(seen: Evidence) -> bool:
    """Who was there while the ball was struck stood as one does over a putt."""
    moved = seen.fall > MOST_FALL or seen.over > MOST_FALL or seen.values["speed"] > MOST_SPEED
    return seen.push <= MOST_PUSH and not moved and not seen.walked


def putt_from(number: int, strike_s: float, seen: Evidence) -> Swing:
    """The putt that was struck at a moment."""
    impact = Moment(strike_s, "strike sensor", STRIKE_DOUBT_S)
    takeaway = Moment(strike_s - STROKE_S, "estimate", STROKE_U_S)
    top = Moment(strike_s - FORTH_S, "estimate", FORTH_U_S)
    return Swing(number, seen.setup_share, takeaway, None, top, impact, kind=Kind.PUTT)


def putt_measures(swing: Swing, window: Window, doubts: Doubts) -> dict[str, Measure]:
    """Sway and drift of a putt; NaN of anything else.

    `putt_sway_mm` is how far the centre wandered along the line between the feet from takeaway to impact, from end to
    end; `putt_drift` the lead share at impact less that at the takeaway.
    """
    names = (("putt_sway_mm", "mm"), ("putt_drift", "1"))
    if swing.kind is not Kind.PUTT or swing.impact is None:
        return {name: Measure(name, math.nan, math.nan, unit, NO_PUTT) for name, unit in names}
    cut = window.cut(swing.takeaway.t_s, swing.impact.t_s)
    across = window.centre_mm[cut, 0]
    across = across[np.isfinite(across)]
    share = window.share[cut]
    share = share[np.isfinite(share)]
    if min(across.size, share.size) < 10:
        return {name: Measure(name, math.nan, math.nan, unit, NO_FRAMES) for name, unit in names}
    # A tenth of the stroke at each end: one frame alone is mostly noise.
    part = max(share.size // 10, 1)
    drift = float(np.median(share[-part:]) - np.median(share[:part]))
    noise = float(np.abs(np.diff(share)).mean()) / math.sqrt(part)
    low, high = np.percentile(across, [2, 98])
    mats = doubts.shifted(swing.takeaway.t_s, swing.impact.t_s)
    return {
        "putt_sway_mm": Measure("putt_sway_mm", float(high - low), _PLACE_U_MM, "mm", ""),
        "putt_drift": Measure("putt_drift", drift, math.hypot(mats, noise), "1", "", mats),
    }
