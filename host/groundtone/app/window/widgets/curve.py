"""A curve over days with its intervals: the history of a mat's checks, a pupil's progress. Drawn by pyqtgraph."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PyQt5.QtCore import QSize
from PyQt5.QtWidgets import QVBoxLayout, QWidget

from groundtone.app.language import tr_all
from groundtone.app.window.widgets.parts import Look, label

Array = NDArray[np.float64]


class Curve(QWidget):
    """Points in order with a line, bars for their intervals, and a band.

    pyqtgraph takes half a second to be imported: that is done with the first curve.

    Parameters
    ----------
    name : str
        What the height means.
    """

    def __init__(self, look: Look, name: str) -> None:
        super().__init__()
        self._look, self._name = look, name
        self._title = label("", "note", wrap=False)
        self._plot: Any = None
        self._shown: tuple[Any, ...] | None = None
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.addWidget(self._title)
        self.points = 0

    def sizeHint(self) -> QSize:
        """See Qt: it takes what is left, for what stands beside it says what to do."""
        return QSize(12 * self._look.em, 5 * self._look.em)

    def show_points(
        self,
        words: Sequence[str],
        values: Sequence[float],
        low: Sequence[float] | None = None,
        high: Sequence[float] | None = None,
        band: tuple[float, float] | None = None,
        name: str = "",
    ) -> None:
        """Draws points.

        Parameters
        ----------
        words : sequence of str
            Below each point: its day.
        values : sequence of float
            NaN leaves a gap.
        low, high : sequence of float, optional
            The interval of each.
        band : (float, float), optional
            Drawn as a corridor.
        name : str
            What the height means, if it changes.
        """
        import pyqtgraph as pg

        self._shown = (words, values, low, high, band, name)
        theme, em = self._look.theme, self._look.em
        if self._plot is not None:
            self._column.removeWidget(self._plot)
            self._plot.hide()
            self._plot.deleteLater()
        plot = self._plot = pg.PlotWidget(background=theme.paper)
        self._column.addWidget(plot)
        plot.setMouseEnabled(False, False)
        plot.hideButtons()
        plot.setMenuEnabled(False)
        x, y = np.arange(len(values), dtype=float), np.asarray(values, float)
        self.points = int(np.isfinite(y).sum())
        pen = pg.mkPen(theme.accent, width=em / 6)
        if band is not None:
            self._corridor(pg, y, band)
        if low is not None and high is not None:
            self._bars(pg, x, y, np.asarray(low, float), np.asarray(high, float))
        plot.plot(
            x, y, pen=pen, symbol="o", symbolSize=em * 0.75, symbolBrush=theme.paper, symbolPen=pen, connect="finite"
        )
        plot.setXRange(-0.4, max(len(words) - 1, 0) + 0.4, padding=0.02)
        self._axes(words, name or self._name)

    def _corridor(self, pg: Any, y: Array, band: tuple[float, float]) -> None:
        theme = self._look.theme
        ends = [v for v in band if np.isfinite(v)]
        region = pg.LinearRegionItem(
            (band[0] if np.isfinite(band[0]) else -1e3, band[1] if np.isfinite(band[1]) else 1e3),
            orientation="horizontal", movable=False, brush=theme.band, pen=pg.mkPen(theme.edge, width=2),
        )  # fmt: skip
        region.setZValue(-10)
        self._plot.addItem(region)
        shown = [*y[np.isfinite(y)], *ends]
        if shown:
            room = max(max(shown) - min(shown), 1e-6) * 0.2
            self._plot.setYRange(min(shown) - room, max(shown) + room)

    def _bars(self, pg: Any, x: Array, y: Array, low: Array, high: Array) -> None:
        below, above = y - low, high - y
        fine = np.isfinite(below) & np.isfinite(above)
        if fine.any():
            pen = pg.mkPen(self._look.theme.ink, width=self._look.em / 10)
            self._plot.addItem(
                pg.ErrorBarItem(x=x[fine], y=y[fine], bottom=below[fine], top=above[fine], beam=0.06, pen=pen)
            )

    def _axes(self, words: Sequence[str], name: str) -> None:
        theme, em = self._look.theme, self._look.em
        left, bottom = self._plot.getAxis("left"), self._plot.getAxis("bottom")
        font = self.font()
        font.setPixelSize(round(em * 0.9))
        for axis in (left, bottom):
            axis.setPen(theme.line)
            axis.setTextPen(theme.ink)
            axis.setTickFont(font)
        step = max(1, len(words) // 6)
        bottom.setTicks([[(i, word) for i, word in enumerate(tr_all(words)) if i % step == 0]])
        # Above, where it is read as it is written.
        self._title.setText(name)

    def renew(self) -> None:
        """Draws the same again in the look now in force."""
        if self._shown is not None:
            self.show_points(*self._shown)
