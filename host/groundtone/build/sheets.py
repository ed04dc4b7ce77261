"""A mat's drawings as files, 1:1: SVG with a group and DXF with a layer for each kind of line; PDF by `write_pdf`."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from ezdxf import filemanagement
from ezdxf.enums import TextEntityAlignment

from groundtone.build.drawing import LAYERS, Circle, Drawing, Line, Outline, Shape, Words
from groundtone.build.mat_file import Mat
from groundtone.build.panel_drawings import all_drawings
from groundtone.build.write_pdf import PAGES_MM, pdf
from groundtone.files import write_file

_MARGIN = 5.0
_FILLS = {"copper": "#F0C9A8", "film": "#D9DCE1", "glue": "#CFE0EE"}


def svg(drawing: Drawing, line_mm: float = 0.25) -> str:
    """The whole file as text; a shape's name is its title."""
    width, height = drawing.size_mm
    wide, high = width + 2 * _MARGIN, height + 2 * _MARGIN
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.3f}mm" height="{high:.3f}mm" '
        f'viewBox="{-_MARGIN:.3f} {-height - _MARGIN:.3f} {wide:.3f} {high:.3f}">',
        f"<title>{escape(drawing.title)}</title>",
        f'<rect x="{-_MARGIN:.3f}" y="{-height - _MARGIN:.3f}" width="{wide:.3f}" height="{high:.3f}" '
        'fill="#FFFFFF" class="paper"/>',
    ]
    for layer in LAYERS:
        inside = [_element(shape) for shape in drawing.shapes if _layer(shape) == layer]
        if inside:
            colour = LAYERS[layer][0]
            style = (
                f'fill="{colour}" stroke="none" font-family="sans-serif"'
                if layer == "words"
                else f'fill="{_FILLS.get(layer, "none")}" stroke="{colour}" stroke-width="{line_mm}"'
            )
            meaning = f"<title>{escape(LAYERS[layer][2])}</title>"
            lines += [f"<g class={quoteattr(layer)} {style}>{meaning}", *inside, "</g>"]
    return "\n".join([*lines, "</svg>", ""])


def _layer(shape: Shape) -> str:
    return "words" if isinstance(shape, Words) else shape.layer


def _element(shape: Shape) -> str:
    if isinstance(shape, Words):
        x, y = shape.at
        anchor = ' text-anchor="middle"' if shape.centred else ""
        turn = f' transform="rotate(-90 {x:.3f} {-y:.3f})"' if shape.turned else ""
        # Capitals of a sans-serif face are about 0.72 of its size.
        size = f'font-size="{shape.height / 0.72:.2f}"'
        return f'<text x="{x:.3f}" y="{-y:.3f}" {size}{anchor}{turn}>{escape(shape.text)}</text>'
    title = f"<title>{escape(shape.name)}</title>" if shape.name else ""
    if isinstance(shape, Circle):
        x, y = shape.centre
        return f'<circle cx="{x:.3f}" cy="{-y:.3f}" r="{shape.diameter / 2:.3f}">{title}</circle>'
    if isinstance(shape, Line):
        (x0, y0), (x1, y1) = shape.begin, shape.end
        return f'<line x1="{x0:.3f}" y1="{-y0:.3f}" x2="{x1:.3f}" y2="{-y1:.3f}">{title}</line>'
    assert isinstance(shape, Outline)
    points = " ".join(f"{x:.3f},{-y:.3f}" for x, y in shape.points)
    return f'<polygon points="{points}">{title}</polygon>'


def dxf(drawing: Drawing) -> str:
    """The whole file as text (DXF R2010)."""
    document: Any = filemanagement.new("R2010", units=4)  # 4: millimetres
    for layer, (_, colour, _) in LAYERS.items():
        document.layers.add(layer, color=colour)
    space = document.modelspace()
    for shape in drawing.shapes:
        if isinstance(shape, Words):
            place = TextEntityAlignment.BOTTOM_CENTER if shape.centred else TextEntityAlignment.BOTTOM_LEFT
            text = space.add_text(
                shape.text, height=shape.height, rotation=90 if shape.turned else 0, dxfattribs={"layer": "words"}
            )
            text.set_placement(shape.at, align=place)
        elif isinstance(shape, Circle):
            space.add_circle(shape.centre, shape.diameter / 2, dxfattribs={"layer": shape.layer})
        elif isinstance(shape, Line):
            space.add_line(shape.begin, shape.end, dxfattribs={"layer": shape.layer})
        else:
            space.add_lwpolyline(shape.points, close=True, dxfattribs={"layer": shape.layer})
    out = io.StringIO()
    document.write(out)
    return out.getvalue()


def write_templates(mat: Mat, folder: Path, papers: tuple[str, ...] = tuple(PAGES_MM)) -> list[Path]:
    """Write every drawing of a mat into a folder named after its layout.

    Parameters
    ----------
    folder : Path
        The drawings lie in `folder`/`layout id`.
    papers : tuple of str
        Of the PDF files.

    Returns
    -------
    list of Path
        What was written. Everything is computed before the first file is written.

    Raises
    ------
    BuildError
        Where a paper is not known, or nothing can be written.
    """
    drawings = all_drawings(mat)
    inside = folder / mat.layout.id
    ready: list[tuple[Path, bytes | str]] = []
    for drawing in drawings:
        ready += [(inside / f"{drawing.name}.svg", svg(drawing)), (inside / f"{drawing.name}.dxf", dxf(drawing))]
    for paper in papers:
        ready.append((inside / f"all-{paper}.pdf", pdf(drawings, paper, f"{mat.layout.id}, 1:1")))
    for path, content in ready:
        write_file(path, content)
    return [path for path, _ in ready]
