"""Opens a recording, whole or not, and says what is missing. Recovery is part of reading: no index is relied upon."""

from __future__ import annotations

import contextlib
import datetime
import json
from array import array
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError, OtherFileError, RecordError, Telling
from groundtone.mat.layout import Layout, layout_of
from groundtone.record.channels import MARK, Channel
from groundtone.record.feet_frames import FEET_RECORD, NO_FEET, FeetFrames, on_one_time
from groundtone.record.frames import Frames
from groundtone.record.recover import chunks_of, is_begun, is_closed, is_mcap, messages
from groundtone.record.session import About, Block, about_from, block_from, golfer_from, settings_from
from groundtone.wire.packing import frame_bytes

# A file written so long after its last message has lost nothing to a cut since; clocks of disks are a little off.
_WRITTEN_S, _CLOCK_S = 2.0, 0.5
# Bytes of both ends that tell whose file it is and whether it was ended.
_ENDS = 64


@dataclass(frozen=True)
class Entry:
    """One message of a channel of words.

    Attributes
    ----------
    time_ns : int
        Host time, ns since 1970.
    table : dict
        See RECORDING.md for its keys.
    """

    time_ns: int
    table: dict[str, Any]


@dataclass(frozen=True)
class Recording:
    """A recording that has been read.

    Attributes
    ----------
    about : About
        With the golfer, the settings and the profile that were told last.
    blocks : list of Block
        In order of their beginning, at least one.
    events, heard, swings, notes, feel : list of Entry
        As they were written live.
    strikes : list of Entry
        The last told of each id, without those undone; in order of their first telling.
    lost : list of str
        A sentence for each thing that is not as it should be; empty where all is there.
    feet : FeetFrames
        What the mat itself made of scans, where it sent that in place of frames.
    lost_frames : int
        Frames that had been recorded and cannot be read any more (without those of the cut end).
    """

    path: Path
    about: About
    frames: Frames
    blocks: list[Block]
    events: list[Entry] = field(default_factory=list)
    heard: list[Entry] = field(default_factory=list)
    swings: list[Entry] = field(default_factory=list)
    strikes: list[Entry] = field(default_factory=list)
    notes: list[Entry] = field(default_factory=list)
    feel: list[Entry] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    lost_frames: int = 0
    feet: FeetFrames = NO_FEET

    @property
    def layout(self) -> Layout:
        """The mat's layout; LayoutError where it is not known here."""
        return layout_of(self.about.hello.layout)

    @property
    def duration_s(self) -> float:
        """From the first frame to the last, s of device time."""
        t_s = np.concatenate([self.frames.t_s, self.feet.t_s])
        return float(t_s.max() - t_s.min()) if len(t_s) else 0.0

    def block_at(self, device_us: float) -> Block:
        """The block in which a device time lies."""
        begun = [block for block in self.blocks if block.device_us <= device_us]
        return begun[-1] if begun else self.blocks[0]


class _Bytes:
    """Bytes one after the other, with room for all that a file may hold: what stays empty is not in memory."""

    def __init__(self, most: int) -> None:
        self._room, self._used = np.empty(most, np.uint8), 0

    def add(self, data: bytes) -> None:
        """Puts some behind what is there; a file that is still being written may have grown."""
        end = self._used + len(data)
        if end > len(self._room):
            self._room = np.concatenate([self._room, np.empty(end, np.uint8)])
        self._room[self._used : end] = np.frombuffer(data, np.uint8)
        self._used = end

    def whole(self) -> NDArray[np.uint8]:
        """All of them."""
        return self._room[: self._used]


@dataclass
class _Gathered:
    """What has been found in a file so far."""

    frames: dict[int, _Bytes] = field(default_factory=dict)
    """Messages of frames one after the other, by the length of one message: an hour is 160 MiB, and is there once."""
    frame_ns: dict[int, array[int]] = field(default_factory=dict)
    feet: bytearray = field(default_factory=bytearray)
    feet_ns: array[int] = field(default_factory=lambda: array("q"))
    words: dict[int, list[Entry]] = field(default_factory=dict)
    next_sequence: dict[int, int] = field(default_factory=dict)
    missing: dict[int, int] = field(default_factory=dict)
    odd: int = 0
    last_ns: int = 0


