"""A swing of the practice that runs as a row, and a block's swings in sum; how cues are drawn and said."""

from __future__ import annotations

from groundtone.app.window.views import LiveSwing
from groundtone.app.window.widgets.strike_pad import strike_words
from groundtone.app.window.widgets.table import Cell
from groundtone.cue.rulefile import shown
from groundtone.lesson.outside import Outside

SIGNS = {"toes": "up", "trail side": "side", "heels": "down"}
SAID = {"toes": "to the toes", "trail side": "on the trail side", "heels": "to the heels"}


def sum_of(blocks: tuple[tuple[str, Outside], ...], kind: str) -> Outside:
    """Of all blocks of a kind."""
    mine = [found for name, found in blocks if name == kind]
    return Outside("", sum(found.n for found in mine), sum(found.of for found in mine))


def cells_of(row: LiveSwing, hand: str) -> tuple[Cell, ...]:
    """The row of the table."""
    out = ", ".join(SAID.get(name, shown(name)) for name in row.out)
    words = strike_words(row.strike)
    kind = row.block if row.ball else "practice"
    return (
        Cell(str(row.number), says=f"swing {row.number}"),
        Cell(kind),
        Cell(strike=row.strike, hand=hand or "right", says=words),
        Cell(shapes=tuple((SIGNS.get(name, "rhomb"), True) for name in row.out), says=out or "inside")
        if row.out
        else Cell(shapes=(("tick", False),), says="inside"),
    )
