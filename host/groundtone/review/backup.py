"""The whole library in one file, and back: recordings, pupils with bands and plans, layouts, profiles and checks."""

from __future__ import annotations

import shutil
import tempfile
import zipfile
from pathlib import Path, PurePosixPath

from groundtone.errors import DamagedError, GroundtoneError, LibraryError, Telling
from groundtone.record.contents import put
from groundtone.record.library import FILE, Library
from groundtone.record.reader import open_recording
from groundtone.review.session_review import analysed

MARK = "groundtone-library.txt"
_FOLDERS = ("recordings", "bands", "plans", "profiles", "layouts")
_FILES = ("rules.toml",)


def back_up(home: Path, to: Path) -> int:
    """Writes everything of a data folder that cannot be made anew into a new ZIP file.

    Returns
    -------
    int
        Files in it.

    Raises
    ------
    LibraryError
        There is nothing to keep, the file is there already, or it cannot be written; nothing half-written is left.
    """
    if to.exists():
        raise LibraryError(f"{to} is there already and nothing is written over: name another")
    files = [path for folder in _FOLDERS for path in sorted((home / folder).glob("*")) if path.is_file()]
    files += [home / name for name in _FILES if (home / name).is_file()]
    if not files and not (home / FILE).exists():
        raise LibraryError(f"there is nothing in {home} to back up")
    part = to.with_name(f"{to.name}.part")
    with Telling(LibraryError, f"{to} cannot be written", "check the folder and the disk"):
        part.parent.mkdir(parents=True, exist_ok=True)
        try:
            with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive, tempfile.TemporaryDirectory() as spare:
                archive.writestr(MARK, "1\n")
                for path in files:
                    archive.write(path, path.relative_to(home).as_posix())
                if (home / FILE).exists():
                    archive.write(_copied(home, Path(spare)), FILE)
                    files.append(home / FILE)
            part.rename(to)
        finally:
            part.unlink(missing_ok=True)
    return len(files)


def _copied(home: Path, spare: Path) -> Path:
    """The library's file as it is at this moment, whoever writes it meanwhile."""
    to = spare / FILE
    with Library(home) as library:
        library.copy(to)
    return to


def restore(source: Path, home: Path) -> tuple[int, int]:
    """Brings a backed-up library into a data folder; what is there already stays as it is.

    Returns
    -------
    came, were_here : int
        Recordings that were brought, and those that were there.

    Raises
    ------
    LibraryError
        The file is no backed-up library, is damaged, or the folder cannot be written.
    """
    with Telling(LibraryError, f"{source} cannot be brought in", "check the file and the disk"):
        try:
            with zipfile.ZipFile(source) as archive, tempfile.TemporaryDirectory() as spare:
                names = archive.namelist()
                if MARK not in names or archive.testzip() is not None:
                    raise LibraryError(f"{source} is no backed-up library, or it is damaged: choose another file")
                for name in names:
                    if _wanted(name):
                        archive.extract(name, spare)
                return _taken_in(Path(spare), home)
        except zipfile.BadZipFile:
            raise LibraryError(f"{source} is no backed-up library: choose another file") from None


def _wanted(name: str) -> bool:
    path = PurePosixPath(name)
    folder = len(path.parts) == 2 and path.parts[0] in _FOLDERS and ".." not in path.parts
    return folder or name in (*_FILES, FILE)


def _taken_in(spare: Path, home: Path) -> tuple[int, int]:
    came: list[Path] = []
    were_here = 0
    for path in sorted(each for each in spare.rglob("*") if each.is_file() and each.name != FILE):
        to = home / path.relative_to(spare)
        recording = to.parent.name == "recordings"
        if to.exists():
            were_here += recording
            continue
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, to)
        came += [to] * recording
    with Library(home) as library:
        _golfers(library, spare)
        for path in came:
            try:
                recorded = open_recording(path)
                put(library, recorded, *analysed(recorded))
            except DamagedError:
                raise
            except GroundtoneError:
                # It lies in the folder: 'groundtone library check' names it, rebuilding tries it again.
                continue
    return len(came), were_here


def _golfers(library: Library, spare: Path) -> None:
    """Pupils with what is known of them, as far as nobody is called so here."""
    if not (spare / FILE).exists():
        return
    with Library(spare) as other:
        known = [each.golfer for each in other.golfers() if each.golfer.name]
    for golfer in known:
        if not library.knows(library.spelt(golfer.name)):
            library.add(golfer)
