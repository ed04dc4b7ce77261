"""What a bench guide says: what hands are asked to do, and what is remarked on, as data without words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.worklist import Cell, Step


class Ask(Enum):
    """What the hands are asked to do."""

    CLEAR = "clear"  # nothing may stand or lie on the mat
    WAIT = "wait"  # the empty mat is being looked at
    PUT = "put"
    ADD = "add"
    TAKE_OFF = "take off"
    HOLD = "hold"
    LIFT = "lift"
    AGAIN = "again"
    DONE = "done"


class What(Enum):
    """What is remarked on."""

    FOOT = "foot"
    LEFT_LYING = "left lying"
    STUCK = "stuck"
    SHORTED = "shorted"
    NOISY = "noisy"
    ROW = "row"
    COLUMN = "column"
    LANDED = "landed"  # cells: named, landed
    SWAPPED = "swapped"  # cells: named, landed
    NOTHING_READ = "nothing read"
    NO_ANSWER = "no answer"
    DEAD = "dead"
    TWO_CELLS = "two cells"
    ELSEWHERE = "elsewhere"
    TOO_LIGHT = "too light"
    TOO_HEAVY = "too heavy"
    ODD = "odd"
    SLIPPED = "slipped"
    UNSTEADY = "unsteady"
    UNREADABLE = "unreadable"
    LIFTED_EARLY = "lifted early"
    WAY_DOWN_BROKEN = "way down broken"
    WAY_DOWN_LEFT = "way down left"


FAULTS = frozenset(
    {What.STUCK, What.SHORTED, What.NOISY, What.ROW, What.COLUMN, What.SWAPPED, What.DEAD, What.UNREADABLE}
)
"""Remarks that are faults of the mat and not of the hands."""


@dataclass(frozen=True)
class Remark:
    """Something that a person should know at once.

    Attributes
    ----------
    what : What
    cells : tuple of (row, column)
        Of a whole row or column: its first cell.
    force_n : float
        What the load reads like, N, where that is the point.
    """

    what: What
    cells: tuple[Cell, ...] = ()
    force_n: float = math.nan


@dataclass(frozen=True)
class Now:
    """Where the run stands after a frame.

    Attributes
    ----------
    ask : Ask
    step : Step or None
        What is asked for.
    loaded : (row, column) or None
        The cell that carries a load.
    signals : tuple of str
        Sounds that are due: "tick" (taken), "again" (not taken), "change" (another weight), "ready" (begin, or done).
    remarks : tuple of Remark
        New ones.
    taken : Placement or None
        A placement that was made with this frame.
    words : str
        How the weight of `taken` is named.
    """

    ask: Ask
    step: Step | None
    loaded: Cell | None
    signals: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    taken: Placement | None = None
    words: str = ""
