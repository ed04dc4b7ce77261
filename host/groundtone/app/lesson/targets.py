"""Which recording a word on the command line means: a file, the beginning of a session's id, or `last`."""

from __future__ import annotations

import re
from pathlib import Path

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.record.library import Library

_BLOCK = re.compile(r"^(?P<what>.+):(?P<block>\d+|baseline|drill|test|free)$")


def recording_path(target: str) -> Path:
    """The file of a recording.

    Parameters
    ----------
    target : str
        A path; else "last" or the beginning (4 letters at least) of a session's id in the library.

    Raises
    ------
    GroundtoneError
        There is none, or more than one.
    """
    path = Path(target)
    if path.suffix or path.exists() or "/" in target:
        return path
    with Library(data_folder()) as library:
        if target == "last":
            rows = library.rows("SELECT * FROM recordings ORDER BY started DESC, id DESC LIMIT 1")
            if not rows:
                raise GroundtoneError("nothing has been recorded yet: 'groundtone listen' records a session")
            return library.file_of(rows[0])
        if len(target) < 4:
            raise GroundtoneError(f"{target!r} is neither a file nor enough of a session's id: give 4 letters of it")
        pattern = target.replace("%", "").replace("_", "") + "%"
        rows = library.rows("SELECT * FROM recordings WHERE session LIKE ?", [pattern])
        if len(rows) != 1:
            several = "more than one session begins" if rows else "no file of that name is here and no session begins"
            raise GroundtoneError(f"{several} with {target!r}: see 'groundtone library list NAME'")
        return library.file_of(rows[0])


def split_block(target: str) -> tuple[str, str]:
    """A recording and a block of it, as in `session.mcap:2` or `last:test`; the block is empty where none is named."""
    found = _BLOCK.match(target)
    return (found["what"], found["block"]) if found else (target, "")
