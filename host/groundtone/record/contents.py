"""Puts recordings and what was found in them into the library, and makes the library anew from the recordings."""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from groundtone.errors import DamagedError, GroundtoneError, LibraryError, MissingError, Telling, sentence_of
from groundtone.record.channels import without_nan
from groundtone.record.library import FILE, Library, golfer_of
from groundtone.record.reader import Recording, open_recording
from groundtone.record.session import Golfer

# A strike belongs to the swing whose impact is nearest, but never farther away than this.
_STRIKE_S = 1.5
DAMAGED = "library.damaged.sqlite"
"""What a damaged library is called from its rebuilding on."""


@dataclass(frozen=True)
class FindingRow:
    """One finding of a swing: `detail` is all that it says, as a table."""

    name: str
    probability: float
    size: float
    detail: dict[str, Any]


@dataclass(frozen=True)
class SwingRow:
    """One swing as the library keeps it.

    Attributes
    ----------
    number : int
        In the recording, from 1.
    impact_s : float
        Device time, s; NaN where it is not known.
    events : dict
        Name to (time s, source, doubt s).
    measures : dict
        Name to (value, uncertainty, reason); a value of NaN has a reason.
    """

    number: int
    kind: str
    impact_s: float
    events: dict[str, tuple[float, str, float]]
    measures: dict[str, tuple[float, float, str]] = field(default_factory=dict)
    findings: list[FindingRow] = field(default_factory=list)


Analyse = Callable[[Recording], tuple[list[SwingRow], list[str]]]
"""Swings of a recording, and sentences that a reader of the figures must know."""


def put(library: Library, recording: Recording, swings: Iterable[SwingRow], doubts: Iterable[str]) -> None:
    """Puts a recording and its swings into the library; what was there of it is replaced.

    Parameters
    ----------
    recording : Recording
        Its file lies in the library's folder.

    Raises
    ------
    MissingError
        The recording was erased meanwhile.
    LibraryError
    """
    about = recording.about
    path = inside(library, recording.path)
    with library.writing() as execute:
        if not recording.path.exists():
            raise MissingError("the recording was erased by another program meanwhile: nothing of it is kept")
        execute("DELETE FROM recordings WHERE session = ? OR path = ?", (about.session, path))
        golfer = library.golfer_id(about.golfer)
        execute("INSERT OR IGNORE INTO lessons (golfer_id, name) VALUES (?, ?)", (golfer, about.lesson_name()))
        (lesson,) = execute(
            "SELECT id FROM lessons WHERE golfer_id = ? AND name = ?", (golfer, about.lesson_name())
        ).fetchone()
        row = execute(
            "INSERT INTO recordings (session, lesson_id, path, sha256, size, started, mat, frames, duration_s, "
            "simulated, doubts) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                about.session,
                lesson,
                path,
                *fingerprint(recording.path),
                about.started,
                about.hello.uid,
                len(recording.frames),
                recording.duration_s,
                about.simulated,
                json.dumps(list(doubts)),
            ),
        ).lastrowid
        swings = list(swings)
        hit = {recording.block_at(_when_s(swing) * 1e6).number for swing in swings}
        # A block without a swing is a key that was pressed and no part of the lesson.
        kept = [block for block in recording.blocks if block.number in hit] or recording.blocks[:1]
        blocks = {block.number: _put_block(execute, row, block) for block in kept}
        found = [(swing, _put_swing(execute, blocks, recording, swing)) for swing in swings]
        for entry in recording.strikes:
            table = entry.table
            swing_id = _swing_of(table, found)
            values = (row, str(table.get("id")), swing_id, json.dumps(table))
            execute("INSERT INTO strikes (recording_id, entry, swing_id, detail) VALUES (?, ?, ?, ?)", values)
        for number, entry in enumerate(recording.feel):
            values = (row, str(entry.table.get("id")), number, json.dumps(entry.table))
            execute("INSERT OR REPLACE INTO feel (recording_id, entry, number, detail) VALUES (?, ?, ?, ?)", values)
        _drop_empty_lessons(execute)


