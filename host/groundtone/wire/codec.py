"""Messages to bytes and back, exactly as firmware/WIRE.md says; vectors in tests/vectors."""

from __future__ import annotations

import struct
from typing import Any
from zlib import crc32

import numpy as np

from groundtone.errors import VersionError, WireError
from groundtone.wire.messages import (
    CRC_BYTES,
    FEET_BYTES,
    FEET_STRUCT,
    FRAME_DTYPE,
    FRAME_HEADER,
    FRAME_STRUCT,
    MAX_MESSAGE,
    WIRE_VERSION,
    Ack,
    Event,
    Feet,
    Finding,
    Frame,
    Hello,
    Message,
    Reply,
    Request,
    Type,
)
from groundtone.wire.packing import frame_bytes, pack_cells, unpack_cells

_FRAME_FIELDS = FRAME_DTYPE.names[1:] if FRAME_DTYPE.names else ()
_HELLO = struct.Struct("<BBBB8sBBBBHHBB")
_CRC = struct.Struct("<I")
# The one message with half a checksum, so that it fits one packet of the radio.
_FEET_HEAD = WIRE_VERSION << 4 | Type.FEET


class UnknownTypeError(WireError):
    """A message of this wire version whose type is not known here: to be skipped."""


def _seal(kind: Type, body: bytes) -> bytes:
    head = bytes([WIRE_VERSION << 4 | kind])
    message = head + body
    if len(message) + CRC_BYTES > MAX_MESSAGE:
        raise WireError(f"a message of {len(message) + CRC_BYTES} bytes exceeds {MAX_MESSAGE}: shorten its text")
    return message + _CRC.pack(crc32(message))


def encode(message: Message, bits: int = 14) -> bytes:
    """Bytes of a message, checksum included.

    Parameters
    ----------
    bits : int
        Bits a cell; used for frames only.

    Raises
    ------
    WireError
        If the message would exceed 244 bytes.
    ValueError
        If a field does not fit its place.
    """
    try:
        match message:
            case Frame():
                header = FRAME_STRUCT.pack(0, *(getattr(message, name) for name in _FRAME_FIELDS))
                return _seal(Type.FRAME, header[1:] + pack_cells(message.cells, bits))
            case Ack():
                return _seal(Type.ACK, struct.pack("<HB", message.seq, message.all))
            case Request():
                return _seal(Type.REQUEST, bytes([message.id, message.command]) + message.arguments)
            case Reply():
                return _seal(Type.REPLY, bytes([message.id, message.command, message.status]) + message.payload)
            case Event():
                return _seal(Type.EVENT, struct.pack("<BI", message.code, message.t_us) + message.text.encode())
            case Feet():
                body = FEET_STRUCT.pack(_FEET_HEAD, *(getattr(message, name) for name in Feet.__dataclass_fields__))
                return body + struct.pack("<H", crc32(body) & 0xFFFF)
    except struct.error as error:
        raise ValueError(f"a field does not fit its place in the message: {error}") from error


def check(message: bytes) -> Type:
    """Type of a message whose length, checksum and version are right.

    Raises
    ------
    WireError
        Too short, too long, or wrong checksum.
    VersionError
        Another wire version.
    UnknownTypeError
        A type that this version does not know.
    """
    if len(message) == FEET_BYTES and message[0] == _FEET_HEAD:
        if crc32(message[:-2]) & 0xFFFF != int.from_bytes(message[-2:], "little"):
            raise WireError("checksum wrong: bytes were lost or changed on the way")
        return Type.FEET
    if not 1 + CRC_BYTES <= len(message) <= MAX_MESSAGE:
        raise WireError(f"a message of {len(message)} bytes: 5 to {MAX_MESSAGE} are allowed")
    if crc32(message[:-CRC_BYTES]) != _CRC.unpack_from(message, len(message) - CRC_BYTES)[0]:
        raise WireError("checksum wrong: bytes were lost or changed on the way")
    version = message[0] >> 4
    if version != WIRE_VERSION:
        raise VersionError(
            f"the mat speaks wire version {version} and this program version {WIRE_VERSION}: "
            "bring the older of the two up to date"
        )
    if message[0] == _FEET_HEAD:
        raise WireError(f"a feet message of {len(message)} bytes where {FEET_BYTES} are expected")
    try:
        return Type(message[0] & 15)
    except ValueError:
        raise UnknownTypeError(f"message type {message[0] & 15} is unknown here") from None


