"""A recording reviewed as the library keeps it: the lesson room's review, turned into the library's rows."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

from groundtone.record.contents import FindingRow, SwingRow
from groundtone.record.reader import Recording
from groundtone.review.session_review import ReviewedSwing, review

_EVENTS = ("setup", "takeaway", "turn", "top", "impact", "finish", "step_off")


def analysed(recording: Recording, profile: Path | None = None) -> tuple[list[SwingRow], list[str]]:
    """The swings of a recording with what was measured and found in them, and what a reader must know.

    Parameters
    ----------
    recording : Recording
    profile : Path, optional
        A profile to measure with instead of the recorded one.

    Raises
    ------
    ProfileError, LayoutError
    """
    seen = review(recording, profile)
    return [_row(each) for each in seen.swings], seen.measured.doubts


def _row(each: ReviewedSwing) -> SwingRow:
    swing = each.swing
    moments = {name: getattr(swing, name) for name in _EVENTS}
    return SwingRow(
        number=swing.number,
        kind=swing.kind.value,
        impact_s=swing.impact.t_s if swing.impact is not None else math.nan,
        events={name: (m.t_s, m.source, m.doubt_s) for name, m in moments.items() if m is not None},
        measures={name: (m.value, m.u, m.reason) for name, m in each.measures.items()},
        findings=[FindingRow(f.name, f.probability, f.size, _plain(asdict(f))) for f in each.findings],
    )


def _plain(value: Any) -> Any:
    """The same without NaN and infinity, which JSON does not know."""
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value
