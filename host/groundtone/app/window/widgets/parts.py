"""Small parts: labels by role, buttons with their key's cap, rows of them, sheets, sentences and steps, pictures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PyQt5.QtCore import QEvent, QRectF, QSize, Qt
from PyQt5.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QPen,
)
from PyQt5.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QPushButton,
    QShortcut,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import tr
from groundtone.app.window.keys import key_of
from groundtone.app.window.theme import LIGHT, Theme


class Look:
    """The theme and the sizes in force; one for the whole window.

    Attributes
    ----------
    em, call : int
        Of plain text, and of the one word that is read at 2 m, px.
    """

    def __init__(self) -> None:
        self.theme: Theme = LIGHT
        self.em, self.call = 16, 80


LOOK = Look()
"""The window's."""


def role(widget: QWidget, name: str) -> None:
    """Gives a widget a role of the style sheet."""
    widget.setProperty("role", name)
    style = widget.style()
    if style is not None:
        style.unpolish(widget)
        style.polish(widget)


class Label(QLabel):
    """A label in the language in force; text is taken as it is, whatever characters it holds."""

    def setText(self, text: str | None) -> None:
        """See Qt."""
        super().setText(tr(text or ""))


def label(text: str = "", name: str = "", *, wrap: bool = True) -> QLabel:
    """A label of a role."""
    out = Label()
    out.setTextFormat(Qt.TextFormat.PlainText)
    out.setText(text)
    out.setWordWrap(wrap)
    if name:
        role(out, name)
    return out


