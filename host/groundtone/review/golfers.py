"""Renames, merges and erases golfers: in the library and in their recordings, which are what counts.

A recording carries its golfer; the last name told in it holds. So a library made anew knows the same people.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from sqlalchemy import delete, func, select, update

from groundtone.cue.personal import forget_personal, hand_on
from groundtone.errors import BusyError, GroundtoneError, LibraryError, Telling
from groundtone.feel.plan import forget_plan, hand_on_plan
from groundtone.record.channels import Channel
from groundtone.record.contents import DAMAGED, drop_empty_lessons, files_of, inside, lesson_id, take_down
from groundtone.record.library import Execute, Library
from groundtone.record.on_mat import hand_on_mats
from groundtone.record.reader import open_recording, read_about
from groundtone.record.recorder import append, hold
from groundtone.record.session import Golfer, check_name, renamed
from groundtone.record.tables import OF_SWING, erased, golfers, lessons, recordings


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
        _allowed(execute)
        changed = _tell(library, old, golfer)
        execute(update(golfers).where(golfers.c.name == old).values(name=new))
        library.bury(old, library.golfer_id(golfer))
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
        _allowed(execute)
        changed = _tell(library, source, golfer)
        ids = {row.name: row.id for row in library.rows(select(golfers).where(golfers.c.name.in_((source, into))))}
        for lesson in library.rows(select(lessons).where(lessons.c.golfer_id == ids[source])):
            to = lesson_id(library, ids[into], lesson.name)
            execute(update(recordings).where(recordings.c.lesson_id == lesson.id).values(lesson_id=to))
        hand_on_mats(execute, ids[source], ids[into])
        if library.shared:
            execute(update(erased).where(erased.c.golfer_id == ids[source]).values(golfer_id=ids[into]))
        library.bury(source, ids[into])
        execute(delete(golfers).where(golfers.c.name == source))
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
    listed = library.recordings_of(name)
    sessions = {row.session for row in listed}
    sessions |= {about.session for path in files if (about := read_about(path)) is not None}
    with library.writing() as execute:
        _allowed(execute)
        _free(files)
        if library.place is not None:
            library.place.remove(row.sha256 for row in listed)
        lanes = (lane for session in sessions for lane in (library.folder / "lanes").glob(f"{session}-*.npz"))
        for path in (*files, *lanes):
            with Telling(LibraryError, f"{path} cannot be removed", "close what uses it and erase again"):
                path.unlink(missing_ok=True)
        forget_personal(name, library.folder)
        forget_plan(name, library.folder)
        execute(delete(golfers).where(golfers.c.name == name))
        library.bury(name)
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
        raise LibraryError(f"this recording belongs to {about.golfer.name!r} already: rename or merge that golfer")
    golfer = library.golfer(name) if library.knows(name) else renamed(about.golfer, name)
    _free([path])
    with library.writing() as execute:
        append(path, [(Channel.GOLFER, asdict(golfer))])
        who = library.golfer_id(golfer)
        lesson = replace(about, golfer=golfer).lesson_name()
        to = lesson_id(library, who, lesson)
        execute(update(recordings).where(recordings.c.path == inside(library, path)).values(lesson_id=to))
        take_down(library, path)
        drop_empty_lessons(execute)


def delete_empty(library: Library, path: Path) -> None:
    """Removes a recording in which no swing was seen.

    Raises
    ------
    LibraryError
        There are swings in it, or the file cannot be removed.
    """
    where = inside(library, path)
    in_it = select(func.count()).select_from(OF_SWING.join(recordings)).where(recordings.c.path == where)
    if library.rows(in_it)[0][0]:
        raise LibraryError(f"there are swings in {path.name}: only a session without any is deleted")
    _free([path])
    with library.writing() as execute:
        with Telling(LibraryError, f"{path} cannot be removed", "close what uses it and try again"):
            path.unlink(missing_ok=True)
        execute(delete(recordings).where(recordings.c.path == where))
        drop_empty_lessons(execute)


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


def _allowed(execute: Execute) -> None:
    """LibraryError where who is signed on may not erase anybody, before a file is touched."""
    execute(delete(golfers).where(golfers.c.id == -1))


def _tell(library: Library, old: str, golfer: Golfer) -> int:
    for row in library.recordings_of(old):
        if not library.here(row).exists() and row.bay != library.bay:
            raise LibraryError(f"recordings of {old!r} lie at {row.bay!r} alone: do it there, nothing was changed")
    files = _files_of(library, old)
    _free(files)
    message: dict[str, Any] = asdict(golfer)
    for path in files:
        append(path, [(Channel.GOLFER, message)])
        take_down(library, path)
    return len(files)


def _files_of(library: Library, name: str) -> list[Path]:
    """Recordings of a golfer: those listed, and those in the folder that carry the name."""
    listed = {library.file_of(row) for row in library.recordings_of(name)}
    known = {library.file_of(row) for row in library.rows(select(recordings.c.path))}
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
