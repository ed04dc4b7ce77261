"""What the program says to the process that makes its sound: commands as bytes, and the same done to a player.

A command is its length (u32), a letter and what belongs to it; numbers are little-endian.
"""

import os
import struct
import sys
from collections.abc import Iterator, Mapping
from typing import Protocol

import numpy as np

from groundtone.errors import ToneError
from groundtone.tone.echo import EchoPath
from groundtone.tone.voices import CUES as VOICES

_PIPE_BYTES = 1 << 16

START, STOP, CLOSE, CUES, HEARTBEAT, REST, SIGNAL, ECHO = b"B", b"P", b"Q", b"C", b"H", b"R", b"S", b"E"
LARGEST = 1 << 24  # bytes of a command; more is no command of ours
_HEAD = struct.Struct("<Ic")
_ECHO = struct.Struct("<2d?I")


class Commanded(Protocol):
    """What commands are done to: a player, or anything that keeps them."""

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """See `groundtone.tone.output.Output`."""

    def heartbeat(self) -> None:
        """See `groundtone.tone.output.Output`."""

    def rest(self) -> None:
        """See `groundtone.tone.output.Output`."""

    def signal(self, name: str) -> None:
        """See `groundtone.tone.output.Output`."""

    def echo(self, path: EchoPath) -> None:
        """See `groundtone.tone.output.Output`."""


def pack(letter: bytes, content: bytes = b"") -> bytes:
    r"""Give a command as bytes.

    Examples
    --------
    >>> pack(HEARTBEAT)
    b'\x01\x00\x00\x00H'
    """
    return _HEAD.pack(len(content) + 1, letter) + content


def pack_cues(sizes: Mapping[str, float]) -> bytes:
    """Gives the sizes of all cues as a command: one number a voice, in the order of the voices."""
    return pack(CUES, struct.pack(f"<{len(VOICES)}d", *(sizes.get(name, 0.0) for name in VOICES)))


def pack_echo(path: EchoPath) -> bytes:
    """Gives a slow echo as a command.

    Raises
    ------
    ToneError
        If its arrays are not of one length.
    """
    arrays = [np.asarray(a, dtype="<f8") for a in (path.t_s, path.share, path.position)]
    if any(a.shape != (len(arrays[0]),) for a in arrays):
        raise ToneError("The path of a slow echo needs as many times as shares and positions, two at least.")
    head = _ECHO.pack(path.turn_s, path.impact_s, path.lead == "left", len(arrays[0]))
    return pack(ECHO, head + b"".join(a.tobytes() for a in arrays))


class Unpacker:
    """Takes bytes as they come and gives whole commands."""

    def __init__(self) -> None:
        self._left = b""

    def feed(self, data: bytes) -> Iterator[tuple[bytes, bytes]]:
        """Gives the letter and the content of each command that is whole now.

        Raises
        ------
        ToneError
            If what comes cannot be commands.
        """
        self._left += data
        while len(self._left) >= _HEAD.size:
            length, letter = _HEAD.unpack_from(self._left)
            if not 1 <= length <= LARGEST:
                raise ToneError("The sound's process was told what it cannot understand; start anew.")
            if len(self._left) < 4 + length:
                return
            content, self._left = self._left[_HEAD.size : 4 + length], self._left[4 + length :]
            yield letter, content


def do(letter: bytes, content: bytes, player: Commanded) -> None:
    """Does one command to a player; start, stop and close are their reader's own.

    Raises
    ------
    ToneError
        If there is no such command.
    """
    match letter:
        case b"C":
            player.set_cues(dict(zip(VOICES, struct.unpack(f"<{len(VOICES)}d", content), strict=True)))
        case b"H":
            player.heartbeat()
        case b"R":
            player.rest()
        case b"S":
            player.signal(content.decode("utf-8"))
        case b"E":
            player.echo(_echo(content))
        case _:
            raise ToneError(f"The sound's process knows no command {letter!r}; install the program again.")


def _echo(content: bytes) -> EchoPath:
    turn_s, impact_s, left, n = _ECHO.unpack_from(content)
    t_s, share, position = np.frombuffer(content, "<f8", 3 * n, _ECHO.size).reshape(3, n)
    return EchoPath(t_s, share, position, turn_s, impact_s, "left" if left else "right")


def unblock(fd: int) -> None:
    """Lets reads and writes of a pipe return at once; on Windows before Python 3.12 there is no such thing."""
    if sys.platform != "win32" or sys.version_info >= (3, 12):
        os.set_blocking(fd, False)


def read_now(fd: int) -> bytes:
    """Gives what a pipe holds, nothing where it is empty or has ended.

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
        return os.read(fd, _PIPE_BYTES)
    except BlockingIOError:
        return b""
