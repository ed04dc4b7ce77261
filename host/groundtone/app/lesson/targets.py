"""Which recording a word on the command line means: a file, the beginning of a session's id, or `last`."""

from __future__ import annotations

import re
from pathlib import Path

from groundtone.files import data_folder
from groundtone.record.library import Library
from groundtone.review.library_reader import recording_named

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
        return recording_named(library, target)


def split_block(target: str) -> tuple[str, str]:
    """A recording and a block of it, as in `session.mcap:2` or `last:test`; the block is empty where none is named."""
    found = _BLOCK.match(target)
    return (found["what"], found["block"]) if found else (target, "")
