"""The field of cells: dots whose area follows the load, one hue; ill cells carry a letter, the centre an open ring."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PyQt5.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt5.QtGui import QColor, QFont, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import Look

_LETTERS = {"shorted": "×", "stuck": "S", "noisy": "N", "dead": "D"}


class CellField(QWidget):
    """Both panels seen from above, toes at the top.

    Parameters
    ----------
    choosing : bool
        A cell can be chosen by click.

    Attributes
    ----------
    lead : str
        "left" or "right"; empty: nobody's.
    """

    chosen = pyqtSignal(int, int)

    def __init__(self, look: Look, *, choosing: bool = False) -> None:
        super().__init__()
        self._look, self._choosing = look, choosing
        self._level: NDArray[np.float64] = np.zeros((16, 8))
        self._ill: dict[tuple[int, int], str] = {}
        self._centre: tuple[float, float] | None = None
        self.path: Sequence[tuple[float, float]] = ()
        self.marks: Sequence[tuple[float, float]] = ()
        self.cell: tuple[int, int] | None = None
        self.lead = ""
        self.setMinimumSize(120, 120)
        self.setAccessibleName(tr("field of cells"))

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(28 * self._look.em, 32 * self._look.em)

    @property
    def level(self) -> NDArray[np.float64]:
        """What is drawn."""
        return self._level

    def show_level(self, level: NDArray[np.float64], centre: tuple[float, float] | None = None) -> None:
        """Draws a frame.

        Parameters
        ----------
        level : ndarray, shape (rows, columns)
            0 to 1; NaN is drawn as nothing.
        centre : (float, float), optional
            Row and column (both panels) of the centre of pressure, as fractions of cells.
        """
        self._level, self._centre = level, centre
        self.update()

    def show_path(self, path: Sequence[tuple[float, float]], marks: Sequence[tuple[float, float]] = ()) -> None:
        """Draws the way of the centre over the feet, rows and columns as `show_level` has them.

        Parameters
        ----------
        marks : sequence of (float, float)
            Where it was at the takeaway, the turn and impact, as far as they are known.
        """
        self.path, self.marks = path, marks
        self.update()

    def show_ill(self, ill: dict[tuple[int, int], str]) -> None:
        """Marks ill cells."""
        self._ill = dict(ill)
        self.update()

    def choose(self, row: int, column: int) -> None:
        """Chooses a cell, kept inside the field."""
        rows, columns = self._level.shape
        self.cell = min(max(row, 0), rows - 1), min(max(column, 0), columns - 1)
        self.chosen.emit(*self.cell)
        self.update()

    def place(self, row: float, column: float) -> QPointF:
        """Where a cell's middle is drawn."""
        pitch, left, bottom = self._grid()
        gap = 1.2 * min(max(column - self._level.shape[1] / 2 + 1.0, 0.0), 1.0)
        return QPointF(left + (column + gap + 0.5) * pitch * self._across, bottom - (row + 0.5) * pitch)

    _across = 1.45
    """Columns are wider apart than rows."""

    def _grid(self) -> tuple[float, float, float]:
        rows, columns = self._level.shape
        foot = 2.5 * self._look.em
        pitch = min((self.width() - 4) / ((columns + 1.2) * self._across), (self.height() - foot - 4) / rows)
        wide, high = (columns + 1.2) * self._across * pitch, rows * pitch
        return pitch, (self.width() - wide) / 2, (self.height() - foot + high) / 2

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """See Qt."""
        if event is None or not self._choosing:
            return
        rows, columns = self._level.shape
        cells = [(r, c) for r in range(rows) for c in range(columns)]
        at = event.localPos()
        near = min(cells, key=lambda cell: _far(self.place(*cell), at))
        if _far(self.place(*near), at) < self._grid()[0] * self._across:
            self.choose(*near)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, rows = self._look.theme, self._level.shape[0]
        columns = self._level.shape[1]
        half = columns // 2
        pitch, _, _ = self._grid()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(theme.line), max(1.0, pitch / 16)))
        painter.setBrush(QColor(theme.sheet))
        for first in (0, half):
            a, b = self.place(rows - 1, first), self.place(0, first + half - 1)
            box = QRectF(a, b).adjusted(-pitch * 0.7, -pitch * 0.5, pitch * 0.7, pitch * 0.5)
            painter.drawRoundedRect(box, pitch / 3, pitch / 3)
        full = 0.5 * pitch * 1.15
        painter.setPen(Qt.PenStyle.NoPen)
        for row, column in np.ndindex(rows, columns):
            at = self.place(row, column)
            painter.setBrush(QColor(theme.line))
            painter.drawEllipse(at, pitch / 20, pitch / 20)
            level = self._level[row, column]
            if math.isfinite(level) and level > 0.001:
                radius = full * math.sqrt(level)
                painter.setBrush(QColor(theme.accent))
                painter.drawEllipse(at, radius, radius)
        self._letters(painter, pitch)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._way(painter, pitch)
        if self._centre is not None:
            at = self.place(*self._centre)
            for colour, width in ((theme.paper, 0.42), (theme.ink, 0.22)):
                painter.setPen(QPen(QColor(colour), pitch * width))
                painter.drawEllipse(at, pitch * 0.62, pitch * 0.62)
        if self.cell is not None:
            painter.setPen(QPen(QColor(theme.ink), max(2.0, pitch / 10)))
            box = QRectF(0, 0, pitch * 1.25, pitch * 0.98)
            box.moveCenter(self.place(*self.cell))
            painter.drawRect(box)
        self._titles(painter)
        painter.end()

    def _way(self, painter: QPainter, pitch: float) -> None:
        """The centre's path as a line with a pale rim, a small square at each event."""
        theme = self._look.theme
        line = QPolygonF([self.place(*each) for each in self.path])
        for colour, width in ((theme.paper, 0.30), (theme.ink, 0.12)):
            painter.setPen(QPen(QColor(colour), max(1.5, pitch * width)))
            painter.drawPolyline(line)
        side = pitch * 0.42
        for mark in self.marks:
            box = QRectF(0, 0, side, side)
            box.moveCenter(self.place(*mark))
            painter.fillRect(box, QColor(theme.paper))
            painter.drawRect(box)

    def _titles(self, painter: QPainter) -> None:
        """Lead and trail as in every word; left and right small. Which is which is known with the golfer's hand."""
        theme, em, half = self._look.theme, self._look.em, self._level.shape[1] // 2
        for first, side in ((0, "left"), (half, "right")):
            middle = (self.place(0, first).x() + self.place(0, first + half - 1).x()) / 2
            role = "" if not self.lead else "lead" if self.lead == side else "trail"
            wide = min(self.width() / 2, 8 * em)
            left = min(max(0.0, middle - wide / 2), self.width() - wide)
            box = QRectF(left, self.height() - 2.3 * em, wide, em * 1.25)
            font = QFont(painter.font())
            font.setPixelSize(round(em))
            font.setBold(True)
            painter.setFont(font)
            painter.setPen(QColor(theme.ink))
            painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), tr(role or side))
            font.setBold(False)
            font.setPixelSize(note_of(em))
            painter.setFont(font)
            painter.setPen(QColor(theme.faint))
            if role:
                box.translate(0, em * 1.1)
                painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), tr(side))

    def _letters(self, painter: QPainter, pitch: float) -> None:
        """A letter in a frame on each ill cell: a shape, not a colour alone."""
        theme = self._look.theme
        font = QFont(painter.font())
        font.setPixelSize(max(8, round(pitch * 0.62)))
        font.setBold(True)
        painter.setFont(font)
        for (row, column), what in self._ill.items():
            box = QRectF(0, 0, pitch * 0.95, pitch * 0.85)
            box.moveCenter(self.place(row, column))
            painter.setPen(QPen(QColor(theme.outside), max(1.5, pitch / 12)))
            painter.setBrush(QColor(theme.paper))
            painter.drawRect(box)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), _LETTERS.get(what, "?"))
        font.setBold(False)
        font.setPixelSize(self._look.em)
        painter.setFont(font)


def _far(a: QPointF, b: QPointF) -> float:
    return math.hypot(a.x() - b.x(), a.y() - b.y())
