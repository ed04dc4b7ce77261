"""When the slow echo of a swing is due, and which part of the swing it plays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from groundtone.engine.session import Lane
from groundtone.swing.events import Phase
from groundtone.tone.echo import EchoPath

# So long after the tick it begins, s: an answer with the foot has its own moment before it.
AFTER_S = 1.2
# Later than this it would belong to no swing any more, s.
_TOO_LATE_S = 4.0
# Of the setup before the takeaway, and of the finish after the impact, s of the swing.
_BEFORE_S, _AFTER_S = 0.2, 0.8
_CALM = (Phase.AWAY, Phase.STANDING, Phase.SETUP)


@dataclass
class EchoTimer:
    """Holds the path of the last swing until its echo is due.

    Attributes
    ----------
    on : bool
        False: no echo.
    lead : str
        "left" or "right".
    """

    on: bool
    lead: str
    _path: EchoPath | None = None
    _since_s: float = 0.0

    def swing(self, t_s: float, lane: Lane) -> None:
        """A swing has ended at `t_s`, device time."""
        self._path, self._since_s = path_of(lane, self.lead), t_s

    def due(self, t_s: float, phase: Phase, *, sounding: bool) -> EchoPath | None:
        """The path to play now, once; None otherwise.

        It waits while a cue sounds, and is dropped when the next swing begins or it has waited too long.
        """
        if self._path is None or not self.on:
            return None
        if phase not in _CALM or t_s - self._since_s > _TOO_LATE_S:
            self._path = None
            return None
        if t_s - self._since_s < AFTER_S or sounding:
            return None
        path, self._path = self._path, None
        return path

    def drop(self) -> None:
        """No echo of what has been."""
        self._path = None


def path_of(lane: Lane, lead: str) -> EchoPath:
    """The stretch of a lane that an echo plays: from just before the takeaway to the finish."""
    end = lane.impact_s + _AFTER_S if np.isfinite(lane.impact_s) else np.inf
    part = (lane.t_s >= lane.takeaway_s - _BEFORE_S) & (lane.t_s <= end)
    return EchoPath(lane.t_s[part], lane.share[part], lane.overall[part], lane.turn_s, lane.impact_s, lead)
