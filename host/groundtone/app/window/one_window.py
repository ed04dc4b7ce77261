"""One window at a time on one data folder: a lock file that is held while the window is open."""

from __future__ import annotations

from pathlib import Path
from typing import IO

from groundtone.errors import GroundtoneError

FILE = "window.lock"


class OneWindow:
    """The lock of a data folder.

    Parameters
    ----------
    folder : Path
        Made where it is missing.

    Raises
    ------
    GroundtoneError
        Another window is open on it, or the folder cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        path = folder / FILE
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file: IO[bytes] | None = path.open("ab")
        except OSError as error:
            raise GroundtoneError(
                f"the data folder {folder} cannot be written ({error.strerror}): name another with GROUNDTONE_HOME"
            ) from error
        if not _locked(self._file):
            self._file.close()
            self._file = None
            raise GroundtoneError(
                "groundtone's window is open already: go on in that one, or close it first and say the command again"
            )

    def release(self) -> None:
        """Another window may be opened; a second call does nothing."""
        if self._file is not None:
            self._file.close()
            self._file = None


def _locked(file: IO[bytes]) -> bool:
    """Holds a file until it is closed, by the system's own lock: a crash leaves nothing behind."""
    import sys

    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    from groundtone.record.recorder import hold

    return hold(file.fileno())
