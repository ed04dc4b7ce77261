"""Small drawn signs: what a finding, a strike or a verdict is, as a shape; no font has to hold them."""

from __future__ import annotations

from PyQt5.QtCore import QPointF, QRectF, Qt
from PyQt5.QtGui import QColor, QPainter, QPen, QPolygonF

from groundtone.app.window.theme import Theme
from groundtone.review.strikes import CENTRE_CIRCLE_MM, FIELD_MM, Contact, Strike

SHAPES = {"toes": "up", "setup_toes": "up", "heels": "down", "setup_heels": "down", "trail": "side"}
"""The shape of a finding by its name; all others are a rhomb."""
SHAPE_WORDS = {"up": "to the toes", "down": "to the heels", "side": "trail side", "rhomb": "another finding"}
_WIDE_MM, _HIGH_MM = 3 * FIELD_MM[0], 3 * FIELD_MM[1]


def shape_of(finding: str) -> str:
    """The shape of a finding."""
    return SHAPES.get(finding, "rhomb")


def paint_shape(painter: QPainter, box: QRectF, shape: str, colour: str, *, filled: bool = True) -> None:
    """One sign, in a square.

    Parameters
    ----------
    shape : str
        "up", "down", "side" (bars that fall), "rhomb", "tick", "cross", "ring", "half", "dashed", "disc", "square".
    filled : bool
        A fault is filled, what is only described is hollow.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    side = min(box.width(), box.height())
    square = QRectF(0, 0, side, side)
    square.moveCenter(box.center())
    left, top, right, bottom = square.left(), square.top(), square.right(), square.bottom()
    middle = square.center()
    pen = QPen(QColor(colour), max(1.5, side / 9))
    painter.setPen(pen)
    painter.setBrush(QColor(colour) if filled else Qt.BrushStyle.NoBrush)
    match shape:
        case "up":
            painter.drawPolygon(_polygon((left, bottom), (middle.x(), top), (right, bottom)))
        case "down":
            painter.drawPolygon(_polygon((left, top), (middle.x(), bottom), (right, top)))
        case "side":
            for k in range(3):
                x, y = left + k * side * 0.36, top + k * side * 0.27
                painter.drawRect(QRectF(x, y, side * 0.2, bottom - y))
        case "rhomb":
            corners = (left, middle.y()), (middle.x(), top), (right, middle.y()), (middle.x(), bottom)
            painter.drawPolygon(_polygon(*corners))
        case "tick":
            painter.setBrush(Qt.BrushStyle.NoBrush)
            line = (left, middle.y()), (left + side * 0.36, bottom - side * 0.12), (right, top + side * 0.12)
            painter.drawPolyline(_polygon(*line))
        case "cross":
            painter.drawLine(square.topLeft(), square.bottomRight())
            painter.drawLine(square.topRight(), square.bottomLeft())
        case "square":
            painter.drawRect(square)
        case "disc":
            painter.drawEllipse(square)
        case _:
            if shape == "dashed":
                pen.setDashPattern([2.0, 2.0])
                painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            ring = square.adjusted(pen.widthF() / 2, pen.widthF() / 2, -pen.widthF() / 2, -pen.widthF() / 2)
            painter.drawEllipse(ring)
            if shape == "half":
                painter.setBrush(QColor(colour))
                painter.drawChord(ring, 90 * 16, 180 * 16)
    painter.restore()


def _polygon(*points: tuple[float, float]) -> QPolygonF:
    return QPolygonF([QPointF(x, y) for x, y in points])


def across(x_mm: float, hand: str) -> float:
    """A place on the face as the golfer sees it: a right-handed club has its toe on the left.

    Examples
    --------
    >>> across(22.0, "right"), across(22.0, "left")
    (-22.0, 22.0)
    """
    return -x_mm if hand != "left" else x_mm


def paint_face(painter: QPainter, box: QRectF, strike: Strike, hand: str, theme: Theme) -> None:
    """A small face with where the ball met it, sole down, as the golfer sees it; dashed where nothing was told."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    scale = min(box.width() / _WIDE_MM, box.height() / _HIGH_MM)
    face = QRectF(0, 0, _WIDE_MM * scale, _HIGH_MM * scale)
    face.moveCenter(box.center())
    told = strike.told
    pen = QPen(QColor(theme.line), 1.0, Qt.PenStyle.SolidLine if told else Qt.PenStyle.DashLine)
    painter.setPen(pen)
    painter.setBrush(QColor(theme.paper) if told else Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(face, face.height() / 6, face.height() / 6)
    ink = QColor(theme.ink)
    dot = max(2.0, CENTRE_CIRCLE_MM * scale * 0.28)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    x, y = strike.at_mm
    if strike.contact is Contact.SHANK:
        # On the shaft, which stands at the heel.
        at = face.center().x() + across(-_WIDE_MM / 2, hand) * scale
        painter.drawEllipse(QPointF(at, face.center().y()), dot, dot)
    elif x == x:
        painter.drawEllipse(face.center() + QPointF(across(x, hand) * scale, -y * scale), dot, dot)
    bar = max(2.0, dot)
    if strike.contact is Contact.FAT:
        painter.drawRect(QRectF(face.left(), face.bottom() - bar / 2, face.width(), bar))
    elif strike.contact in (Contact.TOPPED, Contact.THIN):
        wide = face.width() if strike.contact is Contact.TOPPED else face.width() / 2
        painter.drawRect(QRectF(face.center().x() - wide / 2, face.top() - bar / 2, wide, bar))
    elif strike.contact is Contact.CLEAN and x != x:
        paint_shape(painter, face.adjusted(0, face.height() * 0.2, 0, -face.height() * 0.2), "tick", theme.ink)
    painter.restore()
