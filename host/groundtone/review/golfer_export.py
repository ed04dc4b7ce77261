"""Gives out what the library holds of a golfer: tables as CSV and the recordings, in a folder or one ZIP file."""

from __future__ import annotations

import csv
import io
import shutil
import zipfile
from pathlib import Path

from groundtone.cue.personal import path_of
from groundtone.errors import LibraryError
from groundtone.files import cell
from groundtone.record.library import Library

_OF_GOLFER = """
    FROM golfers g
    JOIN lessons l ON l.golfer_id = g.id
    JOIN recordings r ON r.lesson_id = l.id
"""
_OF_SWING = f"{_OF_GOLFER} JOIN blocks b ON b.recording_id = r.id JOIN swings s ON s.block_id = b.id"
_TABLES = {
    "golfer": "SELECT name, hand, mass_kg, shoe_mm, notes FROM golfers g WHERE g.name = ?",
    "recordings": "SELECT l.name AS lesson, r.session, r.started, r.path, r.mat, r.frames, r.duration_s, r.simulated, "
    f"r.doubts {_OF_GOLFER} WHERE g.name = ? ORDER BY r.started",
    "blocks": "SELECT r.session, b.number, b.kind, b.club, b.lie, b.usual_m, b.cues "
    f"{_OF_GOLFER} JOIN blocks b ON b.recording_id = r.id WHERE g.name = ? ORDER BY r.started, b.number",
    "swings": "SELECT r.session, b.number AS block, s.number AS swing, s.kind, s.impact_s, s.events "
    f"{_OF_SWING} WHERE g.name = ? ORDER BY r.started, s.number",
    "measures": "SELECT r.session, s.number AS swing, m.name, m.value, m.uncertainty, m.reason "
    f"{_OF_SWING} JOIN measures m ON m.swing_id = s.id WHERE g.name = ? ORDER BY r.started, s.number, m.name",
    "findings": "SELECT r.session, s.number AS swing, f.name, f.probability, f.size, f.detail "
    f"{_OF_SWING} JOIN findings f ON f.swing_id = s.id WHERE g.name = ? ORDER BY r.started, s.number, f.name",
    "strikes": "SELECT r.session, s.number AS swing, t.entry, t.detail "
    f"{_OF_GOLFER} JOIN strikes t ON t.recording_id = r.id LEFT JOIN swings s ON s.id = t.swing_id "
    "WHERE g.name = ? ORDER BY r.started, t.entry",
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
    files = [library.file_of(row) for row in library.recordings_of(name)]
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


def _csv(library: Library, query: str, name: str) -> bytes:
    names, rows = library.table(query, [name])
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
