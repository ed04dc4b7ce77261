"""Where each foot's pressure lay between heel and toes at the events of a swing: rows of a table, and one sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping

EVENTS = ("setup", "takeaway", "turn", "top", "impact", "finish")
# Up to so far from the heel edge, and what lies there (from memory: the ball of the foot at about 0.72).
_PLACES = (
    (0.35, "at the heel"), (0.46, "towards the heel"), (0.60, "under the laces"), (0.70, "between laces and ball"),
    (0.78, "over the ball"), (math.inf, "on the toes"),
)  # fmt: skip
_AT = {"setup": "At setup", "turn": "at the turn of pressure", "impact": "at impact", "finish": "at the finish"}


def place_word(position: float) -> str:
    """A heel-toe position in words.

    Examples
    --------
    >>> [place_word(p) for p in (0.3, 0.53, 0.72)]
    ['at the heel', 'under the laces', 'over the ball']
    """
    return next(word for most, word in _PLACES if position <= most)


def feet_rows(values: Mapping[str, float]) -> list[tuple[str, float, float]]:
    """Event, heel-toe position of the lead and of the trail foot; NaN where a foot has no place.

    Events at which neither has one are left out.

    Parameters
    ----------
    values : mapping of str to float
        Measures of a swing by name.
    """
    rows = [(event, values.get(f"lead_{event}", math.nan), values.get(f"trail_{event}", math.nan)) for event in EVENTS]
    return [(event, lead, trail) for event, lead, trail in rows if not (math.isnan(lead) and math.isnan(trail))]


def feet_sentence(values: Mapping[str, float]) -> str:
    """The same at setup, turn, impact and finish in one sentence; "" where nothing is known.

    Examples
    --------
    >>> feet_sentence({"lead_impact": 0.47, "trail_impact": 0.62})
    'At impact the lead foot carried under the laces (47 %), the trail foot between laces and ball (62 %).'
    """
    parts = []
    for event, *positions in feet_rows(values):
        feet = [
            f"the {foot} foot {{}}{place_word(at)} ({100 * at:.0f} %)"
            for foot, at in zip(("lead", "trail"), positions, strict=True)
            if not math.isnan(at)
        ]
        if event in _AT:
            parts.append(f"{_AT[event]} {', '.join(feet)}")
    said = "; ".join(parts)
    # The verb stands once.
    said = said.replace("{}", "carried ", 1).replace("{}", "")
    return f"{said[:1].upper()}{said[1:]}." if said else ""
