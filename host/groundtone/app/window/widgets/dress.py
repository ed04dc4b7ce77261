"""How the window is dressed: its typeface, what the style sheet leaves to the system, margins and gaps."""

from __future__ import annotations

from importlib.resources import as_file, files

from PyQt5.QtGui import QColor, QFontDatabase, QPalette
from PyQt5.QtWidgets import QLayout, QWidget

from groundtone.app.window.places.place import Place
from groundtone.app.window.theme import Theme


def load_fonts() -> None:
    """Makes the typeface known; without its package the system's own stands in."""
    try:
        folder = files("fontpkg_atkinson_hyperlegible") / "files"
    except ModuleNotFoundError:
        return
    for weight in ("Regular", "Bold"):
        with as_file(folder / f"AtkinsonHyperlegible-{weight}.ttf") as path:
            QFontDatabase.addApplicationFont(str(path))


def palette_of(theme: Theme) -> QPalette:
    """What the style sheet leaves to the system's style: ticks, arrows, carets."""
    palette = QPalette()
    roles = QPalette.ColorRole
    for which, colour in (
        (roles.Window, theme.paper), (roles.WindowText, theme.ink), (roles.Base, theme.sheet), (roles.Text, theme.ink),
        (roles.Button, theme.face), (roles.ButtonText, theme.ink), (roles.Highlight, theme.accent),
        (roles.HighlightedText, theme.on_accent), (roles.PlaceholderText, theme.faint),
    ):  # fmt: skip
        palette.setColor(which, QColor(colour))
    return palette


def spaced(within: QWidget, strip: QWidget, middle: QWidget | None, unit: int) -> None:
    """Margins and gaps in proportion to the text; a layout without margins keeps none, the strip has its own."""
    for layout in within.findChildren(QLayout):
        owner = layout.parentWidget()
        if owner is strip or strip.isAncestorOf(owner):
            continue
        if not layout.contentsMargins().isNull():
            layout.setContentsMargins(2 * unit, 2 * unit, 2 * unit, 2 * unit)
        if owner is not middle:
            layout.setSpacing(2 * unit if isinstance(owner, Place) else unit)
