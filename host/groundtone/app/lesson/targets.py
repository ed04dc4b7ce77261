"""Words of the command line: which recording one means, and a name as it may be printed."""

from __future__ import annotations

import re
from pathlib import Path

from groundtone.app.console import at_once
from groundtone.files import data_folder

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
    at_once(f"Looking at {target}.")
    path = Path(target)
    if path.suffix or path.exists() or "/" in target:
        return path
    from groundtone.record.library import Library
    from groundtone.review.library_reader import recording_named

    with Library(data_folder()) as library:
        return recording_named(library, target)


def split_block(target: str) -> tuple[str, str]:
    """A recording and a block of it, as in `session.mcap:2` or `last:test`; the block is empty where none is named."""
    found = _BLOCK.match(target)
    return (found["what"], found["block"]) if found else (target, "")


def one_line(text: str) -> str:
    """A text on one line, and without what would move the cursor about."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
