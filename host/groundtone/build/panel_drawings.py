"""The layers of a panel from below to above, and the base rule: where everything lies, taken from the layout.

Each sheet is seen from above, the heel end below, +x across from the panel's left edge, +y along the foot, in mm. All
sheets of a panel share one origin, the lower left corner of the base plate, so that they lie on each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from groundtone.build.drawing import Circle, Drawing, Line, Outline, Shape, Words, chamfered, cross, mirrored, rectangle
from groundtone.build.mat_file import Mat
from groundtone.mat.layout import LEFT, PANELS

_TAIL_MM = 6.0  # how far a row's copper ends before the plate's edge
_FILM_OVER_MM = 2.0  # film reaches this far over the last crossing's copper
_RULE_MM = 34.0  # width of the base rule
BALL_STRIP_MM = (400.0, 300.0)
"""Length and depth of the ball's strip: nothing hard lies within 150 mm of the ball's line."""
_BALL_FROM_GOLFER_MM = 190.0
RIM_MM = 10.0
"""Width of the firm rim that carries the cover's edge."""
_RIM_FREE_MM = 3.0  # between rim and active area


@dataclass(frozen=True)
class Place:
    """Where one panel's active area lies on its plate, mm.

    Attributes
    ----------
    left, bottom : float
        Of the active area.
    outer_left : bool
        The outer side is on the left.
    """

    left: float
    bottom: float
    outer_left: bool


def place(mat: Mat, panel: int) -> Place:
    """Of one panel: LEFT has its outer side on the left, RIGHT on the right."""
    left = mat.panel.margin_outer_mm if panel == LEFT else mat.panel.margin_inner_mm
    return Place(left, mat.panel.margin_heel_mm, panel == LEFT)


def crossing(mat: Mat, panel: int, row: int, column: int) -> tuple[float, float]:
    """Centre of a cell's crossing on the plate, mm; `column` counts within the panel."""
    at = place(mat, panel)
    return at.left + float(mat.layout.v_mm[column]), at.bottom + float(mat.layout.u_mm[row])


