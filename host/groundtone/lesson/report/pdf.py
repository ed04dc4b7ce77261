"""The page as a PDF of two pages, front and back: letters shrink until each side fits; pictures are lines.

It is tagged: headings, lists, the table and what the pictures show can be read aloud in order (see `tags`).
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from pypdf import PdfReader, PdfWriter, Transformation
from pypdf.generic import DecodedStreamObject, NameObject
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Spacer, TableStyle

from groundtone.errors import GroundtoneError
from groundtone.lesson.report.content import Content, columns_of
from groundtone.lesson.report.paper import (
    FAINT,
    INK,
    INSIDE,
    LINE,
    PAPER,
    SHADE,
    Paper,
    font_with,
    joins,
    missing,
    plain_font,
    visual,
)
from groundtone.lesson.report.pictures import FACE_MM, SWINGS_MM
from groundtone.lesson.report.tags import Element, Grid, Piece, Tags
from groundtone.lesson.wording import Words, words

_SIDE_MM, _TOP_MM, _FOOT_MM = 15.0, 13.0, 10.0
_PLAIN, _BOLD, _OTHER = "Page", "PageBold", "PageOther"
_OUR_FONT = ("FONTNAME", (0, 0), (-1, -1), _PLAIN)
"""A table asks for its font even where it holds no text, and its own choice would not be in the file."""
_SCALES = (1.14, 1.10, 1.05, 1.0, 0.96, 0.92, 0.88, 0.84, 0.80, 0.76, 0.72, 0.68, 0.64)
"""Sizes to try; the smallest sets the text at 6.4 points."""


@dataclass(frozen=True)
class Printed:
    """A PDF.

    Attributes
    ----------
    scales : (float, float)
        Of the letters in front and at the back.
    doubts : tuple of str
        Sentences about what it cannot show.
    """

    data: bytes
    scales: tuple[float, float]
    doubts: tuple[str, ...] = ()


class _Picture(Flowable):  # type: ignore[misc]
    """Room for a picture that is put in when all is laid out; remembers where it lies."""

    def __init__(
        self, number: int, size_mm: tuple[float, float], placed: list[_Picture], width: float, tags: Tags, told: Element
    ) -> None:
        super().__init__()
        self.number, self.placed, self._tags, self._told = number, placed, tags, told
        self.zoom = min(1.0, width / (size_mm[0] * mm))
        self.width, self.height = size_mm[0] * mm * self.zoom, size_mm[1] * mm * self.zoom
        self.page, self.at, self.mark = 0, (0.0, 0.0), ""

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.page = self.canv.getPageNumber() - 1
        self.at = self.canv.absolutePosition(0, 0)
        self.mark = self._tags.mark(self.page, self._told)
        self.placed.append(self)


def pdf_page(content: Content, paper: Paper, pictures: bytes) -> Printed:
    """The document.

    Parameters
    ----------
    pictures : bytes
        A PDF of the picture of the swings, where the content has one, and of a strike map for each of its sides.

    Raises
    ------
    GroundtoneError
        The texts are too long for one sheet.
    """
    doubts, other = _fonts(content)
    width = (paper.width_mm - 2 * _SIDE_MM) * mm
    height = (paper.height_mm - _TOP_MM - _FOOT_MM) * mm
    placed: list[_Picture] = []
    tags = Tags()
    sheets = [_Sheet(content, words(content.language), scale, width, placed, tags, other) for scale in _SCALES]
    fitting = [
        _largest(((sheet.s, sheet.front()) for sheet in sheets), width, height),
        _largest(((sheet.s, sheet.back()) for sheet in sheets), width, height),
    ]
    out = io.BytesIO()
    size = paper.width_mm * mm, paper.height_mm * mm
    canvas = Canvas(out, pagesize=size, invariant=1, initialFontName=_PLAIN, lang=content.language)
    canvas.setTitle(f"{content.golfer} · {words(content.language)('page.title')}")
    canvas.setAuthor("groundtone")
    for key, (_, side) in zip(("front", "back"), fitting, strict=True):
        canvas.bookmarkPage(key)
        canvas.addOutlineEntry(words(content.language)(f"page.{key}"), key, 0)
        frame = Frame(_SIDE_MM * mm, _FOOT_MM * mm, width, height, 0, 0, 0, 0)
        frame.addFromList(list(side), canvas)
        canvas.showPage()
    canvas.save()
    writer = _with_pictures(out.getvalue(), pictures, placed)
    tags.into(writer, content.language)
    whole = io.BytesIO()
    writer.write(whole)
    return Printed(whole.getvalue(), (fitting[0][0], fitting[1][0]), doubts)


def _largest(tried: Iterable[tuple[float, list[Any]]], width: float, height: float) -> tuple[float, list[Any]]:
    """The first of some sizes in which a side fits."""
    for scale, side in tried:
        if _height(side, width) <= height:
            return scale, side
    raise GroundtoneError("the texts are too long for one sheet: shorten them, or leave a part out")


def _height(story: Sequence[Any], width: float) -> float:
    total = 0.0
    for i, part in enumerate(story):
        # Space before the first and after the last is not laid out.
        total += part.wrap(width, 1e6)[1] + (part.getSpaceBefore() if i else 0.0)
        total += part.getSpaceAfter() if i < len(story) - 1 else 0.0
    return total


def _with_pictures(data: bytes, pictures: bytes, placed: Sequence[_Picture]) -> PdfWriter:
    writer = PdfWriter(clone_from=io.BytesIO(data))
    drawn = PdfReader(io.BytesIO(pictures)).pages if placed else []
    for picture in placed:
        page = drawn[picture.number]
        lines = DecodedStreamObject()
        contents = page.get_contents()
        lines.set_data(b"%s\n%s\nEMC\n" % (picture.mark.encode(), b"" if contents is None else contents.get_data()))
        page[NameObject("/Contents")] = lines
        move = Transformation().scale(picture.zoom).translate(*picture.at)
        writer.pages[picture.page].merge_transformed_page(page, move)
    for page in writer.pages:
        page.compress_content_streams()
    return writer


def _fonts(content: Content) -> tuple[tuple[str, ...], str]:
    """Makes the fonts known; a sentence where a character has no shape on this machine, and the other font's name."""
    for name, bold in ((_PLAIN, False), (_BOLD, True)):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(plain_font(bold))))
    pdfmetrics.registerFontFamily(_PLAIN, normal=_PLAIN, bold=_BOLD, italic=_PLAIN, boldItalic=_BOLD)
    lost = missing(_free_texts(content))
    unjoined = any(joins(text) for text in _free_texts(content))
    doubts = ("The PDF sets letters that should join side by side; the HTML page joins them.",) if unjoined else ()
    if not lost:
        return doubts, ""
    found = font_with(lost)
    if found is not None:
        try:
            # A name once taken keeps its font for as long as the program runs.
            other = f"{_OTHER} {found[1].stem}"
            if other not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(TTFont(other, str(found[1])))
        except TTFError:
            found = None
    if found is None:
        listed = " ".join(sorted(lost))
        return (f"No font of this machine has the characters {listed}: the PDF and the card show boxes in their place, "
                "the HTML page shows them wherever a font has them.", *doubts), ""  # fmt: skip
    return doubts, other


