"""Colours and sizes of the window, light and dark, as data; every pair that meets on the screen is named here."""

from __future__ import annotations

from dataclasses import dataclass

TEXT, GRAPHIC = 4.5, 3.0
"""Least contrast of text, and of large text and graphics (WCAG 2.2, 1.4.3 and 1.4.11)."""
FAMILY = "Atkinson Hyperlegible"
"""The typeface, regular and bold; shipped by a package, see `groundtone.app.window.fonts`."""


@dataclass(frozen=True)
class Theme:
    """Colours, #RRGGBB.

    Attributes
    ----------
    paper, sheet, face : str
        The ground; the ground of cards, strip and fields; of headings of a group and of what the pointer is on.
    tint, warm : str
        The ground of what is chosen, and of a cue that sounds.
    ink, faint : str
        Text, and text of less weight.
    line, hair : str
        Outlines of what can be pressed; dividers, which never carry a meaning.
    accent, on_accent : str
        Pressure and the one thing to do next; what stands on it.
    band, edge : str
        A band, and its limit.
    outside : str
        Outside a band, and a fault: never alone, a pattern or a shape says it too.
    """

    name: str
    paper: str
    sheet: str
    face: str
    tint: str
    warm: str
    ink: str
    faint: str
    line: str
    hair: str
    accent: str
    on_accent: str
    band: str
    edge: str
    outside: str


LIGHT = Theme(
    "light", paper="#F5F0E6", sheet="#FFFDF8", face="#ECE5D8", tint="#E1EAF2", warm="#FBE7D8", ink="#20242A",
    faint="#5B5A55", line="#857C6D", hair="#DED6C7", accent="#1F4E79", on_accent="#FFFDF8", band="#CFE0EE",
    edge="#3F6F9A", outside="#AB420B",
)  # fmt: skip
DARK = Theme(
    "dark", paper="#151514", sheet="#1F1E1C", face="#2C2A27", tint="#233445", warm="#3D2A1C", ink="#F3EFE6",
    faint="#B8B1A5", line="#8C857A", hair="#3B3834", accent="#8FC1EE", on_accent="#12171D", band="#24415B",
    edge="#74A8D6", outside="#FF9C52",
)  # fmt: skip
THEMES = {theme.name: theme for theme in (LIGHT, DARK)}

# Foreground, ground, least contrast: every pair that the style sheet and the widgets put together.
PAIRS: tuple[tuple[str, str, float], ...] = (
    *(("ink", ground, TEXT) for ground in ("paper", "sheet", "face", "tint", "warm", "band")),
    *(("faint", ground, TEXT) for ground in ("paper", "sheet", "face", "tint", "warm", "band")),
    ("on_accent", "accent", TEXT), ("accent", "paper", TEXT), ("accent", "sheet", TEXT), ("accent", "tint", TEXT),
    *(("outside", ground, TEXT) for ground in ("paper", "sheet", "warm", "tint")),
    *(("line", ground, GRAPHIC) for ground in ("paper", "sheet", "face", "tint")),
    ("edge", "paper", GRAPHIC), ("edge", "sheet", GRAPHIC), ("edge", "band", GRAPHIC),
    ("accent", "band", GRAPHIC), ("outside", "band", GRAPHIC), ("accent", "face", GRAPHIC),
)  # fmt: skip

APART: tuple[tuple[str, str], ...] = (("accent", "outside"), ("outside", "edge"), ("outside", "band"))
"""Pairs whose difference carries a meaning; it must be seen with red-green blindness too."""


def scale_of(width: int, height: int) -> float:
    """How large a window is against 1280 x 720."""
    return min(width / 1280, height / 720)


def em_of(width: int, height: int) -> int:
    """The size of plain text, px: 16 at 1280 x 720, in proportion below (never under 13), half as fast above."""
    s = scale_of(width, height)
    return max(13, round(16 * s)) if s < 1 else round(16 * (1 + (s - 1) / 2))


def call_of(width: int, height: int) -> int:
    """The size of the one word that is read at 2 m, px: it grows as fast as the window."""
    return max(56, round(80 * scale_of(width, height)))


def note_of(em: int) -> int:
    """The size of captions, px."""
    return max(11, round(0.8125 * em))


