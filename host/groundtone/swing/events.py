"""What is known of a swing: its events, each with how it was found and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import Enum

from groundtone.swing.definition import TURN_TO_IMPACT_S

# Pressure turns 0 to 0.25 s before the top (from memory): a standard deviation of that, s.
UNTURNED_U_S = 0.07
# A backswing at full speed takes no longer to its turn than this, s (from memory: about 0.75).
BACK_S = 1.3
# Where the takeaway is not to be seen (so doubtful, s), only what lies no longer before the turn than a usual backswing
# is surely one (0.75 s, from memory): before it a golfer may still have milled about.
UNSEEN_U_S, SURE_BACK_S = 0.25, 0.75


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


class Kind(Enum):
    """What sort of swing it was.

    A practice swing can only be told where there is a strike sensor; without one it counts as a swing.
    """

    SWING = "swing"
    PRACTICE = "practice swing"
    REHEARSAL = "slow rehearsal"
    PUTT = "putt"


@dataclass
class Swing:
    """One swing, seen live (`swing.tracker`) or in review (`swing.phases`). Events are None until they have come.

    The live engine knows neither `setup`, `finish` and `step_off` nor the waggles; review fills them in.

    Attributes
    ----------
    number : int
    setup_share : float
        Lead share of the steady setup.
    takeaway, turn, top, impact : Moment or None
    end_s : float
        When it was over, s of device time.
    heard : list of (str, float, float)
        Cues: name, begin and end, s of device time.
    kind : Kind
    slow : float
        How many times slower than a full swing, 1 for one at full speed.
    top_range_s : (float, float)
        The top lies in it with 95 % probability.
    setup : Moment or None
        Begin of the steady setup.
    waggles : tuple of Moment
        The furthest point of each.
    finish : Moment or None
        The finish has been reached.
    step_off : Moment or None
        The golfer left the mat after it, before another swing.
    """

    number: int
    setup_share: float
    takeaway: Moment
    turn: Moment | None = None
    top: Moment | None = None
    impact: Moment | None = None
    end_s: float = math.nan
    heard: list[tuple[str, float, float]] = field(default_factory=list)
    kind: Kind = Kind.SWING
    slow: float = 1.0
    top_range_s: tuple[float, float] = (math.nan, math.nan)
    setup: Moment | None = None
    waggles: tuple[Moment, ...] = ()
    finish: Moment | None = None
    step_off: Moment | None = None

    @property
    def impact_unsure(self) -> bool:
        """No strike sensor has told the moment of impact."""
        return self.impact is None or self.impact.source != "strike sensor"


@dataclass(frozen=True)
class Tracked:
    """What one step brought: the phase, and the swing that ended in this very step, if one did.

    `unseen_s` is the moment of a strike for which no swing was seen, told once; `faint` when it was fainter than the
    golfer's own and nothing had moved.
    """

    phase: Phase
    ended: Swing | None = None
    turned: bool = False
    unseen_s: float | None = None
    faint: bool = False


NOTHING = {phase: Tracked(phase) for phase in Phase}
"""What most steps bring."""


def part_way(first: Moment | None, second: Moment | None, part: float) -> Moment | None:
    """A moment between two, `part` of the way from the first, with the doubt of both."""
    if first is None or second is None:
        return None
    doubt_s = math.hypot((1 - part) * first.doubt_s, part * second.doubt_s)
    return Moment(first.t_s + part * (second.t_s - first.t_s), "estimate", doubt_s)


def later(moment: Moment | None, by_s: float) -> Moment | None:
    """The moment so much later."""
    return None if moment is None else replace(moment, t_s=moment.t_s + by_s)


def unturned(swing: Swing) -> Moment | None:
    """Where the downswing of a swing begins whose pressure does not turn: as long before impact as in others."""
    impact = swing.impact
    if impact is None:
        return swing.top
    doubt_s = math.hypot(UNTURNED_U_S * swing.slow, impact.doubt_s)
    return Moment(impact.t_s - TURN_TO_IMPACT_S * swing.slow, "estimate", doubt_s)


def backswing(swing: Swing, down: Moment | None) -> tuple[Moment, Moment] | None:
    """Begin and end of the backswing; what lies before the longest one is the way into it.

    Of a backswing whose begin is not to be seen, what is surely one.
    """
    if down is None:
        return None
    longest_s, doubt_s = BACK_S, 0.0
    if swing.takeaway.doubt_s >= UNSEEN_U_S:
        longest_s, doubt_s = SURE_BACK_S, swing.takeaway.doubt_s
    first_s = down.t_s - longest_s * swing.slow
    begin = swing.takeaway if swing.takeaway.t_s >= first_s else Moment(first_s, "estimate", doubt_s)
    return begin, down
