"""Colours and sizes of the window, light and dark, as data; every pair that meets on the screen is named here."""

from __future__ import annotations

from dataclasses import dataclass

TEXT, GRAPHIC = 4.5, 3.0
"""Least contrast of text, and of large text and graphics (WCAG 2.2, 1.4.3 and 1.4.11)."""


@dataclass(frozen=True)
class Theme:
    """Colours, #RRGGBB.

    Attributes
    ----------
    paper, sheet : str
        The ground, and the ground of what lies on it.
    ink, faint : str
        Text, and text of less weight.
    line : str
        Edges of buttons and fields.
    face : str
        A button's face.
    inside, outside : str
        A ribbon within its band, and outside it. Blue and orange stay apart with red-green blindness, and a pattern
        tells them apart as well.
    corridor, edge : str
        A band, and its limit.
    dot : str
        The one hue of the cells.
    """

    name: str
    paper: str
    sheet: str
    ink: str
    faint: str
    line: str
    face: str
    inside: str
    outside: str
    corridor: str
    edge: str
    dot: str


LIGHT = Theme(
    "light", paper="#FCFBF7", sheet="#F1EFE8", ink="#1B2433", faint="#545C67", line="#767D88", face="#E6E3DA",
    inside="#1F4E79", outside="#B4470D", corridor="#CFE0EE", edge="#3F6F9A", dot="#1F4E79",
)  # fmt: skip
DARK = Theme(
    "dark", paper="#12161D", sheet="#1C222C", ink="#F0F2F5", faint="#AAB3C0", line="#7C8796", face="#2B3340",
    inside="#8CC0EF", outside="#FF9C52", corridor="#22405C", edge="#74A8D6", dot="#8CC0EF",
)  # fmt: skip
THEMES = {theme.name: theme for theme in (LIGHT, DARK)}

# Foreground, ground, least contrast: every pair that the style sheet and the widgets put together.
PAIRS: tuple[tuple[str, str, float], ...] = (
    ("ink", "paper", TEXT), ("ink", "sheet", TEXT), ("ink", "face", TEXT), ("ink", "corridor", TEXT),
    ("faint", "paper", TEXT), ("faint", "sheet", TEXT), ("faint", "face", TEXT),
    ("paper", "inside", TEXT), ("paper", "outside", TEXT),
    ("outside", "paper", TEXT), ("outside", "sheet", TEXT), ("inside", "paper", TEXT), ("inside", "sheet", TEXT),
    ("line", "paper", GRAPHIC), ("line", "sheet", GRAPHIC), ("line", "face", GRAPHIC),
    ("edge", "paper", GRAPHIC), ("edge", "sheet", GRAPHIC), ("edge", "corridor", GRAPHIC),
    ("inside", "corridor", GRAPHIC), ("outside", "corridor", GRAPHIC),
    ("dot", "sheet", GRAPHIC), ("dot", "paper", GRAPHIC), ("inside", "face", GRAPHIC),
)  # fmt: skip

APART: tuple[tuple[str, str], ...] = (("inside", "outside"), ("outside", "edge"), ("outside", "corridor"))
"""Pairs whose difference carries a meaning; it must be seen with red-green blindness too."""


def em_of(width: int, height: int) -> int:
    """The size of plain text, px, for a window: 16 at 1280 x 720, in proportion from there, never below 13."""
    return max(13, round(16 * min(width / 1280, height / 720)))


