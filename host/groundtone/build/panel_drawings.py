"""The layers of a panel from below to above, and the base rule: where everything lies, taken from the layout.

Each sheet is seen from above, the heel end below, +x across from the panel's left edge, +y along the foot, in mm. All
sheets of a panel share one origin, the lower left corner of the base plate, so that they lie on each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from groundtone.build.dangers import DISC_MM, FREE_MM
from groundtone.build.drawing import Circle, Drawing, Line, Outline, Shape, Words, chamfered, cross, mirrored, rectangle
from groundtone.build.mat_file import RIM_FREE_MM, Mat
from groundtone.mat.layout import LEFT, PANELS

_INSIDE_MM = 2.0  # how far copper ends before the rim
_FILM_OVER_MM = 2.0  # film reaches this far over the last crossing's copper
_RULE_MM = 34.0  # width of the base rule
_LID_MM = 1.0  # between the rim and the lid over the ribbon


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


def _sheet(mat: Mat, panel: int, name: str, title: str, shapes: list[Shape], title_y: float | None = None) -> Drawing:
    size = (mat.base_width_mm, mat.base_length_mm)
    at = (size[0] / 2, 5.0 if title_y is None else title_y)
    shapes = [*shapes, Words(f"{title}, {PANELS[panel]} panel", at, 4.0, centred=True)]
    return Drawing(f"{PANELS[panel]}-{name}", f"{mat.layout.id}: {title}, {PANELS[panel]} panel", size, tuple(shapes))


def _edge(mat: Mat) -> Outline:
    return chamfered("cut", mat.base_width_mm, mat.base_length_mm, mat.panel.corner_mm, "edge")


def notch(mat: Mat, panel: int) -> tuple[float, float, float]:
    """Left, right and depth of the notch in the heel edge through which the ribbon leaves, mm."""
    middle = place(mat, panel).left + mat.layout.width_mm / 2
    half = mat.panel.notch_mm / 2
    return middle - half, middle + half, mat.rim_widths_mm[2]


def opening(mat: Mat, panel: int) -> tuple[float, float, float, float]:
    """Left, bottom, width and height of what the rim goes round, mm: foils, pads, and the ribbon beside them."""
    outer, inner, heel, toe = mat.rim_widths_mm
    left = outer if place(mat, panel).outer_left else inner
    return left, heel, mat.base_width_mm - outer - inner, mat.base_length_mm - heel - toe


def _foil(mat: Mat, panel: int, *, upper: bool = False) -> Outline:
    """The lower foil fills the rim; the upper one leaves the rows' tails and their ribbon free."""
    left, bottom, width, height = opening(mat, panel)
    if upper:
        left = place(mat, panel).left - RIM_FREE_MM
        width = mat.layout.width_mm + 2 * RIM_FREE_MM
    return rectangle("cut", left, bottom, width, height, "foil")


def _holes(mat: Mat) -> list[Shape]:
    inset, width, length = mat.panel.hole_inset_mm, mat.base_width_mm, mat.base_length_mm
    spots = [(x, y) for y in (inset, length - inset) for x in (inset, width - inset)]
    out: list[Shape] = []
    for spot in spots:
        out += [Circle("drill", spot, mat.panel.hole_mm, "hole"), *cross("mark", spot, 2.0)]
    return out


def base(mat: Mat, panel: int) -> Drawing:
    """The stiff plate: outline with the ribbon's notch, holes, where the rim is glued, the active area, its middles."""
    at, layout = place(mat, panel), mat.layout
    middle = at.left + layout.width_mm / 2
    half = at.bottom + layout.length_mm / 2
    low, high, deep = notch(mat, panel)
    c, width, length = mat.panel.corner_mm, mat.base_width_mm, mat.base_length_mm
    edge = (
        (c, 0.0), (low, 0.0), (low, deep), (high, deep), (high, 0.0), (width - c, 0.0), (width, c),
        (width, length - c), (width - c, length), (c, length), (0.0, length - c), (0.0, c),
    )  # fmt: skip
    shapes: list[Shape] = [
        Outline("cut", edge, "edge"),
        *_holes(mat),
        rectangle("mark", *opening(mat, panel), "opening"),
        rectangle("mark", at.left, at.bottom, layout.width_mm, layout.length_mm, "active"),
        Line("mark", (middle, at.bottom), (middle, at.bottom + layout.length_mm), "middle"),
        Line("mark", (at.left, half), (at.left + layout.width_mm, half), "middle"),
        Words("the ribbon leaves by the notch, away from the ball", (middle, deep + 3.0), 2.5, centred=True),
        Words("outside this line: glue the rim", (middle, length - mat.rim_widths_mm[3] + 2.0), 2.5, centred=True),
    ]
    return _sheet(mat, panel, "1-base", "base plate", shapes, length - 5.5)