class ActButton(QPushButton):
    """A button whose words are followed by the cap of its key.

    Parameters
    ----------
    words, key : str
        What stands on it; no cap where the key is empty.
    """

    def __init__(self, words: str, key: str = "", *, below: bool = False) -> None:
        super().__init__(tr(words))
        self.key, self._below = tr(key), below
        self.low = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def setText(self, text: str | None) -> None:
        """See Qt."""
        super().setText(tr(text or ""))

    def _fonts(self) -> tuple[QFont, QFont]:
        font = QFont(self.font())
        cap = QFont(font)
        cap.setPixelSize(max(10, round(0.75 * LOOK.em)))
        cap.setBold(False)
        return font, cap

    def _sizes(self) -> tuple[float, float]:
        font, cap = self._fonts()
        # The bold of the chosen one must fit too.
        font.setBold(True)
        words = QFontMetricsF(font).horizontalAdvance(self.text())
        return words, QFontMetricsF(cap).horizontalAdvance(self.key) + 0.6 * LOOK.em if self.key else 0.0

    def sizeHint(self) -> QSize:
        """See Qt."""
        words, cap = self._sizes()
        em = LOOK.em
        if self._below:
            return QSize(round(max(words, cap) + 2 * em), round(3.75 * em))
        return QSize(round(words + cap + (2.0 if cap else 1.5) * em), round((2.0 if self.low else 2.5) * em))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        option = QStyleOptionButton()
        self.initStyleOption(option)
        option.text = ""
        painter = QStylePainter(self)
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        theme, em = LOOK.theme, LOOK.em
        kind = self.property("role")
        lit = kind == "primary" and self.isEnabled()
        colour = theme.on_accent if lit else theme.ink if self.isEnabled() else theme.faint
        if kind in ("place", "tab") and self.isChecked():
            colour = theme.accent
        font, cap = self._fonts()
        font.setBold(kind == "primary" or self.isChecked())
        words, wide = self._sizes()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect())
        high = 1.3 * em
        if self._below:
            left = box.left() + em
            text = QRectF(left, box.center().y() - 1.5 * em, box.width() - em, 1.4 * em)
            key = QRectF(left, text.bottom() + 0.15 * em, wide, high)
        else:
            left = max(box.left() + em / 2, box.center().x() - (words + wide + (em / 2 if wide else 0)) / 2)
            text = QRectF(left, box.top(), words + 2, box.height())
            key = QRectF(left + words + em / 2, box.center().y() - high / 2, wide, high)
        painter.setFont(font)
        painter.setPen(QColor(colour))
        painter.drawText(text, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), self.text())
        if self.key:
            painter.setPen(QPen(QColor(colour if kind == "primary" else theme.line), 1.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(key.adjusted(0.5, 0.5, -0.5, -0.5), em / 4, em / 4)
            painter.setFont(cap)
            painter.setPen(QColor(colour if kind == "primary" else theme.faint if not self.isChecked() else colour))
            painter.drawText(key, int(Qt.AlignmentFlag.AlignCenter), self.key)
        painter.end()


def button(name: str, act: Callable[[], object], home: QWidget | None = None, *, below: bool = False) -> ActButton:
    """A button that shows its key.

    Parameters
    ----------
    name : str
        See `groundtone.app.window.keys`.
    home : QWidget, optional
        The place in which its key works; without it the caller binds the key.
    below : bool
        The key stands below the words.
    """
    key = key_of(name)
    out = ActButton(key.words, key.key, below=below)
    out.setObjectName(name)
    out.setAccessibleName(tr(key.words))
    out.clicked.connect(lambda _=False: _do(act))
    if home is not None:
        bind(name, out.click, home)
    return out


class ActRow(QWidget):
    """Quiet buttons and one primary at the right; quiet ones that do not fit go behind "More" at their left."""

    def __init__(self, quiet: Sequence[ActButton] = (), primary: ActButton | None = None) -> None:
        super().__init__()
        self.quiet, self.primary = list(quiet), primary
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self._more = ActButton("More")
        self._more.setAccessibleName(tr("more actions"))
        self._menu = QMenu(self)
        self._more.setMenu(self._menu)
        row.addWidget(self._more)
        for each in self.quiet:
            row.addWidget(each)
        if primary is not None:
            role(primary, "primary")
            row.addWidget(primary)
        self._more.hide()

    def wanted(self) -> int:
        """Its width with all buttons, px."""
        return self._wide([*self.quiet, *([self.primary] if self.primary else [])])

    def _wide(self, buttons: Sequence[ActButton]) -> int:
        gap = LOOK.em // 2
        return sum(each.sizeHint().width() + gap for each in buttons)

    def fit(self, width: int) -> None:
        """Shows what fits into a width."""
        shown = list(self.quiet)
        last = [self.primary] if self.primary else []
        more = self._more.sizeHint().width() + LOOK.em // 2
        while shown and self._wide([*shown, *last]) + (more if len(shown) < len(self.quiet) else 0) > width:
            shown.pop(0)
        self._menu.clear()
        for each in self.quiet:
            each.setVisible(each in shown)
            if each not in shown:
                action = self._menu.addAction(f"{each.text()}   {each.key}")
                if action is not None:
                    action.triggered.connect(lambda _=False, each=each: each.click())
        self._more.setVisible(len(shown) < len(self.quiet))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(0, 0)


_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class Entry(QLineEdit):
    """A line in which Enter belongs to what is written, not to the place."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(tr(name))
        self.setMinimumWidth(40)

    def event(self, event: QEvent | None) -> bool:
        """See Qt."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and event.key() in _ENTER:
            event.accept()
            return True
        return super().event(event)


class Elided(QLabel):
    """One line that is shortened at its end where there is no room; whole under the pointer and for a screen reader."""

    def __init__(self, text: str = "", name: str = "") -> None:
        super().__init__(text)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setMinimumWidth(10)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        if name:
            role(self, name)
        self.setText(text)

    def setText(self, text: str | None) -> None:
        """See Qt."""
        text = tr(text or "")
        super().setText(text)
        self.setToolTip(text)
        self.setAccessibleName(text)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        words = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(self.rect(), int(self.alignment()) | int(Qt.AlignmentFlag.AlignVCenter), words)
        painter.end()


class Sign(QWidget):
    """One drawn shape.

    Parameters
    ----------
    size : float
        In sizes of plain text.
    """

    def __init__(self, shape: str = "", size: float = 1.0) -> None:
        super().__init__()
        self.shape, self.colour, self.filled, self._size = shape, "ink", True, size

    def show_shape(self, shape: str, colour: str = "ink", *, filled: bool = True) -> None:
        """Draws another one; `colour` is a name of the theme."""
        self.shape, self.colour, self.filled = shape, colour, filled
        self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(round(self._size * LOOK.em), round(self._size * LOOK.em))

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        if not self.shape:
            return
        from groundtone.app.window.widgets.shapes import paint_shape

        painter = QPainter(self)
        side = min(self.width(), self.height(), self._size * LOOK.em) * 0.86
        box = QRectF(0, 0, side, side)
        box.moveCenter(QRectF(self.rect()).center())
        paint_shape(painter, box, self.shape, getattr(LOOK.theme, self.colour), filled=self.filled)
        painter.end()


class Tick(ActButton):
    """Something to choose or leave out: a box with a mark, not a colour, says which."""

    def __init__(self, words: str, *, checked: bool = True) -> None:
        super().__init__(words)
        self.setCheckable(True)
        self.setChecked(checked)
        self.setAccessibleName(tr(words))
        role(self, "tick")

    def sizeHint(self) -> QSize:
        """See Qt."""
        words, _ = self._sizes()
        return QSize(round(words + 2.4 * LOOK.em), 2 * LOOK.em)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """See Qt."""
        theme, em = LOOK.theme, LOOK.em
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(2, (self.height() - em) / 2, em, em)
        painter.setPen(QPen(QColor(theme.accent if self.hasFocus() else theme.line), 2.5 if self.hasFocus() else 1.2))
        painter.setBrush(QColor(theme.accent if self.isChecked() else theme.sheet))
        painter.drawRoundedRect(box, em / 5, em / 5)
        if self.isChecked():
            from groundtone.app.window.widgets.shapes import paint_shape

            paint_shape(painter, box.adjusted(em / 5, em / 5, -em / 5, -em / 5), "tick", theme.on_accent)
        painter.setPen(QColor(theme.ink))
        words = QRectF(box.right() + em / 2, 0, self.width() - box.right() - em / 2, self.height())
        fit = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, int(words.width()))
        painter.drawText(words, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), fit)
        painter.end()


def bind(name: str, act: Callable[[], object], home: QWidget) -> None:
    """Binds an action's key, working while the focus is in `home` or anywhere below it."""
    short = QShortcut(key_of(name).key, home)
    short.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
    short.setAutoRepeat(name.startswith(("frame", "ten", "swing", "cell")))
    short.activated.connect(partial(_do, act))


def _do(act: Callable[[], object]) -> None:
    act()


def sheet(*widgets: QWidget, stretch: int | None = None) -> QWidget:
    """Widgets on a sheet, one below the other; the one at `stretch` takes what room is left."""
    out = QWidget()
    out.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
    role(out, "sheet")
    column = QVBoxLayout(out)
    for i, widget in enumerate(widgets):
        column.addWidget(widget, 1 if i == stretch else 0)
    if stretch is None:
        column.addStretch(1)
    return out
