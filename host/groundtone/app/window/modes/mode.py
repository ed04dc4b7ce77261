"""What every mode of the worker has, and the courier that takes its pictures to the window."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from typing import Any

from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import MatChoice
from groundtone.link.base import Gap, Stamped
from groundtone.wire.messages import Event

Tell = Callable[[Any], None]


class Courier:
    """Hands pictures to the window, one at a time: the next only when the last was taken.

    Parameters
    ----------
    send : callable
        Takes a picture; called in the worker's thread.
    """

    def __init__(self, send: Callable[[Any], None]) -> None:
        self._send = send
        self._free = threading.Event()
        self._free.set()

    @property
    def free(self) -> bool:
        """The window has taken the last picture."""
        return self._free.is_set()

    def give(self, picture: Any) -> None:
        """Sends a picture; the window calls `taken` with it."""
        self._free.clear()
        self._send(picture)

    def taken(self) -> None:
        """The window has drawn it."""
        self._free.set()


class Mode:
    """A way to follow the mat; used in the worker's thread alone.

    Attributes
    ----------
    purpose : str
        See `groundtone.app.window.mats`.
    errand : callable or None
        Something to ask of the mat itself: the frames are stopped for it, and go on after it.
    """

    name = ""
    purpose = ""
    rate_hz = 100
    errand: Callable[[], None] | None = None

    @contextlib.contextmanager
    def opened(self, choice: MatChoice, tell: Tell) -> Iterator[OpenMat]:
        """The mat that this mode works with."""
        with choice.opened(self.purpose) as mat:
            yield mat

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """The mat is open and its frames have not started."""
        self.tell, self.courier = tell, courier

    def start(self, mat: OpenMat) -> None:
        """Starts the frames."""
        mat.link.start(self.rate_hz)

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """What the link brings; True ends the mode."""
        return False

    def command(self, name: str, value: Any) -> None:
        """What somebody pressed."""

    def end(self) -> Any:
        """It is over; what came of it, as plain data."""
        return None
