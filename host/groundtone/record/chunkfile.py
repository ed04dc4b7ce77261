"""An MCAP file written chunk by chunk, so that what has been flushed survives whatever comes after.

The library's own writer closes a chunk by size alone; here a chunk is closed whenever the caller says so, and goes to
the disk whole in one write. The records are those of the MCAP specification (mcap.dev/spec), made by
the `mcap` package's record classes, and any MCAP reader opens the file. Chunks are not compressed: packed noisy cells
shrink by a third only, and plain bytes can be found again in a damaged file.
"""

from __future__ import annotations

import os
import struct
import zlib
from dataclasses import dataclass
from typing import Protocol

from mcap.data_stream import RecordBuilder
from mcap.opcode import Opcode
from mcap.records import Channel as ChannelRecord
from mcap.records import Chunk, ChunkIndex, DataEnd, Footer, Header, MessageIndex, Schema, Statistics

from groundtone.record.channels import PROFILE, SPECS

MAGIC = b"\x89MCAP0\r\n"
CHUNK_BYTES = 32 * 1024
"""A chunk holds no more than this, unless it is one message that is longer."""

MESSAGE = struct.Struct("<BQHIQQ")
"""A message record up to its data: opcode, length, channel, sequence, log time, publish time."""
# Channel, sequence and both times count to a message's length; opcode and length do not.
MESSAGE_FIELDS = MESSAGE.size - 9
# The fields of a chunk record around its data.
_CHUNK_AROUND = 9 + 8 + 8 + 8 + 4 + 4 + 8
Places = dict[int, list[tuple[int, int]]]
"""Of each channel the times of its messages in a chunk, ns, and where they begin in its body."""
# Later than any message, ns.
_NEVER = 1 << 63


class RawFile(Protocol):
    """What is needed of a file opened without a buffer."""

    def write(self, data: bytes, /) -> int | None:
        """Writes the bytes or a part of them; how many."""

    def seek(self, to: int, /) -> int:
        """Goes on at this place."""

    def truncate(self, size: int, /) -> int:
        """Cuts the file."""

    def fileno(self) -> int:
        """The system's handle."""

    def close(self) -> None:
        """Lets go of it."""


