"""A pupil as a row of the list and as a card: names, dates, what was found, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from groundtone.app.window.jobs import day_words
from groundtone.app.window.widgets.shapes import shape_of
from groundtone.app.window.widgets.table import Cell
from groundtone.lesson.outside import title_of
from groundtone.lesson.sentences import Given

if TYPE_CHECKING:
    from groundtone.lesson.pupils import PupilLine


def same_one(one: PupilLine, other: PupilLine) -> bool:
    """Both lines are of one pupil, or of one walk-in."""
    return (one.name, one.lesson if not one.name else "") == (other.name, other.lesson if not other.name else "")


def shown_name(line: PupilLine) -> str:
    """The name, or what stands for it."""
    return Given(line.name) if line.name else f"Walk-in, {day_words(line.last)} {line.last[11:16]}"


def cells_of(line: PupilLine) -> tuple[Cell, ...]:
    """The row of the list."""
    hand = f"{line.hand}-handed"
    found = title_of(line.finding) if line.finding else "nothing stood out" if line.last else ""
    shapes = ((shape_of(line.finding), True),) if line.finding else ()
    swings = "1 swing" if line.swings == 1 else f"{line.swings} swings"
    second = hand if line.name else f"{hand} · {swings}"
    return (
        Cell(shown_name(line), second, bold=True),
        Cell(day_words(line.last) if line.last else "not yet"),
        Cell(found, line.found, shapes),
        Cell(line.drill),
        Cell(line.kept or ("one lesson so far" if line.lessons == 1 else "")),
    )


def about(line: PupilLine) -> list[str]:
    """The lines of the card."""
    out = [f"{line.hand}-handed" + (f" · {line.club} last time" if line.club else "")]
    if line.last:
        out.append(f"Last time, {day_words(line.last)}: " + (
            f"{title_of(line.finding)} in {line.found}." if line.finding else "nothing stood out."))  # fmt: skip
    if line.drill:
        out.append(f"Drill: {line.drill}.")
    if line.kept:
        out.append(f"Kept since the lesson before: {line.kept} outside.")
    return out
