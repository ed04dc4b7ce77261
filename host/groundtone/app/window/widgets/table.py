"""A table whose rows carry words, small shapes and the strike on a face; read aloud with words for all of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from PyQt5.QtCore import QModelIndex, QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QFont, QFontMetricsF, QPainter
from PyQt5.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
)

from groundtone.app.language import tr, tr_all
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import Look
from groundtone.app.window.widgets.shapes import paint_face, paint_shape
from groundtone.review.strikes import Strike

_CELL = int(Qt.ItemDataRole.UserRole)


@dataclass(frozen=True)
class Cell:
    """What stands in a place of a table.

    Attributes
    ----------
    text, second : str
        Words, and a smaller second line.
    shapes : tuple of (str, bool)
        Signs, each with whether it is filled (a fault).
    strike : Strike or None
        Drawn on a small face.
    says : str
        What is read aloud and shown under the pointer; the words where it is empty.
    """

    text: str = ""
    second: str = ""
    shapes: tuple[tuple[str, bool], ...] = ()
    strike: Strike | None = None
    hand: str = "right"
    bold: bool = False
    right: bool = False
    says: str = ""


@dataclass(frozen=True)
class Group:
    """A heading over the rows below it: a block with its count."""

    text: str
    count: str


Row = Sequence[Cell] | Group


class Table(QTableWidget):
    """Rows one below the other.

    Parameters
    ----------
    heads : sequence of str
        Of the columns; the widths follow `shares`.
    shares : sequence of float
        Of the width.
    high : float
        Of a row, in sizes of plain text.
    """

    def __init__(self, look: Look, name: str, heads: Sequence[str], shares: Sequence[float], high: float = 2.0) -> None:
        super().__init__(0, len(heads))
        self._look, self._shares, self._high = look, tuple(shares), high
        self._rows: list[Row] = []
        self.chosen: Callable[[int], None] = lambda row: None
        self.setAccessibleName(tr(name))
        self.setHorizontalHeaderLabels(tr_all(heads))
        self.setItemDelegate(_Painter(look))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setTabKeyNavigation(False)
        self.setMinimumSize(80, 60)
        for header in (self.verticalHeader(), self.horizontalHeader()):
            if header is not None:
                header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
                header.setMinimumSectionSize(8)
        vertical, horizontal = self.verticalHeader(), self.horizontalHeader()
        if vertical is not None and horizontal is not None:
            vertical.hide()
            horizontal.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
            horizontal.setHighlightSections(False)
        self.currentCellChanged.connect(self._moved)

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Shows these instead of what was there; the chosen row stays where its place still holds one."""
        self.blockSignals(True)
        rows = self._rows = [_turned(row) for row in rows]
        self.clearSpans()
        self.setRowCount(len(rows))
        for i, row in enumerate(rows):
            if isinstance(row, Group):
                cells: Sequence[Cell] = (Cell(row.text, bold=True, says=f"{row.text}: {row.count}"),)
                self.setSpan(i, 0, 1, len(self._shares))
            else:
                cells = row
            for k, cell in enumerate(cells):
                item = QTableWidgetItem(cell.text)
                item.setData(_CELL, row if isinstance(row, Group) else cell)
                says = cell.says or " ".join(filter(None, (cell.text, cell.second)))
                item.setToolTip(says)
                item.setData(int(Qt.ItemDataRole.AccessibleTextRole), says)
                if isinstance(row, Group):
                    item.setFlags(Qt.ItemFlag.ItemIsEnabled)
                self.setItem(i, k, item)
        self.blockSignals(False)
        self.renew()

    def shown(self, row: int) -> str:
        """What is read aloud of a row."""
        items = (self.item(row, k) for k in range(self.columnCount()))
        return "; ".join(item.toolTip() for item in items if item is not None and item.toolTip())

    def choose(self, row: int) -> None:
        """Chooses a row without telling of it."""
        self.blockSignals(True)
        self.setCurrentCell(row, 0)
        self.blockSignals(False)

    def _moved(self, row: int, *_: int) -> None:
        if 0 <= row < len(self._rows) and not isinstance(self._rows[row], Group):
            self.chosen(row)

    def step(self, by: int) -> None:
        """The next row that way which is no heading."""
        row = self.currentRow() + by
        while 0 <= row < len(self._rows) and isinstance(self._rows[row], Group):
            row += by
        if 0 <= row < len(self._rows):
            self.setCurrentCell(row, 0)

    def renew(self) -> None:
        """Sizes as the look has them."""
        em = self._look.em
        for i, row in enumerate(self._rows):
            self.setRowHeight(i, round(1.75 * em if isinstance(row, Group) else self._high * em))
        port = self.viewport()
        wide, total = (self.width() if port is None else port.width()), sum(self._shares)
        for k, share in enumerate(self._shares):
            self.setColumnWidth(k, int(wide * share / total))

    def resizeEvent(self, event: Any) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.renew()


