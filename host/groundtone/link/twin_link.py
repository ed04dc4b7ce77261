"""The twin in this process: for machines without MicroPython. No firmware runs on this path, and it says so."""

from __future__ import annotations

import time
from collections.abc import Iterator

from groundtone.errors import RequestError
from groundtone.link.base import REPLY_S, Closing, LinkStatistics, Stamped
from groundtone.link.clock import DeviceClock
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Scenario
from groundtone.wire.messages import Event, Hello, Status


class TwinLink(Closing):
    """A scenario played straight into frames.

    Parameters
    ----------
    fast : bool
        As fast as it goes; otherwise in real time.
    """

    def __init__(self, scenario: Scenario, fast: bool = False) -> None:
        mat = scenario.mat
        self.statistics = LinkStatistics()
        self.hello = Hello(
            1, (0, 0, 0), mat.uid, mat.rows, 2 * mat.columns_per_panel, 14, 32, 1, 400, 0, 0,
            "simulated in process", mat.layout, "twin",
        )  # fmt: skip
        self._mat = InProcessMat(scenario)
        self._fast = fast
        self._rate_hz = 0
        self._clock = DeviceClock()

    def start(self, rate_hz: int) -> int:
        """See `Link.start`."""
        if not 1 <= rate_hz <= 400:
            raise RequestError(Status.OUT_OF_RANGE, f"a rate of {rate_hz} Hz is not possible: choose 1 to 400")
        self._rate_hz = rate_hz
        return round(1e6 / rate_hz)

    def frames(self, patience_s: float = 0.05) -> Iterator[Stamped | Event | None]:
        """See `Link.frames`; after the scenario's end nothing comes any more."""
        began = time.monotonic()
        for frame in self._mat.frames(self._rate_hz):
            device_us = self._clock.unwrap(frame.t_us)
            while not self._fast and (wait := device_us * 1e-6 - (time.monotonic() - began)) > 0:
                time.sleep(min(wait, patience_s))
            self.statistics.frames += 1
            now = time.monotonic()
            yield Stamped(frame, device_us, now, 0.0 if self._fast else self._clock.arrived(device_us, now), 0)
        while True:
            if not self._fast:
                time.sleep(patience_s)
            yield None

    def stop(self) -> None:
        """See `Link.stop`."""

    def request(self, command: int, arguments: bytes = b"", patience_s: float = REPLY_S) -> bytes:
        """See `Link.request`: there is no firmware here to answer."""
        raise RequestError(Status.UNKNOWN_COMMAND, "the twin in this process answers no requests")

    def close(self) -> None:
        """See `Link.close`."""
