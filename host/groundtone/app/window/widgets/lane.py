"""A swing as a lane, or two of them: side by side, or over each other on event time; with a cursor at one frame."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PyQt5.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt5.QtGui import QColor, QFont, QMouseEvent, QPainter, QPaintEvent, QPen
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.widgets.parts import Look
from groundtone.app.window.widgets.ribbons import (
    OVERALL_MARKS,
    SHARE_MARKS,
    paint_corridor,
    paint_ground,
    paint_ribbon,
    paint_second,
)
from groundtone.cue.rulefile import ribbon_of
from groundtone.review.lane import EVENT_WORDS, spread
from groundtone.review.lane_store import SwingLane

Array = NDArray[np.float64]
Along = Callable[[Array], Array]
# Event time that is shown over each other: from before the takeaway to after the finish.
_STEPS = (-0.35, 3.4)
# The cursor is on an event that lies no farther away, s: half a frame of a mat at 100 frames a second.
_ON_S = 0.0051


class LaneView(QWidget):
    """One or two lanes."""

    cursor_moved = pyqtSignal(int)

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.first: SwingLane | None = None
        self.second: SwingLane | None = None
        self.over = False
        self.frame_at = 0
        self.setMinimumSize(200, 120)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(tr("lanes of the chosen swings"))

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(40 * self._look.em, 32 * self._look.em)

    def show_swings(self, first: SwingLane | None, second: SwingLane | None = None) -> None:
        """Draws these; the cursor goes to the first one's impact."""
        self.first, self.second = first, second
        if first is not None and len(first.t_s):
            self.move_to(int(np.argmin(np.abs(first.t_s))))
        self.update()

    def move_to(self, frame: int) -> None:
        """Puts the cursor at a frame of the first swing, kept inside it."""
        if self.first is None or not len(self.first.t_s):
            return
        self.frame_at = min(max(frame, 0), len(self.first.t_s) - 1)
        self.cursor_moved.emit(self.frame_at)
        self.update()

    def next_event(self) -> None:
        """Puts the cursor at the next event, after the last one at the first again."""
        if self.first is None or not self.first.events:
            return
        here = self.first.t_s[self.frame_at] + 1e-6
        later = [at for at, _ in self.first.events if at > here]
        to = later[0] if later else self.first.events[0][0]
        self.move_to(int(np.searchsorted(self.first.t_s, to)))

    @property
    def words(self) -> str:
        """Where the cursor stands and what it reads there."""
        lane = self.first
        if lane is None or not len(lane.t_s):
            return ""
        at = lane.t_s[self.frame_at]
        named = [name for when, name in lane.events if abs(when - at) <= _ON_S]
        when = f"{abs(at):.2f} s {'before' if at < 0 else 'after'} impact"
        when = f"at {EVENT_WORDS[named[0]]}" if named else when
        return (
            f"{when}: lead share {_cent(lane.share[self.frame_at])}, heel to toe {_cent(lane.overall[self.frame_at])}"
        )

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """Puts the cursor where the lane was clicked."""
        if event is None or self.first is None or not len(self.first.t_s):
            return
        top, high = self._column()
        low, up = self._span()
        at = up - (event.localPos().y() - top) / high * (up - low)
        along = self.first.step if self._stretched else self.first.t_s
        self.move_to(int(np.argmin(np.abs(along - at))))

    @property
    def _stretched(self) -> bool:
        return self.over and self.second is not None

    def _column(self) -> tuple[float, float]:
        em = self._look.em
        return 3.3 * em, self.height() - 5.2 * em

    def _span(self) -> tuple[float, float]:
        if self._stretched:
            return _STEPS
        lanes = [lane for lane in (self.first, self.second) if lane is not None and len(lane.t_s)]
        return min((float(lane.t_s[0]) for lane in lanes), default=-1.5), max(
            (float(lane.t_s[-1]) for lane in lanes), default=1.5
        )

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(theme.sheet))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.first is None:
            painter.setPen(QColor(theme.faint))
            painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignCenter), tr("No swing is chosen."))
        elif self.second is None or self.over:
            self._paint_one(painter, self.first, QRectF(0, 0, self.width(), self.height()), self.second)
        else:
            half = self.width() / 2
            self._paint_one(painter, self.first, QRectF(0, 0, half, self.height()), None)
            self._paint_one(painter, self.second, QRectF(half, 0, half, self.height()), None, cursor=False)
        painter.end()

    def _paint_one(
        self, painter: QPainter, lane: SwingLane, box: QRectF, over: SwingLane | None, *, cursor: bool = True
    ) -> None:
        theme, em = self._look.theme, float(self._look.em)
        top, high = self._column()
        low, up = self._span()
        side = 1.1 * em
        middle = min(8.5 * em, 0.31 * box.width())
        width = (box.width() - middle - 2 * side) / 2
        share = QRectF(box.left() + side, top, width, high)
        overall = QRectF(share.right() + middle, top, width, high)
        painter.setPen(QColor(theme.ink))
        title = f"swing {lane.title}" if over is None else f"plain: swing {lane.title}   dashed: swing {over.title}"
        words = QRectF(box.left() + 0.5 * em, 0, box.width() - em, 1.7 * em)
        fit = painter.fontMetrics().elidedText(tr(title), Qt.TextElideMode.ElideRight, int(words.width()))
        painter.drawText(words, int(Qt.AlignmentFlag.AlignCenter), fit)

        def y(values: Array) -> Array:
            out: Array = top + (up - np.asarray(values, float)) / (up - low) * high
            return out

        along = lane.step if over is not None else lane.t_s
        for part, key, name, marks in (
            (share, "share", "lead share", SHARE_MARKS), (overall, "overall", "heel to toe", OVERALL_MARKS),
        ):  # fmt: skip
            paint_ground(painter, part, theme, em, name, marks)
            painter.save()
            painter.setClipRect(part)
            for begin, end, least, most in lane.limits[key]:
                a, b = y(np.interp([begin, end], lane.t_s, along) if over is not None else np.array([begin, end]))
                paint_corridor(painter, QRectF(part.left(), b, part.width(), a - b), theme, em, least, most)
            values, out = getattr(lane, key), lane.out(key)
            paint_ribbon(painter, part, theme, em, values, y(along), out)
            if over is not None:
                paint_second(painter, part, theme, em, getattr(over, key), y(over.step))
            painter.restore()
        self._events(painter, lane, (share, overall), y, over is not None)
        if over is None:
            self._cues(painter, lane, (share, overall), y)
        if cursor and len(along):
            at = float(y(along[self.frame_at : self.frame_at + 1])[0])
            painter.setPen(QPen(QColor(theme.ink), max(2.0, em / 6)))
            for part in (share, overall):
                painter.drawLine(QPointF(part.left() - 0.6 * em, at), QPointF(part.right() + 0.3 * em, at))

    def _events(
        self, painter: QPainter, lane: SwingLane, boxes: tuple[QRectF, QRectF], y: Along, stretched: bool
    ) -> None:
        theme, em = self._look.theme, float(self._look.em)
        share, overall = boxes
        heights = [float(y(np.array([lane.step_at(at) if stretched else at]))[0]) for at, _ in lane.events]
        order = np.argsort(heights)
        rooms = spread([heights[i] for i in order], 1.9 * em, share.top() + 0.7 * em, share.bottom() - 0.7 * em)
        pen = QPen(QColor(theme.ink), max(1.0, em / 10))
        font = QFont(painter.font())
        narrow = overall.left() - share.right() < 8 * em
        font.setPixelSize(round(0.78 * em if narrow else em))
        painter.setFont(font)
        for i, room in zip(order.tolist(), rooms, strict=True):
            painter.setPen(pen)
            for part in boxes:
                painter.drawLine(QPointF(part.left(), heights[i]), QPointF(part.right(), heights[i]))
            painter.drawLine(QPointF(share.right(), heights[i]), QPointF(share.right() + 0.5 * em, room))
            painter.drawLine(QPointF(overall.left() - 0.5 * em, room), QPointF(overall.left(), heights[i]))
            left, wide = share.right() + 0.4 * em, overall.left() - share.right() - 0.8 * em
            flags = int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap)
            painter.drawText(QRectF(left, room - em, wide, 2 * em), flags, tr(EVENT_WORDS[lane.events[i][1]]))
        font.setPixelSize(round(em))
        painter.setFont(font)

    def _cues(self, painter: QPainter, lane: SwingLane, boxes: tuple[QRectF, QRectF], y: Along) -> None:
        """Hatched strips where a tone sounded, each beside the ribbon it is about."""
        theme, em = self._look.theme, float(self._look.em)
        for begin, end, cue in lane.cues:
            a, b = (float(v) for v in y(np.array([begin, end])))
            left = boxes[0].left() - em if ribbon_of(cue) == "share" else boxes[1].right() + 0.3 * em
            painter.setPen(QPen(QColor(theme.outside), max(1.0, em / 10)))
            painter.setBrush(QColor(theme.paper))
            strip = QRectF(left, b, 0.7 * em, max(2.0, a - b))
            painter.drawRect(strip)
            step = em * 0.4
            for k in range(int(strip.height() / step)):
                at = strip.top() + k * step
                painter.drawLine(QPointF(strip.left(), at + step), QPointF(strip.right(), at))
            painter.setBrush(Qt.BrushStyle.NoBrush)


def _cent(value: float) -> str:
    return "not known" if np.isnan(value) else f"{100 * value:.0f} %"