def decode(message: bytes, cells: int = 0, bits: int = 14) -> Message:
    """Message from bytes that nobody has checked yet: `check`, then `parse`, with their parameters and errors."""
    check(message)
    return parse(message, cells, bits)


def parse(message: bytes, cells: int = 0, bits: int = 14) -> Message:
    """Message from bytes that `check` has let pass, as all have that come out of a link's decoder.

    Parameters
    ----------
    cells, bits : int
        Number of cells and bits a cell, from the mat's hello; used for frames only.

    Raises
    ------
    WireError
        Where the body has a wrong length for its type.
    """
    kind = Type(message[0] & 15)
    if kind is Type.FEET:
        return Feet(*FEET_STRUCT.unpack_from(message)[1:])
    body = message[1:-CRC_BYTES]
    match kind:
        case Type.FRAME:
            expected = frame_bytes(cells, bits)
            if len(message) != expected:
                raise WireError(f"a frame of {len(message)} bytes where {expected} are expected: layouts differ")
            packed = np.frombuffer(message, np.uint8)[FRAME_HEADER:-CRC_BYTES]
            fields: list[Any] = [*FRAME_STRUCT.unpack_from(message)[1:], unpack_cells(packed, cells, bits)]
            return Frame(*fields)
        case Type.ACK:
            _want(len(body) == 3, kind)
            seq, everything = struct.unpack("<HB", body)
            return Ack(seq, bool(everything))
        case Type.REQUEST:
            _want(len(body) >= 2, kind)
            return Request(body[0], body[1], body[2:])
        case Type.REPLY:
            _want(len(body) >= 3, kind)
            return Reply(body[0], body[1], body[2], body[3:])
        case Type.EVENT:
            _want(len(body) >= 5, kind)
            code, t_us = struct.unpack_from("<BI", body)
            return Event(code, t_us, body[5:].decode("utf-8", "replace"))


def _want(right: bool, kind: Type) -> None:
    if not right:
        raise WireError(f"a message of type {kind.name.lower()} with a body of the wrong length")


def string(text: str) -> bytes:
    """`length u8, UTF-8` of a text of at most 255 bytes."""
    raw = text.encode()
    if len(raw) > 255:
        raise WireError("a text of more than 255 bytes does not fit a message: shorten it")
    return bytes([len(raw)]) + raw


def strings(raw: bytes, count: int) -> list[str]:
    """The next `count` strings of a payload; WireError where it ends early."""
    out, at = [], 0
    for _ in range(count):
        if at >= len(raw) or at + 1 + raw[at] > len(raw):
            raise WireError("a reply ends within a text: mat and program may be of different versions")
        out.append(raw[at + 1 : at + 1 + raw[at]].decode("utf-8", "replace"))
        at += 1 + raw[at]
    return out


def hello_from(payload: bytes) -> Hello:
    """What a mat says of itself, from the payload of its hello reply."""
    if len(payload) < _HELLO.size:
        raise WireError("the mat's hello is too short: mat and program may be of different versions")
    wire, major, minor, patch, uid, rows, columns, bits, window, low, high, state, restart = _HELLO.unpack_from(payload)
    board, layout, name = strings(payload[_HELLO.size :], 3)
    if bits not in (12, 14) or not rows or not columns or columns % 2:
        raise WireError(f"the mat's hello makes no sense: {rows} rows, {columns} columns, {bits} bits")
    version = (major, minor, patch)
    return Hello(wire, version, uid.hex(), rows, columns, bits, window, low, high, state, restart, board, layout, name)


def findings_from(payload: bytes) -> list[Finding]:
    """The lines of a self-test reply."""
    if not payload or len(payload) != 1 + 5 * payload[0]:
        raise WireError("the mat's self-test reply has a wrong length: mat and program may be of different versions")
    return [Finding(*fields) for fields in struct.iter_unpack("<BBBH", payload[1:])]
