"""Onto the mat and off it, over any link: pieces, the digest that comes back, and what is on."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable

from groundtone.errors import RequestError
from groundtone.link.base import Link
from groundtone.onboard.pack import OnMat, PackError, unpacked
from groundtone.wire.messages import Command, Status

PIECE = 230
# The board reads back what came and takes it in place of the old one, out of its flash and into it.
_END_S = 5.0
_OLD = "the mat's firmware is older than this: bring it up to date with groundtone build install"


def put_on(link: Link, data: bytes, told: Callable[[float], None] = lambda part: None) -> None:
    """Puts packed bytes onto the mat; what was there stays until all of it has come.

    Parameters
    ----------
    told : callable
        Takes the part that has gone over, 0 to 1.

    Raises
    ------
    PackError
        The mat refused it, or holds something else afterwards.
    LinkError
    """
    _ask(link, Command.PUT_BEGIN, struct.pack("<I", len(data)))
    for at in range(0, len(data), PIECE):
        _ask(link, Command.PUT, struct.pack("<H", at) + data[at : at + PIECE])
        told(min(1.0, (at + PIECE) / len(data)))
    digest, size = struct.unpack("<IH", _ask(link, Command.PUT_END, patience_s=_END_S))
    if (digest, size) != (zlib.crc32(data[:-4]), len(data)):
        raise PackError("the mat holds something else than what was sent: send it again with groundtone to-mat")


def what_is_on(link: Link, now_s: float) -> OnMat | None:
    """What is on the mat; None: nothing. What has had its last day is taken off by the mat.

    Parameters
    ----------
    now_s : float
        Seconds since 1970.

    Raises
    ------
    PackError
        It is damaged, or of another version.
    LinkError
    """
    _, size = struct.unpack("<IH", _ask(link, Command.WHAT_IS_ON, struct.pack("<I", int(now_s))))
    if not size:
        return None
    return unpacked(b"".join(_ask(link, Command.READ_BACK, struct.pack("<H", at)) for at in range(0, size, PIECE)))


def take_off(link: Link) -> None:
    """Takes off the mat what was put there; nothing there is no fault."""
    _ask(link, Command.TAKE_OFF)


def _ask(link: Link, command: int, arguments: bytes = b"", patience_s: float = 2.0) -> bytes:
    try:
        return link.request(command, arguments, patience_s)
    except RequestError as error:
        raise PackError(_OLD if error.status == Status.UNKNOWN_COMMAND else str(error)) from error
