"""Finds the whole chunks of a recording, whatever happened to the file: cut, flipped bits, no index, no end.

A chunk counts when its own lengths agree and its CRC-32 is right; nothing else in the file is relied upon, neither
the magic nor the record before it nor an index. What lies between whole chunks and is no chunk is passed over.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from mcap.opcode import Opcode

from groundtone.record.channels import PROFILE
from groundtone.record.chunkfile import MAGIC, MESSAGE, MESSAGE_FIELDS

# A chunk record's opcode and a length below 16 MiB.
_LIKELY = re.compile(rb"\x06[\s\S]{3}\x00{5}")
# No likely chunk is longer than this.
_PIECE = (1 << 24) + 64
_HEAD = struct.Struct("<BQQQQII")
_LENGTH = struct.Struct("<Q")
# Our name in the header: behind the magic, opcode and length, and the name's own length.
_PROFILE_AT, _OURS = len(MAGIC) + 9 + 4, PROFILE.encode()


@dataclass(frozen=True)
class WholeChunk:
    """A chunk that is whole.

    Attributes
    ----------
    at, end : int
        Where its record begins and ends in the file.
    """

    at: int
    end: int
    body: memoryview


def whole_chunks(data: bytes, most: int | None = None) -> Iterator[WholeChunk]:
    """The chunks of a file that are whole, in order; those that begin before `most`, where that is given."""
    view = memoryview(data)
    at = 0
    while (found := _LIKELY.search(data, at)) is not None:
        at = found.start()
        if most is not None and at >= most:
            return
        chunk = _chunk_at(view, at)
        if chunk is None:
            at += 1
            continue
        yield chunk
        at = chunk.end


def chunks_of(file: BinaryIO) -> Iterator[WholeChunk]:
    """The same of a file that is read piece by piece: an hour is 190 MiB and is never in memory as a whole.

    Places are those in the piece. A body is to be used before the next one is asked for.
    """
    data = file.read(_PIECE)
    while data:
        more = file.read(_PIECE)
        # A chunk that begins in the first piece may reach into the next, and no farther.
        sure = len(data) if more else None
        data += more
        done = 0
        for chunk in whole_chunks(data, sure):
            yield chunk
            done = chunk.end
        if sure is None:
            return
        data = data[max(done, sure) :]


def _chunk_at(view: memoryview, at: int) -> WholeChunk | None:
    if at + _HEAD.size + 8 > len(view):
        return None
    _, length, _, _, size, crc, compression = _HEAD.unpack_from(view, at)
    begin, end = at + _HEAD.size + 8, at + 9 + length
    if compression or end > len(view) or size != end - begin or _LENGTH.unpack_from(view, begin - 8)[0] != size:
        return None
    body = view[begin:end]
    return WholeChunk(at, end, body) if zlib.crc32(body) == crc else None


def messages(body: memoryview) -> Iterator[tuple[int, int, int, memoryview]]:
    """Channel, sequence, log time (ns) and data of each message of a whole chunk."""
    at, unpack = 0, MESSAGE.unpack_from
    while at + MESSAGE.size <= len(body):
        opcode, length, channel, sequence, time_ns, _ = unpack(body, at)
        end = at + 9 + length
        if opcode == Opcode.MESSAGE and length >= MESSAGE_FIELDS:
            yield channel, sequence, time_ns, body[at + MESSAGE.size : end]
        at = end


def is_closed(data: bytes) -> bool:
    """The file was ended in order: footer and magic are there."""
    return len(data) > 2 * len(MAGIC) and data.endswith(MAGIC)


def is_mcap(data: bytes) -> bool:
    """It begins as an MCAP file, of whichever program."""
    return data.startswith(MAGIC)


def is_begun(data: bytes) -> bool:
    """It is the beginning of one of our files: as far as magic and header go."""
    profile = data[_PROFILE_AT : _PROFILE_AT + len(_OURS)]
    return MAGIC.startswith(data[: len(MAGIC)]) and _OURS.startswith(profile) and bool(data)
