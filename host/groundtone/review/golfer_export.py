"""Gives out what the library holds of a golfer: tables as CSV and the recordings, in a folder or one ZIP file."""

from __future__ import annotations

import csv
import io
import shutil
import zipfile
from pathlib import Path
from typing import Any

from sqlalchemy import Select, select

from groundtone.cue.personal import path_of
from groundtone.errors import LibraryError
from groundtone.files import cell
from groundtone.record.library import Library
from groundtone.record.tables import (
    OF_GOLFER,
    blocks,
    findings,
    golfers,
    lessons,
    measures,
    recordings,
    strikes,
    swings,
)

_OF_SWING = OF_GOLFER.join(blocks).join(swings)
_SESSION, _STARTED, _SWING = recordings.c.session, recordings.c.started, swings.c.number.label("swing")
_TABLES: dict[str, Select[Any]] = {
    "golfer": select(*golfers.c["name", "hand", "mass_kg", "shoe_mm", "notes"]),
    "recordings": select(
        lessons.c.name.label("lesson"),
        *recordings.c["session", "started", "path", "mat", "frames", "duration_s", "simulated", "doubts"],
    )
    .select_from(OF_GOLFER)
    .order_by(_STARTED),
    "blocks": select(_SESSION, *blocks.c["number", "kind", "club", "lie", "usual_m", "cues"])
    .select_from(OF_GOLFER.join(blocks))
    .order_by(_STARTED, blocks.c.number),
    "swings": select(_SESSION, blocks.c.number.label("block"), _SWING, *swings.c["kind", "impact_s", "events"])
    .select_from(_OF_SWING)
    .order_by(_STARTED, swings.c.number),
    "measures": select(_SESSION, _SWING, *measures.c["name", "value", "uncertainty", "reason"])
    .select_from(_OF_SWING.join(measures))
    .order_by(_STARTED, swings.c.number, measures.c.name),
    "findings": select(_SESSION, _SWING, *findings.c["name", "probability", "size", "detail"])
    .select_from(_OF_SWING.join(findings))
    .order_by(_STARTED, swings.c.number, findings.c.name),
    "strikes": select(_SESSION, _SWING, *strikes.c["entry", "detail"])
    .select_from(
        OF_GOLFER.join(strikes, strikes.c.recording_id == recordings.c.id).outerjoin(
            swings, swings.c.id == strikes.c.swing_id
        )
    )
    .order_by(_STARTED, strikes.c.entry),
}


def give(library: Library, name: str, to: Path) -> int:
    """Writes everything of a golfer's to a new folder, or to a new file that ends with .zip.

    Parameters
    ----------
    to : Path
        Must not be there yet.

    Returns
    -------
    int
        Recordings that were given out.

    Raises
    ------
    MissingError
        There is no golfer of that name.
    LibraryError
        It cannot be written; nothing half-written is left.
    """
    library.golfer(name)
    own = path_of(name, library.folder)
    if to.exists():
        raise LibraryError(f"{to} is there already and nothing is written over: name another")
    tables = {f"{table}.csv": _csv(library, query, name) for table, query in _TABLES.items()}
    files = [library.here(row) for row in library.recordings_of(name)]
    missing = [path.name for path in files if not path.exists()]
    if missing:
        raise LibraryError(f"the recording {missing[0]} is missing: see 'groundtone library check'")
    if own.exists():
        tables["bands.toml"] = own.read_bytes()
    part = to.with_name(f"{to.name}.part")
    try:
        if to.suffix.lower() == ".zip":
            _into_zip(part, tables, files)
        else:
            _into_folder(part, tables, files)
        part.rename(to)
    except OSError as error:
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        else:
            part.unlink(missing_ok=True)
        raise LibraryError(f"{to} cannot be written ({error.strerror}): check the folder and the disk") from error
    return len(files)


def _csv(library: Library, query: Select[Any], name: str) -> bytes:
    names, rows = library.table(query.where(golfers.c.name == name))
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(names)
    writer.writerows([cell(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8", "backslashreplace")


def _into_folder(part: Path, tables: dict[str, bytes], files: list[Path]) -> None:
    (part / "recordings").mkdir(parents=True)
    for table, content in tables.items():
        (part / table).write_bytes(content)
    for path in files:
        shutil.copyfile(path, part / "recordings" / path.name)


def _into_zip(part: Path, tables: dict[str, bytes], files: list[Path]) -> None:
    part.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        for table, content in tables.items():
            archive.writestr(table, content)
        for path in files:
            archive.write(path, f"recordings/{path.name}")
