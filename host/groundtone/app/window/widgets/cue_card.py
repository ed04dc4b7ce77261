"""The state of a cue as a word and a shape: filled and striped while it sounds, an outline while it is silent."""

from __future__ import annotations

from PyQt5.QtCore import QPointF, QRectF, QSize, Qt
from PyQt5.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt5.QtWidgets import QWidget

from groundtone.app.window.widgets.parts import Look


class CueCard(QWidget):
    """A cue.

    Parameters
    ----------
    word : str
        "toes" or "trail side".
    shape : str
        "up" (a wedge that points to the toes) or "side" (bars at one side).
    """

    def __init__(self, look: Look, word: str, shape: str) -> None:
        super().__init__()
        self._look, self._word, self._shape = look, word, shape
        self.size_now = 0.0
        self.setMinimumSize(100, 60)
        self.setAccessibleName(f"cue {word}")

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(15 * self._look.em, 5 * self._look.em)

    def show_size(self, size: float) -> None:
        """0 is silent, 1 as far outside as it gets."""
        if size != self.size_now:
            self.size_now = size
            self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = self._look.theme, self._look.em
        sounds = self.size_now > 0
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        card = QRectF(1, 1, self.width() - 2, self.height() - 2).adjusted(em / 8, em / 8, -em / 8, -em / 8)
        painter.setBrush(QColor(theme.outside if sounds else theme.paper))
        painter.setPen(QPen(QColor(theme.outside if sounds else theme.line), em / 6 if sounds else em / 12))
        painter.drawRoundedRect(card, em / 2, em / 2)
        colour = QColor(theme.paper if sounds else theme.ink)
        side = min(card.height() * 0.55, card.width() * 0.2)
        box = QRectF(card.left() + em * 0.8, card.center().y() - side / 2, side, side)
        painter.setPen(QPen(colour, max(2.0, em / 7)))
        painter.setBrush(QBrush(colour) if sounds else QBrush(Qt.BrushStyle.NoBrush))
        if self._shape == "up":
            wedge = [QPointF(box.left(), box.bottom()), QPointF(box.center().x(), box.top()), box.bottomRight()]
            painter.drawPolygon(QPolygonF(wedge))
        else:
            for k in range(3):
                bar = QRectF(
                    box.left() + k * side * 0.36, box.top() + k * side * 0.22, side * 0.22, side * (1 - 0.22 * k)
                )
                painter.drawRect(bar)
        words = card.adjusted(side + 1.6 * em, 0, -em / 3, 0)
        text = self._word.upper() if sounds else self._word
        font = QFont(painter.font())
        font.setBold(sounds)
        for px in range(round(2.2 * em), em - 1, -1):
            font.setPixelSize(px)
            if QFontMetricsF(font).width(text) <= words.width():
                break
        painter.setFont(font)
        painter.setPen(colour)
        upper = QRectF(words.left(), words.top(), words.width(), words.height() * 0.66)
        painter.drawText(upper, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), text)
        font.setBold(False)
        font.setPixelSize(round(0.9 * em))
        painter.setFont(font)
        lower = QRectF(words.left(), words.top() + words.height() * 0.6, words.width(), words.height() * 0.36)
        state = "sounds" if sounds else "silent"
        painter.drawText(lower, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), state)
        painter.end()
