"""What every place of the window has and shares: its name, what it is told, the look, the pupil, what can be undone."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from groundtone.app.window.desk import Desk
from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.widgets.parts import ActRow, Look, button, label, sheet
from groundtone.app.window.worker import Worker

# So many steps back are kept.
_MOST = 50


class UndoList:
    """Deeds with the call that takes each back."""

    def __init__(self) -> None:
        self._deeds: list[tuple[str, Callable[[], None]]] = []

    def __len__(self) -> int:
        return len(self._deeds)

    @property
    def next(self) -> str:
        """What would be taken back now, in words; empty where nothing can be."""
        return self._deeds[-1][0] if self._deeds else ""

    def add(self, words: str, back: Callable[[], None]) -> None:
        """Keeps a deed."""
        self._deeds = [*self._deeds[-_MOST + 1 :], (words, back)]

    def undo(self) -> str:
        """Takes the newest back; its words, empty where there was none."""
        if not self._deeds:
            return ""
        words, back = self._deeds.pop()
        back()
        return words

    def forget(self, begins: str) -> None:
        """Deeds whose words begin so can be taken back no more."""
        self._deeds = [deed for deed in self._deeds if not deed[0].startswith(begins)]


@dataclass
class Common:
    """What the places share.

    Attributes
    ----------
    worker : Worker
        Commands only: it lives in another thread.
    desk : Desk
        Long work, done in another process.
    say : callable
        Takes a sentence and whether it is bad, for the line at the foot of the window.
    go : callable
        Takes the name of a place to show.
    practising : bool
        A practice runs on the mat.
    pupils : dict of str to Pupil
        Whoever has been here since the window was opened, by key: their check holds for them alone.
    changed : callable
        To be called when something of the pupil has changed: the strip is drawn anew, and every place told.
    look_at : callable
        Shows a recording in Review.
    begin : callable
        Goes to Practise and begins there, as soon as what runs has ended.
    find, simulate : callable
        Looks for a real mat; takes the simulated one.
    clock : callable
        What the time is, on the wall.
    """

    look: Look
    worker: Worker
    desk: Desk
    undo: UndoList
    say: Callable[[str, bool], None]
    go: Callable[[str], None]
    pupil: Pupil = field(default_factory=Pupil)
    practising: bool = False
    pupils: dict[str, Pupil] = field(default_factory=dict)
    changed: Callable[[], None] = lambda: None
    look_at: Callable[[Path], None] = lambda path: None
    begin: Callable[[], None] = lambda: None
    find: Callable[[], None] = lambda: None
    simulate: Callable[[], None] = lambda: None
    clock: Callable[[], datetime.datetime] = datetime.datetime.now

    def take(self, pupil: Pupil) -> None:
        """From now on this pupil is here; what was known of them in this window's life holds again."""
        self.pupil = self.pupils.setdefault(pupil.key, pupil) if pupil.here else pupil
        self.changed()


class Place(QWidget):
    """A place.

    Attributes
    ----------
    acts : ActRow
        What can be done here, in the bar at the foot; at most one is primary.
    """

    name = ""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self.common = common
        self.acts = ActRow()

    def pupil_changed(self) -> None:
        """Another pupil is here: nothing of the one before stays."""

    def told(self, what: Any) -> None:
        """Something that the worker tells."""

    def picture(self, what: Any) -> None:
        """A picture of the worker's, drawn only while the place is shown."""

    def began(self, mode: str) -> None:
        """A mode of the worker's has begun to run."""

    def begin_next(self) -> None:
        """Begins what is done here, as soon as what runs has ended."""

    def entered(self) -> None:
        """The place is shown from now on."""

    def left(self) -> bool:
        """Another place is to be shown; False where this one must not be left now (it says why)."""
        return True

    def renew(self) -> None:
        """Theme or size has changed."""
        self.update()


class StartPlace(Place):
    """Two ways to begin."""

    name = "start"

    def __init__(self, common: Common, find: Callable[[], None], simulate: Callable[[], None]) -> None:
        super().__init__(common)
        column = QVBoxLayout(self)
        column.addWidget(label("Begin here", "title"))
        column.addWidget(label("Nothing has been recorded yet, and no mat is open.", "lead"))
        ways = QHBoxLayout()
        ways.addWidget(
            sheet(
                label("There is a mat", "claim"),
                label("Plug its cable into this computer and wait a moment.", "lead"),
                label("Build shows its cells, Check tells in a minute whether to trust it, Practise sounds."),
            )
        )
        ways.addWidget(
            sheet(
                label("There is none yet", "claim"),
                label("Try everything with a simulated mat: an invented golfer steps on it and hits balls.", "lead"),
                label("How to build one in an evening stands in hardware/README.md."),
            )
        )
        column.addLayout(ways)
        column.addStretch(1)
        self.acts = ActRow([button("simulate", simulate)], button("find mat", find))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
