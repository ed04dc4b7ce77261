"""Whose a mat's own notes are: for whom something was put onto a mat, and which notes the library has."""

from __future__ import annotations

from sqlalchemy import delete, insert, select, update

from groundtone.record.library import Execute, Library
from groundtone.record.session import Golfer
from groundtone.record.tables import golfers, own_files, recordings

_ON_MAT = "on mat "


def sessions_of_notes(library: Library, uid: str, book: int) -> list[str]:
    """Ids of the sessions that hold notes of one book of a mat."""
    like = recordings.c.session.like(f"%-{uid}-{book:04x}-%")
    return [row.session for row in library.rows(select(recordings.c.session).where(like))]


def keep_owner(library: Library, golfer: str, uid: str, digest: int) -> None:
    """Remembers for whom something was put onto a mat; a golfer whom the library does not know is not remembered."""
    with library.writing() as execute:
        known = library.rows(select(golfers.c.id).where(golfers.c.name == golfer))
        kind = _kind(uid, digest)
        execute(delete(own_files).where(own_files.c.kind == kind))
        if golfer and known:
            execute(insert(own_files), {"golfer_id": known[0].id, "kind": kind, "text": "", "bay": library.bay})


def hand_on_mats(execute: Execute, source: int, into: int) -> None:
    """What had been put onto mats for one golfer is another's from now on (rows); within `writing`."""
    of_it = (own_files.c.golfer_id == source, own_files.c.kind.like(f"{_ON_MAT}%"))
    execute(update(own_files).where(*of_it).values(golfer_id=into))


def owner_of(library: Library, uid: str, digest: int) -> Golfer | None:
    """For whom it was put there, as far as the library remembers."""
    of_it = own_files.c.kind == _kind(uid, digest)
    rows = library.rows(select(golfers.c.name).select_from(golfers.join(own_files)).where(of_it))
    return library.golfer(rows[0].name) if rows else None


def _kind(uid: str, digest: int) -> str:
    return f"{_ON_MAT}{uid} {digest:08x}"
