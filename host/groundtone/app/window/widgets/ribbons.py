"""How a ribbon is drawn, live and in review: a pale corridor, a plain ribbon inside it, a striped one outside."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PyQt5.QtCore import QPointF, QRectF, Qt
from PyQt5.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from groundtone.app.language import tr, tr_all
from groundtone.app.window.theme import Theme

Array = NDArray[np.float64]
SHARE_MARKS = ("trail", "half", "lead")
OVERALL_MARKS = ("heels", "middle", "toes")


def paint_ground(
    painter: QPainter, box: QRectF, theme: Theme, em: float, name: str, marks: tuple[str, str, str]
) -> None:
    """The ground of a ribbon with its name above and its ends below."""
    painter.fillRect(box, QColor(theme.paper))
    painter.setPen(QPen(QColor(theme.line), max(1.0, em / 12), Qt.PenStyle.DotLine))
    centre = box.center().x()
    painter.drawLine(QPointF(centre, box.top()), QPointF(centre, box.bottom()))
    painter.setPen(QColor(theme.ink))
    high = 1.5 * em
    above = QRectF(box.left() - 2 * em, box.top() - high, box.width() + 4 * em, high)
    painter.drawText(above, int(Qt.AlignmentFlag.AlignCenter), tr(name))
    font = painter.font()
    words = tr_all(marks)
    for size, shown in ((em, words), (0.78 * em, words), (0.78 * em, [words[0], "", words[2]])):
        font.setPixelSize(round(size))
        # The middle one keeps its place: what is longer of the two beside it counts twice.
        first, middle, last = (QFontMetricsF(font).horizontalAdvance(word) for word in shown)
        need = 2 * max(first, last) + middle + em if middle else first + last + 0.5 * em
        if need <= box.width():
            break
    # In a narrow ribbon the ends reach a little beyond it.
    beyond = min(em, max(0.0, (need - box.width()) / 2))
    below = QRectF(box.left(), box.bottom(), box.width(), high).adjusted(-beyond, 0, beyond, 0)
    painter.setFont(font)
    aligns = (Qt.AlignmentFlag.AlignLeft, Qt.AlignmentFlag.AlignHCenter, Qt.AlignmentFlag.AlignRight)
    for word, align in zip(shown, aligns, strict=True):
        if word:
            painter.drawText(below, int(align | Qt.AlignmentFlag.AlignVCenter), word)
    font.setPixelSize(round(em))
    painter.setFont(font)


def paint_corridor(painter: QPainter, box: QRectF, theme: Theme, em: float, low: float, high: float) -> None:
    """A band from `low` to `high` (0 to 1) over the height of `box`, its limits drawn."""
    left, right = box.left() + max(0.0, low) * box.width(), box.left() + min(1.0, high) * box.width()
    painter.fillRect(QRectF(left, box.top(), right - left, box.height()), QColor(theme.band))
    painter.setPen(QPen(QColor(theme.edge), max(1.5, em / 7)))
    for edge, at in ((low, left), (high, right)):
        if 0 < edge < 1:
            painter.drawLine(QPointF(at, box.top()), QPointF(at, box.bottom()))


def paint_ribbon(
    painter: QPainter, box: QRectF, theme: Theme, em: float, values: Array, heights: Array, out: NDArray[np.bool_]
) -> None:
    """A ribbon.

    Parameters
    ----------
    values : ndarray, shape (n,)
        0 to 1; NaN leaves a gap.
    heights : ndarray, shape (n,)
        px from the top.
    out : ndarray of bool, shape (n,)
        Where it is outside its band.
    """
    x = box.left() + np.clip(values, 0.0, 1.0) * box.width()
    known = np.isfinite(x) & np.isfinite(heights)
    inside, outside, stripes = (
        QPen(QColor(colour), em * wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap, Qt.PenJoinStyle.BevelJoin)
        for colour, wide in ((theme.accent, 0.36), (theme.outside, 0.72), (theme.paper, 0.36))
    )
    stripes.setDashPattern([0.45, 0.75])
    painter.setBrush(QBrush(Qt.BrushStyle.NoBrush))
    for piece in pieces(known):
        _line(painter, inside, x[piece], heights[piece])
    for piece in pieces(known & out):
        # A piece of one frame would be no line: its neighbours belong to it.
        wide = slice(max(0, piece.start - 1), min(len(x), piece.stop + 1))
        if not known[wide].all():
            wide = piece
        _line(painter, outside, x[wide], heights[wide])
        _line(painter, stripes, x[wide], heights[wide])


def paint_second(painter: QPainter, box: QRectF, theme: Theme, em: float, values: Array, heights: Array) -> None:
    """A second ribbon over the first: thin, dashed and in ink, so that no colour is needed to tell them apart."""
    x = box.left() + np.clip(values, 0.0, 1.0) * box.width()
    pen = QPen(QColor(theme.ink), em * 0.2)
    pen.setDashPattern([3.0, 2.0])
    for piece in pieces(np.isfinite(x) & np.isfinite(heights)):
        _line(painter, pen, x[piece], heights[piece])


def pieces(mask: NDArray[np.bool_]) -> list[slice]:
    """The runs of a mask.

    Examples
    --------
    >>> pieces(np.array([True, True, False, True]))
    [slice(0, 2, None), slice(3, 4, None)]
    """
    if not mask.size:
        return []
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _line(painter: QPainter, pen: QPen, x: Array, y: Array) -> None:
    if len(x) < 2:
        return
    painter.setPen(pen)
    painter.drawPolyline(QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)]))
