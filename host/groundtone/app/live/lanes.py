"""The lanes of a session as one picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from groundtone.cue.bands import Bands
from groundtone.engine.session import Lane as Frames
from groundtone.errors import GroundtoneError, Telling
from groundtone.lesson.lane_picture import draw_lanes
from groundtone.review.lane import Lane, lane_of


def draw_session(path: Path, lanes: Sequence[Frames], bands: Bands, titles: Sequence[str]) -> None:
    """Draws every swing of a session, time from impact; nothing is drawn where there was no swing.

    Raises
    ------
    GroundtoneError
        The picture cannot be written.
    """
    data = [_lane(lane, bands, title) for lane, title in zip(lanes, titles, strict=False)]
    if data:
        with Telling(GroundtoneError, f"the picture {path} cannot be written", "check the folder and the disk"):
            draw_lanes(path, data)


def _lane(lane: Frames, bands: Bands, title: str) -> Lane:
    zero = lane.turn_s if math.isnan(lane.impact_s) else lane.impact_s
    moments = {"takeaway": lane.takeaway_s, "turn": lane.turn_s, "impact": lane.impact_s}
    if lane.summary.top is not None:
        moments["top"] = lane.summary.top.t_s
    heard = [(cue, zero + begin, zero + end) for cue, begin, end in lane.summary.heard]
    return lane_of(moments, lane, bands, heard, zero_s=zero, title=title)