def seams(mat: Mat) -> list[float]:
    """Where the film is joined along a column, mm from the heel end of the active area: always between two rows.

    As few pieces as the sheet's length allows, of nearly equal length.
    """
    layout, sheet = mat.layout, mat.film.sheet_mm
    per_piece = int((sheet - 2 * _FILM_OVER_MM) // layout.row_pitch_mm)
    pieces = -(-layout.rows // per_piece)
    return [round(layout.rows * k / pieces) * layout.row_pitch_mm for k in range(1, pieces)]


def _sheet(mat: Mat, panel: int, name: str, title: str, shapes: list[Shape]) -> Drawing:
    size = (mat.base_width_mm, mat.base_length_mm)
    shapes = [*shapes, Words(f"{title}, {PANELS[panel]} panel", (size[0] / 2, 6.0), 4.0, centred=True)]
    return Drawing(f"{PANELS[panel]}-{name}", f"{mat.layout.id}: {title}, {PANELS[panel]} panel", size, tuple(shapes))


def _edge(mat: Mat) -> Outline:
    return chamfered("cut", mat.base_width_mm, mat.base_length_mm, mat.panel.corner_mm, "edge")


def _holes(mat: Mat) -> list[Shape]:
    inset, width, length = mat.panel.hole_inset_mm, mat.base_width_mm, mat.base_length_mm
    spots = [(x, y) for y in (inset, length - inset) for x in (inset, width - inset)]
    out: list[Shape] = []
    for spot in spots:
        out += [Circle("drill", spot, mat.panel.hole_mm, "hole"), *cross("mark", spot, 2.0)]
    return out


def base(mat: Mat, panel: int) -> Drawing:
    """The stiff plate: outline, holes, the slot for the cables, the active area and its middle lines."""
    at, layout = place(mat, panel), mat.layout
    middle = at.left + layout.width_mm / 2
    half = at.bottom + layout.length_mm / 2
    slot = rectangle("cut", middle - mat.panel.slot_mm / 2, 12.0, mat.panel.slot_mm, 6.0, "slot")
    shapes: list[Shape] = [
        _edge(mat),
        *_holes(mat),
        slot,
        rectangle("mark", at.left, at.bottom, layout.width_mm, layout.length_mm, "active"),
        Line("mark", (middle, at.bottom), (middle, at.bottom + layout.length_mm), "middle"),
        Line("mark", (at.left, half), (at.left + layout.width_mm, half), "middle"),
        Words("heel end: cables leave here, away from the ball", (middle, 30.0), 3.0, centred=True),
        Words("toe end", (middle, mat.base_length_mm - 9.0), 3.0, centred=True),
    ]
    return _sheet(mat, panel, "1-base", "base plate", shapes)


def row_strips(mat: Mat, panel: int) -> Drawing:
    """Copper of the rows on the lower foil, with their tails to the outer side."""
    at, layout, strip = place(mat, panel), mat.layout, mat.panel.strip_mm
    shapes: list[Shape] = [_edge(mat), *_holes(mat)]
    begin = _TAIL_MM if at.outer_left else at.left
    length = layout.width_mm + mat.panel.margin_outer_mm - _TAIL_MM
    words_x = at.left + layout.width_mm + 2.0 if at.outer_left else at.left - 9.0
    for row in range(layout.rows):
        middle = at.bottom + float(layout.u_mm[row])
        shapes += [
            rectangle("copper", begin, middle - strip / 2, length, strip, f"row {row}"),
            Words(f"R{row}", (words_x, middle - 1.2), 2.5),
        ]
    return _sheet(mat, panel, "2-rows", "row strips", shapes)


def film_strips(mat: Mat, panel: int) -> Drawing:
    """One strip of film a column, with its seams between rows."""
    at, layout, width = place(mat, panel), mat.layout, mat.film.strip_mm
    shapes: list[Shape] = [_edge(mat)]
    ends = [-_FILM_OVER_MM, *seams(mat), layout.length_mm + _FILM_OVER_MM]
    for column in range(layout.columns_per_panel):
        middle = at.left + float(layout.v_mm[column])
        for piece, (low, high) in enumerate(pairwise(ends)):
            name = f"film {column}.{piece}"
            shapes.append(rectangle("film", middle - width / 2, at.bottom + low, width, high - low, name))
        for row in range(layout.rows):
            shapes += cross("mark", (middle, at.bottom + float(layout.u_mm[row])), 1.5)
    for seam in seams(mat):
        shapes.append(Words("seam", (at.left + 1.0, at.bottom + seam + 1.0), 2.5))
    return _sheet(mat, panel, "3-film", "film strips", shapes)


def column_strips(mat: Mat, panel: int) -> Drawing:
    """Copper of the columns on the upper foil (copper side down), with their tails to the heel end."""
    at, layout, strip = place(mat, panel), mat.layout, mat.panel.strip_mm
    shapes: list[Shape] = [_edge(mat), *_holes(mat)]
    for column in range(layout.columns_per_panel):
        middle = at.left + float(layout.v_mm[column])
        number = column + panel * layout.columns_per_panel
        bottom = 20.0
        height = at.bottom + layout.length_mm - bottom
        shapes += [
            rectangle("copper", middle - strip / 2, bottom, strip, height, f"column {column}"),
            Words(f"C{number}", (middle, at.bottom + layout.length_mm + 3.0), 2.5, centred=True),
        ]
        for row in range(layout.rows):
            shapes += cross("mark", (middle, at.bottom + float(layout.u_mm[row])), 1.5)
    return _sheet(mat, panel, "4-columns", "column strips", shapes)


def columns_from_below(mat: Mat, panel: int) -> Drawing:
    """The same, mirrored: to lay the upper foil on and tape the copper to the side that will look down."""
    seen = column_strips(mat, panel)
    turned = [shape for shape in mirrored(seen.shapes, seen.size_mm[0]) if not _is_title(shape)]
    return _sheet(mat, panel, "4-columns-from-below", "column strips seen from below", turned)


def _is_title(shape: Shape) -> bool:
    return isinstance(shape, Words) and shape.text.startswith("column strips")


def pads(mat: Mat, panel: int) -> Drawing:
    """The spreader: a stiff pad of the cell's size on each crossing, an elastomer button under its middle."""
    layout, gap, button = mat.layout, mat.panel.pad_gap_mm, mat.panel.button_mm
    width, height = layout.column_pitch_mm - gap, layout.row_pitch_mm - gap
    shapes: list[Shape] = [_edge(mat), *_holes(mat)]
    for row in range(layout.rows):
        for column in range(layout.columns_per_panel):
            x, y = crossing(mat, panel, row, column)
            number = column + panel * layout.columns_per_panel
            name = f"{row},{column}"
            shapes += [
                rectangle("cut", x - width / 2, y - height / 2, width, height, f"pad {name}"),
                rectangle("glue", x - button / 2, y - button / 2, button, button, f"button {name}"),
                *cross("mark", (x, y), 1.5, f"cross {name}"),
                Words(f"R{row} C{number}", (x - width / 2 + 1.0, y + height / 2 - 2.6), 1.6),
            ]
    at, free = place(mat, panel), _RIM_FREE_MM
    inside = (at.left - free, at.bottom - free, layout.width_mm + 2 * free, layout.length_mm + 2 * free)
    shapes += [
        rectangle("mark", *inside, "rim"),
        Words(
            f"outside this line: firm rim, {RIM_MM:g} mm wide, under the cover's edge", (at.left, at.bottom - 9.0), 2.5
        ),
    ]
    return _sheet(mat, panel, "5-pads", "pads and buttons", shapes)


def cover(mat: Mat, panel: int) -> Drawing:
    """The elastomer cover: outline, the mark for the daily check's weight, the heel line, the cells' names."""
    at, layout = place(mat, panel), mat.layout
    middle = (at.left + layout.width_mm / 2, at.bottom + layout.length_mm / 2)
    puck = mat.panel.puck_mm
    shapes: list[Shape] = [
        _edge(mat),
        *_holes(mat),
        Circle("mark", middle, mat.panel.weight_mark_mm, "weight mark"),
        *cross("mark", middle, 4.0),
        rectangle("mark", at.left, at.bottom, layout.width_mm, layout.length_mm, "active"),
        Words("weight stands here", (middle[0], middle[1] + 6.0), 3.0, centred=True),
        Words("toes", (middle[0], at.bottom + layout.length_mm + 3.0), 3.0, centred=True),
    ]
    for row in range(layout.rows):
        for column in range(layout.columns_per_panel):
            shapes.append(Circle("mark", crossing(mat, panel, row, column), puck, f"puck {row},{column}"))
    return _sheet(mat, panel, "6-cover", "cover", shapes)


def labels(mat: Mat) -> Drawing:
    """Names to print and glue: on the rows' tails, the columns' tails and the plugs."""
    layout = mat.layout
    names = [f"R{row}" for row in range(layout.rows)] + [f"C{c}" for c in range(layout.columns)]
    names += ["LEFT", "RIGHT", "STRIKE", "5 V ONLY"]
    wide, high, across = 18.0, 8.0, 8
    shapes: list[Shape] = []
    rows = -(-2 * len(names) // across)
    for i, name in enumerate([label for label in names for _ in (0, 1)]):  # one for each end
        x, y = wide * (i % across), high * (rows - 1 - i // across)
        shapes += [rectangle("cut", x, y, wide, high, f"label {name}")]
        shapes += [Words(name, (x + wide / 2, y + 2.6), 2.6, centred=True)]
    return Drawing("labels", f"{layout.id}: labels", (wide * across, high * rows), tuple(shapes))


def base_rule(mat: Mat) -> Drawing:
    """The rule between the panels: fixed under the left one, read at the right one's inner edge.

    It shows the stance width, from middle to middle of the active areas: the gap between the plates plus what lies
    between the inner edges and those middles.
    """
    inner = mat.panel.margin_inner_mm + mat.layout.width_mm / 2
    least = 2 * inner
    widest = mat.panel.widest_stance_mm
    first = 10.0 * -(-least // 10)
    fixed = 60.0  # glued under the left plate
    length = fixed + widest - least + 10.0
    shapes: list[Shape] = [
        rectangle("cut", 0.0, 0.0, length, _RULE_MM, "edge"),
        Line("mark", (fixed, 0.0), (fixed, _RULE_MM), "left plate's edge"),
        Words("under the left panel", (2.0, _RULE_MM / 2), 3.0),
    ]
    width = first
    while width <= widest + 1e-6:
        x = fixed + width - least
        whole = width % 50 < 1e-6
        shapes.append(Line("mark", (x, 0.0), (x, 14.0 if whole else 8.0), f"stance {width:g}"))
        if whole:
            shapes.append(Words(f"{width:g}", (x, 17.0), 4.0, centred=True))
        width += 10.0
    shapes.append(Words("stance width, mm: read at the right panel's edge", (fixed + 4.0, _RULE_MM - 6.0), 3.0))
    return Drawing("base-rule", f"{mat.layout.id}: base rule", (length, _RULE_MM), tuple(shapes))


def ball_strip(mat: Mat) -> Drawing:
    """The strip that the ball lies on, as high as the panels, and the place of the strike sensor under its edge."""
    long, deep = BALL_STRIP_MM
    ball = (long / 2, _BALL_FROM_GOLFER_MM)
    shapes: list[Shape] = [
        rectangle("cut", 0.0, 0.0, long, deep, "edge"),
        rectangle("mark", 10.0, 2.0, 40.0, 30.0, "strike sensor"),
        Words("strike sensor under here, at the golfer's edge", (12.0, 17.0), 2.5),
        *cross("mark", ball, 5.0, "ball"),
        Words("ball", (ball[0] + 3.0, ball[1] + 3.0), 3.0),
        Words(f"build it up to {mat.height_mm:.0f} mm, the panels' height; bevel every edge", (100.0, 6.0), 3.0),
    ]
    pegs = [(x, y) for x in (15.0, long - 15.0) for y in (45.0, deep - 15.0)]
    shapes += [Circle("drill", spot, mat.panel.hole_mm, "peg") for spot in pegs]
    return Drawing("ball-strip", f"{mat.layout.id}: strip for the ball", (long, deep), tuple(shapes))


def all_drawings(mat: Mat) -> list[Drawing]:
    """Every sheet of a mat, from below to above, left panel first."""
    layers = (base, row_strips, film_strips, column_strips, columns_from_below, pads, cover)
    sheets = [layer(mat, panel) for panel in range(len(PANELS)) for layer in layers]
    return [*sheets, labels(mat), base_rule(mat), ball_strip(mat)]