def open_recording(path: Path) -> Recording:
    """Reads a recording, whatever happened to the file.

    Raises
    ------
    OtherFileError
        A file of another program, or of a newer version of this one.
    RecordError
        It cannot be read, or nothing of it is left.
    """
    with Telling(RecordError, f"the recording {path} cannot be read", "check its name"), path.open("rb") as file:
        size = path.stat().st_size
        begin = file.read(_ENDS)
        file.seek(max(0, size - _ENDS))
        end = file.read(_ENDS)
        file.seek(0)
        found = _gather(file, size)
    closed, why_not = is_closed(end), _why_not(path, begin)
    tables = [entry.table for entry in found.words.get(Channel.SESSION, []) if MARK in entry.table]
    if not tables:
        raise why_not
    try:
        about = about_from(tables[-1])
    except OtherFileError as error:
        raise OtherFileError(f"the recording {path} cannot be read: {error}") from error
    except RecordError as error:
        raise RecordError(f"the recording {path} cannot be read: {error}") from error
    about, odd = _with_the_last_told(about, found)
    length = frame_bytes(about.hello.cells, about.hello.bits)
    odd += sum(len(times) for size, times in found.frame_ns.items() if size != length)
    raw = found.frames.get(length, _Bytes(0)).whole().reshape(-1, length)
    raw.setflags(write=False)
    host_ns = np.frombuffer(found.frame_ns.get(length, array("q")), np.int64)
    frames = Frames(raw, host_ns, about.hello.cells, about.hello.bits)
    feet = NO_FEET
    if found.feet:
        told = np.frombuffer(bytes(found.feet), np.uint8).reshape(-1, FEET_RECORD)
        frames, feet = on_one_time(frames, told, np.frombuffer(found.feet_ns, np.int64))
    blocks, odd_blocks = _blocks(found)
    blocks = blocks or [about.block]
    about = replace(about, block=blocks[0])
    return Recording(
        path=path,
        about=about,
        frames=frames,
        blocks=blocks,
        events=found.words.get(Channel.EVENT, []),
        heard=found.words.get(Channel.HEARD, []),
        swings=found.words.get(Channel.SWING, []),
        strikes=_strikes(found.words.get(Channel.STRIKE, [])),
        notes=found.words.get(Channel.NOTE, []),
        feel=found.words.get(Channel.FEEL, []),
        lost=_lost(path, closed, found, frames, found.odd + odd + odd_blocks),
        lost_frames=found.missing.get(Channel.FRAME, 0),
        feet=feet,
    )


def _gather(file: BinaryIO, size: int) -> _Gathered:
    found = _Gathered()
    for chunk in chunks_of(file):
        frames: dict[int, list[memoryview]] = {}
        for channel, sequence, time_ns, body in messages(chunk.body):
            expected = found.next_sequence.get(channel, 0)
            if sequence > expected:
                found.missing[channel] = found.missing.get(channel, 0) + sequence - expected
            found.next_sequence[channel] = sequence + 1
            found.last_ns = max(found.last_ns, time_ns)
            if channel == Channel.FEET:
                if len(body) == FEET_RECORD:
                    found.feet += body
                    found.feet_ns.append(time_ns)
                continue
            if channel == Channel.FRAME:
                frames.setdefault(len(body), []).append(body)
                found.frame_ns.setdefault(len(body), array("q")).append(time_ns)
                continue
            table = _table(body)
            if table is None:
                found.odd += 1
            else:
                found.words.setdefault(channel, []).append(Entry(time_ns, table))
        for length, bodies in frames.items():
            if length not in found.frames:
                found.frames[length] = _Bytes(size)
            found.frames[length].add(b"".join(bodies))
    return found


