"""The call: the one word that is read at 2 m, what it is about, and the shape that says the same."""

from __future__ import annotations

from PyQt5.QtCore import QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import LOOK
from groundtone.app.window.widgets.shapes import paint_shape

# The smallest call that is still read at 2 m, in parts of its usual size; below it takes two lines.
_LEAST = 0.7


class Call(QWidget):
    """A word, a shape, and a sentence that goes first when room is short."""

    def __init__(self) -> None:
        super().__init__()
        self.over = self.word = self.sentence = self.shape = ""
        self.warm, self.filled = False, True
        self.setMinimumSize(160, 60)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(20 * LOOK.em, round(1.5 * LOOK.call))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(160, round(1.5 * LOOK.call))

    def show_call(
        self, word: str, sentence: str = "", over: str = "", shape: str = "", *, warm: bool = False, filled: bool = True
    ) -> None:
        """Shows this.

        Parameters
        ----------
        over : str
            What the word is about: "Pressure", "Strike".
        warm : bool
            A cue is out: warm ground, and stripes at the edge.
        """
        fresh = (tr(word), tr(sentence), tr(over), shape, warm, filled)
        if fresh != (self.word, self.sentence, self.over, self.shape, self.warm, self.filled):
            self.word, self.sentence, self.over, self.shape, self.warm, self.filled = fresh
            self.setAccessibleName(" ".join(filter(None, (self.over, self.word, self.sentence))))
            self.update()

    def text(self) -> str:
        """The word."""
        return self.word

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = LOOK.theme, LOOK.em
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        card = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(QPen(QColor(theme.outside if self.warm else theme.hair), 2 if self.warm else 1))
        painter.setBrush(QColor(theme.warm if self.warm else theme.sheet))
        painter.drawRoundedRect(card, em / 2, em / 2)
        if self.warm:
            painter.setPen(QPen(QColor(theme.outside), max(2.0, em / 6)))
            for k in range(int(card.height() / em)):
                y = card.top() + (k + 0.3) * em
                painter.drawLine(int(card.right() - 0.9 * em), int(y + 0.5 * em), int(card.right() - 0.2 * em), int(y))
        left = card.left() + em
        if self.shape:
            side = min(0.8 * LOOK.call, card.height() * 0.5)
            box = QRectF(left, card.center().y() - side / 2, side, side)
            colour = theme.outside if self.warm else theme.accent
            paint_shape(painter, box, self.shape, colour, filled=self.filled)
            left += side + 1.2 * em
        room = QRectF(left, card.top() + em / 4, card.right() - left - 1.2 * em, card.height() - em / 2)
        self._words(painter, room)
        painter.end()

    def _words(self, painter: QPainter, room: QRectF) -> None:
        theme, em = LOOK.theme, LOOK.em
        font = QFont(painter.font())
        font.setBold(True)
        size, lines = _fitting(font, self.word, room.width(), room.height())
        high = size * 1.16 * len(lines)
        small = 1.35 * em if self.over else 0.0
        left = room.height() - high - small
        note = note_of(em) * 1.4
        told = bool(self.sentence) and left >= note
        top = room.top() + max(0.0, (left - (note if told else 0)) / 2)
        align = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        if self.over and left >= 0:
            font.setPixelSize(em)
            painter.setFont(font)
            painter.setPen(QColor(theme.outside if self.warm else theme.faint))
            painter.drawText(QRectF(room.left(), top, room.width(), small), align, self.over)
        top += small if left >= 0 else 0.0
        font.setPixelSize(size)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        for i, line in enumerate(lines):
            painter.drawText(QRectF(room.left(), top + i * size * 1.16, room.width(), size * 1.16), align, line)
        if told:
            font.setBold(False)
            # As large as it fits on one line, or two lines of a caption.
            lead = round(1.25 * em)
            font.setPixelSize(lead)
            if QFontMetricsF(font).horizontalAdvance(self.sentence) > room.width() or left < lead * 1.4:
                font.setPixelSize(note_of(em))
            painter.setFont(font)
            painter.setPen(QColor(theme.faint))
            words = QFontMetricsF(font).elidedText(self.sentence, Qt.TextElideMode.ElideRight, room.width())
            below = QRectF(room.left(), top + high, room.width(), QFontMetricsF(font).height() * 1.1)
            painter.drawText(below, align, words)


def _fitting(font: QFont, word: str, width: float, height: float) -> tuple[int, list[str]]:
    """The size of the call and its lines: one line down to the least size, then two."""
    font = QFont(font)
    least = round(LOOK.call * _LEAST)
    for lines in ([word], _halves(word)):
        for px in range(LOOK.call if len(lines) == 1 else least, (least if len(lines) == 1 else 12) - 1, -1):
            font.setPixelSize(px)
            wide = max(QFontMetricsF(font).horizontalAdvance(line) for line in lines)
            if wide <= width and px * 1.16 * len(lines) <= height:
                return px, lines
    return 12, _halves(word)


def _halves(word: str) -> list[str]:
    parts = word.split(" ")
    if len(parts) < 2:
        return [word]
    cut = min(range(1, len(parts)), key=lambda k: abs(len(" ".join(parts[:k])) - len(word) / 2))
    return [" ".join(parts[:cut]), " ".join(parts[cut:])]
