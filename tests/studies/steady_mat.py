"""A mat for benchmarks that costs nearly nothing: recorded messages of the twin, sent 200 times a second by a process.

It keeps to the firmware's rule: what has not been acknowledged may be a dozen frames and some, what goes beyond is
skipped and shows as missed. So a host that takes its frames too late is told from a machine that is too slow for the
simulated firmware. Where this process itself wakes too late it sends late and skips nothing.
"""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Iterator
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Self

from groundtone.app.twin import mat_of
from groundtone.errors import RequestError
from groundtone.link.base import LinkStatistics, Stamped
from groundtone.link.clock import DeviceClock
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import GolferSpec, Scenario, Session, SwingSpec
from groundtone.wire.codec import decode, encode
from groundtone.wire.messages import Frame, Hello, Status

RATE_HZ, WINDOW = 200, 16
_LATE_S = 0.02


def messages(seed: int = 1) -> list[bytes]:
    """Half a minute of an invented golfer, as the wire has it."""
    swings = tuple(SwingSpec(style) for style in ("good", "trail_hang", "good"))
    scenario = Scenario(mat_of(seed), Session(GolferSpec(), swings, seed=seed))
    return [encode(frame) for frame in InProcessMat(scenario).frames(RATE_HZ)]


def _serve(pipe: Connection, whole: list[bytes]) -> None:
    """Sends whenever it is told to start, until the pipe is closed: a mat stays on between two practices."""
    try:
        while True:
            if pipe.recv() == "start":
                _send(pipe, whole)
    except (EOFError, OSError):
        return


def _send(pipe: Connection, whole: list[bytes]) -> None:
    """Sends until it is told to stop: each message with its number in the run; None is the last."""
    began, sent, taken = time.monotonic(), 0, 0
    number = 0
    while True:
        due = began + number / RATE_HZ
        late = time.monotonic() - due
        if late < 0:
            time.sleep(-late)
        while pipe.poll():
            told = pipe.recv()
            if told == "stop":
                pipe.send(None)
                return
            taken = told
        if sent - taken < WINDOW or late > _LATE_S:
            pipe.send((number, whole[number % len(whole)]))
            sent += 1
        number += 1


class SteadyMat:
    """A link to that process, which runs from the first start to `close`; a context manager."""

    def __init__(self, whole: list[bytes], seed: int = 1) -> None:
        mat = mat_of(seed)
        self.hello = Hello(
            1, (0, 0, 0), mat.uid, mat.rows, 2 * mat.columns_per_panel, 14, 32, 1, 400, 0, 0, "bench", mat.layout,
            "steady",
        )  # fmt: skip
        self.statistics = LinkStatistics()
        self.missed = 0
        self._whole = whole
        self._process: Any = None
        self._sends = False
        self._clock = DeviceClock()

    def start(self, rate_hz: int) -> int:
        """Begins to send."""
        if self._process is None:
            context = multiprocessing.get_context("spawn")
            self._pipe, there = context.Pipe()
            self._process = context.Process(target=_serve, args=(there, self._whole), daemon=True)
            self._process.start()
            there.close()
        self._pipe.send("start")
        self._sends = True
        # The device's time begins anew.
        self._clock = DeviceClock()
        return round(1e6 / rate_hz)

    def frames(self, patience_s: float = 0.05) -> Iterator[Stamped | None]:
        """See `Link.frames`."""
        taken, last = 0, -1
        while True:
            if not self._pipe.poll(patience_s):
                yield None
                continue
            try:
                number, message = self._pipe.recv()
            except EOFError:
                return
            now = time.monotonic()
            taken += 1
            self._pipe.send(taken)
            frame = decode(message, self.hello.cells, self.hello.bits)
            assert isinstance(frame, Frame)
            missed, last = number - last - 1, number
            self.missed += missed
            self.statistics.frames += 1
            device_us = round(number * 1e6 / RATE_HZ)
            yield Stamped(frame, device_us, now, self._clock.arrived(device_us, now), missed, message)

    def stop(self) -> None:
        """No more frames; those under way are dropped."""
        if self._sends:
            self._sends = False
            self._pipe.send("stop")
            while self._pipe.recv() is not None:
                pass

    def request(self, command: int, arguments: bytes = b"", patience_s: float = 1.0) -> bytes:
        """Nothing answers here."""
        raise RequestError(Status.UNKNOWN_COMMAND, "the steady mat answers no requests")

    def close(self) -> None:
        """Ends the process."""
        self._sends = False
        if self._process is not None:
            self._pipe.close()
            self._process.join(5)
            self._process = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
