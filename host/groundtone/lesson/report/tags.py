"""What each piece of the PDF is, in the order of reading, for whoever has it read aloud (ISO 32000-1, 14.7 and 14.8).

reportlab draws and knows no structure; so each piece is marked with a number while it is drawn, and the tree of what
the numbers are is put in afterwards by pypdf. Whatever is drawn outside of a piece is marked as an artefact.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from pypdf import PdfWriter
from pypdf.generic import (
    ArrayObject,
    BooleanObject,
    DictionaryObject,
    IndirectObject,
    NameObject,
    NumberObject,
    TextStringObject,
)
from reportlab.platypus import Paragraph, Table


@dataclass(eq=False)
class Element:
    """One element of the tree; it is in it once a piece of it has been drawn.

    Attributes
    ----------
    kind : str
        A standard structure type: "H1", "P", "TD" …
    alt : str
        Of a figure: what it shows, in words.
    scope : str
        Of a table's heading: "Column" or "Row".
    parts : list
        Elements within, and the pieces (page, number) that are drawn.
    """

    kind: str
    parent: Element | None = None
    alt: str = ""
    scope: str = ""
    parts: list[Element | tuple[int, int]] = field(default_factory=list)

    def hang(self) -> None:
        """Puts it into its parent, and that one too, unless they are in already."""
        if self.parent is not None and self not in self.parent.parts:
            self.parent.parts.append(self)
            self.parent.hang()


class Tags:
    """Numbers the pieces of each page as they are drawn."""

    def __init__(self) -> None:
        self.document = Element("Document")
        self._pages: dict[int, list[Element]] = {}

    def begin(self, canvas: Any, element: Element) -> None:
        """What is drawn from now on is of this element, until `end`."""
        canvas.addLiteral(self.mark(canvas.getPageNumber() - 1, element))

    def mark(self, page: int, element: Element) -> str:
        """The next piece of a page (from 0) is of this element: the operator that begins it."""
        mine = self._pages.setdefault(page, [])
        element.hang()
        element.parts.append((page, len(mine)))
        mine.append(element)
        return f"/{element.kind} <</MCID {len(mine) - 1}>> BDC"

    def into(self, writer: PdfWriter, language: str) -> None:
        """Puts the tree into a document whose pages were drawn."""
        root = DictionaryObject({NameObject("/Type"): NameObject("/StructTreeRoot")})
        at = writer._add_object(root)
        made: dict[int, IndirectObject] = {}
        root[NameObject("/K")] = ArrayObject([_written(self.document, at, writer, made)])
        numbers = ArrayObject()
        for page, elements in sorted(self._pages.items()):
            writer.pages[page][NameObject("/StructParents")] = NumberObject(page)
            writer.pages[page][NameObject("/Tabs")] = NameObject("/S")
            mine = writer._add_object(ArrayObject([made[id(element)] for element in elements]))
            numbers += [NumberObject(page), mine]
        tree = writer._add_object(DictionaryObject({NameObject("/Nums"): numbers}))
        root[NameObject("/ParentTree")] = tree
        root[NameObject("/ParentTreeNextKey")] = NumberObject(len(writer.pages))
        # Tags came with 1.4, the scopes of a table's headings with 1.5.
        writer.pdf_header = "%PDF-1.7"
        catalogue = writer.root_object
        catalogue[NameObject("/StructTreeRoot")] = at
        catalogue[NameObject("/MarkInfo")] = DictionaryObject({NameObject("/Marked"): BooleanObject(True)})
        catalogue[NameObject("/Lang")] = TextStringObject(language)
        shown = DictionaryObject({NameObject("/DisplayDocTitle"): BooleanObject(True)})
        catalogue[NameObject("/ViewerPreferences")] = shown


def _written(element: Element, parent: IndirectObject, writer: PdfWriter, made: dict[int, Any]) -> IndirectObject:
    """An element and all within it as objects of the document."""
    out = DictionaryObject({
        NameObject("/Type"): NameObject("/StructElem"), NameObject("/S"): NameObject(f"/{element.kind}"),
        NameObject("/P"): parent,
    })  # fmt: skip
    at = writer._add_object(out)
    made[id(element)] = at
    if element.alt:
        out[NameObject("/Alt")] = TextStringObject(element.alt)
    if element.scope:
        out[NameObject("/A")] = DictionaryObject({
            NameObject("/O"): NameObject("/Table"), NameObject("/Scope"): NameObject(f"/{element.scope}"),
        })  # fmt: skip
    within = ArrayObject()
    for part in element.parts:
        if isinstance(part, Element):
            within.append(_written(part, at, writer, made))
        else:
            page, number = part
            within.append(DictionaryObject({
                NameObject("/Type"): NameObject("/MCR"), NameObject("/MCID"): NumberObject(number),
                NameObject("/Pg"): writer.pages[page].indirect_reference,
            }))  # fmt: skip
    out[NameObject("/K")] = within
    return at


class Piece(Paragraph):  # type: ignore[misc]
    """A paragraph that is drawn as a piece of its element; a heading stands in the outline too."""

    def __init__(self, text: str, style: Any, tags: Tags, element: Element, outlined: str = "") -> None:
        super().__init__(text, style)
        self._tags, self._element, self._outlined = tags, element, outlined

    def breakLines(self, width: Any) -> Any:  # noqa: N802 (as reportlab calls it)
        """See reportlab; a line that goes on ends in a blank, or its last word and the next one are read as one."""
        out = super().breakLines(width)
        for line in out.lines[:-1]:
            if out.kind == 0:
                line[1].append("")
            else:
                line.words[-1].text += " "
        return out

    def draw(self) -> None:
        """See reportlab."""
        canvas = self.canv
        if self._outlined:
            key = f"{self._element.kind} {canvas.getPageNumber()} {self._outlined}"
            canvas.bookmarkHorizontal(key, 0, self.height)
            canvas.addOutlineEntry(self._outlined, key, 1)
        self._tags.begin(canvas, self._element)
        super().draw()
        canvas.addLiteral("EMC")


class Grid(Table):  # type: ignore[misc]
    """A table whose lines and grounds are artefacts: nobody has them read aloud."""

    def _drawBkgrnd(self) -> None:  # noqa: N802 (as reportlab calls it)
        self.canv.addLiteral("/Artifact BMC")
        super()._drawBkgrnd()
        self.canv.addLiteral("EMC")

    def _drawLines(self) -> None:  # noqa: N802
        self.canv.addLiteral("/Artifact BMC")
        super()._drawLines()
        self.canv.addLiteral("EMC")
