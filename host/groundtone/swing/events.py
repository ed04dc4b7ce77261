"""What is known of a swing: its events, each with how it was found and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum


class Phase(Enum):
    """Where in a swing, or out of it, the golfer is."""

    AWAY = "away"
    STANDING = "standing"
    SETUP = "setup"
    BACKSWING = "backswing"
    DOWNSWING = "downswing"
    FINISH = "finish"


@dataclass(frozen=True)
class Moment:
    """An event.

    Attributes
    ----------
    t_s : float
        Device time, s.
    source : str
        How it was found: "pressure", "strike sensor" or "estimate".
    doubt_s : float
        Standard uncertainty, s.
    """

    t_s: float
    source: str
    doubt_s: float


@dataclass
class Swing:
    """One swing as the live engine saw it. Events are None until they have come."""

    number: int
    setup_share: float
    takeaway: Moment
    turn: Moment | None = None
    top: Moment | None = None
    impact: Moment | None = None
    end_s: float = math.nan
    heard: list[tuple[str, float, float]] = field(default_factory=list)
    """Cues: name, begin and end, s of device time."""

    @property
    def impact_unsure(self) -> bool:
        """No strike sensor has told the moment of impact."""
        return self.impact is None or self.impact.source == "estimate"
