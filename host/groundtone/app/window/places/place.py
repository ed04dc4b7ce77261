"""What every place of the window has and shares: its name, what it is told, the look, the pupil, what can be undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from groundtone.app.window.desk import Desk
from groundtone.app.window.widgets.parts import Look, button, label, sheet
from groundtone.app.window.worker import Worker
from groundtone.cue.bands import Bands

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
class Pupil:
    """One pupil at a time.

    Attributes
    ----------
    name : str
        Code name; empty: nobody is named.
    hand : str
        "right", "left"; empty: as the library has it.
    bands : Bands or None
        Of a walk-in alone, fitted in this lesson; a named pupil's are kept with the pupil. None: those.
    paths : list of str
        Recordings of this lesson.
    """

    name: str = ""
    hand: str = ""
    club: str = ""
    lie: str = ""
    drill: str = ""
    bands: Bands | None = None
    paths: list[str] = field(default_factory=list)


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
    """

    look: Look
    worker: Worker
    desk: Desk
    undo: UndoList
    say: Callable[[str, bool], None]
    go: Callable[[str], None]
    pupil: Pupil = field(default_factory=Pupil)
    practising: bool = False


class Place(QWidget):
    """A place."""

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


class StartPlace(Place):
    """Two ways to begin, in large words."""

    name = "start"

    def __init__(self, common: Common, find: Callable[[], None], simulate: Callable[[], None]) -> None:
        super().__init__(common)
        self.answer = label("", "title")
        column = QVBoxLayout(self)
        column.addWidget(label("Begin here", "main"))
        column.addWidget(label("Nothing has been recorded yet, and no mat is open.", "title"))
        ways = QHBoxLayout()
        ways.addWidget(
            sheet(
                label("There is a mat", "large"),
                label("Plug its cable into this computer and wait a moment.", "title"),
                label("Build shows its cells, Check tells in a minute whether to trust it, Practise sounds."),
                button("find mat", find),
            )
        )
        ways.addWidget(
            sheet(
                label("There is none yet", "large"),
                label("Try everything with a simulated mat: an invented golfer steps on it and hits balls.", "title"),
                label("How to build one in an evening stands in hardware/README.md."),
                button("simulate", simulate),
            )
        )
        column.addLayout(ways)
        column.addWidget(self.answer)
        column.addStretch(1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
