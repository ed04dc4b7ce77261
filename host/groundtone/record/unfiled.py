"""Recordings that ended without being put into the library: a kill, a power cut, a library that could not be written.

Looked for at the start of every command, so nothing heavy is imported and nothing written here but the list of those
that cannot be read, which are told of once.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
import sys
from pathlib import Path

from groundtone.errors import LibraryError
from groundtone.files import write_whole
from groundtone.record.academy.queue import settle, waiting
from groundtone.record.academy.where import where

# The library's file; `groundtone.record.library` would take half a second to be imported.
_FILE = "library.sqlite"
_REFUSED = "unreadable.json"


def unfiled(folder: Path) -> list[Path]:
    """The recordings of a data folder that have ended and are not in its library, by name.

    Parameters
    ----------
    folder : Path
        The data folder.

    Returns
    -------
    list of Path
        Empty too where the library cannot be read: nothing can be put into it then. Without those being recorded just
        now, and those that `refuse` was told of and that have not changed since. At a bay of an academy what its queue
        holds, in its order: the database is not asked.
    """
    if _of_academy(folder):
        recordings = [folder / "recordings" / each.name for each in waiting(folder)]
        return [path for path in recordings if path.exists() and not _held(path)]
    files = sorted((folder / "recordings").glob("*.mcap"))
    if not files or (known := _known(folder / _FILE)) is None:
        return []
    refused = _refused(folder)
    return [
        path
        for path in files
        if f"recordings/{path.name}" not in known and refused.get(path.name) != _mark(path) and not _held(path)
    ]


def filed(folder: Path, path: Path) -> bool:
    """Whether a recording of a data folder is in its library."""
    if _of_academy(folder):
        return path.name not in {each.name for each in waiting(folder)}
    return f"recordings/{path.name}" in (_known(folder / _FILE) or ())


def refuse(folder: Path, path: Path) -> None:
    """Remembers a recording of which nothing can be read, as long as it stays as it is."""
    if _of_academy(folder):
        with contextlib.suppress(LibraryError):
            settle(folder, path.name)
        return
    with contextlib.suppress(OSError):
        write_whole(folder / _REFUSED, json.dumps({**_refused(folder), path.name: _mark(path)}))


def _of_academy(folder: Path) -> bool:
    try:
        return bool(where(folder).library)
    except LibraryError:
        # Whoever opens the library says what is the matter.
        return False


def _known(path: Path) -> set[str] | None:
    if not path.exists():
        return set()
    try:
        with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'recordings'").fetchone():
                return set()
            return {str(row[0]) for row in connection.execute("SELECT path FROM recordings")}
    except sqlite3.Error:
        return None


def _refused(folder: Path) -> dict[str, list[int]]:
    try:
        table = json.loads((folder / _REFUSED).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return table if isinstance(table, dict) else {}


def _mark(path: Path) -> list[int]:
    with contextlib.suppress(OSError):
        seen = path.stat()
        return [seen.st_size, seen.st_mtime_ns]
    return []


def _held(path: Path) -> bool:
    """It is being recorded just now, by whichever program; or it cannot be opened."""
    try:
        with path.open("rb") as file:
            if sys.platform == "win32":
                return False
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    return False
