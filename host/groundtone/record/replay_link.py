"""A recording played again as a link: the same frames, with the times they had, as fast as they came or faster."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

from groundtone.errors import RecordError, RequestError
from groundtone.link.base import REPLY_S, Closing, LinkStatistics, Stamped
from groundtone.record.reader import Recording, open_recording
from groundtone.wire.codec import decode
from groundtone.wire.messages import Event, Frame, Status


class ReplayLink(Closing):
    """The mat of a recording.

    Parameters
    ----------
    fast : bool
        As fast as it goes; otherwise with the pauses it had.

    Raises
    ------
    RecordError
        It cannot be read, or holds no frames.
    """

    def __init__(self, recording: Recording | Path, fast: bool = False) -> None:
        self._recorded = open_recording(recording) if isinstance(recording, Path) else recording
        if not len(self._recorded.frames):
            raise RecordError(f"{self._recorded.path.name} holds no frames: choose another recording")
        self.hello = self._recorded.about.hello
        self.statistics = LinkStatistics()
        self._fast = fast
        self._running = False

    def start(self, rate_hz: int) -> int:
        """See `Link.start`; the rate is the recording's own, whatever is asked for. The period in µs."""
        if rate_hz < 1:
            raise RequestError(Status.OUT_OF_RANGE, f"a rate of {rate_hz} Hz is not possible: choose 1 to 200")
        self._running = True
        return round(1e6 / self._recorded.about.settings.rate_hz)

    def frames(self, patience_s: float = 0.05) -> Iterator[Stamped | Event | None]:
        """See `Link.frames`; after the recording's end nothing comes any more."""
        frames = self._recorded.frames
        device_us, missed = frames.device_us, frames.missed
        began = time.monotonic()
        for i in range(len(frames)):
            due_s = began + (int(device_us[i]) - int(device_us[0])) * 1e-6
            while not self._fast and (left := due_s - time.monotonic()) > 0:
                time.sleep(min(left, patience_s))
                if left > patience_s:
                    yield None
            if not self._running:
                return
            raw = frames.raw[i].tobytes()
            frame = decode(raw, frames.cells, frames.bits)
            assert isinstance(frame, Frame)
            self.statistics.frames += 1
            self.statistics.missed += int(missed[i])
            yield Stamped(frame, int(device_us[i]), time.monotonic(), 0.0, int(missed[i]), raw)
        while self._running:
            if not self._fast:
                time.sleep(patience_s)
            yield None

    def stop(self) -> None:
        """See `Link.stop`."""
        self._running = False

    def request(self, command: int, arguments: bytes = b"", patience_s: float = REPLY_S) -> bytes:
        """See `Link.request`: a recording answers none."""
        raise RequestError(Status.UNKNOWN_COMMAND, "a recording answers no requests")

    def close(self) -> None:
        """See `Link.close`."""
        self._running = False
