"""Lists: all keys of a place, sentences one below the other, steps of which some are done, one of several chosen."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt5.QtCore import QEvent, QRect, Qt
from PyQt5.QtGui import QHelpEvent, QPaintEvent
from PyQt5.QtWidgets import (
    QComboBox,
    QDialog,
    QGridLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QToolTip,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import tr
from groundtone.app.window.keys import of_place
from groundtone.app.window.widgets.parts import LOOK, ActButton, Sign, label, role
from groundtone.lesson.sentences import Given


class KeysDialog(QDialog):
    """Lists the keys of a place and those that work everywhere."""

    def __init__(self, place: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Keys"))
        grid = QGridLayout(self)
        keys = of_place(place)
        half = (len(keys) + 1) // 2
        for i, key in enumerate(keys):
            column = 2 * (i // half)
            grid.addWidget(label(key.key, "head", wrap=False), i % half, column)
            grid.addWidget(label(key.words, wrap=False), i % half, column + 1)
        close = ActButton("Close", "Esc")
        close.clicked.connect(self.accept)
        grid.addWidget(close, half, 0, 1, 4, Qt.AlignmentFlag.AlignRight)


class Choice(QComboBox):
    """One of several; what is chosen is shortened at its end where there is no room, and whole under the pointer."""

    def setAccessibleName(self, name: str | None) -> None:
        """See Qt, which on Linux names a choice by what is chosen: what it is a choice of is its description."""
        super().setAccessibleName(name)
        self.setAccessibleDescription(name)

    def room(self) -> QRect:
        """Where the chosen one is written."""
        option, style = QStyleOptionComboBox(), self.style()
        self.initStyleOption(option)
        if style is None:
            return self.rect()
        part = QStyle.SubControl.SC_ComboBoxEditField
        return style.subControlRect(QStyle.ComplexControl.CC_ComboBox, option, part, self)

    def shown(self) -> str:
        """What is written."""
        width = self.room().width() - self.fontMetrics().averageCharWidth()
        return self.fontMetrics().elidedText(self.currentText(), Qt.TextElideMode.ElideRight, width)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        painter, option = QStylePainter(self), QStyleOptionComboBox()
        self.initStyleOption(option)
        option.currentText = self.shown()
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)

    def event(self, event: QEvent | None) -> bool:
        """See Qt."""
        if isinstance(event, QHelpEvent) and self.shown() != self.currentText():
            QToolTip.showText(event.globalPos(), self.currentText(), self)
            return True
        return super().event(event)


class Sentences(QScrollArea):
    """Sentences one below the other, wrapped, as many as there are."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.setMinimumHeight(round(2.4 * LOOK.em))
        self.texts: tuple[str, ...] = ()
        self.show_all(())

    def changeEvent(self, event: QEvent | None) -> None:
        """See Qt: one line is never cut, however large the text is."""
        super().changeEvent(event)
        self.setMinimumHeight(round(2.4 * LOOK.em))

    def show_all(self, sentences: Sequence[tuple[str, bool]]) -> None:
        """Shows these instead of what was there: each with whether it is bad."""
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 0, 0)
        for text, bad in sentences:
            line = label(Given(f"!  {tr(text)}") if bad else text, "bad" if bad else "")
            column.addWidget(line)
        column.addStretch(1)
        self.texts = tuple(text for text, _ in sentences)
        self.setWidget(inner)


class Steps(QWidget):
    """Steps one below the other, those that are done with a tick."""

    def __init__(self) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._lines: list[tuple[Sign, QLabel]] = []
        self._steps: tuple[str, ...] = ()

    def show_steps(self, steps: tuple[str, ...], at: int) -> None:
        """Draws the steps, the one at `at` being now."""
        if steps != self._steps:
            for sign, line in self._lines:
                sign.deleteLater()
                line.deleteLater()
            self._lines = [(Sign(size=0.9), label()) for _ in steps]
            for i, (sign, line) in enumerate(self._lines):
                self._grid.addWidget(sign, i, 0)
                self._grid.addWidget(line, i, 1)
            self._grid.setColumnStretch(1, 1)
            self._steps = steps
        for i, (step, (sign, line)) in enumerate(zip(steps, self._lines, strict=True)):
            line.setText(step)
            sign.show_shape("tick" if i < at else "disc" if i == at else "ring", "accent" if i <= at else "faint")
            role(line, "head" if i == at else "note" if i > at else "")
