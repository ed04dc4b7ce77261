"""Pipes to another process that never make this one wait."""

import os
import sys

_CHUNK = 1 << 16


def unblock(fd: int) -> None:
    """Let reads and writes of a pipe return at once; on Windows before Python 3.12 there is no such thing."""
    if sys.platform != "win32" or sys.version_info >= (3, 12):
        os.set_blocking(fd, False)


def read_now(fd: int) -> bytes:
    """Give what a pipe holds, nothing where it is empty or has ended.

    Parameters
    ----------
    fd : int
        The end to read from; made ready by `unblock`.
    """
    if sys.platform == "win32":
        import _winapi
        import msvcrt

        waiting, _ = _winapi.PeekNamedPipe(msvcrt.get_osfhandle(fd), 0)
        return os.read(fd, waiting) if waiting else b""
    try:
        return os.read(fd, _CHUNK)
    except BlockingIOError:
        return b""
