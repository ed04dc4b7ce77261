"""Counts over lessons: an open ring for the baseline, a square for the test, each with its interval; never pooled."""

from __future__ import annotations

from PyQt5.QtCore import QPointF, QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QPainter, QPaintEvent, QPen
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import LOOK
from groundtone.app.window.widgets.table import fit
from groundtone.lesson.outcome import Outcome, day_of
from groundtone.lesson.outside import Outside


class OutcomeChart(QWidget):
    """Swings outside the band, lesson by lesson."""

    def __init__(self) -> None:
        super().__init__()
        self.outcome: Outcome | None = None
        self.setMinimumSize(200, 140)
        self.setAccessibleName(tr("swings outside, lesson by lesson"))

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(40 * LOOK.em, 18 * LOOK.em)

    def show_outcome(self, outcome: Outcome | None) -> None:
        """Draws one fault."""
        self.outcome = outcome
        words = [
            f"{day_of(each.day)}: baseline {each.baseline.words}, test {each.test.words}"
            for each in (outcome.lessons if outcome is not None else ())
        ]
        self.setAccessibleDescription(tr("; ".join(words)))
        self.update()

    @property
    def points(self) -> int:
        """Marks that are drawn."""
        lessons = self.outcome.lessons if self.outcome is not None else ()
        return sum(bool(each.baseline.of) + bool(each.test.of) for each in lessons)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        if self.outcome is None or not self.outcome.lessons:
            return
        theme, em = LOOK.theme, LOOK.em
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plot = QRectF(3.5 * em, 1.0 * em, self.width() - 4.0 * em, self.height() - 4.6 * em)
        for share, word in ((1.0, "all"), (0.5, "half"), (0.0, "none")):
            y = plot.bottom() - share * plot.height()
            painter.setPen(QPen(QColor(theme.hair if share else theme.line), 1.5))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            room = QRectF(0, y - 0.7 * em, 3 * em, 1.4 * em)
            fit(painter, room, tr(word), note_of(em), bold=False, colour=theme.faint, right=True)
        # The newest ones, as many as have room for a date in full.
        lessons = self.outcome.lessons[-max(1, int(plot.width() // (7 * em))) :]
        step = plot.width() / len(lessons)
        last: QPointF | None = None
        for i, each in enumerate(lessons):
            middle = plot.left() + (i + 0.5) * step
            apart = min(step / 4, 4 * em)
            for found, x, test in ((each.baseline, middle - apart, False), (each.test, middle + apart, True)):
                if not found.of:
                    continue
                at = QPointF(x, plot.bottom() - found.n / found.of * plot.height())
                if last is not None:
                    style = Qt.PenStyle.SolidLine if test and each.baseline.of else Qt.PenStyle.DotLine
                    painter.setPen(QPen(QColor(theme.accent), 2, style))
                    painter.drawLine(last, at)
                last = at
            day = QRectF(middle - step / 2, plot.bottom() + 1.9 * em, step, 1.4 * em)
            self._centred(painter, day, day_of(each.day), bold=True)
        for i, each in enumerate(lessons):
            middle = plot.left() + (i + 0.5) * step
            apart = min(step / 4, 4 * em)
            self._mark(painter, plot, each.baseline, middle - apart, step, test=False)
            self._mark(painter, plot, each.test, middle + apart, step, test=True)
        painter.end()

    def _mark(self, painter: QPainter, plot: QRectF, found: Outside, x: float, step: float, *, test: bool) -> None:
        if not found.of:
            return
        theme, em = LOOK.theme, LOOK.em
        y = plot.bottom() - found.n / found.of * plot.height()
        low, high = found.interval
        painter.setPen(QPen(QColor(theme.edge), 2))
        ends = (plot.bottom() - share * plot.height() for share in (low, high))
        painter.drawLine(*(QPointF(x, end) for end in ends))
        painter.setPen(QPen(QColor(theme.accent), em / 6))
        painter.setBrush(QColor(theme.accent if test else theme.sheet))
        box = QRectF(x - 0.4 * em, y - 0.4 * em, 0.8 * em, 0.8 * em)
        if test:
            painter.drawRect(box)
        else:
            painter.drawEllipse(box)
        wide = min(4 * em, step / 2 - em)
        # Beside its mark, and never on one of the lines at all, half and none.
        at = next((line for line in (0.0, 0.5, 1.0) if abs(found.n / found.of - line) * plot.height() < 0.7 * em), None)
        room = QRectF(x + 0.6 * em, y - (0.7 if at is None else 1.5) * em, wide, 1.4 * em)
        fit(painter, room, tr(found.words), em, bold=True, colour=theme.ink)
        word = QRectF(x - step / 4, plot.bottom() + 0.5 * em, step / 2, 1.3 * em)
        self._centred(painter, word, "test" if test else "baseline", bold=False)

    def _centred(self, painter: QPainter, room: QRectF, text: str, *, bold: bool) -> None:
        font = painter.font()
        font.setBold(bold)
        font.setPixelSize(LOOK.em if bold else note_of(LOOK.em))
        painter.setFont(font)
        painter.setPen(QColor(LOOK.theme.ink if bold else LOOK.theme.faint))
        words = painter.fontMetrics().elidedText(tr(text), Qt.TextElideMode.ElideRight, int(room.width()))
        painter.drawText(room, int(Qt.AlignmentFlag.AlignCenter), words)
