"""The strike: the face as the golfer sees it, nine fields under the number keys, and how the club met the ball."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from PyQt5.QtCore import QEvent, QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt5.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen, QTouchEvent
from PyQt5.QtWidgets import QBoxLayout, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import Look, bind, button, label
from groundtone.app.window.widgets.table import fit
from groundtone.review.strikes import CENTRE_CIRCLE_MM, FIELD_MM, Strike, field_of_key, in_words, press

# Width and height of what is drawn, mm: three fields each way.
_WIDE_MM, _HIGH_MM = 3 * FIELD_MM[0], 3 * FIELD_MM[1]
_CONTACTS = ("clean", "thin", "fat", "topped", "shank")
_KEYS = {"clean": "c", "thin": "t", "fat": "f", "topped": "o", "shank": "s", "undo": "u"}
_ARROWS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Up: 3, Qt.Key.Key_Down: -3}


class StrikePad(QWidget):
    """Nine fields, sole down; the toe is on the left of a right-handed club and on the right of a left-handed one."""

    told = pyqtSignal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.field: int | None = None
        self.hand = "right"
        self._at_key = 5
        self.setMinimumSize(120, 90)
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.show_strike(Strike(), "")

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(13 * self._look.em, 7 * self._look.em)

    def show_strike(self, strike: Strike, hand: str) -> None:
        """What was told of the swing it speaks of, and the hand of its golfer."""
        self.field, self.hand = strike.field, hand or "right"
        self.setAccessibleName(tr("where the ball met the face"))
        self.setAccessibleDescription(tr(in_words(strike) if strike.told else "not told"))
        self.update()

    def box(self) -> QRectF:
        """The nine fields on the screen."""
        em = self._look.em
        # The face is drawn beyond its fields, by parts of their height: see `_outline`.
        room = QRectF(0.2 * em, 0.2 * em, self.width() - 0.4 * em, self.height() - 1.8 * em)
        scale = min(room.width() / (_WIDE_MM + 0.42 * _HIGH_MM), room.height() / (1.24 * _HIGH_MM))
        box = QRectF(0, 0, _WIDE_MM * scale, _HIGH_MM * scale)
        box.moveCenter(room.center())
        return box

    def middle(self, field: int) -> QPointF:
        """The middle of a field on the screen."""
        row, column = divmod(int(field_of_key(str(field), self.hand)) - 1, 3)
        box = self.box()
        return QPointF(box.left() + (column + 0.5) * box.width() / 3, box.bottom() - (row + 0.5) * box.height() / 3)

    def _at(self, at: QPointF) -> int | None:
        box = self.box()
        if not box.contains(at):
            return None
        column = min(2, int(3 * (at.x() - box.left()) / box.width()))
        row = min(2, int(3 * (box.bottom() - at.y()) / box.height()))
        return int(field_of_key(str(3 * row + column + 1), self.hand))

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """See Qt."""
        if event is not None and (field := self._at(event.localPos())) is not None:
            self.told.emit(field)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """See Qt: the arrows go over the fields, Enter tells the one under them."""
        if event is None:
            return
        if event.key() in _ARROWS:
            to = self._at_key + _ARROWS[Qt.Key(event.key())]
            same_row = abs(_ARROWS[Qt.Key(event.key())]) == 3 or (to - 1) // 3 == (self._at_key - 1) // 3
            self._at_key = to if 1 <= to <= 9 and same_row else self._at_key
            self.update()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.told.emit(int(field_of_key(str(self._at_key), self.hand)))
        else:
            super().keyPressEvent(event)

    def event(self, event: QEvent | None) -> bool:
        """See Qt: a finger tells as a click does."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and _own(event.key()):
            # While the pad has the focus its keys are its own.
            event.accept()
            return True
        if isinstance(event, QTouchEvent) and event.type() == QEvent.Type.TouchBegin:
            points = event.touchPoints()
            field = self._at(points[0].pos()) if points else None
            if field is not None:
                self.told.emit(field)
            event.accept()
            return True
        return super().event(event)

    def _outline(self, box: QRectF) -> QPainterPath:
        """A face with its shaft at the heel, drawn for the left and turned over for the right."""
        w, h, r = box.width(), box.height(), box.height() * 0.16
        path = QPainterPath(QPointF(-r, h * 0.1))
        path.quadTo(QPointF(-r * 1.2, h + r * 0.2), QPointF(r, h + r * 0.5))
        path.lineTo(QPointF(w - r, h + r * 0.5))
        path.quadTo(QPointF(w + r * 0.6, h + r * 0.4), QPointF(w + r * 0.7, h * 0.7))
        path.lineTo(QPointF(w + r * 1.3, -r * 0.8))
        path.lineTo(QPointF(w + r * 0.5, -r * 0.8))
        path.lineTo(QPointF(w + r * 0.2, h * 0.12))
        path.quadTo(QPointF(w * 0.5, -r * 0.5), QPointF(r, -r * 0.5))
        path.quadTo(QPointF(-r * 0.8, -r * 0.4), QPointF(-r, h * 0.1))
        return path

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = self._look.theme, self._look.em
        box = self.box()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.save()
        painter.translate(box.topLeft() if self.hand != "left" else box.topRight())
        painter.scale(1.0 if self.hand != "left" else -1.0, 1.0)
        painter.setPen(QPen(QColor(theme.line), max(1.5, em / 10)))
        painter.setBrush(QColor(theme.paper))
        painter.drawPath(self._outline(box))
        painter.restore()
        painter.setPen(QPen(QColor(theme.hair), 1.0))
        for k in (1, 2):
            x, y = box.left() + k * box.width() / 3, box.top() + k * box.height() / 3
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        scale = box.width() / _WIDE_MM
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.edge), max(1.5, em / 9), Qt.PenStyle.DashLine))
        painter.drawEllipse(box.center(), CENTRE_CIRCLE_MM * scale, CENTRE_CIRCLE_MM * scale)
        for key in range(1, 10):
            at = self.middle(int(field_of_key(str(key), self.hand)))
            # Beside the middle: there the mark comes, and the circle runs through the fields above and below it.
            # Towards the ends, but high at the heel, where the face is cut off.
            outward = (key % 3 == 0) != (key == (7 if self.hand == "left" else 9))
            left = 0.1 if outward else -0.1
            aside = QPointF(left * box.width(), (0.075 if key <= 3 else -0.075) * box.height())
            number = QRectF(
                at.x() + aside.x() - (0.3 if left < 0 else 0.2) * em, at.y() + aside.y() - 0.65 * em, 1.4 * em, 1.3 * em
            )
            corner = QRectF(at.x() - 0.7 * em, at.y() - 0.65 * em, 1.4 * em, 1.3 * em)
            painter.setPen(QColor(theme.faint))
            fit(painter, number, str(key), note_of(em), bold=False, colour=theme.faint)
            if self.hasFocus() and key == self._at_key:
                painter.setPen(QPen(QColor(theme.accent), 3))
                painter.drawRect(corner.adjusted(-em / 2, -em / 4, em / 2, em / 4))
        if self.field is not None:
            at, size = self.middle(self.field), math.hypot(*FIELD_MM) * scale * 0.2
            painter.setPen(QPen(QColor(theme.sheet), em / 5))
            painter.setBrush(QColor(theme.ink))
            painter.drawEllipse(at, size, size)
        # Right below the face, which has a fifth of its height on either side of its fields.
        side, low = 0.2 * box.height(), box.bottom() + 0.1 * box.height() + 0.4 * em
        low = min(low, self.height() - 1.3 * em)
        foot = QRectF(max(em / 4, box.left() - side), low, self.width() / 2 - em, 1.2 * em)
        ends = ("toe", "heel") if self.hand != "left" else ("heel", "toe")
        fit(painter, foot, tr(ends[0]), em, bold=True, colour=theme.ink)
        other = QRectF(foot)
        other.moveRight(min(self.width() - em / 4, box.right() + side))
        fit(painter, other, tr(ends[1]), em, bold=True, colour=theme.ink, right=True)
        painter.end()