def _table(body: memoryview) -> dict[str, Any] | None:
    try:
        table = json.loads(bytes(body))
    except (ValueError, RecursionError):
        return None
    return table if isinstance(table, dict) else None


def _why_not(path: Path, data: bytes) -> RecordError:
    if not data:
        return RecordError(f"{path} is empty: nothing was recorded")
    if is_begun(data):
        return RecordError(f"{path} was cut before anything was recorded: nothing is lost, record anew")
    if is_mcap(data):
        return OtherFileError(f"{path} is an MCAP file, but no groundtone recording: choose another file")
    return OtherFileError(f"{path} is no groundtone recording: choose another file")


def _with_the_last_told(about: About, found: _Gathered) -> tuple[About, int]:
    """The session with golfer, settings and profile as told last, and how many messages made no sense."""
    odd = 0
    golfer, settings, profile = about.golfer, about.settings, about.profile_text
    for entry in found.words.get(Channel.GOLFER, []):
        try:
            golfer = golfer_from(entry.table)
        except GroundtoneError:
            odd += 1
    for entry in found.words.get(Channel.SETTINGS, []):
        try:
            settings = settings_from(entry.table)
        except GroundtoneError:
            odd += 1
    for entry in found.words.get(Channel.PROFILE, []):
        text = entry.table.get("text")
        profile = text if isinstance(text, str) else None
    return replace(about, golfer=golfer, settings=settings, profile_text=profile), odd


def _blocks(found: _Gathered) -> tuple[list[Block], int]:
    blocks: dict[int, Block] = {}
    odd = 0
    for entry in found.words.get(Channel.BLOCK, []):
        try:
            block = block_from(entry.table)
        except GroundtoneError:
            odd += 1
        else:
            blocks[block.number] = block
    return sorted(blocks.values(), key=lambda block: (block.device_us, block.number)), odd


def _strikes(told: list[Entry]) -> list[Entry]:
    last: dict[str, Entry] = {}
    for entry in told:
        last[str(entry.table.get("id"))] = entry
    return [entry for entry in last.values() if not entry.table.get("undone")]


def _lost(path: Path, closed: bool, found: _Gathered, frames: Frames, odd: int) -> list[str]:
    """What is not as it should be, one sentence each."""
    out = []
    if not closed:
        out.append(f"{path.name} was not ended in order: {_cut(path, found.last_ns)}.")
    lost = found.missing.get(Channel.FRAME, 0)
    words = sum(count for channel, count in found.missing.items() if channel != Channel.FRAME)
    if lost or words:
        parts = [f"{count} {what}" for count, what in ((lost, "frames"), (words, "entries")) if count]
        out.append(f"{path.name} is damaged: {' and '.join(parts)} could not be read; all the rest is here.")
    if odd:
        out.append(f"{odd} entries of {path.name} make no sense and were left out.")
    if len(frames.jumps):
        times = "once" if len(frames.jumps) == 1 else f"{len(frames.jumps)} times"
        out.append(f"The mat's clock jumped {times}: the computer's clock stands in for it there.")
    if (np.diff(frames.host_ns) < 0).any():
        out.append("The computer's clock ran backwards while this was recorded: times of day in it are not sure.")
    return out


def _cut(path: Path, last_ns: int) -> str:
    """What is missing of a recording without an end, as far as the recording and its file tell."""
    last = datetime.datetime.fromtimestamp(last_ns * 1e-9).strftime("%H:%M:%S")
    written_s = None
    with contextlib.suppress(OSError):
        written_s = path.stat().st_mtime - last_ns * 1e-9
    if written_s is not None and -_CLOCK_S <= written_s <= _WRITTEN_S:
        # The file was last written when its last frame was: nobody has cut it since, and twice a second all is written.
        return f"it goes to {last}, and at most a second after that is missing"
    return f"it goes to {last}, and nothing in it tells how much came after that"


def read_about(path: Path) -> About | None:
    """The session, golfer and settings of a recording; None where it cannot be read."""
    with contextlib.suppress(GroundtoneError):
        return open_recording(path).about
    return None
