"""What a person tells of a recording afterwards: strikes and notes, into the recording and the library."""

from __future__ import annotations

import json
from pathlib import Path

from sqlalchemy import delete, insert, select

from groundtone.files import data_folder
from groundtone.record.channels import Channel
from groundtone.record.contents import take_down
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.record.tables import OF_SWING, blocks, recordings, strikes, swings
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
        query = select(swings.c.id, blocks.c.recording_id, recordings.c.path).select_from(OF_SWING.join(recordings))
        found = library.rows(query.where(swings.c.number == swing.number))
        for row in (row for row in found if library.file_of(row).resolve() == path.resolve()):
            with library.writing() as execute:
                of_recording = strikes.c.recording_id == row.recording_id
                execute(delete(strikes).where(of_recording, strikes.c.entry == entry))
                if strike.told:
                    execute(
                        insert(strikes).values(
                            recording_id=row.recording_id, entry=entry, swing_id=row.id, detail=json.dumps(table)
                        )
                    )
            take_down(library, path)
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
