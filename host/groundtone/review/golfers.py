"""Renames, merges and erases golfers: in the library and in their recordings, which are what counts.

A recording carries its golfer; the last name told in it holds. So a library made anew knows the same people.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from groundtone.cue.personal import forget_personal, hand_on
from groundtone.errors import BusyError, GroundtoneError, LibraryError, Telling
from groundtone.feel.plan import forget_plan, hand_on_plan
from groundtone.record.channels import Channel
from groundtone.record.contents import DAMAGED, files_of, fingerprint, inside
from groundtone.record.library import Library, check_name
from groundtone.record.reader import open_recording, read_about
from groundtone.record.recorder import append, hold
from groundtone.record.session import Golfer, renamed


def rename(library: Library, old: str, new: str) -> int:
    """Gives a golfer another code name; the number of recordings that were changed.

    Raises
    ------
    MissingError
        There is no golfer of the old name.
    LibraryError, RecordError
        There is one of the new name, or a recording cannot be changed.
    """
    check_name(new)
    golfer = renamed(library.golfer(old), new)
    if library.knows(new):
        raise LibraryError(f"there is a golfer {new!r} already: 'groundtone library merge' makes one of two")
    with library.writing() as execute:
        changed = _tell(library, old, golfer)
        execute("UPDATE golfers SET name = ? WHERE name = ?", (new, old))
        hand_on(old, new, library.folder)
        hand_on_plan(old, new, library.folder)
    return changed


def merge(library: Library, source: str, into: str) -> int:
    """Makes one golfer of two: everything of `source` becomes `into`'s; the number of recordings that were changed.

    Raises
    ------
    MissingError
        One of them is not there.
    LibraryError, RecordError
        They are the same, or a recording cannot be changed.
    """
    if source == into:
        raise LibraryError("both names are the same: name two golfers")
    library.golfer(source)
    golfer = library.golfer(into)
    with library.writing() as execute:
        changed = _tell(library, source, golfer)
        ((old,), (new,)) = (
            execute("SELECT id FROM golfers WHERE name = ?", (name,)).fetchone() for name in (source, into)
        )
        for lesson, name in execute("SELECT id, name FROM lessons WHERE golfer_id = ?", (old,)).fetchall():
            same = execute("SELECT id FROM lessons WHERE golfer_id = ? AND name = ?", (new, name)).fetchone()
            if same is None:
                execute("UPDATE lessons SET golfer_id = ? WHERE id = ?", (new, lesson))
            else:
                execute("UPDATE recordings SET lesson_id = ? WHERE lesson_id = ?", (same[0], lesson))
        execute("DELETE FROM golfers WHERE id = ?", (old,))
        hand_on(source, into, library.folder)
        hand_on_plan(source, into, library.folder)
    return changed


def erase(library: Library, name: str) -> int:
    """Removes a golfer with everything of theirs, recordings too; the number of recordings removed.

    There is no way back. Recordings in the library's folder are found by the name they carry, listed or not.

    Raises
    ------
    MissingError
        There is no golfer of that name and no recording either.
    BusyError
        A recording of theirs is being made just now.
    LibraryError
        A file cannot be removed.
    """
    files = _files_of(library, name)
    if not files:
        library.golfer(name)
    sessions = {row["session"] for row in library.recordings_of(name)}
    sessions |= {about.session for path in files if (about := read_about(path)) is not None}
    with library.writing() as execute:
        _free(files)
        lanes = (lane for session in sessions for lane in (library.folder / "lanes").glob(f"{session}-*.npz"))
        for path in (*files, *lanes):
            with Telling(LibraryError, f"{path} cannot be removed", "close what uses it and erase again"):
                path.unlink(missing_ok=True)
        forget_personal(name, library.folder)
        forget_plan(name, library.folder)
        execute("DELETE FROM golfers WHERE name = ?", (name,))
    # What a damaged library of former days still holds goes with it, and so do traces in the log.
    (library.folder / DAMAGED).unlink(missing_ok=True)
    library.forget_traces()
    return len(files)


def name_session(library: Library, path: Path, name: str) -> None:
    """Tells whose a recording is, in which nobody had been named: a golfer of the library, or a new one.

    Raises
    ------
    LibraryError, RecordError
        Somebody is named in it already, or it cannot be changed.
    """
    check_name(name)
    name = library.spelt(name)
    about = open_recording(path).about
    if about.golfer.name:
        raise LibraryError(f"this session belongs to {about.golfer.name!r} already: rename or merge that golfer")
    golfer = library.golfer(name) if library.knows(name) else renamed(about.golfer, name)
    _free([path])
    with library.writing() as execute:
        append(path, [(Channel.GOLFER, asdict(golfer))])
        who = library.golfer_id(golfer)
        lesson = replace(about, golfer=golfer).lesson_name()
        execute("INSERT OR IGNORE INTO lessons (golfer_id, name) VALUES (?, ?)", (who, lesson))
        (row,) = execute("SELECT id FROM lessons WHERE golfer_id = ? AND name = ?", (who, lesson)).fetchone()
        execute("UPDATE recordings SET lesson_id = ? WHERE path = ?", (row, inside(library, path)))
        _take_down(library, path)
        execute("DELETE FROM lessons WHERE id NOT IN (SELECT lesson_id FROM recordings)")


def delete_empty(library: Library, path: Path) -> None:
    """Removes a recording in which no swing was seen.

    Raises
    ------
    LibraryError
        There are swings in it, or the file cannot be removed.
    """
    where = inside(library, path)
    query = (
        "SELECT count(*) AS n FROM swings s JOIN blocks b ON b.id = s.block_id "
        "JOIN recordings r ON r.id = b.recording_id WHERE r.path = ?"
    )
    if library.rows(query, [where])[0]["n"]:
        raise LibraryError(f"there are swings in {path.name}: only a session without any is deleted")
    _free([path])
    with library.writing() as execute:
        with Telling(LibraryError, f"{path} cannot be removed", "close what uses it and try again"):
            path.unlink(missing_ok=True)
        execute("DELETE FROM recordings WHERE path = ?", (where,))
        execute("DELETE FROM lessons WHERE id NOT IN (SELECT lesson_id FROM recordings)")


def adopt(path: Path, golfer: Golfer, to: Path) -> None:
    """Takes a recording from elsewhere into the library's folder, as this golfer's.

    Raises
    ------
    LibraryError, RecordError
        It cannot be copied, or is no recording.
    """
    with Telling(LibraryError, f"{path} cannot be copied to {to}", "check both"):
        to.parent.mkdir(parents=True, exist_ok=True)
        with to.open("xb") as copy:
            copy.write(path.read_bytes())
    append(to, [(Channel.GOLFER, asdict(golfer))])


def _tell(library: Library, old: str, golfer: Golfer) -> int:
    files = _files_of(library, old)
    _free(files)
    message: dict[str, Any] = asdict(golfer)
    for path in files:
        append(path, [(Channel.GOLFER, message)])
        _take_down(library, path)
    return len(files)


def _take_down(library: Library, path: Path) -> None:
    """The file's new size and hash."""
    with library.writing() as execute:
        execute(
            "UPDATE recordings SET sha256 = ?, size = ? WHERE path = ?", (*fingerprint(path), inside(library, path))
        )


def _files_of(library: Library, name: str) -> list[Path]:
    """Recordings of a golfer: those listed, and those in the folder that carry the name."""
    listed = {library.file_of(row) for row in library.recordings_of(name)}
    known = {library.folder / row["path"] for row in library.rows("SELECT path FROM recordings")}
    for path in files_of(library):
        if path not in known:
            about = read_about(path)
            if about is not None and about.golfer.name == name:
                listed.add(path)
    return sorted(path for path in listed if path.exists())


def _free(files: list[Path]) -> None:
    """BusyError where one of the files is being recorded just now."""
    for path in files:
        with Telling(GroundtoneError, f"{path} cannot be opened", "check the disk"), path.open("rb") as file:
            free = hold(file.fileno())
        if not free:
            raise BusyError(f"{path.name} is being recorded just now: end that session first")
