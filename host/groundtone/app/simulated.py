"""The simulated mat as the demo uses it: firmware on MicroPython behind a serial port, or the twin in this process."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass

from groundtone.link.base import Link
from groundtone.link.serial_link import SerialLink
from groundtone.link.twin_link import TwinLink
from groundtone.twin.errors import TwinError
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Scenario
from groundtone.twin.serve import micropython_command

# Scans by which the simulated mat may be ahead of the host in fast mode: inside the credit window, and both stay busy.
_AHEAD = 12


@dataclass
class Simulated:
    """An open link to a simulated mat.

    Attributes
    ----------
    link : Link
    process : MatProcess or None
        None where the twin runs in this process.
    film_start_us : int
        Device time at which the film starts, µs.
    """

    link: Link
    process: MatProcess | None
    film_start_us: int
    fast: bool
    _owed: int = 0

    def begin(self) -> None:
        """To be called before the link is started: in fast mode the mat's time now begins to run."""
        if self.process is not None and self.fast:
            self.process.allow(_AHEAD)

    def took(self) -> None:
        """To be called after each frame: in fast mode the mat may scan on."""
        if self.process is None or not self.fast:
            return
        self._owed += 1
        if self._owed >= _AHEAD // 2:
            self.process.allow(self._owed)
            self._owed = 0


def why_in_process() -> str | None:
    """Why the firmware cannot run here, or None where it can."""
    try:
        micropython_command()
    except TwinError as error:
        return str(error)
    return None


@contextlib.contextmanager
def simulated_mat(scenario: Scenario, fast: bool) -> Iterator[Simulated]:
    """A mat on which a scenario is just beginning; gone at the end, whatever happens."""
    if why_in_process() is not None:
        with TwinLink(scenario, fast=fast) as link:
            yield Simulated(link, None, 0, fast)
        return
    with MatProcess(scenario, fast=fast) as process, SerialLink(process.port) as serial_link:
        yield Simulated(serial_link, process, process.ticks0, fast)
        if fast:
            # The virtual clock has to run for the mat to answer the stop.
            process.free()
