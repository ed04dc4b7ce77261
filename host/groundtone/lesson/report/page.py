"""The page the pupil takes home: HTML, the same as PDF, a card for a message, and its numbers."""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import jinja2

from groundtone.errors import GroundtoneError, Telling
from groundtone.files import write_whole
from groundtone.lesson.report import paper as colours
from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.content import Content, columns_of, content_of
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.figures import sides_of
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.report.paper import Paper, paper_of
from groundtone.lesson.report.pdf import pdf_page
from groundtone.lesson.report.pictures import as_pdf, as_svg, card_png, drawing, face_picture, swings_picture
from groundtone.lesson.wording import words

# Bytes of a name in a file's name; systems allow 255 for the whole.
_NAME_BYTES = 80


@dataclass(frozen=True)
class PageFiles:
    """A page, made and not yet written.

    Attributes
    ----------
    stem : str
        Its file name without ending.
    card : bytes
        PNG; empty where it was left out.
    numbers : dict
        Plain types: every number of the page with the text it stands in.
    content : Content
        All its words, for a preview.
    doubts : tuple of str
        Sentences about what it cannot show.
    """

    stem: str
    html: str
    pdf: bytes
    card: bytes
    numbers: dict[str, Any] = field(repr=False)
    content: Content = field(repr=False)
    doubts: tuple[str, ...] = ()


def build_page(data: PageData, choice: PageChoice | None = None) -> PageFiles:
    """Makes a page; nothing is written, and the same data give the same page.

    Parameters
    ----------
    data : PageData
        From `groundtone.lesson.report.data.data_for`.

    Raises
    ------
    GroundtoneError
        A language, drill or paper is not there, or the texts are too long for one sheet.
    """
    choice = choice or PageChoice()
    content, paper = content_of(data, choice), paper_of(choice.paper)
    say = words(choice.language)
    with drawing():
        swings = swings_picture(data, say) if content.picture else None
        blocks = [block for _, _, block in sides_of(data, Notation(say, choice.units))] if content.sides else []
        faces = [face_picture(block, say, filled=block is data.after) for block in blocks]
        printed = pdf_page(content, paper, as_pdf([*([swings] if swings else []), *faces]))
        svg = as_svg(swings, "swings", f"{content.picture}. {say('picture.read')}") if swings else ""
        maps = [
            as_svg(face, f"face{i}", f"{say('page.strikes')}. {': '.join(filter(None, content.sides[i]))}")
            for i, face in enumerate(faces)
        ]
        card = card_png(content, data) if choice.card else b""
    html = html_page(content, paper, printed.scales, svg, maps)
    return PageFiles(
        stem_of(data.golfer.name, data.date), html, printed.data, card, numbers_of(data, content), content,
        printed.doubts,
    )  # fmt: skip


def numbers_of(data: PageData, content: Content) -> dict[str, Any]:
    """Every number of a page as plain types."""
    return {
        "golfer": data.golfer.name,
        "date": data.date,
        "language": content.language,
        "invented": data.invented,
        "simulated": data.simulated,
        "finding": data.main or None,
        "swings": {name: len(block.swings) if block else 0 for name, block in
                   (("before", data.before), ("after", data.after), ("drill", data.drill), ("only", data.only))},
        "verdicts": {c.looked.name: c.verdict for c in data.comparison.changes} if data.comparison else {},
        "figures": {f.name: {"value": f.value, "text": f.text} for f in content.figures},
    }  # fmt: skip


def write_page(page: PageFiles, folder: Path, *, as_json: bool = False) -> list[Path]:
    """Writes a page's files; each is wholly there or, after a failure, as it was before.

    Returns
    -------
    list of Path
        HTML, PDF, the card and the JSON, as far as they were asked for.

    Raises
    ------
    GroundtoneError
        The folder cannot be written.
    """
    parts: list[tuple[str, bytes | str]] = [(".html", page.html), (".pdf", page.pdf)]
    parts += [(".png", page.card)] if page.card else []
    if as_json:
        parts.append((".json", json.dumps(page.numbers, indent=1, ensure_ascii=False, allow_nan=False) + "\n"))
    out = []
    for ending, content in parts:
        path = folder / f"{page.stem}{ending}"
        with Telling(GroundtoneError, f"the page cannot be written into {folder}", "choose another folder with --out"):
            write_whole(path, content)
        out.append(path)
    return out


def stem_of(name: str, date: str) -> str:
    """A file name for a golfer's page of a day, good on every system.

    Letters and digits of every script stay. Where something had to go, a few letters made of the whole name follow, so
    that two golfers never share a file.

    Examples
    --------
    >>> stem_of("Ann B", "2026-03-14T10:00:00+01:00")
    'page-Ann-B-2026-03-14'
    """
    day = "".join(c for c in date[:10] if c.isdigit() or c == "-")
    normal = unicodedata.normalize("NFC", name.strip())
    plain = "-".join("".join(c if c.isalnum() or c in "-_" else " " for c in normal).split())
    cut = plain.encode()[:_NAME_BYTES].decode(errors="ignore")
    if cut != normal.replace(" ", "-"):
        cut += ("-" if cut else "") + hashlib.sha256(name.encode("utf-8", "replace")).hexdigest()[:6] if name else ""
    return "-".join(filter(None, ("page", cut, day)))


# A little smaller than in the PDF (10): other machines' fonts are wider, and what overflows goes to another sheet.
_LETTERS_PT = 9.6


def html_page(content: Content, paper: Paper, scales: tuple[float, float], swings: str, faces: Sequence[str]) -> str:
    """The document.

    Parameters
    ----------
    scales : (float, float)
        Of the letters in front and at the back, so that it prints onto one sheet.
    swings : str
        The picture of the swings as an svg element; empty without one.
    faces : sequence of str
        The strike maps, one for each of the content's sides.
    """
    return _template().render(
        c=content, k=colours, say=words(content.language), paper=paper.name, width=f"{paper.width_mm:g}",
        height=f"{paper.height_mm:g}", scales=scales, swings=swings,
        columns=columns_of(content), letters=_LETTERS_PT, faces=list(zip(content.sides, faces, strict=True)),
    )  # fmt: skip


@cache
def _template() -> jinja2.Template:
    text = (files("groundtone.lesson.report") / "page.html.j2").read_text("utf-8")
    environment = jinja2.Environment(autoescape=True, trim_blocks=False, undefined=jinja2.StrictUndefined)
    return environment.from_string(text)
