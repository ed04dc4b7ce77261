"""All keys of a place, in a dialog."""

from __future__ import annotations

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QDialog, QGridLayout, QPushButton, QWidget

from groundtone.app.window.keys import of_place
from groundtone.app.window.widgets.parts import label


class KeysDialog(QDialog):
    """Lists the keys of a place and those that work everywhere.

    Parameters
    ----------
    place : str
    parent : QWidget
    """

    def __init__(self, place: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        grid = QGridLayout(self)
        keys = of_place(place)
        half = (len(keys) + 1) // 2
        for i, key in enumerate(keys):
            column = 2 * (i // half)
            grid.addWidget(label(key.key, "title", wrap=False), i % half, column)
            grid.addWidget(label(key.words, wrap=False), i % half, column + 1)
        close = QPushButton("Close  [Esc]")
        close.clicked.connect(self.accept)
        grid.addWidget(close, half, 0, 1, 4, Qt.AlignmentFlag.AlignRight)