def rim(mat: Mat, panel: int) -> Drawing:
    """The firm rim, in pieces, and the lids over the ribbon beside the pads and at the heel end."""
    outer, inner, _, toe = mat.rim_widths_mm
    width, length = mat.base_width_mm, mat.base_length_mm
    left, bottom, wide, high = opening(mat, panel)
    low, right, deep = notch(mat, panel)
    c = mat.panel.corner_mm
    at, free = place(mat, panel), RIM_FREE_MM
    first, second = (outer, inner) if at.outer_left else (inner, outer)
    lid = mat.panel.margin_outer_mm - free - outer - 2 * _LID_MM
    lid_x = outer + _LID_MM if at.outer_left else width - outer - _LID_MM - lid
    over, end, tongue = bottom + _LID_MM, left + wide - _LID_MM, (low + _LID_MM, right - _LID_MM)
    # Its tongue carries the cover over the notch.
    heel_lid = (
        (left + _LID_MM, over), (tongue[0], over), (tongue[0], 0.0), (tongue[1], 0.0), (tongue[1], over), (end, over),
        (end, at.bottom - free), (left + _LID_MM, at.bottom - free),
    )  # fmt: skip
    shapes: list[Shape] = [
        Outline("cut", ((c, 0.0), (low, 0.0), (low, deep), (0.0, deep), (0.0, c)), "rim heel"),
        Outline("cut", ((right, 0.0), (width - c, 0.0), (width, c), (width, deep), (right, deep)), "rim heel"),
        rectangle("cut", 0.0, bottom, first, high, "rim side"),
        rectangle("cut", width - second, bottom, second, high, "rim side"),
        Outline(
            "cut",
            ((0.0, length - toe), (width, length - toe), (width, length - c), (width - c, length), (c, length),
             (0.0, length - c)),
            "rim toe",
        ),
        *_holes(mat),
        rectangle("cut", lid_x, at.bottom, lid, mat.layout.length_mm, "lid side"),
        Outline("cut", heel_lid, "lid heel"),
        Words(f"rim {mat.rim_mm:g} mm high, glued to plate and cover", (width / 2, length - toe + 3.0), 2.5, True),
        Words(f"lids {mat.stack.pad_mm:g} mm, over the ribbon,", (width / 2, length / 2 + 4.0), 3.0, True),
        Words("glued to the cover alone", (width / 2, length / 2 - 2.0), 3.0, True),
    ]  # fmt: skip
    return _sheet(mat, panel, "1-rim", "rim", shapes, length / 2 - 20.0)


