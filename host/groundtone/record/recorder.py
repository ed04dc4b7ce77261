"""Writes a session down as it happens. The live loop hands over and goes on; whoever owns the recorder lets it work.

`frame` and the other methods put what they get into a bounded queue and return within microseconds. `work` takes it
out, packs it into chunks and sees to it that they reach the disk twice a second; the app runs it in a thread of its
own, or calls `pump` now and then where time is not real. Nothing here starts a thread.
"""

from __future__ import annotations

import contextlib
import json
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from mcap.records import ChunkIndex

from groundtone.errors import RecordError, Telling
from groundtone.files import make_folder, new_file
from groundtone.link.base import Stamped
from groundtone.record.channels import Channel, without_nan
from groundtone.record.chunkfile import MESSAGE, ChunkFile, Places, RawFile, Span, index_of, with_places
from groundtone.record.feet_frames import feet_bytes
from groundtone.record.recover import messages, whole_chunks
from groundtone.record.session import About, Block, Golfer, Settings, session_table, settings_table
from groundtone.wire.codec import encode

FLUSH_S = 0.5
"""What was handed over is on the disk after this time at the latest, and the time the disk takes."""
# A minute at 200 frames a second may wait for a slow disk.
QUEUE = 12_000
# The host's clock was set, or the computer slept, when it moves this far from the steady clock.
_JUMP_S = 1.0


