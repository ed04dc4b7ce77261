"""Where a user's files live, how one is written whole, and how another Python of ours finds the same modules."""

from __future__ import annotations

import os
import sys
import tempfile
import threading
from collections.abc import Mapping
from pathlib import Path

from groundtone.errors import BuildError, Telling


def data_folder() -> Path:
    """The folder of this user's groundtone files.

    GROUNDTONE_HOME where it is set; else Application Support (macOS), LOCALAPPDATA (Windows), or XDG_DATA_HOME and
    ~/.local/share (XDG base directory specification).
    """
    named = os.environ.get("GROUNDTONE_HOME")
    if named:
        return Path(named)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "groundtone"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "groundtone"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "groundtone"


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


def with_our_modules(env: Mapping[str, str] = os.environ) -> dict[str, str]:
    """An environment with the way to this program's modules added."""
    return dict(env, PYTHONPATH=os.pathsep.join(path for path in sys.path if path))


def end_with_parent() -> None:
    """For a process that works for another: it ends when that one is gone, however that came, a kill included."""
    import multiprocessing

    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


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
    with Telling(BuildError, f"{path} cannot be written", "choose another folder"):
        write_whole(path, content)
