"""Guess first: where the pupil says it was, by click or key, before anything of the swing is shown."""

from __future__ import annotations

from functools import partial

from PyQt5.QtCore import pyqtSignal
from PyQt5.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from groundtone.app.language import tr
from groundtone.app.window.widgets.parts import ActButton, label

# Place, words, key, and where it lies: toes up, and left is trail for either hand, as in the lanes.
_PLACES = (
    ("toes", "Toes", "6", 0, 1), ("trail", "Trail side", "-", 1, 0), ("middle", "Middle", "5", 1, 1),
    ("lead", "Lead side", "+", 1, 2), ("heels", "Heels", "4", 2, 1),
)  # fmt: skip
PLACE_OF_KEY = {key: place for place, _, key, _, _ in _PLACES}
"""What a key says while a guess is waited for."""


class GuessCard(QWidget):
    """Five places to choose from, in place of the strike until one is told."""

    guessed = pyqtSignal(str)

    def __init__(self) -> None:
        super().__init__()
        self.title = label("Where does the pupil say it was?", "head")
        self.buttons: dict[str, ActButton] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        grid = QGridLayout()
        column.addLayout(grid)
        for place, words, key, row, at in _PLACES:
            to = ActButton(words, key)
            to.setAccessibleName(tr(f"the pupil says: {words.lower()}"))
            to.clicked.connect(partial(self.guessed.emit, place))
            self.buttons[place] = to
            grid.addWidget(to, row, at)
        column.addWidget(label("The answer comes after it; until then nothing of this swing is shown.", "note"))
        column.addStretch(1)
