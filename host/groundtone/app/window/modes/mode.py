"""What every mode of the worker has."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from groundtone.app.window.mats import MatChoice, OpenMat
from groundtone.link.base import Gap, Stamped
from groundtone.wire.messages import Event

if TYPE_CHECKING:
    from groundtone.app.window.worker import Courier

Tell = Callable[[Any], None]


class Mode:
    """A way to follow the mat; used in the worker's thread alone.

    Attributes
    ----------
    name : str
    purpose : str
        See `groundtone.app.window.mats`.
    rate_hz : int
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

    def lost(self) -> None:
        """The mat has been silent for too long."""

    def end(self) -> Any:
        """It is over; what came of it, as plain data."""
        return None
