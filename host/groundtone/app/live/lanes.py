"""The lanes of a session as one picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from groundtone.app.live.session import Lane
from groundtone.cue.bands import Bands
from groundtone.errors import GroundtoneError
from groundtone.lesson.lane_picture import LaneData, draw_lanes

_BEFORE_S, _AFTER_S = 1.4, 1.5
_CUES = {"toes": "toes", "trail side": "trail"}


def draw_session(path: Path, lanes: Sequence[Lane], bands: Bands, titles: Sequence[str]) -> None:
    """Draws every swing of a session, time from impact; nothing is drawn where there was no swing.

    Raises
    ------
    GroundtoneError
        The picture cannot be written.
    """
    data = [_lane(lane, bands, title) for lane, title in zip(lanes, titles, strict=False)]
    if data:
        try:
            draw_lanes(path, data)
        except OSError as error:
            raise GroundtoneError(
                f"the picture {path} cannot be written ({error.strerror}): check the folder and the disk"
            ) from error


def _lane(lane: Lane, bands: Bands, title: str) -> LaneData:
    zero = lane.impact_s
    if math.isnan(zero):
        zero = lane.turn_s
    t_s = lane.t_s - zero
    shown = (t_s >= -_BEFORE_S) & (t_s <= _AFTER_S)
    turn = lane.turn_s - zero
    summary = lane.summary
    events = [(lane.takeaway_s - zero, "takeaway"), (turn, "turn of pressure"), (0.0, "impact")]
    if summary.top is not None and summary.top.t_s > lane.turn_s + 0.02:
        events.append((summary.top.t_s - zero, "top (estimate)"))
    return LaneData(
        t_s=t_s[shown],
        lead_share=lane.share[shown],
        heel_toe=lane.overall[shown],
        events=sorted(event for event in events if -_BEFORE_S <= event[0] <= _AFTER_S),
        bands={
            "lead_share": [(turn + bands.dwell_trail_s, _AFTER_S, bands.trail, math.inf)],
            "heel_toe": [
                (-_BEFORE_S, turn, -math.inf, bands.toes_before),
                (turn, _AFTER_S, -math.inf, bands.toes_after),
            ],
        },
        cues=[(max(begin, -_BEFORE_S), min(end, _AFTER_S), _CUES[cue]) for cue, begin, end in summary.heard],
        title=title,
    )
