"""What is true of one swing: the values that a mat may measure, worked out from the golfer's own curves."""

import math

import numpy as np

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Session
from groundtone.twin.truth import Truth

HELD_SHARE, HELD_FORCE = 0.08, 0.2
REACHED_SHARE = 0.03


def true_measures(known: Truth, session: Session, index: int) -> dict[str, float]:
    """True values of one swing; times in s, forces in body weights, everything else a fraction.

    Parameters
    ----------
    known : Truth
        Of a scenario whose act is `session`.
    session : Session
    index : int
        Which swing.

    Returns
    -------
    dict
        By the names of docs/measures.md; NaN where there is none.
    """
    at, golfer = known.swings[index], session.golfer
    t = known.t_s
    lead = 0 if golfer.hand == "right" else 1
    share = known.lead_share
    lead_foot, trail_foot = known.heel_toe[:, lead], known.heel_toe[:, 1 - lead]
    weights = known.force_n.sum(axis=1) / (golfer.mass_kg * STANDARD_GRAVITY)

    def cut(low_s: float, high_s: float) -> slice:
        return slice(int(np.searchsorted(t, low_s)), int(np.searchsorted(t, high_s)) + 1)

    def here(values: FloatArray, when_s: float) -> float:
        return float(np.interp(when_s, t, values))

    setup, down = cut(at.takeaway_s - 1.0, at.takeaway_s - 0.05), cut(at.turn_s, at.impact_s)
    back, late = cut(at.takeaway_s, at.turn_s), cut(at.turn_s + (at.impact_s - at.turn_s) / 3, at.impact_s)
    near, after = cut(at.impact_s - 0.25, at.impact_s + 0.25), cut(at.impact_s, at.finish_s)
    # Across a foot outwards is towards the panel's left edge under the left foot, and away from it under the right one.
    lead_out, trail_out = ((-1.0, 1.0)[foot] * known.cop_v_mm[:, foot] for foot in (lead, 1 - lead))
    held = cut(at.finish_s, min(at.end_s, at.finish_s + 1.0))
    lead_least = float(np.nanmin(lead_foot[cut(at.turn_s, at.impact_s + 0.65 * at.slow)]))
    back_s, forth_s = at.top_s - at.takeaway_s, at.impact_s - at.top_s
    return {
        "share_setup": float(np.median(share[setup])),
        "overall_setup": float(np.median(known.heel_toe_overall[setup])),
        "share_turn": here(share, at.turn_s),
        "share_impact": here(share, at.impact_s),
        "trail_turn": here(trail_foot, at.turn_s),
        "lead_impact": here(lead_foot, at.impact_s),
        "overall_impact": here(known.heel_toe_overall, at.impact_s),
        "overall_most_down": float(np.nanmax(known.heel_toe_overall[down])),
        "overall_least_down": float(np.nanmin(known.heel_toe_overall[down])),
        "overall_least_late": float(np.nanmin(known.heel_toe_overall[late])),
        "share_most_down": float(np.nanmax(share[down])),
        "share_change_back": here(share, at.turn_s) - float(np.median(share[setup])),
        "share_over_back": float(np.nanmax(share[back])) - float(np.median(share[setup])),
        "lead_most_back": float(np.nanmax(lead_foot[back])),
        "trail_outer_back_mm": float(np.nanmax(trail_out[back]) - np.nanmedian(trail_out[setup])),
        "lead_outer_down_mm": float(np.nanmax(lead_out[down]) - np.nanmedian(lead_out[setup])),
        "lead_outer_after_mm": float(np.nanmax(lead_out[after]) - np.nanmedian(lead_out[setup])),
        "force_most_s": float(t[near][int(np.argmax(weights[near]))]) - at.impact_s,
        "side_shift": float(np.nanmax(share[down]) - np.nanmin(share[down])),
        "lead_heel_work": here(lead_foot, at.turn_s) - lead_least,
        "trail_heel_work": here(trail_foot, at.takeaway_s)
        - float(np.nanmin(trail_foot[cut(at.takeaway_s, at.turn_s)])),
        "lead_finish": float(np.nanmedian(lead_foot[held])),
        "share_finish": float(np.nanmedian(share[held])),
        "force_most": float(weights[cut(at.turn_s - 0.1, at.impact_s + 0.05)].max()),
        "shift_speed": float(np.nanmax(np.gradient(share[down], t[down]))),
        "tempo": back_s / forth_s,
        "to_turn_s": at.turn_s - at.takeaway_s,
        "turn_early": (at.impact_s - at.turn_s) / (at.impact_s - at.takeaway_s),
        "held_s": _held(known, weights, index),
        "stepped_s": at.step_s[0][0] - at.impact_s if at.step_s else math.nan,
    }


def _held(known: Truth, weights: FloatArray, index: int) -> float:
    """From when the share first comes near the finish's to when share or force leave it."""
    at, t, share = known.swings[index], known.t_s, known.lead_share
    level = float(np.interp(at.finish_s, t, share))
    here = int(np.searchsorted(t, at.finish_s))
    first = here
    while first > 0 and t[first] > at.impact_s and abs(share[first] - level) <= REACHED_SHARE:
        first -= 1
    last = here
    while last < t.size - 1 and abs(share[last] - level) <= HELD_SHARE and abs(weights[last] - 1.0) <= HELD_FORCE:
        last += 1
    return float(t[last] - t[first])
