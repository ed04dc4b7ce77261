"""Whose a mat's own notes are: for whom something was put onto a mat, and which notes the library has."""

from __future__ import annotations

from sqlalchemy import delete, insert, select

from groundtone.record.library import Library
from groundtone.record.session import Golfer
from groundtone.record.tables import golfers, own_files, recordings


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


def owner_of(library: Library, uid: str, digest: int) -> Golfer | None:
    """For whom it was put there, as far as the library remembers."""
    of_it = own_files.c.kind == _kind(uid, digest)
    rows = library.rows(select(golfers.c.name).select_from(golfers.join(own_files)).where(of_it))
    return library.golfer(rows[0].name) if rows else None


def _kind(uid: str, digest: int) -> str:
    return f"on mat {uid} {digest:08x}"
