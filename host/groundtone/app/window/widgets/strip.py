"""The strip that never leaves: who is here, which block, whether the mat is to be trusted for them, and the clock."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from PyQt5.QtCore import QPointF, QRectF, QSize, Qt, QTimer
from PyQt5.QtGui import QColor, QPainter, QPaintEvent
from PyQt5.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QWidget

from groundtone.app.language import tr, weekday
from groundtone.app.window.keys import key_of
from groundtone.app.window.places.pupil import BLOCK_SWINGS, Checked, Pupil
from groundtone.app.window.views import MatState
from groundtone.app.window.widgets.parts import LOOK, ActButton, Elided, Sign, role
from groundtone.lesson.outside import Outside

_SIGNS = {0: ("disc", "accent"), 1: ("half", "accent"), 2: ("cross", "outside"), 3: ("dashed", "faint")}


class Dots(QWidget):
    """A dot a swing of the block."""

    def __init__(self) -> None:
        super().__init__()
        self.done = 0

    def show_count(self, done: int) -> None:
        """So many swings have been hit."""
        self.done = done
        self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(round((0.75 * BLOCK_SWINGS + 0.5) * LOOK.em), LOOK.em)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = LOOK.theme, LOOK.em
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for i in range(BLOCK_SWINGS):
            painter.setPen(QColor(theme.line))
            painter.setBrush(QColor(theme.accent) if i < self.done else Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF((i + 0.5) * 0.75 * em, self.height() / 2), 0.22 * em, 0.22 * em)
        painter.end()


class WhoButton(ActButton):
    """The pupil's name over hand, club and lie; it opens the pupils."""

    def __init__(self) -> None:
        super().__init__("", key_of("go pupils").key)
        self.second = ""
        self.setObjectName("go pupils")
        role(self, "who")
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)

    def show_words(self, name: str, second: str) -> None:
        """Shows these."""
        self.setText(name)
        self.second = tr(second)
        self.setToolTip(f"{self.text()}, {self.second}")
        self.setAccessibleName(f"{tr('pupil')}: {self.text()}, {self.second}")

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        from groundtone.app.window.widgets.table import fit

        theme, em = LOOK.theme, LOOK.em
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.isChecked():
            painter.fillRect(self.rect(), QColor(theme.tint))
            painter.fillRect(QRectF(0, self.height() - 4, self.width(), 4), QColor(theme.accent))
        if self.hasFocus():
            painter.setPen(QColor(theme.accent))
            for k in range(3):
                painter.drawRect(QRectF(self.rect()).adjusted(k, k, -k - 1, -k - 1))
        wide = 1.9 * em
        room = QRectF(em, 0, self.width() - 1.5 * em - wide, self.height())
        upper = QRectF(room.left(), room.center().y() - 1.5 * em, room.width(), 1.6 * em)
        fit(painter, upper, self.text(), 1.25 * em, bold=True, colour=theme.ink)
        lower = QRectF(room.left(), room.center().y() + 0.15 * em, room.width(), 1.2 * em)
        fit(painter, lower, self.second, max(11, 0.8125 * em), bold=False, colour=theme.faint)
        cap = QRectF(self.width() - wide - em / 4, upper.center().y() - 0.65 * em, wide, 1.3 * em)
        painter.setPen(QColor(theme.line))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(cap, em / 4, em / 4)
        fit(painter, cap.adjusted(em / 3, 0, 0, 0), self.key, 0.75 * em, bold=False, colour=theme.faint)
        painter.end()