def _free_texts(content: Content) -> list[str]:
    """Texts that people wrote: the others are made of letters that the page's font has."""
    return [content.golfer, content.sub, *(text for _, text in content.said), *content.condition_lines]


class _Sheet:
    """Builds both sides in one size of letters."""

    def __init__(
        self, content: Content, say: Words, scale: float, width: float, placed: list[_Picture], tags: Tags, other: str
    ) -> None:
        self.c, self.say, self.s, self.width, self.placed = content, say, scale, width, placed
        self.tags, self.at = tags, tags.document
        self.lost = missing(_free_texts(content))
        self.other = other

    def style(self, size: float, colour: str = INK, *, bold: bool = False, after: float = 3.0, **more: Any) -> Any:
        size *= self.s
        leading = size * (1.15 if size > 16 * self.s else 1.36)
        return ParagraphStyle(
            "page", fontName=_BOLD if bold else _PLAIN, fontSize=size, leading=leading, textColor=HexColor(colour),
            spaceAfter=after * self.s, splitLongWords=1, **more,
        )  # fmt: skip

    def text(
        self, text: str, size: float = 10.0, colour: str = INK, *, kind: str = "P", scope: str = "", **more: Any
    ) -> Piece:
        element = Element(kind, self.at, scope=scope)
        outlined = text if kind in ("H1", "H2") else ""
        return Piece(self.marked(text), self.style(size, colour, **more), self.tags, element, outlined)

    @contextlib.contextmanager
    def within(self, kind: str) -> Iterator[None]:
        """What is made meanwhile lies within an element of its own."""
        before, self.at = self.at, Element(kind, self.at)
        yield
        self.at = before

    def listed(self, texts: Iterable[str], *style: Any, **more: Any) -> list[Piece]:
        """A list, each with what stands before it."""
        out = []
        with self.within("L"):
            for text in texts:
                with self.within("LI"):
                    out.append(self.text(text, *style, kind="LBody", **more))
        return out

    def picture(self, number: int, size_mm: tuple[float, float], width: float, alt: str) -> _Picture:
        told = Element("Figure", self.at, alt=alt)
        return _Picture(number, size_mm, self.placed, width, self.tags, told)

    def marked(self, text: str) -> str:
        """Text for a paragraph; characters of another font are set in that one."""
        text = visual(text)
        if not self.other:
            return escape(text)
        return "".join(f'<font name="{self.other}">{escape(c)}</font>' if c in self.lost else escape(c) for c in text)

    def labelled(self, label: str, text: str, **more: Any) -> Piece:
        words = f'<font name="{_BOLD}">{escape(label)}:</font> {self.marked(text)}'
        return Piece(words, self.style(10.0, **more), self.tags, Element("P", self.at))

    def heading(self, text: str) -> Piece:
        return self.text(text, 11.5, INSIDE, bold=True, after=2.0, kind="H2")

    def front(self) -> list[Any]:
        """The story of the front."""
        with self.within("Sect"):
            return self._front()

    def back(self) -> list[Any]:
        """The story of the back."""
        with self.within("Sect"):
            return self._back()

    def _front(self) -> list[Any]:
        c, say = self.c, self.say
        out: list[Any] = [self.text(c.golfer, 21, bold=True, kind="H1"), self.text(c.sub, 10, FAINT, after=9)]
        if c.banner:
            out += [self.boxed([self.text(c.banner, 10, bold=True, after=0)], frame=True), Spacer(1, 8 * self.s)]
        for heading, text in c.said:
            out += [self.heading(heading), self.text(text, 11.6, after=8)]
        if c.picture:
            shows = f"{c.picture}. {say('picture.read')}"
            out += [self.heading(c.picture), self.picture(0, SWINGS_MM, self.width, shows)]
            out += [Spacer(1, 3 * self.s), self.text(say("picture.read"), 8.2, FAINT, after=8)]
        if c.drill is not None:
            inside = [
                self.heading(say("page.drill")),
                self.text(c.drill.title, 15.5, bold=True, after=4, kind="H3"),
                self.text(c.drill.aim),
                self.labelled(say("drill.often"), c.drill.often),
                self.labelled(say("drill.feel"), c.drill.feel, after=1.0),
            ]
            out += [self.boxed(inside), Spacer(1, 6 * self.s)]
        return [*out, self.text(say("page.turn_over"), 7.5, FAINT, after=0)]

    def _back(self) -> list[Any]:
        c, say = self.c, self.say
        out: list[Any] = []
        if c.drill is not None:
            out.append(self.heading(f"{say('page.more')}: {c.drill.title}"))
            out += self.listed((f"{i}.  {step}" for i, step in enumerate(c.drill.steps, 1)), after=2)
            out.append(Spacer(1, 3 * self.s))
            out.append(self.labelled(say("drill.band"), " ".join(c.drill.band)))
            out.append(self.labelled(say("drill.stop"), c.drill.stop))
            out.append(self.labelled(say("drill.care"), c.drill.care))
            out.append(self.text(c.drill.source, 7.5, FAINT, after=8))
        if c.strike_lines:
            out.append(self.heading(say("page.strikes")))
            if c.sides:
                out.append(self.maps())
            out.append(self.text(" ".join(c.strike_lines), 8.2, FAINT, after=8))
        if c.rows:
            out += [self.heading(say("page.measures")), self.measures(), Spacer(1, 3 * self.s)]
            out.append(self.text(say("measures.note"), 7.5, FAINT, after=8))
        if c.feel_lines:
            out.append(self.heading(say("feel.title")))
            out += self.listed((f"·  {line}" for line in c.feel_lines), 8.2, after=2.5)
        left = [self.heading(say("page.conditions")), self.text(" ".join(c.condition_lines), after=6)]
        left += [self.heading(say("page.safety")), self.text(say("safety.text"), after=0)]
        right = [self.heading(say("page.limits"))]
        right += self.listed((f"·  {line}" for line in c.limit_lines), 8.2, FAINT, after=2.5)
        gap = 8 * mm
        halves = Grid([[left, "", right]], colWidths=[(self.width - gap) / 2, gap, (self.width - gap) / 2])
        halves.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *_no_padding()]))
        return [*out, halves, Spacer(1, 5 * self.s), self.text(say("page.made"), 7.5, FAINT, after=0)]

    def boxed(self, inside: list[Any], *, frame: bool = False) -> Grid:
        box = Grid([[inside]], colWidths=[self.width])
        pad = (4 if frame else 9) * self.s
        lines = [("BOX", (0, 0), (-1, -1), 1.1, HexColor(INK))] if frame else [
            ("LINEBEFORE", (0, 0), (0, -1), 4, HexColor(INSIDE))]  # fmt: skip
        box.setStyle(TableStyle([
            _OUR_FONT,
            ("BACKGROUND", (0, 0), (-1, -1), HexColor(SHADE)), *lines,
            ("LEFTPADDING", (0, 0), (-1, -1), 11 * self.s), ("RIGHTPADDING", (0, 0), (-1, -1), 9 * self.s),
            ("TOPPADDING", (0, 0), (-1, -1), pad), ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
        ]))  # fmt: skip
        return box

    def maps(self) -> Grid:
        """The strike maps side by side under their counts."""
        cells = []
        for number, (word, counted) in enumerate(self.c.sides, start=1 if self.c.picture else 0):
            title = self.text(f"{word}: {counted}" if word else counted, 10, bold=True, after=1, alignment=TA_CENTER)
            shows = f"{self.say('page.strikes')}. {': '.join(filter(None, (word, counted)))}"
            cells.append([title, self.picture(number, FACE_MM, self.width / 2, shows)])
        cells += [[]] * (2 - len(cells))
        both = Grid([cells], colWidths=[self.width / 2] * 2)
        both.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("ALIGN", (0, 0), (-1, -1), "CENTER"),
                                  *_no_padding()]))  # fmt: skip
        return both

    def measures(self) -> Grid:
        rows: list[list[Piece]] = []
        with self.within("Table"):
            for words_, strong in [(self.c.header, True), *zip(self.c.rows, self.c.strong, strict=True)]:
                with self.within("TR"):
                    scopes = ["Column" if not rows else "Row" if not i else "" for i in range(len(words_))]
                    rows.append([
                        self.text(word, 8.0, bold=strong, after=0, kind="TH" if scope else "TD", scope=scope)
                        for word, scope in zip(words_, scopes, strict=True)
                    ])  # fmt: skip
        out = Grid(rows, colWidths=[part / 100 * self.width for part in columns_of(self.c)])
        out.setStyle(TableStyle([
            _OUR_FONT,
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4), ("TOPPADDING", (0, 0), (-1, -1), 1.6 * self.s),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.9 * self.s),
            ("LINEBELOW", (0, 0), (-1, 0), 1.1, HexColor(INK)), ("LINEBELOW", (0, 1), (-1, -1), 0.5, HexColor(LINE)),
            ("BACKGROUND", (0, 0), (-1, -1), HexColor(PAPER)),
        ]))  # fmt: skip
        return out


def _no_padding() -> list[tuple[Any, ...]]:
    return [_OUR_FONT] + [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
