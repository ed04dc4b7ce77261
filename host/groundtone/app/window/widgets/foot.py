"""The foot of the window: one line of words, what can be taken back, and what can be done in the place shown."""

from __future__ import annotations

from collections.abc import Callable

from PyQt5.QtCore import QRectF, Qt
from PyQt5.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent
from PyQt5.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QStackedWidget, QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import LOOK, ActRow, button, role


class Line(QLabel):
    """A sentence on one line, on two where it is long; shortened only where two do not hold it."""

    def __init__(self) -> None:
        super().__init__()
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setMinimumWidth(10)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.bad = False

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setPen(QColor(LOOK.theme.outside if self.bad else LOOK.theme.ink))
        font = QFont(self.font())
        font.setBold(self.bad)
        font.setPixelSize(LOOK.em)
        if QFontMetricsF(font).horizontalAdvance(self.text()) > self.width():
            font.setPixelSize(note_of(LOOK.em))
        painter.setFont(font)
        lines = _wrapped(QFontMetricsF(font), self.text(), self.width())
        high = QFontMetricsF(font).height() * 1.05
        top = (self.height() - high * len(lines)) / 2
        for i, line in enumerate(lines):
            room = QRectF(0, top + i * high, self.width(), high)
            painter.drawText(room, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), line)
        painter.end()


def _wrapped(metrics: QFontMetricsF, text: str, width: float) -> list[str]:
    """On at most two lines."""
    if metrics.horizontalAdvance(text) <= width:
        return [text] if text else []
    words, first = text.split(" "), ""
    while words and metrics.horizontalAdvance(f"{first} {words[0]}".strip()) <= width:
        first = f"{first} {words.pop(0)}".strip()
    rest = metrics.elidedText(" ".join(words), Qt.TextElideMode.ElideRight, width)
    return [first, rest] if first else [rest]


class Foot(QWidget):
    """See the module's text."""

    def __init__(self, take_back: Callable[[], None]) -> None:
        super().__init__()
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        role(self, "bar")
        self.line = Line()
        self.undo = button("undo", take_back)
        self.acts = QStackedWidget()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.line, 1)
        row.addWidget(self.undo)
        row.addWidget(self.acts)

    def say(self, text: str, *, bad: bool) -> None:
        """Shows a sentence."""
        text = tr(text)
        self.line.bad = bad
        self.line.setText(f"!  {text}" if bad and text else text)
        self.line.setToolTip(text)
        self.line.setAccessibleName(text)
        self.line.update()

    def show_undo(self, words: str) -> None:
        """What would be taken back; empty: nothing."""
        self.undo.setVisible(bool(words))
        self.undo.setToolTip(tr(f"Undo: {words}" if words else ""))
        self.undo.setAccessibleName(tr(f"Undo {words}".strip()))

    def fit(self, width: int) -> None:
        """Buttons as many as fit beside a line of words, of which a third of the foot is."""
        acts = self.acts.currentWidget()
        if isinstance(acts, ActRow):
            undo = self.undo.sizeHint().width() if self.undo.isVisibleTo(self) else 0
            room = width - undo - 4 * LOOK.em
            acts.fit(round(room * 0.67))
            layout = acts.layout()
            wide = layout.sizeHint().width() if layout is not None else room
            self.acts.setFixedWidth(min(wide, room))

    def space(self, unit: int) -> None:
        """Margins in proportion to the text."""
        layout = self.layout()
        if layout is not None:
            layout.setContentsMargins(2 * unit, 0, 2 * unit, 0)