class Strip(QWidget):
    """Four parts in a row."""

    def __init__(self, to_pupils: Callable[[], None], clock: Callable[[], datetime.datetime]) -> None:
        super().__init__()
        self._clock = clock
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        role(self, "strip")
        self.who = WhoButton()
        self.who.setCheckable(True)
        self.who.clicked.connect(lambda _=False: to_pupils())
        self.block, self.count, self.dots = Elided("", "head"), Elided("", "note"), Dots()
        self.verdict, self.rests_on, self.sign = Elided("", "head"), Elided("", "note"), Sign(size=1.5)
        self.time, self.date = Elided("", "claim"), Elided("", "note")
        for each in (self.time, self.date):
            each.setAlignment(Qt.AlignmentFlag.AlignRight)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.who, 27)
        middle = QWidget()
        grid = QGridLayout(middle)
        grid.setContentsMargins(8, 4, 0, 4)
        grid.addWidget(self.block, 0, 0, 1, 2)
        grid.addWidget(self.dots, 1, 0)
        grid.addWidget(self.count, 1, 1)
        grid.setSpacing(4)
        grid.setColumnStretch(1, 1)
        row.addWidget(middle, 38)
        trust = QWidget()
        lines = QGridLayout(trust)
        lines.setContentsMargins(0, 4, 0, 4)
        lines.setHorizontalSpacing(8)
        lines.setVerticalSpacing(4)
        lines.addWidget(self.sign, 0, 0, 2, 1)
        lines.addWidget(self.verdict, 0, 1)
        lines.addWidget(self.rests_on, 1, 1)
        lines.setColumnStretch(1, 1)
        row.addWidget(trust, 34)
        when = QWidget()
        two = QGridLayout(when)
        two.setContentsMargins(0, 4, 16, 4)
        two.setSpacing(4)
        two.addWidget(self.time, 0, 0)
        two.addWidget(self.date, 1, 0)
        row.addWidget(when, 16)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._tick)
        self._timer.start(5000)
        self._last: tuple[Pupil, str, Outside | None, int, Checked | None, MatState] | None = None
        self._tick()

    def show_all(
        self, pupil: Pupil, block: str, found: Outside | None, swings: int, checked: Checked | None, mat: MatState
    ) -> None:
        """What is so now.

        Parameters
        ----------
        block : str
            The block that runs, in words; empty: none.
        found : Outside or None
            What was outside in it.
        swings : int
            Hit in this block.
        checked : Checked or None
            The mat's last check for this very pupil.
        """
        self._last = (pupil, block, found, swings, checked, mat)
        self.who.show_words(pupil.shown, pupil.second)
        self.block.setText(block or ("Lesson under way" if pupil.paths else "Before the lesson"))
        counted = f", {found.words} outside" if found is not None and swings else ""
        self.count.setText(f"{swings} of {BLOCK_SWINGS} swings{counted}" if block else "no block runs")
        self.dots.show_count(swings)
        self.dots.setVisible(bool(block))
        self._show_trust(pupil, checked, mat)

    def _show_trust(self, pupil: Pupil, checked: Checked | None, mat: MatState) -> None:
        simulated = "simulated, " if mat.simulated else ""
        if mat.state == "lost":
            self.verdict.setText("Mat lost")
            self.rests_on.setText(mat.sentence or "no frames")
            self.sign.show_shape("cross", "outside")
            return
        if checked is None:
            words = {"none": "No mat", "looking": "Looking for the mat"}.get(mat.state, "Not checked")
            self.verdict.setText(f"{words} for {pupil.called}" if words == "Not checked" else words)
            self.rests_on.setText(f"{simulated}not checked for {pupil.called}")
            self.sign.show_shape("dashed", "faint")
            return
        self.verdict.setText(f"Mat {checked.words} for {pupil.called}")
        self.rests_on.setText(f"{simulated}checked {age_words(checked.at, self._clock())}")
        self.sign.show_shape(*_SIGNS[checked.value])

    def _tick(self) -> None:
        now = self._clock()
        self.time.setText(f"{now:%H:%M}")
        self.date.setText(weekday(now))
        if self._last is not None:
            pupil, _, _, _, checked, mat = self._last
            self._show_trust(pupil, checked, mat)


def age_words(then: datetime.datetime, now: datetime.datetime) -> str:
    """How long ago a check was.

    Examples
    --------
    >>> at = datetime.datetime(2026, 11, 30, 14, 2)
    >>> [age_words(at, at + datetime.timedelta(minutes=m)) for m in (0, 5, 185, 2 * 1440)]
    ['just now', '5 min ago', '3 h ago', '2 days ago']
    """
    minutes = int((now - then).total_seconds() // 60)
    if minutes < 1:
        return "just now"
    if minutes < 60:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 48 * 60 else f"{minutes // 1440} days ago"
