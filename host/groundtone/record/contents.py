"""Puts recordings and what was found in them into the library, and makes the library anew from the recordings."""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from sqlalchemy import and_, delete, insert, or_, select, update

from groundtone.errors import DamagedError, GroundtoneError, LibraryError, MissingError, Telling, sentence_of
from groundtone.record.channels import Channel, without_nan
from groundtone.record.library import FILE, Execute, Library
from groundtone.record.reader import Entry, Recording, open_recording, read_about
from groundtone.record.recorder import append
from groundtone.record.session import Block, Golfer, renamed
from groundtone.record.swing_rows import Analyse, SwingRow
from groundtone.record.tables import blocks, feel, findings, lessons, measures, recordings, strikes, swings

_NEW_SWINGS = insert(swings).returning(swings.c.id, sort_by_parameter_order=True)
# A strike belongs to the swing whose impact is nearest, but never farther away than this.
_STRIKE_S = 1.5
DAMAGED = "library.damaged.sqlite"
"""What a damaged library is called from its rebuilding on."""


def put(
    library: Library,
    recording: Recording,
    found: Iterable[SwingRow],
    doubts: Iterable[str],
    version: str = "",
    seen: int | None = None,
) -> None:
    """Puts a recording and its swings into the library; what was there of it is replaced.

    Parameters
    ----------
    recording : Recording
        Its file lies in the library's folder.
    version : str
        Of the program that found the swings.
    seen : int, optional
        The newest erasure that whoever recorded it knew of; without it that of the library's opening.

    Raises
    ------
    MissingError
        The recording, or its golfer, was erased meanwhile.
    LibraryError
    """
    seen = library.seen if seen is None else seen
    of_it = or_(
        recordings.c.session == recording.about.session,
        and_(recordings.c.path == inside(library, recording.path), recordings.c.bay == library.bay),
    )
    # What is new rests on nothing that is there, so desks file side by side; what is put in again replaces something.
    again = library.rows(select(recordings.c.id, recordings.c.bay, recordings.c.coach).where(of_it))
    found, about = list(found), recording.about
    with library.writing(alone=bool(again)) as execute:
        if not recording.path.exists():
            raise MissingError("the recording was erased by another program meanwhile: nothing of it is kept")
        now = library.called_now(about.golfer.name, seen)
        if now is None:
            raise MissingError("whoever is in the recording was erased meanwhile: nothing of it is kept")
        if now != about.golfer.name:
            # Renamed while this bay was away: the recording counts more than the library, so it is told first.
            about = replace(about, golfer=renamed(about.golfer, now))
            append(recording.path, [(Channel.GOLFER, asdict(about.golfer))])
        if again:
            execute(delete(recordings).where(of_it))
        sha256, size = fingerprint(recording.path)
        values = {
            "session": about.session,
            "lesson_id": lesson_id(library, library.golfer_id(about.golfer), about.lesson_name()),
            "path": inside(library, recording.path),
            "sha256": sha256,
            "size": size,
            "started": about.started,
            "mat": about.hello.uid,
            "frames": len(recording.frames),
            "duration_s": recording.duration_s,
            "simulated": int(about.simulated),
            "doubts": json.dumps(list(doubts)),
            "bay": again[0].bay if again else library.bay,
            "coach": again[0].coach if again else library.user,
            "version": version,
        }
        (row,) = execute(insert(recordings), values).inserted_primary_key
        _put_found(library, execute, row, recording, found)
        if again:
            drop_empty_lessons(execute)


def lesson_id(library: Library, golfer: int, name: str) -> int:
    """The row of a golfer's lesson, made where there is none; within `writing`."""
    of_name = select(lessons.c.id).where(lessons.c.golfer_id == golfer, lessons.c.name == name)
    with library.writing() as execute:
        if not (rows := library.rows(of_name)):
            execute(library.insert_new(lessons), {"golfer_id": golfer, "name": name})
            rows = library.rows(of_name)
        return int(rows[0].id)


