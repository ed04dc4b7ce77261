"""Where a user's files live, how one is written whole, and how another Python of ours finds the same modules."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import secrets
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from groundtone.errors import BuildError, GroundtoneError, Telling

_TRIAL = 1 << 16


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
    make_folder(path.parent)
    temporary = path.with_name(f".{path.name[:200]}.{secrets.token_hex(4)}")
    file = new_file(temporary)
    try:
        with file:
            view = memoryview(data)
            while view:
                view = view[file.write(view) :]
            os.fsync(file.fileno())
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def is_own(path: Path) -> bool:
    """It lies in the data folder, whose files are for their owner alone; results elsewhere are as the system has it."""
    return path.absolute().is_relative_to(data_folder().absolute())


def make_folder(folder: Path) -> None:
    """Makes a folder where it is missing; the data folder for its owner alone.

    Raises
    ------
    OSError
    """
    own = data_folder()
    if not is_own(folder):
        folder.mkdir(parents=True, exist_ok=True)
        return
    own.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Versions before 0.2 left it open to others; a folder that was named by hand is as its owner has it.
    if "GROUNDTONE_HOME" not in os.environ and sys.platform != "win32" and own.stat().st_mode & 0o077:
        own.chmod(0o700)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def new_file(path: Path) -> io.FileIO:
    """A new file, opened for writing without a buffer: in the data folder for its owner alone.

    Raises
    ------
    OSError
        FileExistsError where there is one of that name.
    """
    flags = os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0)
    return io.FileIO(os.open(path, flags, 0o600 if is_own(path) else 0o666), "w")


def own_file(path: Path) -> None:
    """Sees to it that a file is there and for its owner alone, as far as this system knows owners; OSError."""
    with contextlib.suppress(FileExistsError):
        new_file(path).close()
    if sys.platform != "win32" and path.stat().st_mode & 0o077:
        path.chmod(0o600)


def try_place(path: Path) -> None:
    """Finds out, before anybody stands there, whether a file can be written at its place; leaves nothing behind.

    Raises
    ------
    GroundtoneError
        It cannot.
    """
    with Telling(GroundtoneError, f"{path} cannot be written", "mend its folder or name another place, then begin"):
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        make_folder(path.parent)
        trial = path.with_name(f".{path.name[:200]}.{secrets.token_hex(4)}")
        with new_file(trial) as file:
            try:
                file.write(bytes(_TRIAL))
            finally:
                trial.unlink()


def cell(value: Any) -> Any:
    """A value as it goes into a table: a spreadsheet takes text that begins like a formula for one, so it is quoted."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


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
