"""A picture, as large as it fits."""

from __future__ import annotations

from PyQt5.QtCore import QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.widgets.parts import Look


class Picture(QWidget):
    """Shows a PNG.

    Parameters
    ----------
    name : str
        For who cannot see it.
    """

    def __init__(self, look: Look, name: str) -> None:
        super().__init__()
        self._look = look
        self._map = QPixmap()
        self.setAccessibleName(tr(name))
        self.setMinimumSize(80, 80)

    @property
    def pixmap(self) -> QPixmap:
        """What is shown."""
        return self._map

    @property
    def empty(self) -> bool:
        """There is nothing to see."""
        return self._map.isNull()

    def show_png(self, data: bytes) -> None:
        """Shows this; nothing where it is empty."""
        self._map = QPixmap()
        if data:
            self._map.loadFromData(data, "PNG")
        self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(20 * self._look.em, 16 * self._look.em)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        if self._map.isNull():
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        size = self._map.size().scaled(self.size(), Qt.AspectRatioMode.KeepAspectRatio)
        box = QRectF(0, 0, size.width(), size.height())
        box.moveCenter(QRectF(self.rect()).center())
        painter.fillRect(box, QColor("white"))
        painter.drawPixmap(box, self._map, QRectF(self._map.rect()))
        painter.setPen(QPen(QColor(self._look.theme.line), 1))
        painter.drawRect(box.adjusted(0, 0, -1, -1))
        painter.end()
