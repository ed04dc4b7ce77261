"""Sheets of paper and the fonts that are on every machine with this program."""

from __future__ import annotations

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
        try:
            if wanted <= set(FT2Font(file).get_charmap()):
                return name, Path(file)
        except (OSError, RuntimeError):
            continue
    return None
