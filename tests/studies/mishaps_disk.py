"""Disks and clocks that fail a recorder, by its own clocks: each function tries once and gives what went wrong."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.link.base import Stamped
from groundtone.record.reader import open_recording
from groundtone.record.recorder import QUEUE, Recorder
from groundtone.record.session import About, Golfer
from groundtone.wire.codec import encode
from groundtone.wire.messages import Frame, Hello

HELLO = Hello(1, (0, 2, 0), "00112233445566aa", 10, 6, 14, 16, 1, 200, 0, 0, "board", "starter-10x3", "mat")
RATE_HZ = 100


def about() -> About:
    """Who stands there, invented."""
    return About(HELLO, golfer=Golfer("Ann"))


def item(number: int, host_s: float) -> Stamped:
    """A frame whose cells tell its number."""
    cells = ((np.arange(60) * 7 + number) % 16384).astype(np.uint16)
    t_us = number * 1_000_000 // RATE_HZ
    frame = Frame(0, number & 0xFFFF, t_us & 0xFFFFFFFF, 0, 0, 10, 8000, cells)
    return Stamped(frame, t_us, host_s, 0.0, 0, encode(frame, 14))


class Clock:
    """The host's two clocks and a disk that takes its time, moved by hand."""

    def __init__(self) -> None:
        self.steady_s, self.ahead_s = 100.0, 1_700_000_000.0

    def recorder(self, file: Any) -> Recorder:
        """A recorder by these clocks."""
        return Recorder(
            file, about(), wall_ns=lambda: round((self.steady_s + self.ahead_s) * 1e9),
            steady_ns=lambda: round(self.steady_s * 1e9),
        )  # fmt: skip


class Failing:
    """A file that takes bytes up to a number of them, a part of the last write among them, and then none."""

    def __init__(self, path: Path, room: float, error: int) -> None:
        self._file, self._room, self._error = path.open("xb", buffering=0), room, error

    def write(self, data: bytes) -> int:
        """As a disk does: what fits is there."""
        fits = int(min(len(data), max(0, self._room)))
        self._room -= fits
        if fits:
            self._file.write(data[:fits])
        if fits < len(data):
            raise OSError(self._error, "the disk")
        return fits

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


def _is_a_beginning(path: Path, most: int, wrong: list[str]) -> int:
    """How many frames are there; all in order from the first one and as they were sent."""
    got = open_recording(path).frames
    if got.seq.tolist() != [number & 0xFFFF for number in range(len(got))]:
        wrong.append("frames are missing in the midst")
    for number in range(0, len(got), 37):
        if got.raw[number].tobytes() != item(number, 0.0).raw:
            wrong.append("a frame is not the one that came")
    if len(got) > most:
        wrong.append("there are more frames than came")
    return len(got)


def _failing(seed: int, folder: Path, error: int, words: str) -> list[str]:
    draw = np.random.default_rng(seed)
    clock, wrong = Clock(), list[str]()
    path = folder / "a.mcap"
    # The head of the file fits: where it does not, no session begins (tried before people stand).
    file = Failing(path, 30_000 + float(draw.integers(0, 150_000)), error)
    recorder = clock.recorder(file)
    written = 0
    for number in range(3000):
        before = path.stat().st_size
        recorder.frame(item(number, clock.steady_s))
        clock.steady_s += 1 / RATE_HZ
        recorder.pump()
        if recorder.trouble is not None:
            break
        if path.stat().st_size > before:
            written = number + 1
    recorder.close()
    if recorder.trouble is None or words not in str(recorder.trouble):
        wrong.append(f"it is not said what is wrong: {recorder.trouble}")
    if _is_a_beginning(path, 3000, wrong) < written:
        wrong.append("what had been written before is not there")
    return wrong


def full(seed: int, folder: Path) -> list[str]:
    """No room from some byte on."""
    return _failing(seed, folder, errno.ENOSPC, "the disk is full")


def read_only(seed: int, folder: Path) -> list[str]:
    """The disk went read-only, as a system does with a failing one."""
    return _failing(seed, folder, errno.EROFS, "check the disk")


class Slow:
    """A file whose writes take their time, by the session's clock; frames come meanwhile."""

    def __init__(self, path: Path, takes: Any) -> None:
        self._file, self._takes = path.open("xb", buffering=0), takes

    def write(self, data: bytes) -> int:
        """Takes its time first."""
        self._takes()
        return self._file.write(data)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


def slow(seed: int, folder: Path) -> list[str]:
    """What fits into the queue is kept, and what does not is counted and told in the file."""
    draw = np.random.default_rng(seed)
    clock, wrong = Clock(), list[str]()
    state = {"number": 0, "ready": False}
    path = folder / "a.mcap"

    def come(seconds: float) -> None:
        for _ in range(round(seconds * RATE_HZ)):
            recorder.frame(item(state["number"], clock.steady_s))
            state["number"] += 1
            clock.steady_s += 1 / RATE_HZ

    def takes() -> None:
        if state["ready"] and draw.random() < 0.05:
            come(float(draw.uniform(0, 90)) if draw.random() < 0.5 else 2.0)

    recorder = clock.recorder(Slow(path, takes))
    state["ready"] = True
    for _ in range(60):
        come(0.25)
        recorder.pump()
    state["ready"] = False
    recorder.close()
    got = open_recording(path)
    told = sum(int(e.table["number"]) for e in got.events if e.table["what"] == "not recorded")
    if len(got.frames) + recorder.dropped != state["number"]:
        wrong.append(f"{state['number']} came, {len(got.frames)} are there and {recorder.dropped} were counted as lost")
    if told != recorder.dropped:
        wrong.append(f"{recorder.dropped} were lost and {told} are told of in the file")
    if recorder.dropped and state["number"] < QUEUE:
        wrong.append("frames were lost though there was room")
    return wrong


def clock_set(seed: int, folder: Path) -> list[str]:
    """The wall clock jumps: no frame is lost, no time runs backwards, each jump is told."""
    draw = np.random.default_rng(seed)
    clock, wrong = Clock(), list[str]()
    path = folder / "a.mcap"
    recorder = clock.recorder(path.open("xb", buffering=0))
    at = {int(n): float(draw.uniform(-86_400, 86_400)) for n in draw.choice(2000, int(draw.integers(1, 6)), False)}
    jumps = 0
    looked = 0.0
    for number in range(2000):
        if number in at:
            clock.ahead_s += at[number]
            looked += at[number]
        recorder.frame(item(number, clock.steady_s))
        clock.steady_s += 1 / RATE_HZ
        before = path.stat().st_size
        recorder.pump()
        if path.stat().st_size > before:
            jumps += abs(looked) > 1.0
            looked = 0.0
    recorder.pump(now=True)
    jumps += abs(looked) > 1.0
    recorder.close()
    got = open_recording(path)
    if len(got.frames) != 2000 or _is_a_beginning(path, 2000, wrong) != 2000:
        wrong.append(f"{len(got.frames)} of 2,000 frames are there")
    if np.any(np.diff(got.frames.device_us) != 1_000_000 // RATE_HZ):
        wrong.append("the mat's times moved with the host's clock")
    if np.any(np.diff(got.frames.host_ns) < 0):
        wrong.append("times in the file run backwards")
    if (told := sum(e.table["what"] == "clock" for e in got.events)) != jumps:
        wrong.append(f"the clock was set {jumps} times and {told} are told")
    if got.lost:
        wrong.append(got.lost[0])
    return wrong
