"""Files that are either the old one or the whole new one, whatever happens while they are written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes | str) -> None:
    """Writes a file beside its place, makes sure it is on the disk, and puts it in place in one step.

    Parameters
    ----------
    path : Path
        Its folder is made where it is missing.
    content : bytes or str
        Text is written as UTF-8 as it is.

    Raises
    ------
    OSError
        It cannot be written (no rights, a full disk); what was there before is untouched.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is for its owner alone; a result is as readable as any other file of this user's.
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