class Recorder:
    """A recording under way.

    Parameters
    ----------
    file : RawFile
        New and empty, opened for writing without a buffer; see `begin`.
    wall_ns, steady_ns : callable
        The host's clock since 1970 and its steady clock, ns.

    Attributes
    ----------
    dropped : int
        Frames for which there was no room, because the disk did not keep up.
    """

    def __init__(
        self,
        file: RawFile,
        about: About,
        *,
        wall_ns: Callable[[], int] = time.time_ns,
        steady_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self.about = about
        self.dropped = 0
        self._told_dropped = 0
        self._trouble: RecordError | None = None
        self._wall_ns, self._steady_ns = wall_ns, steady_ns
        self._zero_ns = self._seen_ns = wall_ns() - steady_ns()
        self._queue: deque[tuple[Channel, int, Stamped | bytes]] = deque()
        self._wake = threading.Event()
        self._device_us = about.block.device_us
        self._written_ns = steady_ns()
        self._closed = False
        self._file: ChunkFile | None = None
        try:
            self._file = ChunkFile(file, about.program)
            # Twice, in chunks of their own: one flipped bit must not take away what explains all the rest.
            for _ in range(2):
                self._say(Channel.SESSION, session_table(about))
                self._say(Channel.PROFILE, {"text": about.profile_text})
                self.settings(about.settings)
                self.golfer(about.golfer)
                self.block(about.block)
                self._take_all(self._file)
                self._file.write_chunk()
            self._file.sync()
        except OSError as error:
            self._stop(error)

    @property
    def trouble(self) -> RecordError | None:
        """Why nothing is recorded any more, if so; said once, and the session goes on."""
        return self._trouble

    def frame(self, item: Stamped) -> None:
        """A frame as it came over the wire."""
        if self._trouble is not None:
            return
        if len(self._queue) >= QUEUE:
            self.dropped += 1
            return
        self._device_us = item.device_us
        time_ns = self._zero_ns + round(item.host_s * 1e9)
        if item.feet is None:
            self._queue.append((Channel.FRAME, time_ns, item))
        else:
            self._queue.append((Channel.FEET, time_ns, feet_bytes(item.raw or encode(item.feet), item.frame)))

    def event(self, what: str, text: str = "", number: float | None = None) -> None:
        """Something that happened: what the mat told, a gap, a loss, a reconnection."""
        self._say(Channel.EVENT, {"what": what, "device_us": self._device_us, "text": text, "number": number})

    def heard(self, sound: str, on: bool, size: float | None = None) -> None:
        """A cue that begins or ends, or a signal (on, and over by itself)."""
        self._say(Channel.HEARD, {"sound": sound, "on": on, "size": size, "device_us": self._device_us})

    def swing(self, table: dict[str, Any]) -> None:
        """A swing as it was found live: `number`, `takeaway_s` and what else is known."""
        self._say(Channel.SWING, table)

    def strike(self, table: dict[str, Any]) -> None:
        """Where the ball met the face, as it was told; `id` names it, a later message with the same id replaces it."""
        self._say(Channel.STRIKE, table)

    def feel(self, table: dict[str, Any]) -> None:
        """Something that was asked for and done, or a guess; see RECORDING.md."""
        self._say(Channel.FEEL, {**table, "device_us": self._device_us})

    def note(self, text: str) -> None:
        """Words of golfer or coach."""
        self._say(Channel.NOTE, {"text": text, "device_us": self._device_us})

    def settings(self, settings: Settings) -> None:
        """What is in force from now on."""
        self._say(Channel.SETTINGS, settings_table(settings))

    def golfer(self, golfer: Golfer) -> None:
        """Who it is; the last one told counts for the whole recording."""
        self._say(Channel.GOLFER, asdict(golfer))

    def block(self, block: Block) -> None:
        """A block of swings begins."""
        self._say(Channel.BLOCK, asdict(block))

    def pump(self, *, now: bool = False) -> None:
        """Writes down what has been handed over; on the disk every `FLUSH_S`, or `now`."""
        file = self._file
        if file is None:
            return
        try:
            if self._told_dropped != self.dropped:
                lost, self._told_dropped = self.dropped - self._told_dropped, self.dropped
                self.event("not recorded", "the disk did not keep up", lost)
            self._take_all(file)
            if now or self._steady_ns() - self._written_ns >= FLUSH_S * 1e9:
                self._look_at_clock()
                self._take_all(file)
                file.write_chunk()
                file.sync()
                self._written_ns = self._steady_ns()
        except OSError as error:
            self._stop(error)

    def work(self) -> None:
        """Writes until `close`: for a thread of the app's."""
        while not self._closed and self._file is not None:
            self._wake.wait(FLUSH_S / 5)
            self.pump()

    def close(self) -> None:
        """Writes the rest and ends the file; a second call does nothing. A thread in `work` must be awaited first.

        See `end_work`.
        """
        self.end_work()
        file = self._file
        if file is None:
            return
        self.pump(now=True)
        if self._file is None:
            return
        try:
            file.finish()
        except OSError as error:
            self._stop(error)
            return
        self._file = None
        file.close()

    def end_work(self) -> None:
        """Lets `work` return."""
        self._closed = True
        self._wake.set()

    def _say(self, channel: Channel, table: dict[str, Any]) -> None:
        if self._trouble is None:
            text = json.dumps(without_nan(table), ensure_ascii=False, allow_nan=False)
            # Half a character, as a file name or a broken terminal can bring it, must not end a session.
            data = text.encode("utf-8", "backslashreplace")
            self._queue.append((channel, self._zero_ns + self._steady_ns(), data))

    def _take_all(self, file: ChunkFile) -> None:
        bits = self.about.hello.bits
        while self._queue:
            channel, time_ns, what = self._queue.popleft()
            file.add(channel, time_ns, what if isinstance(what, bytes) else (what.raw or encode(what.frame, bits)))

    def _look_at_clock(self) -> None:
        zero_ns = self._wall_ns() - self._steady_ns()
        moved_s = (zero_ns - self._seen_ns) * 1e-9
        if abs(moved_s) > _JUMP_S:
            self.event("clock", f"the host's clock was set by {moved_s:+.1f} s", moved_s)
            self._seen_ns = zero_ns
            # Times in the file follow the clock forwards only: they never run backwards.
            self._zero_ns = max(self._zero_ns, zero_ns)

    def _stop(self, error: OSError) -> None:
        full = error.errno in (28, 122)
        why = "the disk is full: free some space" if full else f"{error.strerror or error}: check the disk"
        self._trouble = RecordError(f"nothing is recorded any more ({why} and start again)")
        self._queue.clear()
        if self._file is not None:
            with contextlib.suppress(OSError):
                self._file.close()
            self._file = None


def begin(path: Path, about: About) -> Recorder:
    """Begins a new recording.

    Parameters
    ----------
    path : Path
        The file; none of that name may exist.

    Raises
    ------
    RecordError
        The file cannot be made.
    """
    with Telling(RecordError, f"the recording {path} cannot be written", "check the folder"):
        make_folder(path.parent)
        if path.exists():
            raise RecordError(f"{path} is there already and recordings are never written over: name another")
        file = new_file(path)
    hold(file.fileno())
    return Recorder(file, about)


def hold(handle: int) -> bool:
    """Marks an open file as in use until it is closed; False where another program holds it.

    Where the system knows no such marks (Windows keeps open files from being removed by itself) it is True.
    """
    if sys.platform == "win32":
        return True
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def append(path: Path, what: list[tuple[Channel, dict[str, Any]]]) -> None:
    """Adds messages to a recording that has ended: a strike told later, another name.

    The file's summary is replaced; whole chunks are never touched, so that a crash in between leaves a recording
    without a summary, which opens.

    Raises
    ------
    RecordError
        The file cannot be read or written, or is being recorded just now.
    """
    with (
        Telling(RecordError, f"nothing can be added to {path}", "check the disk"),
        path.open("r+b", buffering=0) as file,
    ):
        if not hold(file.fileno()):
            raise RecordError(f"{path.name} is being recorded just now: end that session first")
        written, counts, last_ns, places = _written(path.read_bytes())
        if not written:
            raise RecordError(f"nothing can be added to {path.name}: there is nothing whole in it")
        end = written[-1].chunk_start_offset + written[-1].chunk_length
        file.truncate(end)
        file.seek(end)
        # The last chunk's message indexes may have been cut off with the end.
        file.write(places)
        end += len(places)
        out = ChunkFile(file, "groundtone", written, counts, end)
        for channel, table in what:
            data = json.dumps(without_nan(table), ensure_ascii=False, allow_nan=False).encode(
                "utf-8", "backslashreplace"
            )
            out.add(channel, max(time.time_ns(), last_ns), data)
        out.finish()


def _written(data: bytes) -> tuple[list[ChunkIndex], dict[int, int], int, bytes]:
    """What is whole in a file.

    Returns
    -------
    list of ChunkIndex
        Of each whole chunk; the last one with message indexes to be written anew.
    dict
        The next sequence number of each channel.
    int
        The last time, ns.
    bytes
        The last chunk's message indexes.
    """
    indexes: list[ChunkIndex] = []
    counts: dict[int, int] = {}
    last_ns, at_the_end = 0, b""
    for chunk in whole_chunks(data):
        places: Places = {}
        at = 0
        for channel, sequence, time_ns, body in messages(chunk.body):
            counts[channel] = sequence + 1
            places.setdefault(channel, []).append((time_ns, at))
            at += MESSAGE.size + len(body)
        times = [time_ns for each in places.values() for time_ns, _ in each]
        first, last = min(times, default=0), max(times, default=0)
        last_ns = max(last_ns, last)
        span = Span(chunk.at, chunk.end - chunk.at, len(chunk.body), first, last)
        index, at_the_end = with_places(span, places)
        # Recordings of versions before 0.2 have no message indexes, and no chunk but the last can be given some.
        there = data[chunk.end : chunk.end + len(at_the_end)] == at_the_end
        indexes.append(index if there else index_of(span, {}, 0))
    if indexes:
        indexes[-1] = index
    return indexes, counts, last_ns, at_the_end