class StrikeCard(QWidget):
    """Where the ball met the face and how, of whatever swing is chosen in the table beside it.

    Parameters
    ----------
    place : str
        In which its keys work.
    home : QWidget
    narrow : bool
        The buttons lie below the face.

    Attributes
    ----------
    instead : callable
        Takes each key first; True: it was meant for something else.
    """

    changed = pyqtSignal(int, object)
    """Number of the swing, and its strike as it is now told."""

    def __init__(self, look: Look, place: str, home: QWidget, *, narrow: bool = False) -> None:
        super().__init__()
        self.number, self.strike, self.hand = 0, Strike(), "right"
        self._digits: str | None = None
        self.instead: Callable[[str], bool] = lambda key: False
        self.title: QLabel = label("", "head")
        self.pad = StrikePad(look)
        self.pad.told.connect(self._field)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        part: QBoxLayout = QVBoxLayout() if narrow else QHBoxLayout()
        column.addLayout(part, 1)
        part.addWidget(self.pad, 3)
        side = QGridLayout()
        part.addLayout(side, 0 if narrow else 2)
        for i, name in enumerate((*_CONTACTS, "undo")):
            to = button(f"{place} {name}", partial(self.key, _KEYS[name]), home)
            to.low = True
            side.addWidget(to, i // 2 if narrow else i, i % 2 if narrow else 0)
        if not narrow:
            side.setRowStretch(6, 1)
        for n in range(10):
            bind(f"{place} {n}", partial(self.key, str(n)), home)
        for name, key in (("left", "l"), ("straight", "m"), ("right", "r"), ("distance", "d")):
            bind(f"{place} {name}", partial(self.key, key), home)
        self.show_swing(0, Strike(), "right")

    def show_swing(self, number: int, strike: Strike, hand: str) -> None:
        """Speaks of this swing; 0: there is none."""
        if number != self.number:
            self._digits = None
        self.number, self.strike, self.hand = number, strike, hand or "right"
        self.pad.show_strike(strike, self.hand)
        if not number:
            text = "No swing yet"
        elif strike.told:
            text = f"Swing {number}: {strike_words(strike)}. Change it?"
        else:
            text = f"Swing {number}: where did it meet the face?"
        self.title.setText(text)

    def key(self, key: str) -> None:
        """A key, as it lies on the pad; digits after "d" are a distance in metres, until another key."""
        if self.instead(key):
            return
        if key == "d":
            self._digits = ""
        elif self._digits is not None and key.isdigit() and len(self._digits) < 3:
            self._digits += key
            if int(self._digits):
                self._tell(replace(self.strike, distance_m=float(self._digits)))
        elif key == "0":
            self._digits = None
        elif key == "u":
            self._digits = None
            self._tell(Strike())
        else:
            self._digits = None
            self._tell(press(self.strike, field_of_key(key, self.hand)))

    def _field(self, field: int) -> None:
        self._tell(press(self.strike, str(field)))

    def _tell(self, strike: Strike) -> None:
        if strike != self.strike or not self.number:
            self.changed.emit(self.number, strike)


def _own(key: int) -> bool:
    return key in _ARROWS or key in (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def strike_words(strike: Strike) -> str:
    """A strike in words that no cue uses: "toe strike" is on the face, "to the toes" is under the feet."""
    if not strike.told:
        return "strike not told"
    text = in_words(strike)
    ends = text.split(",")[0]
    return text.replace(ends, f"{ends} strike", 1) if ends.split()[-1] in ("heel", "toe") else text