def row_strips(mat: Mat, panel: int) -> Drawing:
    """Copper of the rows on the lower foil, with their tails to the outer side."""
    at, layout, strip = place(mat, panel), mat.layout, mat.panel.strip_mm
    shapes: list[Shape] = [_edge(mat), *_holes(mat), _foil(mat, panel)]
    tail = mat.rim_widths_mm[0] + _INSIDE_MM
    begin = tail if at.outer_left else at.left
    length = layout.width_mm + mat.panel.margin_outer_mm - tail
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
    shapes: list[Shape] = [_edge(mat), *_holes(mat), _foil(mat, panel, upper=True)]
    for column in range(layout.columns_per_panel):
        middle = at.left + float(layout.v_mm[column])
        number = column + panel * layout.columns_per_panel
        bottom = mat.rim_widths_mm[2] + _INSIDE_MM
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
    shapes.append(rectangle("mark", *opening(mat, panel), "rim"))
    at = place(mat, panel)
    heel = (at.left + layout.width_mm / 2, at.bottom - 8.0)
    shapes.append(Words("glue pads to the cover, buttons to the pads alone", heel, 2.5, centred=True))
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
    between the inner edges and those middles. It is read where the right panel's bevel meets the ground.
    """
    inner, bevel = mat.panel.margin_inner_mm + mat.layout.width_mm / 2, mat.bevel_mm
    least = 2 * (inner + bevel)
    widest = mat.panel.widest_stance_mm
    first = 10.0 * -(-least // 10)
    fixed = 60.0  # lies under the left plate, in a gap of its anti-slip sheet
    length = fixed + widest - 2 * inner - bevel + 10.0
    shapes: list[Shape] = [
        rectangle("cut", 0.0, 0.0, length, _RULE_MM, "edge"),
        Line("mark", (fixed, 0.0), (fixed, _RULE_MM), "left plate's edge"),
        Words("under the left panel", (2.0, _RULE_MM / 2), 3.0),
    ]
    width = first
    while width <= widest + 1e-6:
        x = fixed + width - 2 * inner - bevel
        whole = width % 50 < 1e-6
        shapes.append(Line("mark", (x, 0.0), (x, 14.0 if whole else 8.0), f"stance {width:g}"))
        if whole:
            shapes.append(Words(f"{width:g}", (x, 17.0), 4.0, centred=True))
        width += 10.0
    words = "stance width, mm: read at the foot of the right panel's bevel"
    shapes.append(Words(words, (fixed + 4.0, _RULE_MM - 6.0), 3.0))
    return Drawing("base-rule", f"{mat.layout.id}: base rule", (length, _RULE_MM), tuple(shapes))


def ball_strip(mat: Mat) -> Drawing:
    """The strip that the ball lies on, as high as the panels, its bevel, and the disc under its edge at the golfer."""
    g, bevel = mat.ground, mat.bevel_mm
    long, deep = g.strip_length_mm, g.strip_depth_mm
    ball, disc = (long / 2, g.ball_mm), (long / 2, g.disc_mm)
    near, far = g.ball_mm - FREE_MM, g.ball_mm + FREE_MM
    pegs_y = (min(bevel, near) + near) / 2, (far + max(deep - bevel, far)) / 2
    shapes: list[Shape] = [
        rectangle("cut", 0.0, 0.0, long, deep, "edge"),
        rectangle("mark", bevel, bevel, long - 2 * bevel, deep - 2 * bevel, "bevel"),
        Circle("mark", disc, DISC_MM, "strike sensor"),
        Line("mark", (0.0, ball[1]), (long, ball[1]), "ball's line"),
        *cross("mark", ball, 5.0, "ball"),
        Words("ball", (ball[0] + 3.0, ball[1] + 3.0), 3.0),
        Words("strike sensor under here, at the golfer's edge", (disc[0] + DISC_MM, disc[1] - 1.5), 3.0),
        Words(f"nothing hard within {FREE_MM:g} mm of this line", (40.0, ball[1] + 3.0), 3.0),
        Words(
            f"turf-faced, built up to {mat.height_mm:.1f} mm, the panels' height; every edge planed to the inner line",
            (60.0, deep - bevel - 10.0), 3.0,
        ),
    ]  # fmt: skip
    pegs = [(x, y) for x in (bevel + 20.0, long - bevel - 20.0) for y in pegs_y]
    shapes += [Circle("drill", spot, mat.panel.hole_mm, "peg") for spot in pegs]
    return Drawing("ball-strip", f"{mat.layout.id}: strip for the ball", (long, deep), tuple(shapes))


def all_drawings(mat: Mat) -> list[Drawing]:
    """Every sheet of a mat, from below to above, left panel first."""
    layers = (base, rim, row_strips, film_strips, column_strips, columns_from_below, pads, cover)
    sheets = [layer(mat, panel) for panel in range(len(PANELS)) for layer in layers]
    return [*sheets, labels(mat), base_rule(mat), ball_strip(mat)]