class ChunkFile:
    """Writes an MCAP file: chunks, each followed by the indexes of its messages, and the summary at the end.

    Parameters
    ----------
    file : RawFile
        Opened for writing, binary, without a buffer.
    library : str
        Goes into the header.
    written : list of ChunkIndex, optional
        What the file holds already, when it is gone on with; `at` is then where the last of it ends.
    counts : dict, optional
        Messages each channel holds already.
    """

    def __init__(
        self,
        file: RawFile,
        library: str,
        written: list[ChunkIndex] | None = None,
        counts: dict[int, int] | None = None,
        at: int = 0,
    ) -> None:
        self._file = file
        self._indexes = list(written or [])
        self._counts = dict(counts or {})
        self._at = at
        self._body = bytearray()
        self._places: Places = {}
        self._first, self._last = _NEVER, 0
        if not at:
            builder = RecordBuilder()
            builder.write(MAGIC)
            Header(PROFILE, library).write(builder)
            _declare(builder)
            self._append(_bytes(builder))

    @property
    def size(self) -> int:
        """Bytes that are whole in the file."""
        return self._at

    def add(self, channel: int, time_ns: int, data: bytes) -> None:
        """Adds a message; a full chunk is written first.

        Raises
        ------
        OSError
            The disk is full, or gone; the file is left whole up to the last chunk.
        """
        length = MESSAGE.size + len(data)
        if self._body and len(self._body) + length > CHUNK_BYTES - _CHUNK_AROUND:
            self.write_chunk()
        sequence = self._counts.get(channel, 0)
        self._counts[channel] = sequence + 1
        self._first = min(self._first, time_ns)
        self._last = max(self._last, time_ns)
        self._places.setdefault(channel, []).append((time_ns, len(self._body)))
        self._body += MESSAGE.pack(
            Opcode.MESSAGE, MESSAGE_FIELDS + len(data), channel, sequence & 0xFFFFFFFF, time_ns, time_ns
        )
        self._body += data

    def write_chunk(self) -> None:
        """Writes what is pending as one chunk; nothing where nothing is.

        Raises
        ------
        OSError
        """
        if not self._body:
            return
        body = bytes(self._body)
        builder = RecordBuilder()
        Chunk("", body, self._last, self._first, zlib.crc32(body), len(body)).write(builder)
        span = Span(self._at, builder.count, len(body), self._first, self._last)
        index, places = with_places(span, self._places)
        self._body, self._places = bytearray(), {}
        self._first, self._last = _NEVER, 0
        self._append(_bytes(builder) + places)
        self._indexes.append(index)

    def sync(self) -> None:
        """Sees to it that what was written is on the disk; OSError where it is not."""
        os.fsync(self._file.fileno())

    def finish(self) -> None:
        """Writes what is pending, and the summary by which other programs find their way.

        Raises
        ------
        OSError
        """
        self.write_chunk()
        builder = RecordBuilder()
        DataEnd(0).write(builder)
        begin = self._at + builder.count
        front = _bytes(builder)
        _declare(builder)
        messages = sum(self._counts.values())
        first = min((index.message_start_time for index in self._indexes), default=0)
        last = max((index.message_end_time for index in self._indexes), default=0)
        schemas = sum(spec.encoding == "json" for spec in SPECS)
        Statistics(
            attachment_count=0,
            channel_count=len(SPECS),
            channel_message_counts=dict(self._counts),
            chunk_count=len(self._indexes),
            message_count=messages,
            metadata_count=0,
            message_start_time=first,
            message_end_time=last,
            schema_count=schemas,
        ).write(builder)
        for index in self._indexes:
            index.write(builder)
        summary = _bytes(builder)
        opening = struct.pack("<BQQQ", Opcode.FOOTER, 20, begin, 0)
        Footer(begin, 0, zlib.crc32(opening, zlib.crc32(summary))).write(builder)
        builder.write(MAGIC)
        self._append(front + summary + _bytes(builder))
        self.sync()

    def close(self) -> None:
        """Lets go of the file."""
        self._file.close()

    def _append(self, data: bytes) -> None:
        """Appends bytes wholly or not at all."""
        left = memoryview(data)
        try:
            while left:
                written = self._file.write(bytes(left) if len(left) < len(data) else data)
                if not written:
                    raise OSError(28, "No space left on device")
                left = left[written:]
        except OSError:
            # A part of a chunk is of no use; without it the file ends whole.
            self._file.truncate(self._at)
            self._file.seek(self._at)
            raise
        self._at += len(data)


@dataclass(frozen=True)
class Span:
    """A chunk record of `length` bytes at `at`, with a body of `size`, and the times of its messages, ns."""

    at: int
    length: int
    size: int
    first_ns: int
    last_ns: int


def index_of(span: Span, offsets: dict[int, int], length: int) -> ChunkIndex:
    """The summary's entry for a chunk, whose message indexes are `length` bytes long and begin at `offsets`."""
    return ChunkIndex(span.length, span.at, "", span.size, span.last_ns, length, offsets, span.first_ns, span.size)


def with_places(span: Span, places: Places) -> tuple[ChunkIndex, bytes]:
    """The message indexes that follow a chunk, by which another reader finds its messages, and its summary's entry."""
    builder, offsets = RecordBuilder(), {}
    begin = span.at + span.length
    for channel in sorted(places):
        offsets[channel] = begin + builder.count
        MessageIndex(channel, places[channel]).write(builder)
    data = _bytes(builder)
    return index_of(span, offsets, len(data)), data


def _bytes(builder: RecordBuilder) -> bytes:
    """What has been built so far; the builder begins anew."""
    out: bytes = builder.end()  # type: ignore[no-untyped-call]
    return out


def _declare(builder: RecordBuilder) -> None:
    for spec in SPECS:
        schema = spec.id if spec.encoding == "json" else 0
        if schema:
            Schema(id=schema, data=spec.schema(), encoding="jsonschema", name=f"groundtone.{spec.topic}").write(builder)
        ChannelRecord(spec.id, spec.topic, spec.encoding, {}, schema).write(builder)