def stylesheet(theme: Theme, em: int) -> str:
    """The style sheet of the whole window.

    Parameters
    ----------
    em : int
        Size of plain text, px. Main words have four times that: at 1280 x 720 on a screen of 300 mm they are 11 mm
        high, which is read at 2 m.
    """
    t, thin = theme, max(1, em // 12)
    return f"""
QWidget {{ background: {t.paper}; color: {t.ink}; font-size: {em}px; }}
QLabel {{ background: transparent; }}
QWidget[role="sheet"] {{ background: {t.sheet}; border-radius: {em // 2}px; }}
QWidget[role="sheet"] QWidget {{ background: transparent; }}
QLabel[role="main"] {{ font-size: {4 * em}px; font-weight: bold; }}
QLabel[role="large"] {{ font-size: {round(2.4 * em)}px; font-weight: bold; }}
QLabel[role="title"] {{ font-size: {round(1.35 * em)}px; font-weight: bold; }}
QLabel[role="faint"] {{ color: {t.faint}; }}
QLabel[role="bad"] {{ color: {t.outside}; font-weight: bold; }}
QPushButton {{ background: {t.face}; border: {thin}px solid {t.line}; border-radius: {em // 3}px;
    padding: {em // 3}px {em // 2}px; min-height: {round(1.5 * em)}px; }}
QWidget[role="sheet"] QPushButton {{ background: {t.face}; }}
QPushButton:focus, QLineEdit:focus, QComboBox:focus, QListWidget:focus, QPlainTextEdit:focus, QTableWidget:focus
    {{ border: {2 * thin + 1}px solid {t.inside}; }}
QPushButton:pressed, QPushButton:checked {{ background: {t.inside}; color: {t.paper}; }}
QWidget[role="sheet"] QPushButton:pressed, QWidget[role="sheet"] QPushButton:checked
    {{ background: {t.inside}; color: {t.paper}; }}
QPushButton:disabled {{ color: {t.faint}; border-style: dotted; }}
QPushButton[role="place"] {{ text-align: left; font-size: {round(1.25 * em)}px; padding: {em // 2}px;
    min-height: {2 * em}px; }}
QPushButton[role="place"]:checked {{ font-weight: bold; }}
QLineEdit, QComboBox, QListWidget, QPlainTextEdit, QTableWidget, QTextBrowser, QDoubleSpinBox
    {{ background: {t.paper}; border: {thin}px solid {t.line}; border-radius: {em // 4}px; padding: {em // 5}px; }}
QWidget[role="sheet"] QLineEdit, QWidget[role="sheet"] QComboBox, QWidget[role="sheet"] QListWidget,
QWidget[role="sheet"] QPlainTextEdit, QWidget[role="sheet"] QTableWidget {{ background: {t.paper}; }}
QListWidget::item, QComboBox QAbstractItemView::item {{ min-height: {round(1.7 * em)}px; }}
QListWidget::item:selected, QTableWidget::item:selected, QComboBox QAbstractItemView::item:selected
    {{ background: {t.inside}; color: {t.paper}; }}
QComboBox QAbstractItemView {{ background: {t.paper}; border: {thin}px solid {t.line}; }}
QHeaderView::section {{ background: {t.sheet}; color: {t.ink}; border: none; padding: {em // 4}px; }}
QPushButton[role="tick"], QWidget[role="sheet"] QPushButton[role="tick"], QPushButton[role="tick"]:checked,
QWidget[role="sheet"] QPushButton[role="tick"]:checked {{ background: transparent; color: {t.ink};
    border-color: transparent; text-align: left; padding: 0; }}
QPushButton[role="tick"]:focus {{ border: {2 * thin + 1}px solid {t.inside}; }}
QProgressBar {{ border: {thin}px solid {t.line}; border-radius: {em // 4}px; background: {t.paper};
    min-height: {em}px; max-height: {em}px; }}
QProgressBar::chunk {{ background: {t.inside}; }}
QScrollBar:vertical {{ background: {t.sheet}; width: {em}px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {t.line}; border-radius: {em // 3}px; min-height: {2 * em}px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; width: 0; }}
QScrollBar:horizontal {{ background: {t.sheet}; height: {em}px; margin: 0; }}
QScrollBar::handle:horizontal {{ background: {t.line}; border-radius: {em // 3}px; min-width: {2 * em}px; }}
QSplitter::handle {{ background: {t.line}; }}
QToolTip {{ background: {t.sheet}; color: {t.ink}; border: {thin}px solid {t.line}; }}
"""
