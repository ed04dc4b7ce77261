"""Drawings as a PDF at 1:1 on pages of a printer at home, with overlaps, crosses to join them and a rule to check.

Page sizes: A4 is 210 × 297 mm (ISO 216); Letter is 8.5 × 11 in = 215.9 × 279.4 mm (ANSI/ASME Y14.1, size A).
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from groundtone.build.drawing import LAYERS, Circle, Drawing, Line, Shape, Words
from groundtone.errors import BuildError

PAGES_MM: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of a page, upright."""
RULE_MM = 100.0
OVERLAP_MM = 10.0
_BORDER = 10.0  # most printers leave less than this unprinted
_FOOT = 22.0  # for the rule and the words under it
_POINT = 72 / 25.4  # points a mm
_FILLS = {"copper": "#F7E3D2", "film": "#ECEEF1", "glue": "#E3EDF6"}


@dataclass(frozen=True)
class Tile:
    """One page of a drawing: which part it shows, mm in the drawing."""

    column: int
    row: int
    left: float
    bottom: float


def window_mm(paper: str) -> tuple[float, float]:
    """Width and height of the part of a drawing that one page shows; BuildError for a paper that is not known."""
    if paper not in PAGES_MM:
        raise BuildError(f"the paper {paper!r} is not known: choose one of {', '.join(PAGES_MM)}")
    width, height = PAGES_MM[paper]
    return width - 2 * _BORDER, height - 2 * _BORDER - _FOOT


def tiles(size_mm: tuple[float, float], paper: str) -> list[Tile]:
    """The pages of a drawing, from the lower left; neighbours share OVERLAP_MM."""
    window = window_mm(paper)
    counts = [
        max(1, math.ceil((size - OVERLAP_MM) / (wide - OVERLAP_MM))) for size, wide in zip(size_mm, window, strict=True)
    ]
    step = [wide - OVERLAP_MM for wide in window]
    return [Tile(i, j, i * step[0], j * step[1]) for j in range(counts[1]) for i in range(counts[0])]


def pdf(drawings: Sequence[Drawing], paper: str, title: str) -> bytes:
    """All pages of some drawings.

    Parameters
    ----------
    paper : str
        "a4" or "letter".

    Returns
    -------
    bytes
        The file.
    """
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=tuple(side * _POINT for side in PAGES_MM.get(paper, (0, 0))), invariant=1)
    canvas.setTitle(title)
    for drawing in drawings:
        pages = tiles(drawing.size_mm, paper)
        for tile in pages:
            canvas.saveState()
            canvas.scale(_POINT, _POINT)
            _page(canvas, drawing, tile, pages, window_mm(paper))
            canvas.restoreState()
            canvas.showPage()
    canvas.save()
    return out.getvalue()


def _page(canvas: Canvas, drawing: Drawing, tile: Tile, pages: Sequence[Tile], window: tuple[float, float]) -> None:
    left, bottom = _BORDER, _BORDER + _FOOT
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(left, bottom, *window)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(left - tile.left, bottom - tile.bottom)
    for layer in LAYERS:
        for shape in drawing.shapes:
            if ("words" if isinstance(shape, Words) else shape.layer) == layer:
                _draw(canvas, shape)
    canvas.restoreState()
    _registration(canvas, tile, pages, left, bottom, window)
    _rule(canvas)
    canvas.setFillColor(HexColor("#1B2433"))
    canvas.setFont("Helvetica", 3.2)
    canvas.drawString(_BORDER + RULE_MM + 6, _BORDER + 9, drawing.title)
    where = "1 page" if len(pages) == 1 else f"part {chr(65 + tile.column)}{tile.row + 1} of {len(pages)}"
    canvas.drawString(_BORDER + RULE_MM + 6, _BORDER + 4, f"{where}; print at 100 %, not fitted to the page")


def _registration(
    canvas: Canvas, tile: Tile, pages: Sequence[Tile], left: float, bottom: float, window: tuple[float, float]
) -> None:
    """Crosses in the middle of each overlap: they lie on the same point of the drawing on both pages."""
    canvas.setStrokeColor(HexColor("#8A2BE2"))
    canvas.setLineWidth(0.15)
    half = OVERLAP_MM / 2
    xs, ys = (left + half, left + window[0] - half), (bottom + half, bottom + window[1] - half)
    there = {(page.column, page.row) for page in pages}
    spots = set()
    for side, x in zip((-1, 1), xs, strict=True):
        if (tile.column + side, tile.row) in there:
            spots |= {(x, y) for y in ys}
    for side, y in zip((-1, 1), ys, strict=True):
        if (tile.column, tile.row + side) in there:
            spots |= {(x, y) for x in xs}
    for x, y in sorted(spots):
        canvas.line(x - 4, y, x + 4, y)
        canvas.line(x, y - 4, x, y + 4)
        canvas.circle(x, y, 2, stroke=1, fill=0)
    canvas.setDash([2, 2])
    canvas.rect(left, bottom, *window, stroke=1, fill=0)
    canvas.setDash()


def _rule(canvas: Canvas) -> None:
    """The line that must measure exactly 100 mm on paper."""
    canvas.setStrokeColor(HexColor("#1B2433"))
    canvas.setFillColor(HexColor("#1B2433"))
    canvas.setLineWidth(0.3)
    y = _BORDER + 8
    canvas.line(_BORDER, y, _BORDER + RULE_MM, y)
    for mm in range(0, int(RULE_MM) + 1, 10):
        canvas.line(_BORDER + mm, y, _BORDER + mm, y + (5 if mm % 50 == 0 else 2.5))
    canvas.setFont("Helvetica", 3.2)
    canvas.drawString(_BORDER, y - 5, "100 mm: measure it before you cut")


def _draw(canvas: Canvas, shape: Shape) -> None:
    if isinstance(shape, Words):
        canvas.setFillColor(HexColor(LAYERS["words"][0]))
        canvas.setFont("Helvetica", shape.height / 0.72)
        canvas.saveState()
        canvas.translate(*shape.at)
        canvas.rotate(90 if shape.turned else 0)
        (canvas.drawCentredString if shape.centred else canvas.drawString)(0, 0, shape.text)
        canvas.restoreState()
        return
    colour = LAYERS[shape.layer][0]
    fill = _FILLS.get(shape.layer)
    canvas.setStrokeColor(HexColor(colour))
    canvas.setLineWidth(0.2)
    if fill is not None:
        canvas.setFillColor(HexColor(fill))
    if isinstance(shape, Circle):
        canvas.circle(*shape.centre, shape.diameter / 2, stroke=1, fill=0)
    elif isinstance(shape, Line):
        canvas.line(*shape.begin, *shape.end)
    else:
        path = canvas.beginPath()
        path.moveTo(*shape.points[0])
        for point in shape.points[1:]:
            path.lineTo(*point)
        path.close()
        canvas.drawPath(path, stroke=1, fill=0 if fill is None else 1)
