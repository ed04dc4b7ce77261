"""A thing on the ground as a drill: whether the pressure has passed it, or left the trail heel, before impact.

A thin stick lies in the middle of the stance along the feet, or a coin's height of card under the trail heel (common
practice). Nothing ever lies where a foot lands or the club passes: in front of the toes, behind the ball, on its line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groundtone.swing.doubts import Measure
from groundtone.swing.events import Swing
from groundtone.swing.window import Array, Window

THINGS = ("middle", "trail heel")
NOT_PASSED = {
    "middle_passed_s": "the pressure did not pass the middle",
    "trail_heel_left_s": "it did not leave the trail heel",
}
# The trail foot's pressure has left the heel when it lies before this part of the foot (invented).
HEEL_TO = 0.40


@dataclass(frozen=True)
class Passed:
    """One swing.

    Attributes
    ----------
    passed : bool or None
        Before impact; None where it cannot be known.
    before_s : float
        How long before impact, s; below 0 after it; NaN where it did not happen or is not known.
    """

    passed: bool | None
    before_s: float


def passed_middle(t_s: Array, x_mm: Array, turn_s: float, impact_s: float) -> Passed:
    """Whether the overall centre has passed the middle of the stance (x = 0, towards the target) before impact.

    Parameters
    ----------
    t_s, x_mm : ndarray, shape (n,)
        Device time, s, and the overall centre's x in the stance frame, mm.
    turn_s, impact_s : float
        The turn of pressure (NaN: a moment before it is not known) and impact, device time, s.
    """
    return _first_over(t_s, x_mm, 0.0, turn_s, impact_s)


def left_trail_heel(t_s: Array, trail: Array, turn_s: float, impact_s: float) -> Passed:
    """Whether the trail foot's pressure has left its heel before impact, or the foot its place; as `passed_middle`.

    Parameters
    ----------
    trail : ndarray, shape (n,)
        Heel-toe position of the trail foot, 0-1; NaN where it carries too little for one.
    """
    return _first_over(t_s, np.where(np.isnan(trail), 1.0, trail), HEEL_TO, turn_s, impact_s)


def _first_over(t_s: Array, values: Array, limit: float, turn_s: float, impact_s: float) -> Passed:
    if math.isnan(turn_s) or math.isnan(impact_s):
        return Passed(None, math.nan)
    part = (t_s >= turn_s) & np.isfinite(values)
    t, over = t_s[part], values[part] > limit
    if not t.size or t[0] > impact_s:
        return Passed(None, math.nan)
    # From the last moment on this side before impact: who waggles over the middle has not passed it yet.
    behind = np.flatnonzero(~over & (t <= impact_s))
    first = int(behind[-1]) + 1 if behind.size else 0
    if first >= t.size:
        return Passed(False, math.nan)
    later = np.flatnonzero(over[first:])
    if not later.size:
        return Passed(False, math.nan)
    at = float(t[first + int(later[0])])
    return Passed(at <= impact_s, impact_s - at)


def ground_measures(swing: Swing, window: Window) -> dict[str, Measure]:
    """How long before impact the middle was passed and the trail heel left, s (below 0: after it), by name."""
    begun = swing.turn or swing.top
    turn = begun.t_s if begun is not None else math.nan
    impact = swing.impact.t_s if swing.impact is not None else math.nan
    found = {
        "middle_passed_s": passed_middle(window.t_s, window.centre_mm[:, 0], turn, impact),
        "trail_heel_left_s": left_trail_heel(window.t_s, window.trail, turn, impact),
    }
    out = {}
    for name, passed in found.items():
        if math.isnan(passed.before_s):
            why = NOT_PASSED[name] if passed.passed is False else "the turn or the impact was not found"
            out[name] = Measure(name, math.nan, math.nan, "s", why)
        else:
            u = math.hypot(swing.impact.doubt_s if swing.impact is not None else 0.0, 0.01)
            out[name] = Measure(name, passed.before_s, u, "s")
    return out
