"""Small parts: labels by role, buttons that show their key, sheets, lists of sentences and steps, pictures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PyQt5.QtCore import QRectF, QSize, Qt
from PyQt5.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap
from PyQt5.QtWidgets import (
    QDialog,
    QGridLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QShortcut,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.window.keys import key_of, labelled, of_place
from groundtone.app.window.theme import LIGHT, Theme


class Look:
    """The theme and the size of plain text in force; one for the whole window.

    Attributes
    ----------
    em : int
        px.
    """

    def __init__(self) -> None:
        self.theme: Theme = LIGHT
        self.em = 16


def role(widget: QWidget, name: str) -> None:
    """Gives a widget a role of the style sheet."""
    widget.setProperty("role", name)
    style = widget.style()
    if style is not None:
        style.unpolish(widget)
        style.polish(widget)


def label(text: str = "", name: str = "", *, wrap: bool = True) -> QLabel:
    """A label of a role; text is taken as it is, whatever characters it holds."""
    out = QLabel(text)
    out.setTextFormat(Qt.TextFormat.PlainText)
    out.setWordWrap(wrap)
    if name:
        role(out, name)
    return out


def button(name: str, act: Callable[[], None], home: QWidget | None = None) -> QPushButton:
    """A button that shows its key.

    Parameters
    ----------
    name : str
        See `groundtone.app.window.keys`.
    home : QWidget, optional
        The place in which its key works; without it the caller binds the key.
    """
    out = QPushButton(labelled(name))
    out.setObjectName(name)
    out.setAccessibleName(key_of(name).words)
    out.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    out.clicked.connect(lambda _=False: act())
    if home is not None:
        bind(name, out.click, home)
    return out


def tick(words: str, *, checked: bool = True) -> QPushButton:
    """Something to choose or leave out: a box with a mark, not a colour, says which."""
    out = QPushButton()
    out.setCheckable(True)
    out.setAccessibleName(words)
    role(out, "tick")

    def show(on: bool) -> None:
        out.setText(f"{'☑' if on else '☐'}  {words}")

    out.toggled.connect(show)
    out.setChecked(checked)
    show(checked)
    return out


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


class KeysDialog(QDialog):
    """Lists the keys of a place and those that work everywhere."""

    def __init__(self, place: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys")
        grid = QGridLayout(self)
        keys = of_place(place)
        half = (len(keys) + 1) // 2
        for i, key in enumerate(keys):
            column = 2 * (i // half)
            grid.addWidget(label(key.key, "title", wrap=False), i % half, column)
            grid.addWidget(label(key.words, wrap=False), i % half, column + 1)
        close = QPushButton("Close  [Esc]")
        close.clicked.connect(self.accept)
        grid.addWidget(close, half, 0, 1, 4, Qt.AlignmentFlag.AlignRight)


class Sentences(QScrollArea):
    """Sentences one below the other, wrapped, as many as there are."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.texts: tuple[str, ...] = ()
        self.show_all(())

    def show_all(self, sentences: Sequence[tuple[str, bool]]) -> None:
        """Shows these instead of what was there: each with whether it is bad."""
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 0, 0)
        for text, bad in sentences:
            line = label(f"!  {text}" if bad else text, "bad" if bad else "")
            column.addWidget(line)
        column.addStretch(1)
        self.texts = tuple(text for text, _ in sentences)
        self.setWidget(inner)


class Steps(QWidget):
    """Steps one below the other."""

    def __init__(self) -> None:
        super().__init__()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._steps: tuple[str, ...] = ()

    def show_steps(self, steps: tuple[str, ...], at: int) -> None:
        """Draws the steps, the one at `at` being now."""
        if steps != self._steps:
            while (item := self._column.takeAt(0)) is not None:
                if (old := item.widget()) is not None:
                    old.deleteLater()
            for _ in steps:
                self._column.addWidget(label())
            self._steps = steps
        for i, step in enumerate(steps):
            item = self._column.itemAt(i)
            line = item.widget() if item is not None else None
            if line is not None:
                mark = "✓" if i < at else "➤" if i == at else "·"
                line.setText(f"{mark}  {step}")
                role(line, "title" if i == at else "faint" if i > at else "")


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
        self.setAccessibleName(name)
        self.setMinimumSize(80, 80)

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
