"""What a bay has recorded and not filed yet: one line each, in order, from the moment a recording begins.

A bay without network goes on recording. Its sessions are filed when the database is there again, once and in order; so
are those of a program that was killed. No name stands in the file.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from groundtone.errors import LibraryError, Telling
from groundtone.files import make_folder, own_file, write_whole

FILE, SEND = "to file.jsonl", "to send.jsonl"
"""What is to be filed, and what is filed and is still to be sent to its place."""

_SEEN = "erasures seen"


@dataclass(frozen=True)
class Waiting:
    """A recording that is to be filed.

    Attributes
    ----------
    name : str
        Its file in the folder of recordings.
    seen : int
        The newest erasure that this bay knew of when it began: a later one of its golfer counts more than it.
    """

    name: str
    seen: int


def waiting(folder: Path, file: str = FILE) -> list[Waiting]:
    """What is to be filed, oldest first; a line that was cut off by a power cut is none."""
    try:
        lines = (folder / file).read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
    out = []
    for line in lines:
        with contextlib.suppress(ValueError, KeyError, TypeError):
            table = json.loads(line)
            out.append(Waiting(str(table["name"]), int(table["seen"])))
    return out


def expect(folder: Path, name: str, seen: int, file: str = FILE) -> None:
    """A recording begins: it is to be filed.

    Raises
    ------
    LibraryError
    """
    with _changing(folder, file) as known:
        if name not in {each.name for each in known}:
            known.append(Waiting(name, seen))


def settle(folder: Path, name: str, file: str = FILE) -> None:
    """A recording is filed, or there is nothing of it to be filed; LibraryError as `expect`."""
    with _changing(folder, file) as known:
        known[:] = [each for each in known if each.name != name]


def last_seen(folder: Path) -> int:
    """The newest erasure that this bay has carried out; 0 for none."""
    try:
        return int((folder / _SEEN).read_text("utf-8"))
    except (OSError, ValueError):
        return 0


def saw(folder: Path, number: int) -> None:
    """Everything up to that erasure has been carried out here; LibraryError as `expect`."""
    with Telling(LibraryError, f"{folder / _SEEN} cannot be written", "check the folder and the disk"):
        write_whole(folder / _SEEN, f"{number}\n")


@contextlib.contextmanager
def _changing(folder: Path, name: str) -> Iterator[list[Waiting]]:
    """The list, to be changed; two programs of one bay take turns."""
    with Telling(LibraryError, f"{folder / name} cannot be written", "check the folder and the disk"):
        make_folder(folder)
        lock = folder / f".{name}.lock"
        own_file(lock)
        with lock.open("rb") as file:
            if sys.platform != "win32":
                import fcntl

                fcntl.flock(file.fileno(), fcntl.LOCK_EX)
            known = waiting(folder, name)
            before = list(known)
            yield known
            if known != before:
                write_whole(folder / name, "".join(f"{json.dumps(vars(each))}\n" for each in known))
