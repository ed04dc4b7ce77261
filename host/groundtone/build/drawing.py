"""A drawing as plain shapes in mm, +x right, +y up: what the writers of SVG, DXF and PDF have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Layer = str
LAYERS: dict[Layer, tuple[str, int, str]] = {
    "cut": ("#1B2433", 7, "cut along it"),
    "drill": ("#B03A00", 1, "drill through"),
    "copper": ("#C4500F", 30, "copper tape lies here"),
    "film": ("#5F6772", 8, "film lies here"),
    "glue": ("#2B6CB0", 5, "glue a pad here"),
    "mark": ("#4A7BA6", 4, "draw or scratch it"),
    "words": ("#5F6772", 9, "words"),
}
"""Colour on paper, AutoCAD colour index, and meaning of each layer."""


@dataclass(frozen=True)
class Outline:
    """A closed polygon; `name` says what it is, such as "row 3"."""

    layer: Layer
    points: tuple[tuple[float, float], ...]
    name: str = ""


@dataclass(frozen=True)
class Line:
    """A straight line."""

    layer: Layer
    begin: tuple[float, float]
    end: tuple[float, float]
    name: str = ""


@dataclass(frozen=True)
class Circle:
    """A circle by its centre and diameter."""

    layer: Layer
    centre: tuple[float, float]
    diameter: float
    name: str = ""


@dataclass(frozen=True)
class Words:
    """A text whose lower left corner (or middle) stands at a place; `height` of its capitals, mm."""

    text: str
    at: tuple[float, float]
    height: float = 3.0
    centred: bool = False
    turned: bool = False


Shape = Outline | Line | Circle | Words


@dataclass(frozen=True)
class Drawing:
    """One sheet: its name, its title and its shapes, from (0, 0) to `size_mm`."""

    name: str
    title: str
    size_mm: tuple[float, float]
    shapes: tuple[Shape, ...]

    def named(self, prefix: str) -> list[Outline | Line | Circle]:
        """The shapes whose name begins so, in the order they were drawn."""
        return [shape for shape in self.shapes if not isinstance(shape, Words) and shape.name.startswith(prefix)]


def rectangle(layer: Layer, left: float, bottom: float, width: float, height: float, name: str = "") -> Outline:
    """An upright rectangle."""
    right, top = left + width, bottom + height
    return Outline(layer, ((left, bottom), (right, bottom), (right, top), (left, top)), name)


def chamfered(layer: Layer, width: float, height: float, corner: float, name: str = "") -> Outline:
    """A rectangle from (0, 0) whose corners are cut off at 45°."""
    c = corner
    points = (
        (c, 0.0), (width - c, 0.0), (width, c), (width, height - c),
        (width - c, height), (c, height), (0.0, height - c), (0.0, c),
    )  # fmt: skip
    return Outline(layer, points, name)


def cross(layer: Layer, centre: tuple[float, float], arm: float, name: str = "") -> tuple[Line, Line]:
    """Two short lines that meet in a point."""
    x, y = centre
    return (
        Line(layer, (x - arm, y), (x + arm, y), name),
        Line(layer, (x, y - arm), (x, y + arm), name),
    )


def mirrored(shapes: Sequence[Shape], width: float) -> tuple[Shape, ...]:
    """The shapes seen from below (left and right exchanged); words stay readable."""
    out: list[Shape] = []
    for shape in shapes:
        if isinstance(shape, Outline):
            out.append(Outline(shape.layer, tuple((width - x, y) for x, y in shape.points), shape.name))
        elif isinstance(shape, Line):
            (x0, y0), (x1, y1) = shape.begin, shape.end
            out.append(Line(shape.layer, (width - x0, y0), (width - x1, y1), shape.name))
        elif isinstance(shape, Circle):
            out.append(Circle(shape.layer, (width - shape.centre[0], shape.centre[1]), shape.diameter, shape.name))
        else:
            x = width - shape.at[0] - (0 if shape.centred else 0.62 * shape.height * len(shape.text))
            out.append(Words(shape.text, (x, shape.at[1]), shape.height, shape.centred, shape.turned))
    return tuple(out)