def _put_found(library: Library, execute: Execute, row: int, recording: Recording, found: list[SwingRow]) -> None:
    """Blocks, swings and what was told; `row` is the recording's."""
    hit = {recording.block_at(_when_s(swing) * 1e6).number for swing in found}
    # A block without a swing is a key that was pressed and no part of the lesson.
    kept = [block for block in recording.blocks if block.number in hit] or recording.blocks[:1]
    block_ids = {block.number: _put_block(execute, row, block) for block in kept}
    put_in = list(zip(found, _put_swings(execute, block_ids, recording, found), strict=True))
    library.insert_rows(measures, [values for swing, swing_id in put_in for values in _measure_rows(swing, swing_id)])
    library.insert_rows(findings, [values for swing, swing_id in put_in for values in _finding_rows(swing, swing_id)])
    told = [
        (row, str(each.get("id")), _swing_of(each, put_in), json.dumps(each)) for each in _tables(recording.strikes)
    ]
    library.insert_rows(strikes, told)
    # The last entry of an id counts.
    asked = {str(each.get("id")): (n, json.dumps(each)) for n, each in enumerate(_tables(recording.feel))}
    library.insert_rows(feel, [(row, entry, *values) for entry, values in asked.items()])


def _tables(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    return [entry.table for entry in entries]


def _measure_rows(swing: SwingRow, swing_id: int) -> list[tuple[Any, ...]]:
    return [
        (swing_id, name, without_nan(value), without_nan(uncertainty), reason)
        for name, (value, uncertainty, reason) in swing.measures.items()
    ]


def _finding_rows(swing: SwingRow, swing_id: int) -> list[tuple[Any, ...]]:
    return [
        (swing_id, f.name, without_nan(f.probability), without_nan(f.size), json.dumps(f.detail))
        for f in swing.findings
    ]


def _put_block(execute: Execute, recording_id: int, block: Block) -> int:
    values = {
        "recording_id": recording_id,
        "number": block.number,
        "kind": block.kind,
        "club": block.club,
        "lie": block.lie,
        "usual_m": block.usual_m,
        "cues": int(block.cues),
        "device_us": block.device_us,
    }
    return int(execute(insert(blocks), values).inserted_primary_key[0])


def _put_swings(execute: Execute, block_ids: dict[int, int], recording: Recording, found: list[SwingRow]) -> list[int]:
    rows = [
        {
            "block_id": block_ids[recording.block_at(_when_s(swing) * 1e6).number],
            "number": swing.number,
            "kind": swing.kind,
            "impact_s": without_nan(swing.impact_s),
            "events": json.dumps(swing.events),
        }
        for swing in found
    ]
    return list(execute(_NEW_SWINGS, rows).scalars()) if rows else []


def _when_s(swing: SwingRow) -> float:
    if not math.isnan(swing.impact_s):
        return swing.impact_s
    return max((at for at, _, _ in swing.events.values()), default=0.0)


def _swing_of(strike: dict[str, Any], found: list[tuple[SwingRow, int]]) -> int | None:
    """The swing a strike belongs to: by its moment, else by the number it was told with."""
    when = strike.get("impact_s")
    if isinstance(when, int | float):
        near = [(abs(swing.impact_s - when), swing_id) for swing, swing_id in found if not math.isnan(swing.impact_s)]
        if near and min(near)[0] <= _STRIKE_S:
            return min(near)[1]
        return None
    return next((swing_id for swing, swing_id in found if swing.number == strike.get("swing")), None)


def fingerprint(path: Path) -> tuple[str, int]:
    """SHA-256 and size of a file."""
    data = path.read_bytes()
    return hashlib.sha256(data).hexdigest(), len(data)


def take_down(library: Library, path: Path) -> None:
    """A recording's file has been changed: its new size and digest, here and where recordings are kept."""
    sha256, size = fingerprint(path)
    of_file = recordings.c.path == inside(library, path)
    if library.shared and (about := read_about(path)) is not None:
        of_file = and_(of_file, recordings.c.session == about.session)
    with library.writing() as execute:
        before = {row.sha256 for row in library.rows(select(recordings.c.sha256).where(of_file))}
        execute(update(recordings).where(of_file).values(sha256=sha256, size=size))
    if library.place is not None and before - {sha256}:
        library.place.put(path, sha256)
        library.place.remove(before - {sha256})


def inside(library: Library, path: Path) -> str:
    """A recording's path as the library keeps it; LibraryError where it lies elsewhere."""
    try:
        return path.resolve().relative_to(library.folder.resolve()).as_posix()
    except ValueError:
        raise LibraryError(f"{path} does not lie in the library's folder {library.folder}: copy it there") from None


def drop_empty_lessons(execute: Execute) -> None:
    """A lesson of which no recording is left goes."""
    execute(delete(lessons).where(lessons.c.id.not_in(select(recordings.c.lesson_id))))


def files_of(library: Library) -> list[Path]:
    """All recordings in the library's folder, listed or not, by name."""
    return sorted(library.recordings.glob("*.mcap"))


def unlisted(library: Library) -> list[Path]:
    """Recordings in the folder that the library does not know."""
    known = {row.path for row in library.rows(select(recordings.c.path).where(recordings.c.bay == library.bay))}
    return [path for path in files_of(library) if inside(library, path) not in known]


def rebuild(library: Library, analyse: Analyse) -> Iterator[tuple[Path, str]]:
    """Puts every recording of the folder into the library anew, and drops what has no recording any more.

    Golfers are kept, with what is known of them.

    Yields
    ------
    path : Path
        A recording that has been dealt with,
    why_not : str
        and the sentence why it could not be put in; empty where it was.
    """
    for path in files_of(library):
        why_not = ""
        try:
            _newest(library, path)
            recording = open_recording(path)
            swings, doubts = analyse(recording)
            put(library, recording, swings, doubts)
        except DamagedError:
            raise
        except GroundtoneError as error:
            why_not = str(error)
        yield path, why_not
    with library.writing() as execute:
        for row in library.rows(select(recordings).where(recordings.c.bay == library.bay)):
            if not library.file_of(row).exists() and not (library.place and library.place.has(row.sha256)):
                execute(delete(recordings).where(recordings.c.id == row.id))
        drop_empty_lessons(execute)


def _newest(library: Library, path: Path) -> None:
    """What another bay has changed in a recording since counts: it is brought here first."""
    if library.place is None or (about := read_about(path)) is None:
        return
    for row in library.rows(select(recordings).where(recordings.c.session == about.session)):
        if row.sha256 != fingerprint(path)[0] and library.place.has(row.sha256):
            library.place.fetch(row.sha256, path)


def open_for_rebuild(folder: Path) -> tuple[Library, str]:
    """The library to rebuild, and a sentence where its file was damaged and set aside (else empty).

    Raises
    ------
    LibraryError
        It cannot be opened for another reason than damage.
    """
    try:
        library = Library(folder)
        if not library.sound():
            library.close()
            raise DamagedError("damaged")
    except DamagedError:
        golfers = _salvaged(folder / FILE)
        with Telling(LibraryError, "the damaged library cannot be set aside", "check the disk"):
            (folder / FILE).replace(folder / DAMAGED)
            for suffix in ("-wal", "-shm"):
                (folder / f"{FILE}{suffix}").unlink(missing_ok=True)
        library = Library(folder)
        with library.writing():
            for golfer in golfers:
                library.golfer_id(golfer)
        return library, f"The damaged library was set aside as {folder / DAMAGED}."
    return library, ""


def _salvaged(path: Path) -> list[Golfer]:
    """The golfers that a damaged library still gives."""
    out: list[Golfer] = []
    try:
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        try:
            of_golfers = connection.execute("SELECT name, hand, mass_kg, shoe_mm, notes FROM golfers")
            out.extend(Golfer(*row) for row in of_golfers)
        finally:
            connection.close()
    except (sqlite3.DatabaseError, GroundtoneError, UnicodeDecodeError):
        pass
    return out


def check(library: Library) -> list[str]:
    """What is not as it should be, one sentence each; empty where all is well.

    Raises
    ------
    LibraryError
    """
    out = []
    if not library.sound():
        out.append("The library's file is damaged: 'groundtone library rebuild' makes it anew from the recordings.")
    own = select(recordings).where(recordings.c.bay == library.bay).order_by(recordings.c.path)
    for row in library.rows(own):
        path = library.file_of(row)
        if not path.exists():
            if library.place is None or not library.place.has(row.sha256):
                out.append(f"{row.path} is missing: bring it back, or forget it with 'groundtone library rebuild'.")
            continue
        if fingerprint(path)[0] != row.sha256:
            out.append(f"{row.path} has changed since: 'groundtone library rebuild' reads it again.")
        out += _lost_in(path, int(row.frames))
    for path in unlisted(library):
        out.append(f"{path.name} is not in the library: 'groundtone library rebuild' puts it in.")
    return out


def _lost_in(path: Path, counted: int) -> list[str]:
    """What a recording says of itself, and frames that it had when the library counted them."""
    try:
        recorded = open_recording(path)
        gone = counted - len(recorded.frames)
        fewer = [f"{path.name} had {counted} frames, and {gone} of them are gone."] if gone > 0 else []
        return [*recorded.lost, *fewer]
    except GroundtoneError as error:
        return [sentence_of(error)]
