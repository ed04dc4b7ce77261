"""What is added to a recording that has ended: a strike told later, a note."""

from __future__ import annotations

import json
from pathlib import Path

from groundtone.files import data_folder
from groundtone.record.channels import Channel
from groundtone.record.contents import fingerprint
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.review.strikes import Strike, table_of
from groundtone.review.swings import SwingRow


def tell_strike(path: Path, swing: SwingRow, strike: Strike) -> str:
    """Writes what was told of a swing into the recording and the library; the entry's id.

    Raises
    ------
    GroundtoneError
        It cannot be written; nothing is changed then.
    """
    table = table_of(strike, swing.when_s, swing.entry)
    append(path, [(Channel.STRIKE, table)])
    entry = str(table["id"])
    with Library(data_folder()) as library:
        query = (
            "SELECT s.id, b.recording_id, r.path FROM swings s JOIN blocks b ON b.id = s.block_id "
            "JOIN recordings r ON r.id = b.recording_id WHERE s.number = ?"
        )
        rows = [row for row in library.rows(query, [swing.number]) if library.file_of(row).resolve() == path.resolve()]
        for row in rows:
            recording = row["recording_id"]
            with library.writing() as execute:
                execute("DELETE FROM strikes WHERE recording_id = ? AND entry = ?", (recording, entry))
                if strike.told:
                    values = (recording, entry, row["id"], json.dumps(table))
                    execute("INSERT INTO strikes (recording_id, entry, swing_id, detail) VALUES (?, ?, ?, ?)", values)
                execute("UPDATE recordings SET sha256 = ?, size = ? WHERE id = ?", (*fingerprint(path), recording))
    return entry


def write_note(path: Path, text: str) -> tuple[str, ...]:
    """Adds a note, or none where it is empty; all notes of the recording, oldest first.

    Raises
    ------
    GroundtoneError
        It cannot be written or read.
    """
    if text.strip():
        append(path, [(Channel.NOTE, {"text": text.strip(), "device_us": 0})])
    return tuple(str(entry.table.get("text", "")) for entry in open_recording(path).notes)
