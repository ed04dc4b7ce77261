"""Sheets, colours and letters of the page; tests/external/test_page_colours.py judges the colours.

Ink on paper and one hue; orange only where a ribbon has left its band, and there it is striped as well. No meaning
hangs on a colour alone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from matplotlib import font_manager, get_data_path
from matplotlib.ft2font import FT2Font

from groundtone.errors import GroundtoneError

# A font in which a foreign name is set is asked for these many at most: some machines have thousands.
_MOST_FONTS = 600


@dataclass(frozen=True)
class Paper:
    """A sheet, mm (ISO 216; ANSI Letter is 8.5 by 11 inches)."""

    name: str
    width_mm: float
    height_mm: float


PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("letter", 215.9, 279.4)}


def paper_of(name: str) -> Paper:
    """A sheet by its name; GroundtoneError where it is not known."""
    try:
        return PAPERS[name.lower()]
    except KeyError:
        raise GroundtoneError(f"the page is not made on {name!r}: choose from {', '.join(PAPERS)}") from None


def plain_font(bold: bool = False) -> Path:
    """The font of the page; it comes with the drawing library."""
    return Path(get_data_path()) / "fonts" / "ttf" / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")


def missing(texts: Iterable[str], font: Path | None = None) -> set[str]:
    """Characters of some texts that a font (the page's own) has no shape for."""
    known = _characters(str(font or plain_font()))
    return {c for text in texts for c in text if ord(c) not in known and c.isprintable()}


@cache
def _characters(font: str) -> frozenset[int]:
    return frozenset(FT2Font(font).get_charmap())


def font_with(characters: set[str]) -> tuple[str, Path] | None:
    """A font of this machine with all of some characters, its family's name and file; None where there is none.

    Only TrueType outlines are looked at: they can be put into a PDF.
    """
    wanted = {ord(c) for c in characters}
    candidates = sorted(
        {(f.name, f.fname) for f in font_manager.fontManager.ttflist if f.fname.lower().endswith(".ttf")}
    )
    for name, file in candidates[:_MOST_FONTS]:
        if "LastResort" in Path(file).name:
            continue  # it has a box for every character and a shape for none
        try:
            if wanted <= set(FT2Font(file).get_charmap()):
                return name, Path(file)
        except (OSError, RuntimeError):
            continue
    return None


PAPER = "#FFFFFF"
SHADE = "#EEF3F7"
"""Behind the drill."""
DESK = "#E2E6EA"
"""Around the sheets, on a screen."""
INK = "#1B2433"
FAINT = "#56606C"
LINE = "#B9C3CC"
CORRIDOR = "#CFE0EE"
EDGE = "#3F709B"
INSIDE = "#1F4E79"
OUTSIDE = "#C4500F"

TEXTS: tuple[tuple[str, str], ...] = (
    (INK, PAPER), (FAINT, PAPER), (INSIDE, PAPER), (INK, SHADE), (FAINT, SHADE), (INSIDE, SHADE), (INK, CORRIDOR),
    (FAINT, DESK),
)  # fmt: skip
"""Every pair of a text and what it stands on."""
GRAPHICS: tuple[tuple[str, str], ...] = (
    (INSIDE, PAPER), (OUTSIDE, PAPER), (INSIDE, CORRIDOR), (OUTSIDE, CORRIDOR), (EDGE, PAPER), (EDGE, CORRIDOR),
    (INK, PAPER),
)  # fmt: skip
"""Every pair of a line or a mark that says something and what it stands on."""
APART: tuple[tuple[str, str, str], ...] = (
    (INSIDE, OUTSIDE, "a ribbon inside and outside its band"),
    (INSIDE, CORRIDOR, "a ribbon and its band"),
    (OUTSIDE, CORRIDOR, "a ribbon outside and its band"),
    (CORRIDOR, PAPER, "a band and the paper"),
)
"""Pairs of colours that carry a meaning, and which."""


_BACKWARDS = ("R", "AL")


def visual(text: str) -> str:
    """A line with its runs from right to left reversed; blanks and signs between two of their letters belong to them.

    That is enough for a name within other words (the full rules are Unicode Standard Annex 9). Letters that join, as
    the Arabic ones, are set unjoined.

    Examples
    --------
    >>> visual("Ann ab") == "Ann ab", visual("x \u05d0 \u05d1 y") == "x \u05d1 \u05d0 y"
    (True, True)
    """
    out, run, open_ = "", "", ""
    for c in text:
        kind = unicodedata.bidirectional(c)
        if kind in _BACKWARDS:
            run, open_ = run + open_ + c, ""
        elif run and kind not in ("L", "EN", "AN"):
            open_ += c
        else:
            out, run, open_ = out + run[::-1] + open_ + c, "", ""
    return out + run[::-1] + open_


def joins(text: str) -> bool:
    """The text has letters that join."""
    return any(unicodedata.bidirectional(c) == "AL" for c in text)
