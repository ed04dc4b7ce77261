"""Small parts: labels by role, buttons that show their key, sheets, and the look that all widgets share."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QLabel, QPushButton, QShortcut, QSizePolicy, QVBoxLayout, QWidget

from groundtone.app.window.keys import key_of, labelled
from groundtone.app.window.theme import LIGHT, Theme


class Look:
    """The theme and the size of plain text in force; one for the whole window.

    Attributes
    ----------
    theme : Theme
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
    act : callable
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


def wide(widget: QWidget) -> QWidget:
    """The same, taking all room it can get."""
    widget.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
    return widget
