"""Two pictures for the guide: how the mat lies on the ground, and a cut through its layers. Not for cutting."""

from __future__ import annotations

from groundtone.build.drawing import Circle, Drawing, Line, Outline, Shape, Words, rectangle
from groundtone.build.mat_file import COLUMN_LAYERS, RIBBON_MM, RIM_FREE_MM, Mat
from groundtone.build.panel_drawings import ball_strip, base, pads, place
from groundtone.mat.layout import PANELS

_STANCE_MM = 400.0
_TALL = 7.0  # the cut is drawn so many times as high as it is
_WORDS_MM = 9.0
_STRIP_BEFORE_MM = 90.0  # the ball's strip before the toes' edge; who needs more takes more


def _moved(shape: Shape, by: tuple[float, float]) -> Shape:
    def to(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] + by[0], point[1] + by[1]

    if isinstance(shape, Outline):
        return Outline(shape.layer, tuple(to(point) for point in shape.points), shape.name)
    if isinstance(shape, Line):
        return Line(shape.layer, to(shape.begin), to(shape.end), shape.name)
    if isinstance(shape, Circle):
        return Circle(shape.layer, to(shape.centre), shape.diameter, shape.name)
    return Words(shape.text, to(shape.at), shape.height, shape.centred, shape.turned)


def ground_plan(mat: Mat) -> Drawing:
    """Both panels as they lie for a right-handed golfer, seen from above, toes and ball above."""
    layout, bevel, behind = mat.layout, mat.bevel_mm, mat.ground.box_behind_mm
    bottom, width = 60.0 + behind, mat.base_width_mm
    # Middles of the active areas are the stance width apart.
    inner = _STANCE_MM - layout.width_mm - 2 * mat.panel.margin_inner_mm
    lefts = (20.0 + bevel, 20.0 + bevel + width + inner)
    shapes: list[Shape] = []
    for panel, left in enumerate(lefts):
        drawn = [*base(mat, panel).named("edge"), *base(mat, panel).named("hole")]
        cells = pads(mat, panel).named("pad ")
        shapes += [_moved(shape, (left, bottom)) for shape in (*drawn, *cells)]
        around = width + 2 * bevel, mat.base_length_mm + 2 * bevel
        shapes.append(rectangle("mark", left - bevel, bottom - bevel, *around, "bevel"))
        active = left + place(mat, panel).left
        for row in (0, layout.rows - 1):
            y = bottom + mat.panel.margin_heel_mm + float(layout.u_mm[row]) - _WORDS_MM / 2
            shapes.append(Words(f"R{row}", (active + 3.0, y), _WORDS_MM))
        title_y = bottom + mat.base_length_mm + bevel + 6.0
        shapes.append(Words(f"toes, {PANELS[panel]} panel", (left + width / 2, title_y), _WORDS_MM, centred=True))
        across = active + layout.width_mm / 2
        shapes.append(Line("mark", (across, bottom + mat.rim_widths_mm[2]), (across, 70.0), "ribbon"))
    middle = (lefts[0] + lefts[1] + width) / 2
    at = [left + place(mat, panel).left + layout.width_mm / 2 for panel, left in enumerate(lefts)]
    shapes += [
        rectangle("cut", middle - 60.0, 20.0, 120.0, 40.0, "box"),
        Words("box", (middle, 36.0), _WORDS_MM, centred=True),
        Line("mark", (at[0], 70.0), (middle - 30.0, 70.0)),
        Line("mark", (middle - 30.0, 70.0), (middle - 30.0, 60.0)),
        Line("mark", (at[1], 70.0), (middle + 30.0, 70.0)),
        Line("mark", (middle + 30.0, 70.0), (middle + 30.0, 60.0)),
        Words(f"box and power bank {behind:g} mm behind the heels", (at[0] + 8.0, 300.0), _WORDS_MM),
        Words("ribbons and lead: laid flat and taped,", (at[0] + 8.0, 284.0), _WORDS_MM),
        Words("or somebody trips over them", (at[0] + 8.0, 268.0), _WORDS_MM),
        Line("mark", (middle - 60.0, 40.0), (20.0, 40.0), "USB lead"),
        Words("USB lead with fuse", (20.0, 45.0), _WORDS_MM),
        rectangle("mark", lefts[0] + width - 60.0, bottom + 150.0, inner + 120.0, 34.0, "rule"),
        Words("base rule", (middle + 8.0, bottom + 162.0), _WORDS_MM),
    ]
    top = bottom + mat.base_length_mm
    long, deep = mat.ground.strip_length_mm, mat.ground.strip_depth_mm
    strip_x, strip_y = max(20.0, middle - long / 2), top + _STRIP_BEFORE_MM
    middle_x = strip_x + long / 2
    strip = ball_strip(mat)
    shapes += [_moved(shape, (strip_x, strip_y)) for shape in strip.shapes if not isinstance(shape, Words)]
    ball_y, disc_y = strip_y + mat.ground.ball_mm, strip_y + mat.ground.disc_mm
    words_x = strip_x + 40.0
    shapes += [
        Circle("mark", (middle_x, ball_y), 43.0, "ball"),
        Words(f"ball's strip, {mat.height_mm:.1f} mm high,", (words_x, ball_y + 60.0), _WORDS_MM),
        Words("turf-faced, bevelled, pegged", (words_x, ball_y + 44.0), _WORDS_MM),
        Words("strike sensor", (middle_x + 20.0, disc_y - 4.0), _WORDS_MM),
        Line("mark", (middle_x, disc_y), (middle, top + 40.0), "lead"),
        Line("mark", (middle, top + 40.0), (middle, 60.0), "lead"),
    ]
    wide = max(lefts[1] + width + bevel, strip_x + long) + 20.0
    title = f"{layout.id}: how it lies, a stance of {_STANCE_MM:g} mm"
    return Drawing("ground-plan", title, (wide, strip_y + deep + 20.0), tuple(shapes))


