"""A drawing as SVG at 1:1: the picture's unit is the millimetre, its y axis turned down."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from groundtone.build.drawing import LAYERS, Circle, Drawing, Line, Outline, Shape, Words

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