def _turned(row: Row) -> Row:
    """A row in the language in force."""
    if isinstance(row, Group):
        return Group(tr(row.text), tr(row.count))
    return [replace(cell, text=tr(cell.text), second=tr(cell.second), says=tr(cell.says)) for cell in row]


class _Painter(QStyledItemDelegate):
    """Draws a cell."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:
        """See Qt."""
        return QSize(self._look.em, 2 * self._look.em)

    def paint(self, painter: QPainter | None, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """See Qt."""
        if painter is None:
            return
        from PyQt5.QtWidgets import QStyle

        theme, em, cell = self._look.theme, self._look.em, index.data(_CELL)
        box = QRectF(option.rect)
        painter.save()
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        if isinstance(cell, Group):
            painter.fillRect(box, QColor(theme.face))
        elif chosen:
            painter.fillRect(box, QColor(theme.tint))
            if index.column() == 0:
                painter.fillRect(QRectF(box.left(), box.top(), em / 4, box.height()), QColor(theme.accent))
        painter.setPen(QColor(theme.hair))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        room = box.adjusted(em / 2, 0, -em / 4, 0)
        if isinstance(cell, Group):
            count = fit(painter, room, cell.count, em, bold=False, colour=theme.ink, right=True)
            fit(painter, room.adjusted(0, 0, -count - em / 2, 0), cell.text, em, bold=True, colour=theme.ink)
        elif cell is not None:
            self._cell(painter, room, cell)
        painter.restore()

    def _cell(self, painter: QPainter, room: QRectF, cell: Cell) -> None:
        theme, em = self._look.theme, self._look.em
        if cell.strike is not None:
            wide = min(room.width(), 2.6 * em)
            face = QRectF(room.left(), room.center().y() - 0.62 * em, wide, 1.24 * em)
            paint_face(painter, face, cell.strike, cell.hand, theme)
            room = room.adjusted(wide + em / 2, 0, 0, 0)
        side = 0.75 * em
        for shape, filled in cell.shapes:
            if room.width() < side:
                break
            sign = QRectF(room.left(), room.center().y() - side / 2, side, side)
            paint_shape(painter, sign, shape, theme.outside if filled else theme.ink, filled=filled)
            room = room.adjusted(side + em / 3, 0, 0, 0)
        bold = cell.bold
        if cell.second:
            half = room.height() / 2
            upper = QRectF(room.left(), room.center().y() - min(half, 1.35 * em), room.width(), min(half, 1.35 * em))
            fit(painter, upper, cell.text, em, bold=bold, colour=theme.ink)
            lower = QRectF(room.left(), room.center().y(), room.width(), min(half, 1.2 * em))
            fit(painter, lower, cell.second, note_of(em), bold=False, colour=theme.faint)
        else:
            fit(painter, room, cell.text, em, bold=bold, colour=theme.ink, right=cell.right)


def fit(
    painter: QPainter, room: QRectF, text: str, px: float, *, bold: bool, colour: str, right: bool = False
) -> float:
    """Draws a text on one line, shortened at its end where there is no room; its width."""
    font = QFont(painter.font())
    font.setPixelSize(round(px))
    font.setBold(bold)
    painter.setFont(font)
    painter.setPen(QColor(colour))
    words = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, max(0.0, room.width()))
    side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
    painter.drawText(room, int(side | Qt.AlignmentFlag.AlignVCenter), words)
    return float(QFontMetricsF(font).horizontalAdvance(words))
