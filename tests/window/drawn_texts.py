"""What is written in a window, with the rectangle that each text fills: nothing may be clipped or lie over another."""

from dataclasses import dataclass

from odd_names import PUPIL
from PyQt5.QtCore import QPoint, QRect, QRectF, Qt
from PyQt5.QtGui import QFontMetricsF, QPainter
from PyQt5.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QStyle,
    QStyleOptionButton,
    QWidget,
)

from groundtone.app.window.widgets.foot import Line
from groundtone.app.window.widgets.lists import Sentences
from groundtone.app.window.widgets.parts import Elided

# A font's box is higher than what is drawn of it.
_SPARE = 0.18


@dataclass(frozen=True)
class Text:
    """A text, the room it was given and what it fills, in the window's own coordinates."""

    text: str
    room: QRectF
    filled: QRectF
    where: str


class Spy:
    """Takes down every text that is painted by the program itself."""

    def __init__(self, monkeypatch):
        self.seen = []
        whole = QPainter.drawText

        def draw(painter, *arguments):
            if len(arguments) == 3 and isinstance(arguments[0], QRectF):
                self._take(painter, *arguments)
            return whole(painter, *arguments)

        monkeypatch.setattr(QPainter, "drawText", draw)

    def _take(self, painter, room, flags, text):
        widget = painter.device()
        if not isinstance(widget, QWidget) or not text.strip():
            return
        filled = QFontMetricsF(painter.font()).boundingRect(room, flags, text)
        move = painter.transform()
        origin = widget.mapTo(widget.window(), QPoint(0, 0))
        room, filled = (move.mapRect(box).translated(origin.x(), origin.y()) for box in (room, filled))
        whole = QRectF(widget.rect()).translated(origin.x(), origin.y())
        if isinstance(widget.parent(), QAbstractScrollArea):
            # What is scrolled out of sight is no text over another.
            room, filled = room & whole, filled & whole
        else:
            # Beyond the edge of its own widget nothing is seen.
            room = room & whole
        self.seen.append(Text(text, room, filled, type(widget).__name__))

    def texts(self, window):
        """All texts of a window as it is now."""
        self.seen.clear()
        window.grab()
        out = list(self.seen)
        for label in window.findChildren(QLabel):
            if label.isVisible() and label.text() and not isinstance(label, Line | Elided):
                out.append(_of_label(label, window))
        return out


def _of_label(label, window):
    flags = int(label.alignment()) | (int(Qt.TextFlag.TextWordWrap) if label.wordWrap() else 0)
    room = QRectF(label.rect())
    metrics = QFontMetricsF(label.font())
    filled = metrics.boundingRect(
        QRectF(0, 0, room.width(), 1e5 if label.wordWrap() else room.height()), flags, label.text()
    )
    if label.wordWrap():
        filled.moveTop(max(0.0, (room.height() - filled.height()) / 2))
    at = label.mapTo(window, QPoint(0, 0))
    room, filled = room.translated(at.x(), at.y()), filled.translated(at.x(), at.y())
    inner = label.parent()
    while inner is not None and not isinstance(inner, QAbstractScrollArea):
        inner = inner.parent()
    if inner is not None:
        port = inner.viewport()
        seen = QRectF(port.rect()).translated(port.mapTo(window, QPoint(0, 0)))
        room, filled = room & seen, filled & seen
    return Text(label.text(), room, filled, "label")


def faults(window, spy):
    """What is wrong with a window's texts, one sentence each."""
    out = []
    texts = [text for text in spy.texts(window) if not text.filled.isEmpty()]
    edge = QRectF(window.rect())
    boxes = []
    for text in texts:
        filled = text.filled.adjusted(0, _SPARE * text.filled.height(), 0, -_SPARE * text.filled.height())
        inside = text.room.adjusted(-2, -2, 2, 2).contains(filled)
        if filled.width() > text.room.width() + 2 or filled.height() > text.room.height() + 2 or not inside:
            out.append(f"{text.where}: {text.text!r} is cut: {_size(text.filled)} in {_size(text.room)}")
        if not edge.adjusted(-1, -1, 1, 1).contains(filled):
            out.append(f"{text.where}: {text.text!r} lies outside the window")
        boxes.append((filled.adjusted(1, 1, -1, -1), text))
    for i, (box, text) in enumerate(boxes):
        for other_box, other in boxes[i + 1 :]:
            if box.intersects(other_box) and (text.text, text.room) != (other.text, other.room):
                out.append(f"{text.text!r} ({text.where}) and {other.text!r} ({other.where}) lie over each other")
    return out + cut_controls(window) + overlaps(window)