def cut_through(mat: Mat) -> Drawing:
    """A cut along one row from the outer edge through the first two columns: layers, rim, glue; heights exaggerated."""
    layout, stack, panel, film = mat.layout, mat.stack, mat.panel, mat.film
    outer, edge = mat.rim_widths_mm[0], 4.0 + mat.bevel_mm
    end = panel.margin_outer_mm + 2 * layout.column_pitch_mm
    columns = (0, min(1, layout.columns_per_panel - 1))
    middles = [panel.margin_outer_mm + float(layout.v_mm[c]) for c in columns]
    pad = layout.column_pitch_mm - panel.pad_gap_mm
    ribbon = (outer + 1.0, layout.rows * RIBBON_MM)
    lid = (outer + 1.0, panel.margin_outer_mm - RIM_FREE_MM - outer - 2.0)

    def each(width: float) -> list[tuple[float, float]]:
        return [(middle - width / 2, width) for middle in middles]

    # name, thickness, where its pieces lie, layer, what is glued to the next layer above
    over = panel.margin_outer_mm - RIM_FREE_MM
    layers: tuple[tuple[str, float, list[tuple[float, float]], str, list[tuple[float, float]]], ...] = (
        ("anti-slip sheet, under the whole plate", stack.sheet_mm, [(0.0, end)], "film", []),
        ("base plate", stack.base_mm, [(0.0, end)], "cut", [(0.0, outer), (outer, end - outer)]),
        ("lower foil, taped to the plate", stack.foil_mm, [(outer, end - outer)], "cut", []),
        ("row's copper", stack.copper_mm, [(outer + 2.0, end - outer - 2.0)], "copper", []),
        ("film, one strip a column", film.thickness_mm, each(film.strip_mm), "film", []),
        ("column's copper, doubled, looking down", COLUMN_LAYERS * stack.copper_mm, each(panel.strip_mm), "copper", []),
        ("upper foil", stack.foil_mm, [(over, end - over)], "cut", []),
        ("button, glued to its pad alone", stack.button_mm, each(panel.button_mm), "mark", each(panel.button_mm)),
        ("pad, glued to the cover", stack.pad_mm, [*each(pad), lid], "cut", [*each(pad), lid, (0.0, outer)]),
        ("cover", stack.cover_mm, [(0.0, end)], "cut", []),
    )
    shapes: list[Shape] = []
    y = word_y = 4.0
    rim_from = rim_to = ribbon_y = 0.0
    for name, thick, spots, layer, glued in layers:
        high = max(1.6, thick * _TALL)
        shapes += [rectangle(layer, edge + left, y, wide, high, name) for left, wide in spots]
        word_y = max(word_y + 5.5, y + high / 2)
        shapes += [
            Line("mark", (edge + end, y + high / 2), (edge + end + 12.0, word_y)),
            Words(f"{name}, {thick:g} mm", (edge + end + 14.0, word_y - 1.3), 3.4),
        ]
        y += high
        shapes += [rectangle("glue", edge + left, y + 0.1, wide, 1.0, "glue") for left, wide in glued]
        y += 1.2  # a gap, so that each is seen
        rim_from = y if name == "base plate" else rim_from
        ribbon_y = y if name == "row's copper" else ribbon_y
        rim_to = y - 1.2 if name.startswith("pad") else rim_to
    shapes += [
        rectangle("cut", edge, rim_from, outer, rim_to - rim_from, "rim"),
        rectangle("copper", edge + ribbon[0], ribbon_y, ribbon[1], 6.0, "ribbon"),
        Outline("cut", ((4.0, 4.0), (edge - 0.6, 4.0), (edge - 0.6, y - 1.2)), "bevel"),
        Words(f"bevel {mat.bevel_mm:g} mm, rim {outer:.0f} mm wide and {mat.rim_mm:g} mm high, packed, "
              "ribbon under a lid;", (4.0, y + 12.0), 3.4),
        Words("blue is glue or tape: rim to plate and cover, pads and lid to the cover, buttons to pads;",
              (4.0, y + 7.0), 3.4),
        Words("film and the upper foil are held at their ends alone", (4.0, y + 2.0), 3.4),
    ]  # fmt: skip
    title = f"{layout.id}: a cut along one row, heights times {_TALL:g}"
    return Drawing("cut-through", title, (edge + end + 140.0, y + 18.0), tuple(shapes))
