"""When the slow echo of a swing is due, and which part of the swing it plays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.engine.session import Lane
from groundtone.feel.good_one import aligned, differs_most, most_typical, usable
from groundtone.swing.events import Phase
from groundtone.tone.echo import LONGEST_S, USUAL_SLOWER, EchoPath

# So long after the tick it begins, s: an answer with the foot has its own moment before it.
AFTER_S = 1.2
# Later than this it would belong to no swing any more, s.
_TOO_LATE_S = 4.0
# Of the setup before the takeaway, and of the finish after the impact, s of the swing.
_BEFORE_S, _AFTER_S = 0.2, 0.8
_CALM = (Phase.AWAY, Phase.STANDING, Phase.SETUP)


# Between the end of the echo and the good one's, and so long before it a signal tells that it comes, s.
_BETWEEN_S, _TOLD_S = 1.2, 0.8


class GoodOnes:
    """A golfer's well-struck swings, by the club's class, and the most typical of each.

    Parameters
    ----------
    known : mapping of str to sequence of EchoPath, optional
        From earlier sessions.
    """

    def __init__(self, known: Mapping[str, Sequence[EchoPath]] | None = None) -> None:
        self._paths = {name: list(paths) for name, paths in (known or {}).items()}
        self._chosen: dict[str, EchoPath | None] = {}

    def add(self, club: str, path: EchoPath) -> None:
        """One more, of the practice under way."""
        self._paths.setdefault(club, []).append(path)
        self._chosen.pop(club, None)

    def typical(self, club: str) -> EchoPath | None:
        """The most typical one with clubs of a class; None with too few of them."""
        if club not in self._chosen:
            paths = self._paths.get(club, [])
            at = most_typical(paths)
            self._chosen[club] = None if at is None else paths[at]
        return self._chosen[club]


@dataclass
class EchoTimer:
    """Holds the path of the last swing until its echo is due, and the good one that follows it.

    Attributes
    ----------
    on : bool
        False: no echo, unless it is asked for.
    lead : str
        "left" or "right".
    good : GoodOnes or None
        None: no good one follows by itself.
    slower : float
        How many times slower the echo is than the swing.
    """

    on: bool
    lead: str
    good: GoodOnes | None = None
    slower: float = USUAL_SLOWER
    _path: EchoPath | None = None
    _since_s: float = 0.0
    _last: EchoPath | None = None
    _club: str = ""
    _second: EchoPath | None = None
    _second_s: float = 0.0
    _announced: bool = False
    _asked: bool = False

    def swing(self, t_s: float, lane: Lane, club: str = "") -> None:
        """A swing has ended at `t_s`, device time, with a club of this class."""
        self.drop()
        self._path = self._last = path_of(lane, self.lead)
        self._since_s, self._club = t_s, club

    def again(self, t_s: float, good: GoodOnes) -> bool:
        """It is asked for: the last swing once more and the good one after it; False before the first swing."""
        if self._last is None:
            return False
        self.drop()
        self._path, self._since_s, self._asked = self._last, t_s - AFTER_S, True
        self.good = self.good or good
        return True

    def due(self, t_s: float, phase: Phase, *, sounding: bool) -> EchoPath | None:
        """The path to play now, once; None otherwise.

        It waits while a cue sounds, and is dropped when the next swing begins or it has waited too long.
        """
        if self._second is not None and not sounding:
            if phase not in _CALM:
                self._second = None
            elif t_s >= self._second_s:
                path, self._second = self._second, None
                return path
        if self._path is None or not (self.on or self._asked):
            return None
        if phase not in _CALM or t_s - self._since_s > _TOO_LATE_S:
            self._path = None
            return None
        if t_s - self._since_s < AFTER_S or sounding:
            return None
        path, self._path, self._asked = self._path, None, False
        self._follow(t_s, path)
        return path

    def announces(self, t_s: float) -> str | None:
        """What differs most from the good one, once, just before that is heard."""
        if self._second is None or self._announced or t_s < self._second_s - _TOLD_S or self._last is None:
            return None
        self._announced = True
        return differs_most(self._last, self._second).sentence

    def drop(self) -> None:
        """No echo of what has been."""
        self._path = self._second = None
        self._asked = False

    def _follow(self, t_s: float, path: EchoPath) -> None:
        good = self.good.typical(self._club) if self.good is not None else None
        if good is None or not usable(path):
            return
        times = np.asarray(path.t_s)
        self._second = aligned(good, path)
        self._second_s = t_s + min(float(times[-1] - times[0]) * self.slower, LONGEST_S) + _BETWEEN_S
        self._announced = False


def path_of(lane: Lane, lead: str) -> EchoPath:
    """The stretch of a lane that an echo plays: from just before the takeaway to the finish."""
    end = lane.impact_s + _AFTER_S if np.isfinite(lane.impact_s) else np.inf
    part = (lane.t_s >= lane.takeaway_s - _BEFORE_S) & (lane.t_s <= end)
    return EchoPath(lane.t_s[part], lane.share[part], lane.overall[part], lane.turn_s, lane.impact_s, lead)
