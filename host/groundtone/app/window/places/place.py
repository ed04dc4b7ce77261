"""What every place of the window has: its name, what it is told, and the look."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from PyQt5.QtWidgets import QWidget

from groundtone.app.window.desk import Desk
from groundtone.app.window.pupil import Pupil
from groundtone.app.window.undo import UndoList
from groundtone.app.window.widgets.parts import Look
from groundtone.app.window.worker import Worker


@dataclass
class Common:
    """What the places share.

    Attributes
    ----------
    look : Look
    worker : Worker
        Commands only: it lives in another thread.
    desk : Desk
        Long work, done in another process.
    undo : UndoList
    pupil : Pupil
        Whose lesson it is.
    say : callable
        Takes a sentence and whether it is bad, for the line at the foot of the window.
    go : callable
        Takes the name of a place to show.
    """

    look: Look
    worker: Worker
    desk: Desk
    undo: UndoList
    say: Callable[[str, bool], None]
    go: Callable[[str], None]
    pupil: Pupil = field(default_factory=Pupil)


class Place(QWidget):
    """A place.

    Parameters
    ----------
    common : Common
    """

    name = ""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self.common = common

    def told(self, what: Any) -> None:
        """Something that the worker tells."""

    def picture(self, what: Any) -> None:
        """A picture of the worker's, drawn only while the place is shown."""

    def began(self, mode: str) -> None:
        """A mode of the worker's has begun to run."""

    def entered(self) -> None:
        """The place is shown from now on."""

    def left(self) -> bool:
        """Another place is to be shown; False where this one must not be left now (it says why)."""
        return True

    def renew(self) -> None:
        """Theme or size has changed."""
        self.update()
