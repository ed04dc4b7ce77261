"""Files that are either the old ones or the new ones, never half of each."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from groundtone.errors import BuildError


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
    data = content.encode() if isinstance(content, str) else content
    new: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, new = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(new).chmod(0o644)
        Path(new).replace(path)
    except OSError as error:
        if new is not None:
            with contextlib.suppress(OSError):
                Path(new).unlink()
        raise BuildError(f"{path} cannot be written ({error.strerror}): choose another folder") from error
