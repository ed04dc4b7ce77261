"""Swings that a mat noted while it was alone, as those that were measured from frames."""

from __future__ import annotations

import math

from groundtone.record.reader import Recording
from groundtone.swing.doubts import Doubts, Measure
from groundtone.swing.events import Kind, Moment, Swing
from groundtone.wire.notes import Note, NoteFlag

NOTED = "note"
"""Key of a recorded swing that holds the mat's own note, as hexadecimal digits."""
NOT_NOTED = "the mat alone does not note this"
WITHOUT_FRAMES = "The mat noted these swings while it was alone: there are key figures of each, and no frames."
# What the board's whole numbers and simpler decisions add to what the calibration leaves (invented, not measured).
_SHARE_U, _POSITION_U = 0.01, 0.015
_SHARES = ("share_setup", "share_turn", "share_impact", "share_most_down", "share_most_after")
# Of takeaway, turn, and impact without and with the strike sensor, s.
_TAKEAWAY_U_S, _TURN_U_S, _IMPACT_U_S, _STRUCK_U_S = 0.06, 0.03, 0.03, 0.006


def notes_in(recording: Recording) -> list[Note]:
    """The mat's own notes in a recording, in their order; empty in one of frames."""
    raw = (entry.table.get(NOTED) for entry in recording.swings)
    return [note for text in raw if isinstance(text, str) and (note := _note(text)) is not None]


def _note(text: str) -> Note | None:
    try:
        return Note.of(bytes.fromhex(text))
    except ValueError:
        return None


def swing_of(note: Note, number: int) -> Swing:
    """The swing of a note; device time counts from power-up."""
    struck = note.has(NoteFlag.STRUCK)
    impact = Moment(
        note.since_s,
        "strike sensor" if struck else "pressure" if note.has(NoteFlag.PRESSED) else "estimate",
        _STRUCK_U_S if struck else _IMPACT_U_S,
    )
    turn = None if math.isnan(note.turn_s) else Moment(note.since_s - note.turn_s, "pressure", _TURN_U_S)
    return Swing(
        number, note.share[0], Moment(note.since_s - note.takeaway_s, "pressure", _TAKEAWAY_U_S), turn=turn,
        impact=impact, kind=Kind.REHEARSAL if note.has(NoteFlag.REHEARSAL) else Kind.SWING, slow=note.slow,
    )  # fmt: skip


def measures_of(note: Note, doubts: Doubts) -> dict[str, Measure]:
    """What a note tells, under the names of docs/measures.md; NaN with the reason where the mat did not know."""
    place_u = math.hypot(doubts.position, _POSITION_U)
    change_u = math.hypot(0.5 * doubts.share, _SHARE_U)
    setup, at_turn, _, most, _ = note.share
    back_s, forth_s = note.takeaway_s, note.turn_s
    whole_u = math.hypot(_TAKEAWAY_U_S, _IMPACT_U_S)
    forth_u = math.hypot(_TURN_U_S, _IMPACT_U_S)
    values: dict[str, tuple[float, float, str]] = {
        **{
            name: (share, math.hypot(doubts.share_at(share), _SHARE_U), "1")
            for name, share in zip(_SHARES, note.share, strict=True)
        },
        "share_change_back": (at_turn - setup, change_u, "1"),
        "side_shift": (most - at_turn, change_u, "1"),
        "overall_takeaway": (note.overall[0], place_u, "1"),
        "overall_turn": (note.overall[1], place_u, "1"),
        "overall_impact": (note.overall[2], place_u, "1"),
        "overall_most_down": (note.overall[3], place_u, "1"),
        "takeaway_to_impact_s": (back_s, whole_u, "s"),
        "to_turn_s": (back_s - forth_s, math.hypot(_TAKEAWAY_U_S, _TURN_U_S), "s"),
        "turn_to_impact_s": (forth_s, forth_u, "s"),
        "turn_early": (forth_s / back_s if back_s > 0 else math.nan, forth_u / max(back_s, 0.1), "1"),
    }
    if not note.has(NoteFlag.REHEARSAL):
        values["force_least"] = (note.force[0], doubts.force * note.force[0], "body weights")
        values["force_most"] = (note.force[1], doubts.force * note.force[1], "body weights")
    return {name: _measure(name, *told) for name, told in values.items()}


def _measure(name: str, value: float, u: float, unit: str) -> Measure:
    if math.isfinite(value):
        return Measure(name, value, u, unit)
    return Measure(name, math.nan, math.nan, unit, NOT_NOTED)


def swings_of(recording: Recording, doubts: Doubts) -> list[tuple[Swing, dict[str, Measure]]]:
    """Swings and measures of a recording that holds a mat's own notes."""
    return [
        (swing_of(note, number), measures_of(note, doubts))
        for number, note in enumerate(notes_in(recording), 1)
    ]  # fmt: skip


def sentences_of(recording: Recording) -> list[str]:
    """What a reader of the figures must know: that there are no frames, and how far the time of day is known."""
    told = [str(entry.table.get("text", "")) for entry in recording.notes]
    return [WITHOUT_FRAMES, *filter(None, told), *recording.lost]