def cut_controls(window):
    """Buttons, choices, fields and heads, drawn by Qt itself, whose words have less room than they fill."""
    out = []
    for widget in window.findChildren(QWidget):
        if not widget.isVisible() or widget.visibleRegion().isEmpty():
            continue
        for what, text, room in _written_on(widget):
            metrics = QFontMetricsF(widget.font())
            wide = metrics.size(Qt.TextFlag.TextShowMnemonic, text).width()
            if text and (wide > room.width() + 1 or metrics.height() * (1 - 2 * _SPARE) > room.height() + 1):
                out.append(f"{what} {text!r} is cut: {wide:.0f} wide in {_size(QRectF(room))}")
    for area in window.findChildren(QAbstractScrollArea):
        inner = area.widget() if isinstance(area, QScrollArea) else None
        if area.isVisible() and inner is not None and inner.width() > area.viewport().width() + 1:
            out.append(f"what {_name(area)} holds is cut at its side: {inner.width()} in {area.viewport().width()}")
    for sentences in window.findChildren(Sentences):
        # What is below may be scrolled to; the first one is read without that.
        first = next(iter(sentences.findChildren(QLabel)), None)
        port = sentences.viewport()
        if sentences.isVisible() and first is not None and first.heightForWidth(port.width()) > port.height() + 2:
            out.append(f"the sentence {first.text()!r} is cut: {port.height()} high")
    return out


def _written_on(widget):
    """What stands on a control, and the room that its style leaves for it."""
    style = widget.style()
    if isinstance(widget, QPushButton):
        option = QStyleOptionButton()
        widget.initStyleOption(option)
        room = style.subElementRect(QStyle.SubElement.SE_PushButtonContents, option, widget)
        yield "the button", widget.text(), room if room.isValid() else widget.rect()
    elif isinstance(widget, QAbstractButton):
        yield "the button", widget.text(), widget.rect()
    elif isinstance(widget, QComboBox):
        # A name that somebody gave may be too long for any room: then its end is shown as left out. Words of ours fit.
        given = PUPIL in widget.currentText()
        yield "the choice", widget.shown() if given else widget.currentText(), widget.room()
    elif isinstance(widget, QLineEdit) and not isinstance(widget.parent(), QComboBox):
        # What somebody types may be longer than its field; what the program writes into an empty one may not.
        yield "the field", widget.placeholderText() if not widget.text() else "", widget.rect()
    elif isinstance(widget, QHeaderView) and widget.orientation() == Qt.Orientation.Horizontal:
        for at in range(widget.count()):
            head = str(widget.model().headerData(at, Qt.Orientation.Horizontal) or "")
            if not widget.isSectionHidden(at):
                yield "the head", head, QRect(0, 0, widget.sectionSize(at), widget.height())


def overlaps(window):
    """Fields and buttons that lie over each other."""
    parts = [w for kind in (QAbstractButton, QLineEdit, QComboBox) for w in window.findChildren(kind) if w.isVisible()]
    parts = [w for w in parts if not w.visibleRegion().isEmpty() and not isinstance(w.parent(), QComboBox)]
    rects = [(QRect(w.mapTo(window, QPoint(0, 0)), w.size()).adjusted(1, 1, -1, -1), w) for w in parts]
    return [
        f"{_name(one)} and {_name(other)} lie over each other"
        for i, (box, one) in enumerate(rects)
        for other_box, other in rects[i + 1 :]
        if box.intersects(other_box) and not one.isAncestorOf(other) and not other.isAncestorOf(one)
    ]


def _name(widget):
    return f"{type(widget).__name__} {widget.accessibleName() or widget.objectName()!r}"


def _size(box):
    return f"{box.width():.0f} x {box.height():.0f}"