def stylesheet(theme: Theme, em: int, call: int) -> str:
    """The style sheet of the whole window.

    Parameters
    ----------
    em, call : int
        Sizes of plain text and of the call, px.
    """
    t, u, note = theme, em // 2, note_of(em)
    return f"""
QWidget {{ background: {t.paper}; color: {t.ink}; font-family: "{FAMILY}"; font-size: {em}px; }}
QLabel {{ background: transparent; }}
QWidget[role="sheet"] {{ background: {t.sheet}; border: 1px solid {t.hair}; border-radius: {u}px; }}
QWidget[role="strip"] {{ background: {t.sheet}; border: none; border-bottom: 1px solid {t.hair}; }}
QWidget[role="bar"] {{ background: {t.sheet}; border: none; border-top: 1px solid {t.hair}; }}
QWidget[role="sheet"] QWidget, QWidget[role="strip"] QWidget, QWidget[role="bar"] QWidget
    {{ background: transparent; border: none; }}
QLabel[role="call"] {{ font-size: {call}px; font-weight: bold; }}
QLabel[role="title"] {{ font-size: {round(1.75 * em)}px; font-weight: bold; }}
QLabel[role="lead"] {{ font-size: {round(1.25 * em)}px; }}
QLabel[role="claim"] {{ font-size: {round(1.25 * em)}px; font-weight: bold; }}
QLabel[role="head"] {{ font-weight: bold; }}
QLabel[role="note"] {{ color: {t.faint}; font-size: {note}px; }}
QLabel[role="bad"] {{ color: {t.outside}; font-weight: bold; }}
QPushButton {{ background: transparent; border: 1px solid {t.line}; border-radius: {u}px; padding: 0 {u}px;
    min-height: {4 * u}px; }}
QWidget[role="sheet"] QPushButton, QWidget[role="bar"] QPushButton {{ border: 1px solid {t.line}; }}
QPushButton:hover {{ background: {t.face}; }}
QPushButton:pressed, QPushButton:checked {{ background: {t.tint}; }}
QPushButton:disabled {{ color: {t.faint}; background: {t.face}; border-color: {t.hair}; }}
QPushButton[role="primary"], QWidget[role="bar"] QPushButton[role="primary"] {{
    background: {t.accent}; color: {t.on_accent}; border: 1px solid {t.accent};
    font-weight: bold; }}
QPushButton[role="primary"]:disabled, QWidget[role="bar"] QPushButton[role="primary"]:disabled {{
    background: {t.face}; color: {t.faint}; border-color: {t.hair}; }}
QPushButton[role="who"] {{ background: transparent; border: none; border-radius: 0; padding: 0; min-height: 0; }}
QPushButton[role="place"] {{ background: transparent; border: none; border-radius: 0; padding: 0; }}
QPushButton[role="tab"] {{ background: transparent; border: none; border-bottom: 3px solid transparent;
    border-radius: 0; }}
QPushButton[role="tab"]:checked {{ color: {t.accent}; border-bottom: 3px solid {t.accent}; font-weight: bold; }}
QPushButton:focus, QLineEdit:focus, QComboBox:focus, QTableWidget:focus, QPlainTextEdit:focus, QListWidget:focus,
QPushButton[role="place"]:focus, QPushButton[role="who"]:focus {{ border: 3px solid {t.accent}; }}
QPushButton[role="primary"]:focus {{ border: 3px solid {t.ink}; }}
QLineEdit, QComboBox, QPlainTextEdit, QTextBrowser, QDoubleSpinBox, QListWidget {{ background: {t.sheet};
    border: 1px solid {t.line}; border-radius: {u // 2}px; padding: 0 {u // 2}px; min-height: {4 * u}px; }}
QWidget[role="sheet"] QLineEdit, QWidget[role="sheet"] QComboBox {{ background: {t.sheet};
    border: 1px solid {t.line}; }}
QWidget[role="sheet"] QLineEdit:focus, QWidget[role="sheet"] QComboBox:focus {{ border: 3px solid {t.accent}; }}
QComboBox::drop-down {{ border: none; width: {3 * u}px; }}
QComboBox::down-arrow {{ image: none; width: 0; height: 0; border-left: {u // 2 + 1}px solid {t.sheet};
    border-right: {u // 2 + 1}px solid {t.sheet}; border-top: {u // 2 + 2}px solid {t.faint}; }}
QComboBox QAbstractItemView, QListView {{ background: {t.sheet}; border: 1px solid {t.line}; }}
QComboBox QAbstractItemView::item {{ min-height: {4 * u}px; }}
QComboBox QAbstractItemView::item:selected, QListView::item:selected {{ background: {t.tint}; color: {t.ink}; }}
QTableWidget {{ background: transparent; border: none; }}
QWidget[role="sheet"] QTableWidget:focus {{ border: none; }}
QHeaderView, QHeaderView::section {{ background: transparent; color: {t.faint}; border: none; font-size: {note}px;
    padding: 0 {u // 2}px; min-height: {3 * u}px; }}
QPushButton[role="tick"] {{ border: none; text-align: left; padding: 0; }}
QPushButton[role="tick"]:checked {{ background: transparent; }}
QPushButton[role="tick"]:focus {{ border: 3px solid {t.accent}; }}
QProgressBar {{ border: 1px solid {t.line}; border-radius: {u // 2}px; background: {t.paper}; min-height: {u}px;
    max-height: {u}px; }}
QProgressBar::chunk {{ background: {t.accent}; }}
QScrollArea {{ border: none; }}
QScrollBar:vertical {{ background: {t.sheet}; width: {u}px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {t.line}; border-radius: {u // 2}px; min-height: {4 * u}px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; width: 0; }}
QScrollBar:horizontal {{ background: {t.sheet}; height: {u}px; margin: 0; }}
QScrollBar::handle:horizontal {{ background: {t.line}; border-radius: {u // 2}px; min-width: {4 * u}px; }}
QToolTip {{ background: {t.sheet}; color: {t.ink}; border: 1px solid {t.line}; }}
"""
