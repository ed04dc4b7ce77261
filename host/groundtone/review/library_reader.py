"""A golfer's lessons out of the library, as the progress reads them: no recording is opened."""

from __future__ import annotations

import json
import math

from groundtone.record.library import Library
from groundtone.review.strikes import Strike, StrikeError, strike_of
from groundtone.review.swings import BlockRows, Lesson, SwingRow, with_middle
from groundtone.swing.events import Kind

_KINDS = {Kind.SWING.value: "swing", Kind.PRACTICE.value: "practice", Kind.REHEARSAL.value: "rehearsal"}


def lessons_of(library: Library, golfer: str) -> list[Lesson]:
    """A golfer's lessons, oldest first.

    Raises
    ------
    LibraryError
        There is no golfer of that name.
    """
    library.golfer(golfer)
    found: dict[str, list[BlockRows]] = {}
    started: dict[str, str] = {}
    simulated: dict[str, bool] = {}
    for recording in library.recordings_of(golfer):
        lesson = str(recording["lesson"])
        started.setdefault(lesson, str(recording["started"]))
        simulated[lesson] = simulated.get(lesson, False) or bool(recording["simulated"])
        blocks = found.setdefault(lesson, [])
        for row in library.rows("SELECT * FROM blocks WHERE recording_id = ? ORDER BY number", [recording["id"]]):
            name = f"{row['number']} ({row['kind']})"
            swings = _swings(library, int(row["id"]))
            blocks.append(
                BlockRows(name, swings, row["kind"], row["club"], row["lie"], row["usual_m"], bool(row["cues"]))
            )
    ordered = sorted(found, key=lambda lesson: started[lesson])
    return [Lesson(lesson, started[lesson], tuple(found[lesson]), simulated[lesson]) for lesson in ordered]


def _swings(library: Library, block: int) -> tuple[SwingRow, ...]:
    values: dict[int, dict[str, float]] = {}
    doubts: dict[int, dict[str, float]] = {}
    query = "SELECT m.* FROM measures m JOIN swings s ON s.id = m.swing_id WHERE s.block_id = ?"
    for row in library.rows(query, [block]):
        at, name = int(row["swing_id"]), str(row["name"])
        values.setdefault(at, {})[name] = math.nan if row["value"] is None else float(row["value"])
        if row["value"] is not None and row["uncertainty"] is not None:
            doubts.setdefault(at, {})[name] = float(row["uncertainty"])
    query = "SELECT t.swing_id, t.detail FROM strikes t JOIN swings s ON s.id = t.swing_id WHERE s.block_id = ?"
    told = ((int(row["swing_id"]), _strike(str(row["detail"]))) for row in library.rows(query, [block]))
    strikes = {at: strike for at, strike in told if strike.told}
    return tuple(
        SwingRow(
            int(row["number"]),
            with_middle(values.get(row["id"], {})),
            doubts.get(row["id"], {}),
            strike=strikes.get(row["id"], Strike()),
            t_s=math.nan if row["impact_s"] is None else float(row["impact_s"]),
            kind=_KINDS.get(str(row["kind"]), str(row["kind"])),
        )
        for row in library.rows("SELECT * FROM swings WHERE block_id = ? ORDER BY number", [block])
    )


def _strike(detail: str) -> Strike:
    try:
        return strike_of(json.loads(detail))
    except (StrikeError, ValueError, AttributeError):
        # A damaged entry of one strike is no reason to show nothing.
        return Strike()