def _put_block(execute: Any, recording_id: int, block: Any) -> int:
    return int(
        execute(
            "INSERT INTO blocks (recording_id, number, kind, club, lie, usual_m, cues, device_us) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                recording_id,
                block.number,
                block.kind,
                block.club,
                block.lie,
                block.usual_m,
                block.cues,
                block.device_us,
            ),
        ).lastrowid
    )


def _when_s(swing: SwingRow) -> float:
    if not math.isnan(swing.impact_s):
        return swing.impact_s
    return max((at for at, _, _ in swing.events.values()), default=0.0)


def _put_swing(execute: Any, blocks: dict[int, int], recording: Recording, swing: SwingRow) -> int:
    block = blocks[recording.block_at(_when_s(swing) * 1e6).number]
    swing_id = int(
        execute(
            "INSERT INTO swings (block_id, number, kind, impact_s, events) VALUES (?, ?, ?, ?, ?)",
            (block, swing.number, swing.kind, without_nan(swing.impact_s), json.dumps(swing.events)),
        ).lastrowid
    )
    for name, (value, uncertainty, reason) in swing.measures.items():
        execute(
            "INSERT INTO measures (swing_id, name, value, uncertainty, reason) VALUES (?, ?, ?, ?, ?)",
            (swing_id, name, without_nan(value), without_nan(uncertainty), reason),
        )
    for finding in swing.findings:
        execute(
            "INSERT INTO findings (swing_id, name, probability, size, detail) VALUES (?, ?, ?, ?, ?)",
            (
                swing_id,
                finding.name,
                without_nan(finding.probability),
                without_nan(finding.size),
                json.dumps(finding.detail),
            ),
        )
    return swing_id


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


def inside(library: Library, path: Path) -> str:
    """A recording's path as the library keeps it; LibraryError where it lies elsewhere."""
    try:
        return path.resolve().relative_to(library.folder.resolve()).as_posix()
    except ValueError:
        raise LibraryError(f"{path} does not lie in the library's folder {library.folder}: copy it there") from None


def _drop_empty_lessons(execute: Any) -> None:
    execute("DELETE FROM lessons WHERE id NOT IN (SELECT lesson_id FROM recordings)")


def files_of(library: Library) -> list[Path]:
    """All recordings in the library's folder, listed or not, by name."""
    return sorted(library.recordings.glob("*.mcap"))


def unlisted(library: Library) -> list[Path]:
    """Recordings in the folder that the library does not know."""
    known = {row["path"] for row in library.rows("SELECT path FROM recordings")}
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
            recording = open_recording(path)
            swings, doubts = analyse(recording)
            put(library, recording, swings, doubts)
        except DamagedError:
            raise
        except GroundtoneError as error:
            why_not = str(error)
        yield path, why_not
    with library.writing() as execute:
        for row in library.rows("SELECT id, path FROM recordings"):
            if not (library.folder / row["path"]).exists():
                execute("DELETE FROM recordings WHERE id = ?", (row["id"],))
        _drop_empty_lessons(execute)


def open_for_rebuild(folder: Path) -> tuple[Library, str]:
    """The library to rebuild, and a sentence where its file was damaged and set aside (else empty).

    Raises
    ------
    LibraryError
        It cannot be opened for another reason than damage.
    """
    try:
        library = Library(folder)
        if not _sound(library):
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


def _sound(library: Library) -> bool:
    return [row[0] for row in library.rows("PRAGMA quick_check")] == ["ok"]


def _salvaged(path: Path) -> list[Golfer]:
    """The golfers that a damaged library still gives."""
    out: list[Golfer] = []
    try:
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        try:
            connection.row_factory = sqlite3.Row
            out.extend(golfer_of(row) for row in connection.execute("SELECT * FROM golfers"))
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
    if not _sound(library):
        out.append("The library's file is damaged: 'groundtone library rebuild' makes it anew from the recordings.")
    for row in library.rows("SELECT path, sha256, frames FROM recordings ORDER BY path"):
        path = library.folder / row["path"]
        if not path.exists():
            out.append(f"{row['path']} is missing: bring it back, or forget it with 'groundtone library rebuild'.")
            continue
        if fingerprint(path)[0] != row["sha256"]:
            out.append(f"{row['path']} has changed since: 'groundtone library rebuild' reads it again.")
        out += _lost_in(path, int(row["frames"]))
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
