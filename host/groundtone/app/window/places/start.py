"""The first page: what to do next where there is neither a mat nor anything recorded."""

from __future__ import annotations

from collections.abc import Callable

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QHBoxLayout, QVBoxLayout

from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.widgets.parts import button, label, sheet


class StartPlace(Place):
    """Two ways to begin, in large words.

    Parameters
    ----------
    common : Common
    find, simulate : callable
    """

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
