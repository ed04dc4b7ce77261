"""The lanes of a reviewed session, as a PNG or SVG picture."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from groundtone.errors import GroundtoneError
from groundtone.lesson.lane_picture import LaneData, draw_lanes
from groundtone.record.reader import Entry
from groundtone.review.session_review import Review, ReviewedSwing
from groundtone.swing.events import Moment

_BEFORE_S, _AFTER_S = 1.4, 1.5
_CUES = {"toes": "toes", "trail side": "trail"}


def draw_review(path: Path, seen: Review) -> None:
    """Draws every swing whose impact is known, time from impact, with the cues that were heard.

    Raises
    ------
    GroundtoneError
        There is no swing to draw, another ending than .png or .svg, or the picture cannot be written.
    """
    if path.suffix.lower() not in (".png", ".svg"):
        raise GroundtoneError(f"lanes are drawn as .png or .svg, not as {path.suffix or 'a file without ending'}")
    lanes = [lane(seen, each) for each in seen.swings if each.swing.impact is not None]
    if not lanes:
        raise GroundtoneError("there is no swing to draw in this recording")
    try:
        draw_lanes(path, lanes)
    except OSError as error:
        raise GroundtoneError(f"{path} cannot be written ({error.strerror}): check the folder and the disk") from error


def lane(seen: Review, each: ReviewedSwing) -> LaneData:
    """One swing as a lane."""
    swing, series, bands = each.swing, seen.measured.series, seen.recording.about.settings.bands
    assert swing.impact is not None
    zero, slow = swing.impact.t_s, swing.slow
    before, after = _BEFORE_S * slow, _AFTER_S * slow
    cut = slice(*np.searchsorted(series.t_s, [zero - before, zero + after]))
    turn = swing.turn.t_s - zero if swing.turn is not None else math.nan
    events = [("takeaway", swing.takeaway), ("turn of pressure", swing.turn), ("impact", swing.impact)]
    if swing.top is not None and (swing.turn is None or swing.top.t_s > swing.turn.t_s + 0.02):
        events.append(("top (estimate)", swing.top))
    told = [f"Swing {swing.number}", *(f.title for f in each.findings[:1])]
    at_turn = 0.0 if math.isnan(turn) else turn
    return LaneData(
        t_s=series.t_s[cut] - zero,
        lead_share=series.share[cut],
        heel_toe=series.overall[cut],
        events=sorted((m.t_s - zero, word) for word, m in events if m is not None and _inside(m, zero, before, after)),
        bands={
            "lead_share": [(min(at_turn + bands.dwell_trail_s * slow, after), after, bands.trail, math.inf)],
            "heel_toe": [
                (-before, at_turn, -math.inf, bands.toes_before),
                (at_turn, after, -math.inf, bands.toes_after),
            ],
        },
        cues=heard(seen.recording.heard, zero, before, after),
        title=", ".join(told),
    )


def _inside(moment: Moment, zero: float, before: float, after: float) -> bool:
    return -before <= moment.t_s - zero <= after


def heard(entries: list[Entry], zero_s: float, before_s: float, after_s: float) -> list[tuple[float, float, str]]:
    """Cues heard around a moment: begin and end from it, s, and which."""
    out: list[tuple[float, float, str]] = []
    begun: dict[str, float] = {}
    for entry in entries:
        cue = _CUES.get(str(entry.table.get("sound")))
        if cue is None:
            continue
        at = entry.table["device_us"] * 1e-6 - zero_s
        if entry.table.get("on"):
            begun.setdefault(cue, at)
        elif cue in begun:
            begin = begun.pop(cue)
            if at > -before_s and begin < after_s:
                out.append((max(begin, -before_s), min(at, after_s), cue))
    return out
