"""The strike pad: the face as a plain rectangle of nine fields, told by click, touch or number key."""

from __future__ import annotations

import math

from PyQt5.QtCore import QEvent, QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt5.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QTouchEvent
from PyQt5.QtWidgets import QWidget

from groundtone.app.window.widgets.parts import Look
from groundtone.review.strikes import CENTRE_CIRCLE_MM, FIELD_MM

# Width and height of what is drawn, mm: three fields each way.
_WIDE_MM, _HIGH_MM = 3 * FIELD_MM[0], 3 * FIELD_MM[1]


class StrikePad(QWidget):
    """Nine fields: the heel on the left, 5 in the centre, as on a number block."""

    told = pyqtSignal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.field: int | None = None
        self.words = ""
        self.setMinimumSize(150, 100)
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.setAccessibleName("strike pad: where the ball met the face")

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(20 * self._look.em, 13 * self._look.em)

    def show_strike(self, field: int | None, words: str) -> None:
        """What was told of the last swing."""
        self.field, self.words = field, words
        self.update()

    def box(self) -> QRectF:
        """The face on the screen."""
        em = self._look.em
        room = QRectF(em, 0.3 * em, self.width() - 2 * em, self.height() - 2.4 * em)
        scale = min(room.width() / _WIDE_MM, room.height() / _HIGH_MM)
        box = QRectF(0, 0, _WIDE_MM * scale, _HIGH_MM * scale)
        box.moveCenter(room.center())
        return box

    def middle(self, field: int) -> QPointF:
        """The middle of a field on the screen."""
        row, column = divmod(field - 1, 3)
        box = self.box()
        return QPointF(box.left() + (column + 0.5) * box.width() / 3, box.bottom() - (row + 0.5) * box.height() / 3)

    def _at(self, at: QPointF) -> int | None:
        box = self.box()
        if not box.contains(at):
            return None
        column = min(2, int(3 * (at.x() - box.left()) / box.width()))
        row = min(2, int(3 * (box.bottom() - at.y()) / box.height()))
        return 3 * row + column + 1

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """See Qt."""
        if event is not None and (field := self._at(event.localPos())) is not None:
            self.told.emit(field)

    def event(self, event: QEvent | None) -> bool:
        """See Qt: a finger tells as a click does."""
        if isinstance(event, QTouchEvent) and event.type() == QEvent.Type.TouchBegin:
            points = event.touchPoints()
            field = self._at(points[0].pos()) if points else None
            if field is not None:
                self.told.emit(field)
            event.accept()
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = self._look.theme, self._look.em
        box = self.box()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(theme.ink), max(1.5, em / 8)))
        painter.setBrush(QColor(theme.paper))
        painter.drawRect(box)
        painter.setPen(QPen(QColor(theme.line), max(1.0, em / 14)))
        for k in (1, 2):
            x, y = box.left() + k * box.width() / 3, box.top() + k * box.height() / 3
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        scale = box.width() / _WIDE_MM
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.edge), max(1.5, em / 9), Qt.PenStyle.DashLine))
        painter.drawEllipse(box.center(), CENTRE_CIRCLE_MM * scale, CENTRE_CIRCLE_MM * scale)
        painter.setPen(QColor(theme.faint))
        for field in range(1, 10):
            corner = QRectF(0, 0, 1.4 * em, 1.3 * em)
            at = self.middle(field)
            corner.moveTopLeft(QPointF(at.x() - box.width() / 6 + em / 6, at.y() - box.height() / 6))
            painter.drawText(corner, int(Qt.AlignmentFlag.AlignCenter), str(field))
        if self.field is not None:
            at, size = self.middle(self.field), math.hypot(*FIELD_MM) * scale * 0.2
            painter.setPen(QPen(QColor(theme.paper), em / 5))
            painter.setBrush(QColor(theme.inside))
            painter.drawEllipse(at, size, size)
        painter.setPen(QColor(theme.ink))
        foot = QRectF(box.left(), box.bottom() + em / 4, box.width(), 1.5 * em)
        painter.drawText(foot, int(Qt.AlignmentFlag.AlignLeft), "heel")
        painter.drawText(foot, int(Qt.AlignmentFlag.AlignRight), "toe")
        painter.drawText(foot, int(Qt.AlignmentFlag.AlignHCenter), "5 is the centre")
        painter.end()
