"""What a bench guide asks of hands and remarks on, and the sentences for it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.tare import Cell
from groundtone.calibration.guided.worklist import Step
from groundtone.gravity import STANDARD_GRAVITY


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
    lies_on : bool
        What lies there is taken and is to lie on.
    """

    ask: Ask
    step: Step | None
    loaded: Cell | None
    signals: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    taken: Placement | None = None
    words: str = ""
    lies_on: bool = False


def cell_words(cell: Cell, columns_per_panel: int) -> str:
    """A cell as a person finds it: the numbers are those on the map, row 0 at the heels.

    Examples
    --------
    >>> cell_words((3, 5), 4)
    'row 3, column 5 (right panel)'
    """
    panel = "left" if cell[1] < columns_per_panel else "right"
    return f"row {cell[0]}, column {cell[1]} ({panel} panel)"


def ask_words(now: Now, columns_per_panel: int) -> tuple[str, str]:
    """What is to be done: a few large words, and a sentence."""
    weight = now.step.words if now.step is not None else ""
    place = cell_words(now.step.cell, columns_per_panel) if now.step is not None else ""
    match now.ask:
        case Ask.CLEAR:
            return "CLEAR THE MAT", "Step off, and take off whatever lies on the panels."
        case Ask.WAIT:
            return "WAIT", "The empty mat is being looked at: keep off."
        case Ask.PUT:
            assert now.step is not None
            return (
                f"{weight} on {now.step.cell[0]}/{now.step.cell[1]}",
                f"Put {weight} on {place}, or on any other cell that still needs it; then hands off.",
            )
        case Ask.ADD:
            return f"MAKE IT {weight}", f"{place}: add weights, or exchange them, until {weight} lies there. Hands off."
        case Ask.TAKE_OFF:
            return f"DOWN TO {weight}", f"{place}: take weights off, leave the puck where it lies, hands off."
        case Ask.HOLD:
            if now.lies_on:
                return "LET IT LIE", "Hands off until the tick, about a minute: how the film creeps is looked at."
            return "HANDS OFF", "Two seconds, until the tick."
        case Ask.LIFT:
            return "LIFT", "Taken. Take everything off."
        case Ask.AGAIN:
            return "AGAIN", "Take everything off and set it down once more."
        case Ask.DONE:
            return "DONE", "Everything is taken."


_SENTENCES = {
    What.FOOT: "Somebody stands on the mat, around {0}: step off, so that the empty mat can be looked at.",
    What.LEFT_LYING: "Something lies on {0}: take it off; if nothing does, wait, and the cell is taken for ill.",
    What.STUCK: "{0} reads a load though nothing lies on it: look at its strips and pad; it is left out.",
    What.SHORTED: "{0} is shorted: look for copper that touches, a torn film or solder.",
    What.UNREADABLE: "The mat's readings make no sense: look for a short, water or a loose line, and start again.",
    What.NOISY: "{0} is noisy: look at its joints; it is calibrated all the same.",
    What.ROW: "{0}: its whole row reads a load though nothing lies there: look for a short on the row's line.",
    What.COLUMN: "{0}: its whole column reads a load though nothing lies there: look for a short on its line.",
    What.LANDED: (
        "{0} was named and {1} answered. Any order is welcome; if the weight does lie on {0}, put it there once more."
    ),
    What.SWAPPED: (
        "The weight for {0} came down on {1} again: their lines are exchanged ({2}). Stop, put them right, "
        "and begin anew."
    ),
    What.NOTHING_READ: "Nothing has been read for 20 s: if the weight lies on {0}, press it; the cell may be dead.",
    What.NO_ANSWER: "{0} gave no answer: if you did load it, look at its pad and strips; it is asked for once more.",
    What.DEAD: "{0} is dead: it gave no answer again and is left out. Look at its pad, film and joints.",
    What.TWO_CELLS: "The puck lies on {0} and on {1}: move it to the middle of one.",
    What.ELSEWHERE: "Something else lies on {0}: take it off.",
    What.TOO_LIGHT: "{0} reads only like {3}: slipped, or another weight? Set it down once more.",
    What.TOO_HEAVY: "{0} reads like {3}: another weight, or a hand on it? Set it down once more.",
    What.ODD: "{0} reads the same odd value again, like {3}: taken as the cell's own way.",
    What.SLIPPED: "It slipped, or a hand was leaning on it: set it down once more.",
    What.UNSTEADY: "It does not come to rest: set it down once more, flat and in the middle.",
    What.LIFTED_EARLY: "Lifted before the tick: set it down once more and wait for the tick.",
    What.WAY_DOWN_BROKEN: "Leave the puck on the way down: put the heavy load on once more, then take weights off.",
    What.WAY_DOWN_LEFT: "The way down on {0} is left out: it needs weights that lie on each other.",
}


def remark_words(remark: Remark, columns_per_panel: int) -> str:
    """A remark as a sentence."""
    cells = [cell_words(cell, columns_per_panel) for cell in remark.cells] + ["", ""]
    reads = "nothing" if math.isnan(remark.force_n) else f"{remark.force_n / STANDARD_GRAVITY:.1f} kg"
    text = _SENTENCES[remark.what].format(cells[0], cells[1], _lines(remark.cells), reads)
    return text[:1].upper() + text[1:]


def _lines(cells: tuple[Cell, ...]) -> str:
    """Which lines two cells tell apart."""
    if len(cells) < 2:
        return ""
    (row_a, column_a), (row_b, column_b) = cells[:2]
    parts = [f"rows {row_a} and {row_b}"] if row_a != row_b else []
    parts += [f"columns {column_a} and {column_b}"] if column_a != column_b else []
    return ", ".join(parts)


def minutes_words(seconds: float) -> str:
    """A length of time, in whole minutes.

    Examples
    --------
    >>> minutes_words(65)
    'about 1 minute'
    """
    minutes = max(1, round(seconds / 60))
    return f"about {minutes} minute{'' if minutes == 1 else 's'}"
