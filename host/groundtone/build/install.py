"""Firmware onto the board, so that it always has a whole version to start: new folder, read back, one switch.

On the board, beside the settings, which nothing here touches:

    main.py      firmware/chooser.py: starts the folder that `version` names first, else the second
    version      two lines: folder of the version in force, folder of the one before
    fw-3/        a version: main.py and mat/

A board that got its files by hand has main.py and mat/ of its own at the top. Its main.py is kept as fw-0/main.py,
which finds the mat/ at the top, so there is a way back to it too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from groundtone.build.pins import known_chips
from groundtone.errors import BuildError

OLDEST = (1, 22)
"""MicroPython before this was never tried."""
BY_HAND = "fw-0"
CHOOSER, SETTINGS = "chooser.py", "settings.json"
# Copying needs room for the files, their folders and the file system's own blocks.
ROOM = 2.0
CHUNK = 1024


class InstallError(BuildError):
    """The firmware could not be installed; what ran before still does."""


class Files(Protocol):
    """A board's file system, as `mpremote`'s transport has it; paths are relative to its top."""

    def exec(self, command: str) -> bytes:
        """Run a piece of MicroPython; what it printed."""

    def eval(self, expression: str) -> object:
        """Value of an expression."""

    def fs_writefile(self, dest: str, data: bytes, chunk_size: int = 256) -> None:
        """Write a file."""

    def fs_hashfile(self, path: str, algo: str) -> bytes:
        """Hash of a file."""


@dataclass(frozen=True)
class BoardState:
    """What lies on a board.

    Attributes
    ----------
    now, before : str
        Folders of the version in force and of the one before; "" where there is none.
    by_hand : bool
        Files copied by hand: a main.py that is not the chooser.
    folders : tuple of str
        All folders of versions.
    settings : bool
        The mat has been given settings before.
    """

    now: str
    before: str
    by_hand: bool
    folders: tuple[str, ...]
    settings: bool = False


def firmware_files(folder: Path) -> dict[str, bytes]:
    """The files of a firmware folder by the names they have on the board, as its package.json lists them.

    Raises
    ------
    InstallError
        The folder holds no firmware, or not all of it.
    """
    try:
        listed = json.loads((folder / "package.json").read_text("utf-8"))["urls"]
        return {str(name): (folder / source).read_bytes() for name, source in listed}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InstallError(f"the firmware in {folder} is not whole ({error}): install groundtone again") from error


def check_board(files: Files, any_board: bool = False) -> str:
    """What machine it is, in its own words.

    Raises
    ------
    InstallError
        Not MicroPython, too old, or of a kind that the firmware has no pins for.
    """
    name, version, machine = _implementation(files)
    if name != "micropython":
        raise InstallError(f"the board runs {name} and not MicroPython: flash MicroPython first (hardware/firmware.md)")
    if version < OLDEST:
        raise InstallError(
            f"the board runs MicroPython {'.'.join(map(str, version))}, and {'.'.join(map(str, OLDEST))} or newer is "
            "needed: flash a newer one (hardware/firmware.md)"
        )
    chips = known_chips()
    if not any_board and not any(chip in machine for chip in chips):
        raise InstallError(
            f"the board calls itself {machine!r}, and the firmware has pins for {', '.join(chips)} only: use one of "
            "these, or add its pins to firmware/mat/board.py and say --any-board"
        )
    return machine


def _implementation(files: Files) -> tuple[str, tuple[int, ...], str]:
    said = files.eval("(lambda s: (s[0], s[1][:2], getattr(s, '_machine', '')))(__import__('sys').implementation)")
    if not (isinstance(said, tuple) and len(said) == 3):
        raise InstallError("the board does not say what it is: flash MicroPython first (hardware/firmware.md)")
    name, version, machine = said
    return str(name), tuple(int(v) for v in version), str(machine)


def look(files: Files, chooser: bytes) -> BoardState:
    """What lies on the board."""
    names = _names(files, ".")
    folders = tuple(sorted(n for n in names if n.startswith("fw-")))
    listed: list[str] = []
    if "version" in names:
        text = str(files.eval("open('version').read()"))
        listed = [line.strip() for line in text.splitlines() if line.strip() in folders]
    chosen = "main.py" in names and files.fs_hashfile("main.py", "sha256") == hashlib.sha256(chooser).digest()
    # A chooser of another release is one too: it begins with the same word of purpose.
    chosen = chosen or ("main.py" in names and "def folders()" in str(files.eval("open('main.py').read()")))
    if not chosen:
        return BoardState("", "", "main.py" in names, folders, SETTINGS in names)
    now, before = [*listed, "", ""][:2]
    return BoardState(now, before, False, folders, SETTINGS in names)


def install(files: Files, new: dict[str, bytes], chooser: bytes, told: Callable[[str], None] = lambda _: None) -> str:
    """Copy a version, read it back, and switch to it.

    Until the last step the board starts what it started before; that step is a rename.

    Parameters
    ----------
    files : Files
        The board, at its prompt.
    new : dict
        The version's files by name.
    chooser : bytes
        What main.py is to be.
    told : callable
        Takes a line about each step.

    Returns
    -------
    str
        The folder of the new version.

    Raises
    ------
    InstallError
        No room, or what was read back is not what was written. Nothing has changed then but an unused folder.
    """
    state = look(files, chooser)
    for folder in state.folders:
        # Left over from a copy that was interrupted: nobody names it.
        if folder not in (state.now, state.before):
            remove_tree(files, folder)
    _check_room(files, sum(map(len, new.values())))
    folder = _next(state)
    _copy(files, new, folder, told)
    if state.by_hand:
        _make_folders(files, f"{BY_HAND}/main.py")
        files.exec(
            f"a=open('main.py','rb')\nb=open('{BY_HAND}/main.py','wb')\nwhile True:\n c=a.read(256)\n if not c:\n"
            "  break\n b.write(c)\na.close()\nb.close()"
        )
        if files.fs_hashfile(f"{BY_HAND}/main.py", "sha256") != files.fs_hashfile("main.py", "sha256"):
            raise InstallError("the old main.py could not be kept: try again, nothing has changed")
    before = BY_HAND if state.by_hand else state.now
    _replace(files, "version", f"{folder}\n{before}\n".encode())
    # With files by hand the line above says nothing to anybody yet: this is the switch.
    if state.by_hand or "main.py" not in _names(files, ".") or not _is(files, "main.py", chooser):
        _replace(files, "main.py", chooser)
    told(f"switched to {folder}")
    if state.before and state.before != before:
        remove_tree(files, state.before)
        if state.before == BY_HAND and "mat" in _names(files, "."):
            remove_tree(files, "mat")
    return folder


def back(files: Files, chooser: bytes) -> str:
    """Switch to the version before; the folder it is in.

    Raises
    ------
    InstallError
        There is none.
    """
    state = look(files, chooser)
    if not state.now or not state.before:
        raise InstallError("there is no earlier version on this board: nothing was changed")
    _replace(files, "version", f"{state.before}\n{state.now}\n".encode())
    return state.before


def remove_tree(files: Files, folder: str) -> None:
    """Remove a folder with everything in it."""
    for name in _names(files, folder):
        path = f"{folder}/{name}"
        if files.eval(f"__import__('os').stat({path!r})[0] & 0x4000"):
            remove_tree(files, path)
        else:
            files.exec(f"import os\nos.remove({path!r})")
    files.exec(f"import os\nos.rmdir({folder!r})")


def _names(files: Files, folder: str) -> list[str]:
    names = files.eval(f"__import__('os').listdir({folder!r})")
    return [str(name) for name in names] if isinstance(names, list) else []


def _next(state: BoardState) -> str:
    numbers = [int(f[3:]) for f in (*state.folders, BY_HAND) if f[3:].isdigit()]
    return f"fw-{max(numbers) + 1}"


def _check_room(files: Files, size: int) -> None:
    said = files.eval("__import__('os').statvfs('.')[:4]")
    block, _, _, free = said if isinstance(said, tuple) else (0, 0, 0, 0)
    if block * free < ROOM * size:
        raise InstallError(
            f"the board has {block * free // 1024} kB free and {int(ROOM * size) // 1024} kB are needed: remove files "
            "of yours from it"
        )


def _copy(files: Files, new: dict[str, bytes], folder: str, told: Callable[[str], None]) -> None:
    for number, (name, data) in enumerate(new.items(), 1):
        path = f"{folder}/{name}"
        _make_folders(files, path)
        files.fs_writefile(path, data, CHUNK)
        if not _is(files, path, data):
            raise InstallError(f"{name} reads back differently than it was written: try again, nothing has changed")
        told(f"{number} of {len(new)}: {name}")


def _is(files: Files, path: str, data: bytes) -> bool:
    return files.fs_hashfile(path, "sha256") == hashlib.sha256(data).digest()


def _make_folders(files: Files, path: str) -> None:
    parts = path.split("/")[:-1]
    for i in range(1, len(parts) + 1):
        folder = "/".join(parts[:i])
        above = "/".join(parts[: i - 1]) or "."
        if parts[i - 1] not in _names(files, above):
            files.exec(f"import os\nos.mkdir({folder!r})")


def _replace(files: Files, name: str, data: bytes) -> None:
    """Replace a file in one step: written beside, read back, renamed over it."""
    files.fs_writefile(f"{name}.new", data, CHUNK)
    if not _is(files, f"{name}.new", data):
        raise InstallError(f"{name} could not be written: try again, the old version still starts")
    files.exec(f"import os\nos.rename({name + '.new'!r}, {name!r})")
