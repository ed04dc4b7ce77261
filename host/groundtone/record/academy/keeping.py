"""Recordings at their place: what is missing on either side, what is to be sent, and what of it may go here."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import select

from groundtone.errors import LibraryError
from groundtone.record.academy.places import Place
from groundtone.record.contents import fingerprint, inside
from groundtone.record.library import Library
from groundtone.record.tables import recordings


def place_of(library: Library) -> Place:
    """The place of the recordings; LibraryError where none is set."""
    if library.place is None:
        raise LibraryError("no place for recordings is set: name one with 'groundtone library at --recordings'")
    return library.place


def wrong_at_place(library: Library) -> list[str]:
    """What is not as it should be at the place, one sentence each; empty where all is well, or there is no place.

    Every recording there is read whole: its name is the digest of its bytes.

    Raises
    ------
    AwayError, LibraryError
    """
    if library.place is None:
        return []
    place, there, out = library.place, library.place.all(), []
    rows = library.rows(select(recordings).order_by(recordings.c.path))
    for row in rows:
        here = row.bay == library.bay and library.file_of(row).exists()
        if row.sha256 not in there:
            mend = "'groundtone library send' brings it" if here else f"send it from {row.bay}"
            out.append(f"{row.path} is not at {place.url}: {mend}.")
        elif not place.whole(row.sha256):
            mend = "'groundtone library send' brings it anew" if here else f"send it anew from {row.bay}"
            out.append(f"{row.path} at {place.url} is damaged: {mend}.")
    for sha256 in sorted(there - {row.sha256 for row in rows}):
        out.append(f"{sha256[:12]}… at {place.url} is in no library: 'groundtone library send --strays' removes it.")
    return out


def send(library: Library, free: bool = False) -> Iterator[tuple[Path, str]]:
    """Brings this bay's recordings to their place, as far as they are not there whole.

    Parameters
    ----------
    free : bool
        Removes each here once it has been read back there.

    Yields
    ------
    path : Path
        A recording here,
    what : str
        "sent", "freed", or a sentence why not.

    Raises
    ------
    AwayError, LibraryError
    """
    place = place_of(library)
    for row in library.rows(select(recordings).where(recordings.c.bay == library.bay).order_by(recordings.c.started)):
        path = library.file_of(row)
        if not path.exists():
            continue
        if fingerprint(path)[0] != row.sha256:
            yield path, f"{path.name} has changed since: 'groundtone library rebuild' reads it again"
            continue
        place.put(path, row.sha256)
        if free:
            path.unlink()
        yield path, "freed" if free else "sent"


def send_one(library: Library, path: Path) -> None:
    """Brings one recording of this bay to its place, if the library has it as it is. Errors as `send`."""
    kept = library.rows(select(recordings.c.sha256).where(recordings.c.path == inside(library, path)))
    if path.exists() and fingerprint(path)[0] in {row.sha256 for row in kept}:
        place_of(library).put(path, fingerprint(path)[0])


def remove_strays(library: Library) -> int:
    """Removes what lies at the place and is in no library; how many. Errors as `send`."""
    place = place_of(library)
    strays = place.all() - {row.sha256 for row in library.rows(select(recordings.c.sha256))}
    place.remove(sorted(strays))
    return len(strays)
