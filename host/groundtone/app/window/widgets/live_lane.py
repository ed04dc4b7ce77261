"""The lane while it happens: time runs upward, the newest at the top, two ribbons against their bands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PyQt5.QtCore import QPointF, QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QPainter, QPaintEvent, QPen
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.widgets.parts import Look
from groundtone.app.window.widgets.ribbons import (
    OVERALL_MARKS,
    SHARE_MARKS,
    paint_corridor,
    paint_ground,
    paint_ribbon,
)
from groundtone.cue.bands import Bands

Array = NDArray[np.float64]
SPAN_S = 5.0
# One point for so much time is kept: finer ones cannot be seen.
_GRID_S = 0.015
# From the turn of pressure to where the trail side's band begins, and the longest it is drawn, s (cue/bands.py).
_DWELL_S, _LONGEST_S = Bands().dwell_trail_s, 2.5


class LiveLane(QWidget):
    """The last seconds."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._t: list[float] = []
        self._share: list[float] = []
        self._overall: list[float] = []
        self._trail_out: list[bool] = []
        self._toes_out: list[bool] = []
        self._marks: list[tuple[float, str]] = []
        self._limits = (0.58, 0.67)
        self.setMinimumSize(160, 120)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(tr("lane of the last seconds"))

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(30 * self._look.em, 30 * self._look.em)

    @property
    def points(self) -> int:
        """How many are drawn."""
        return len(self._t)

    def show_bands(self, trail: float, toes: float) -> None:
        """The limits that are drawn: lead share from `trail` on, heel-toe position up to `toes`."""
        self._limits = (trail, toes)
        self.update()

    def add(self, t_s: Array, share: Array, overall: Array, trail_out: Array, toes_out: Array) -> None:
        """New frames; `*_out` where a tone sounds."""
        if len(t_s) and self._t and t_s[0] < self._t[-1]:
            self.clear()
        for i in range(len(t_s)):
            sounding = bool(trail_out[i]) or bool(toes_out[i])
            if self._t and t_s[i] - self._t[-1] < _GRID_S and not sounding:
                continue
            self._t.append(float(t_s[i]))
            self._share.append(float(share[i]))
            self._overall.append(float(overall[i]))
            self._trail_out.append(bool(trail_out[i]))
            self._toes_out.append(bool(toes_out[i]))
        old = 0
        while old < len(self._t) and self._t[old] < self._t[-1] - SPAN_S:
            old += 1
        for row in (self._t, self._share, self._overall, self._trail_out, self._toes_out):
            del row[:old]
        self._marks = [mark for mark in self._marks if self._t and mark[0] >= self._t[0]]
        self.update()

    def mark(self, t_s: float, word: str) -> None:
        """A tick across both ribbons."""
        self._marks.append((t_s, word))

    def clear(self) -> None:
        """Nothing is drawn."""
        for row in (self._t, self._share, self._overall, self._trail_out, self._toes_out, self._marks):
            row.clear()
        self.update()

    def _armed(self, now_s: float) -> list[tuple[float, float]]:
        """When the trail side's band holds: a while after each turn of pressure, until the swing's tick."""
        out = []
        for i, (when, word) in enumerate(self._marks):
            if word == "turn of pressure":
                ticks = [at for at, later in self._marks[i:] if later == "tick"]
                out.append((when + _DWELL_S, min(ticks[0] if ticks else now_s, when + _LONGEST_S)))
        return [(begin, end) for begin, end in out if end > begin]

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = self._look.theme, float(self._look.em)
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(theme.sheet))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        gap = 8.5 * em
        width = (self.width() - gap - 0.8 * em) / 2
        top, high = 1.6 * em, self.height() - 3.4 * em
        share_box = QRectF(0.4 * em, top, width, high)
        overall_box = QRectF(0.4 * em + width + gap, top, width, high)
        trail, toes = self._limits
        paint_ground(painter, share_box, theme, em, "lead share", SHARE_MARKS)
        paint_ground(painter, overall_box, theme, em, "heel to toe", OVERALL_MARKS)
        paint_corridor(painter, overall_box, theme, em, 0.0, toes)
        if self._t:
            t = np.array(self._t)
            heights = top + (t[-1] - t) / SPAN_S * high
            for begin, end in self._armed(float(t[-1])):
                a, b = (top + (t[-1] - when) / SPAN_S * high for when in (begin, end))
                part = QRectF(share_box.left(), max(top, b), share_box.width(), min(a, top + high) - max(top, b))
                if part.height() > 0:
                    paint_corridor(painter, part, theme, em, trail, 1.0)
            for box, values, out in (
                (share_box, self._share, self._trail_out),
                (overall_box, self._overall, self._toes_out),
            ):
                paint_ribbon(painter, box, theme, em, np.array(values), heights, np.array(out, bool))
            for when, word in self._marks:
                at = top + (t[-1] - when) / SPAN_S * high
                painter.setPen(QPen(QColor(theme.ink), max(1.0, em / 9)))
                for box in (share_box, overall_box):
                    painter.drawLine(QPointF(box.left(), at), QPointF(box.right(), at))
                words = QRectF(share_box.right(), at - 0.8 * em, gap, 1.6 * em)
                painter.drawText(words, int(Qt.AlignmentFlag.AlignCenter), tr(word))
        painter.end()
