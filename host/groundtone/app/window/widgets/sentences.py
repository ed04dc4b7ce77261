"""A list of sentences, those that tell of something wrong with a mark before them."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from groundtone.app.window.widgets.parts import label


class Sentences(QScrollArea):
    """Sentences one below the other, wrapped, as many as there are."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.texts: tuple[str, ...] = ()
        self.show_all(())

    def show_all(self, sentences: Sequence[tuple[str, bool]]) -> None:
        """Shows these instead of what was there: each with whether it is bad."""
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 0, 0)
        for text, bad in sentences:
            line = label(f"!  {text}" if bad else text, "bad" if bad else "")
            column.addWidget(line)
        column.addStretch(1)
        self.texts = tuple(text for text, _ in sentences)
        self.setWidget(inner)
