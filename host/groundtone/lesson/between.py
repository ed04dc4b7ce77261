"""What no number of swings takes out of the difference between two blocks: the mat's change between calibrations."""

from __future__ import annotations

import math

from groundtone.lesson.lesson_measures import looked_at
from groundtone.review.session_review import Review
from groundtone.swing.measures import Doubts


def doubts_between(first: Review, second: Review) -> tuple[dict[str, float], float]:
    """Standard uncertainty of the difference of each measure, and the relative one of a change.

    Within one calibration an offset of the mat is in both blocks and drops out; its scale does not.
    """
    doubts = first.doubts, second.doubts
    scale = 0.02 if max(d.share for d in doubts) <= Doubts().share else 0.05
    if first is second or _profile_of(first) == _profile_of(second) is not None:
        return {}, scale
    return between_calibrations(*doubts), scale


def between_calibrations(first: Doubts, second: Doubts) -> dict[str, float]:
    """Standard uncertainty of the difference of each measure that rests on two calibrations."""
    share, position = (math.hypot(getattr(first, name), getattr(second, name)) for name in ("share", "position"))
    return {
        measure.name: share if "share" in measure.name or measure.name == "side_shift" else position
        for measure in looked_at()
        if measure.unit == "%" and measure.name != "turn_early"
    }


def _profile_of(seen: Review) -> str | None:
    return seen.recording.about.profile_text
