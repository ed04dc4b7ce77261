"""A mat's own notes of swings off the mat, and recordings made of them, one of each power-up."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import struct
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from groundtone.errors import RecordError, RequestError, Telling
from groundtone.link.base import Link
from groundtone.onboard.pack import PackError
from groundtone.record import on_mat
from groundtone.record.library import Library
from groundtone.record.recorder import begin
from groundtone.record.session import About, Block, Golfer, Settings
from groundtone.review.noted import NOTED
from groundtone.wire.messages import Command, Hello, Status
from groundtone.wire.notes import NOTE_BYTES, Note, NoteFlag

_SENSELESS = "what the mat says of its notes makes no sense: bring it up to date with groundtone build install"
_OLD = "the mat's firmware keeps no notes: bring it up to date with groundtone build install"
# So many notes are let go of with one request: four segments of the mat's (WIRE.md, Notes).
_AT_ONCE = 256


@dataclass(frozen=True)
class Span:
    """The notes that a mat has: those from `oldest` to before `following` of one book."""

    book: int
    oldest: int
    following: int


def span_of(link: Link) -> Span:
    """Which notes the mat has.

    Raises
    ------
    PackError
        Its firmware keeps none.
    LinkError
    """
    payload = _ask(link, Command.NOTES)
    if len(payload) != struct.calcsize("<HII"):
        raise PackError(_SENSELESS)
    return Span(*struct.unpack("<HII", payload))


def fetched(
    link: Link, span: Span, first: int, told: Callable[[float], None] = lambda part: None
) -> tuple[list[Note], int]:
    """The notes from a number on, and how many were damaged and left out.

    Parameters
    ----------
    told : callable
        Takes the part that has come, 0 to 1.
    """
    notes: list[Note] = []
    damaged, number = 0, max(first, span.oldest)
    while number < span.following:
        payload = _ask(link, Command.READ_NOTES, struct.pack("<I", number))
        if len(payload) % NOTE_BYTES != struct.calcsize("<I"):
            raise PackError(_SENSELESS)
        (at,) = struct.unpack_from("<I", payload)
        came = [payload[k : k + NOTE_BYTES] for k in range(4, len(payload), NOTE_BYTES)]
        if not came:
            break
        for raw in came:
            note = Note.of(raw)
            damaged += note is None
            notes += [note] if note is not None else []
        number = at + len(came)
        told(min(1.0, (number - span.oldest) / (span.following - span.oldest)))
    return notes, damaged


def forget(link: Link, span: Span) -> None:
    """Lets the mat drop what has been fetched, as far as it lies in segments that are full.

    A little at a time: each segment is a file to be removed, and all of them at once would take longer than a reply
    is waited for, and nearly as long as the board's watchdog waits.
    """
    for before in (*range(span.oldest + _AT_ONCE, span.following, _AT_ONCE), span.following):
        _ask(link, Command.FORGET_NOTES, struct.pack("<I", before))


def _ask(link: Link, command: int, arguments: bytes = b"") -> bytes:
    try:
        return link.request(command, arguments)
    except RequestError as error:
        raise PackError(_OLD if error.status == Status.UNKNOWN_COMMAND else str(error)) from error


# What is known already: each session's id says which notes are in it.


def session_id(uid: str, book: int, first: int, last: int) -> str:
    """Of the recording of such notes: the same notes have the same id."""
    name = f"{uid}-{book:04x}-{first}-{last}"
    return f"{hashlib.sha256(name.encode()).hexdigest()[:12]}-{name}"


def next_wanted(library: Library, uid: str, book: int) -> int:
    """The number behind the last note of a mat that the library has, or had before it was erased."""
    known = [int(session.rsplit("-", 1)[1]) for session in on_mat.sessions_of_notes(library, uid, book)]
    kept = _kept(library.folder, uid, book)
    with contextlib.suppress(OSError, ValueError):
        known.append(int(kept.read_text("ascii")))
    return max(known, default=-1) + 1


def keep_next(library: Library, uid: str, book: int, last: int) -> None:
    """Remembers that notes have been fetched: who is erased does not come back with the next fetching."""
    path = _kept(library.folder, uid, book)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(str(last), "ascii")


def _kept(folder: Path, uid: str, book: int) -> Path:
    return folder / "fetched" / f"{uid}-{book:04x}"


def owner_of(library: Library, note: Note, uid: str) -> Golfer:
    """Whose swing it is, as far as the library remembers for whom the mat had been set up."""
    hand = "left" if note.has(NoteFlag.LEFT_HANDED) else "right"
    return on_mat.owner_of(library, uid, note.digest) or Golfer("", hand)


# Recordings


def in_sessions(notes: Iterable[Note]) -> list[list[Note]]:
    """The notes of each power-up and of what was on the mat, in order."""
    return [list(group) for _, group in groupby(notes, lambda note: (note.power_up, note.digest))]


def about_of(notes: list[Note], hello: Hello, golfer: Golfer, profile_text: str | None, simulated: bool) -> About:
    """What the recording of one power-up's notes says of itself."""
    first, last = notes[0], notes[-1]
    now = datetime.datetime.now().astimezone()
    when = datetime.datetime.fromtimestamp(first.time_s).astimezone() if first.time_s else now
    left = first.has(NoteFlag.LEFT_HANDED)
    return About(
        hello, Settings(shoe_mm=golfer.shoe_mm), replace(golfer, hand="left" if left else "right"), Block(),
        profile_text, session_id(hello.uid, first.book, first.number, last.number), when.isoformat(timespec="seconds"),
        simulated=simulated,
    )  # fmt: skip


def time_sentence(note: Note) -> str:
    """How far the time of day of a session is known."""
    if note.has(NoteFlag.TIME_TOLD):
        return "The time of day is what the last computer at the mat told, carried on by the mat's own clock."
    if note.time_s:
        when = datetime.datetime.fromtimestamp(note.time_s).strftime("%Y-%m-%d %H:%M")
        return (
            f"The mat had no clock: these swings were hit after {when}, when a computer told the time last, and their "
            "session stands at that time."
        )
    return "No computer had told the mat the time: the session stands at the time at which it was fetched."


def write(path: Path, about: About, notes: list[Note]) -> None:
    """Writes a recording of notes; errors as `groundtone.record.recorder.begin`, and those of the disk.

    All of it or nothing: its id says which notes are in it, so half of one would keep the others from coming.
    """
    part = path.with_name(f"{about.hello.uid}.part")
    with Telling(RecordError, f"the recording {path} cannot be written", "check the folder"):
        part.unlink(missing_ok=True)
    recorder = begin(part, about)
    for number, note in enumerate(notes, 1):
        takeaway_s = note.since_s - note.takeaway_s
        recorder.swing({"number": number, "takeaway_s": takeaway_s, "impact_s": note.since_s, NOTED: note.raw.hex()})
    recorder.note(time_sentence(notes[0]))
    recorder.close()
    trouble = recorder.trouble
    with Telling(RecordError, f"the recording {path} cannot be written", "check the folder"):
        if trouble is None:
            part.replace(path)
        else:
            part.unlink()
    if trouble is not None:
        raise trouble
