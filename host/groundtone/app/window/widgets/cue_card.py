"""A cue: its shape, its name and where it begins; filled on warm ground while it sounds, hollow while it is silent."""

from __future__ import annotations

from PyQt5.QtCore import QRectF, QSize
from PyQt5.QtGui import QColor, QPainter, QPaintEvent, QPen
from PyQt5.QtWidgets import QWidget

from groundtone.app.language import tr
from groundtone.app.window.theme import note_of
from groundtone.app.window.widgets.parts import LOOK
from groundtone.app.window.widgets.shapes import paint_shape
from groundtone.app.window.widgets.table import fit


class CueCard(QWidget):
    """A cue.

    Parameters
    ----------
    word : str
        "toes" or "trail side".
    shape : str
        As `paint_shape` names it.
    """

    def __init__(self, word: str, shape: str) -> None:
        super().__init__()
        self._word, self._shape = word, shape
        self.size_now, self.silent, self.limit = 0.0, False, float("nan")
        self.setMinimumSize(80, 40)
        self._name()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(11 * LOOK.em, round(3.5 * LOOK.em))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(80, round(3.2 * LOOK.em))

    def show_size(self, size: float, *, silent: bool, limit: float = float("nan")) -> None:
        """0 is inside its band, 1 as far outside as it gets; `silent`: it does not sound for the pupil."""
        limit = self.limit if limit != limit else limit
        if (size, silent, limit) != (self.size_now, self.silent, self.limit):
            self.size_now, self.silent, self.limit = size, silent, limit
            self._name()
            self.update()

    @property
    def state(self) -> str:
        """What it does now, in words."""
        if self.size_now > 0:
            return "out, silent for the pupil" if self.silent else "sounds"
        if self.silent:
            return "silent for the pupil"
        where = "past" if self._shape == "up" else "below"
        return f"begins {where} {100 * self.limit:.0f} %" if self.limit == self.limit else "silent"

    def _name(self) -> None:
        self.setAccessibleName(tr(f"cue {self._word}"))
        self.setAccessibleDescription(tr(self.state))

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = LOOK.theme, LOOK.em
        out = self.size_now > 0
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        card = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.setBrush(QColor(theme.warm if out else theme.sheet))
        painter.setPen(QPen(QColor(theme.outside if out else theme.hair), 2 if out else 1))
        painter.drawRoundedRect(card, em / 2, em / 2)
        side = min(card.height() * 0.45, 1.6 * em)
        box = QRectF(card.left() + em, card.center().y() - side / 2, side, side)
        colour = theme.outside if out else theme.faint
        paint_shape(painter, box, self._shape, colour, filled=out and not self.silent)
        words = QRectF(box.right() + 0.8 * em, card.top(), card.right() - box.right() - em, card.height())
        upper = QRectF(words.left(), words.center().y() - 1.45 * em, words.width(), 1.5 * em)
        lower = QRectF(words.left(), words.center().y() + 0.1 * em, words.width(), 1.3 * em)
        fit(painter, upper, tr(self._word), 1.15 * em, bold=True, colour=theme.ink)
        fit(painter, lower, tr(self.state), note_of(em), bold=False, colour=theme.ink if out else theme.faint)
        painter.end()
