"""A builder's files, written whole or not at all, and what to do where one cannot be."""

from __future__ import annotations

from pathlib import Path

from groundtone.errors import BuildError
from groundtone.files import write_whole


def write_file(path: Path, content: bytes | str) -> None:
    """Write a file beside its place and move it there in one step.

    Parameters
    ----------
    path : Path
        Its folder is made where it is missing.
    content : bytes or str
        Text is written as UTF-8.

    Raises
    ------
    BuildError
        Where it cannot be written; an older file is still there, whole.
    """
    try:
        write_whole(path, content)
    except OSError as error:
        raise BuildError(f"{path} cannot be written ({error.strerror}): choose another folder") from error
