"""The swings of a session as rows, the newest above, block by block with strikes and findings; the centre's way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from groundtone.app.window.widgets.shapes import shape_of
from groundtone.app.window.widgets.strike_pad import strike_words
from groundtone.app.window.widgets.table import Cell, Group, Row
from groundtone.lesson.outside import any_outside, faults_of, outside

if TYPE_CHECKING:
    from groundtone.review.lane_store import SwingLane
    from groundtone.review.swings import BlockRows, RecordedSession, SwingRow


def rows_of(view: RecordedSession, hand: str, pair: tuple[int, int], second: int) -> tuple[list[Row], list[int]]:
    """Rows, and the number of the swing in each (0 where it is a heading).

    Parameters
    ----------
    pair : (int, int)
        The clean and the poor swing; zeros without a pair.
    second : int
        The swing of the second lane; 0 without one.
    """
    rows: list[Row] = []
    numbers: list[int] = []
    for block in reversed([block for block in view.blocks if block.swings]):
        rows.append(Group((block.role or "practice").capitalize(), count_words(block)))
        numbers.append(0)
        for swing in sorted(block.swings, key=lambda swing: -swing.number):
            note = {pair[0]: "good", pair[1]: "poor"}.get(swing.number, "second" if swing.number == second else "")
            rows.append(_cells(swing, hand, note if swing.number else ""))
            numbers.append(swing.number)
    return rows, numbers


def count_words(block: BlockRows) -> str:
    """How many of a block's swings were outside, by the finding that was the most frequent."""
    found = faults_of(block.swings)
    counted = outside(block.swings, found[0].name) if found else any_outside(block.swings)
    return f"{counted.words} outside"


def _cells(swing: SwingRow, hand: str, note: str) -> tuple[Cell, ...]:
    shapes = [(shape_of(fault.code), fault.concern) for fault in swing.faults]
    # A shape once, and filled where any of its findings is a fault.
    kept = {shape: any(filled for other, filled in shapes if other == shape) for shape, _ in shapes}
    said = ", ".join(f"{fault.name}{'' if fault.concern else ' (described)'}" for fault in swing.faults)
    kind = "" if swing.kind == "swing" else swing.kind
    return (
        Cell(str(swing.number), says=f"swing {swing.number}, {swing.role}"),
        Cell(note or kind, bold=bool(note)),
        Cell(strike=swing.strike, hand=hand or "right", says=strike_words(swing.strike)),
        Cell(shapes=tuple(kept.items()) or (("tick", False),), says=said or "nothing found"),
    )


Places = list[tuple[float, float]]


def way_of(lane: SwingLane | None, forces: tuple[Any, Any, Any]) -> tuple[Places, Places]:
    """The centre's way from takeaway to finish over the feet, and its places at takeaway, turn and impact.

    Parameters
    ----------
    forces : (times s, cells, centres)
        As `groundtone.review.lane_store.swing_field` gives them.
    """
    if lane is None or not len(lane.t_s) or not len(forces[0]):
        return [], []
    when = {name: at_s + float(lane.device_s[0] - lane.t_s[0]) for at_s, name in lane.events}
    t_s, _, centre = forces
    known = np.isfinite(centre).all(axis=1)
    inside = known & (t_s >= when.get("takeaway", t_s[0])) & (t_s <= when.get("finish", t_s[-1]))
    marks = [
        (float(np.interp(when[name], t_s[known], axis[0])), float(np.interp(when[name], t_s[known], axis[1])))
        for axis in [centre[known].T]
        for name in ("takeaway", "turn", "impact")
        if name in when and known.any()
    ]
    return [(float(row), float(column)) for row, column in centre[inside]], marks
