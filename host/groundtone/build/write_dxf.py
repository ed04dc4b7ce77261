"""A drawing as DXF at 1:1 in mm, one DXF layer a layer: for a laser cutter, a mill or a drawing program."""

from __future__ import annotations

import io
from typing import Any

from ezdxf import filemanagement
from ezdxf.enums import TextEntityAlignment

from groundtone.build.drawing import LAYERS, Circle, Drawing, Line, Words


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
