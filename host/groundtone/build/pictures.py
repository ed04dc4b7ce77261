"""Two pictures for the guide: how the mat lies on the ground, and a cut through its layers. Not for cutting."""

from __future__ import annotations

from groundtone.build.drawing import Circle, Drawing, Line, Outline, Shape, Words, rectangle
from groundtone.build.mat_file import Mat
from groundtone.build.panel_drawings import BALL_STRIP_MM, ball_strip, base, pads, place
from groundtone.mat.layout import PANELS

_STANCE_MM = 400.0
_TALL = 7.0  # the cut is drawn so many times as high as it is
_WORDS_MM = 9.0
_BOX_BEHIND_MM = 600.0  # the box lies so far behind the heels, out of the club's way


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
    layout = mat.layout
    bottom, width = 60.0 + _BOX_BEHIND_MM, mat.base_width_mm
    # Middles of the active areas are the stance width apart.
    inner = _STANCE_MM - layout.width_mm - 2 * mat.panel.margin_inner_mm
    lefts = (20.0, 20.0 + width + inner)
    shapes: list[Shape] = []
    for panel, left in enumerate(lefts):
        drawn = [*base(mat, panel).named("edge"), *base(mat, panel).named("slot"), *base(mat, panel).named("hole")]
        cells = pads(mat, panel).named("pad ")
        shapes += [_moved(shape, (left, bottom)) for shape in (*drawn, *cells)]
        active = left + place(mat, panel).left
        for row in (0, layout.rows - 1):
            y = bottom + mat.panel.margin_heel_mm + float(layout.u_mm[row]) - _WORDS_MM / 2
            shapes.append(Words(f"R{row}", (active + 3.0, y), _WORDS_MM))
        title_y = bottom + mat.base_length_mm + 6.0
        shapes.append(Words(f"toes, {PANELS[panel]} panel", (left + width / 2, title_y), _WORDS_MM, centred=True))
        across = left + width / 2
        shapes.append(Line("mark", (across, bottom + 12.0), (across, 70.0), "ribbon"))
    middle = (lefts[0] + lefts[1] + width) / 2
    box = rectangle("cut", middle - 60.0, 20.0, 120.0, 40.0, "box")
    at = lefts[0] + width / 2, lefts[1] + width / 2
    shapes += [
        box,
        Words("box", (middle, 36.0), _WORDS_MM, centred=True),
        Line("mark", (at[0], 70.0), (middle - 30.0, 70.0)),
        Line("mark", (middle - 30.0, 70.0), (middle - 30.0, 60.0)),
        Line("mark", (at[1], 70.0), (middle + 30.0, 70.0)),
        Line("mark", (middle + 30.0, 70.0), (middle + 30.0, 60.0)),
        Words("ribbons to the box,", (at[0] + 8.0, 94.0), _WORDS_MM),
        Words(f"{_BOX_BEHIND_MM:g} mm behind the heels", (at[0] + 8.0, 80.0), _WORDS_MM),
        Line("mark", (middle - 60.0, 40.0), (20.0, 40.0)),
        Words("USB or power bank", (20.0, 45.0), _WORDS_MM),
        rectangle("mark", lefts[0] + width - 60.0, bottom + 150.0, inner + 120.0, 34.0, "rule"),
        Words("base rule", (middle, bottom + 162.0), _WORDS_MM, centred=True),
    ]
    top = bottom + mat.base_length_mm
    strip_y, strip_x = top + 90.0, middle - BALL_STRIP_MM[0] / 2
    strip = ball_strip(mat)
    shapes += [_moved(shape, (strip_x, strip_y)) for shape in strip.shapes if not isinstance(shape, Words)]
    ball_y = strip_y + next(line.begin[1] for line in strip.named("ball") if isinstance(line, Line))
    sensor = strip_x + 30.0
    shapes += [
        Circle("mark", (middle, ball_y), 43.0, "ball"),
        Words(f"strip, {mat.height_mm:.0f} mm high, with the ball", (middle, ball_y + 50.0), _WORDS_MM, centred=True),
        Words("strike sensor under the golfer's edge", (strip_x + 60.0, strip_y + 14.0), _WORDS_MM),
        Words("lead, flat and taped", (middle - 5.0, top + 20.0), _WORDS_MM),
        Line("mark", (sensor, strip_y + 4.0), (sensor, top + 60.0), "lead"),
        Line("mark", (sensor, top + 60.0), (middle - 15.0, top + 60.0), "lead"),
        Line("mark", (middle - 15.0, top + 60.0), (middle - 15.0, 60.0), "lead"),
    ]
    title = f"{layout.id}: how it lies, a stance of {_STANCE_MM:g} mm"
    return Drawing("ground-plan", title, (lefts[1] + width + 20.0, strip_y + BALL_STRIP_MM[1] + 20.0), tuple(shapes))


def cut_through(mat: Mat) -> Drawing:
    """A cut along one row through the first two columns: every layer, heights exaggerated."""
    layout, stack, panel, film = mat.layout, mat.stack, mat.panel, mat.film
    width = 2 * layout.column_pitch_mm
    middles = [float(layout.v_mm[0]), float(layout.v_mm[1 if layout.columns_per_panel > 1 else 0])]
    pad = layout.column_pitch_mm - panel.pad_gap_mm
    # name, thickness, width of one piece (None: all across), layer
    layers: tuple[tuple[str, float, float | None, str], ...] = (
        ("base plate", stack.base_mm, None, "cut"),
        ("lower foil", stack.foil_mm, None, "cut"),
        ("row's copper", stack.copper_mm, None, "copper"),
        ("film, one strip a column", film.thickness_mm, film.strip_mm, "film"),
        ("column's copper, looking down", stack.copper_mm, panel.strip_mm, "copper"),
        ("upper foil", stack.foil_mm, None, "cut"),
        ("button", stack.button_mm, panel.button_mm, "glue"),
        ("pad", stack.pad_mm, pad, "cut"),
        ("cover", stack.cover_mm, None, "cut"),
    )
    shapes: list[Shape] = []
    y = word_y = 4.0
    for name, thick, piece, layer in layers:
        high = max(1.6, thick * _TALL)
        spots = [(0.0, width)] if piece is None else [(middle - piece / 2, piece) for middle in middles]
        shapes += [rectangle(layer, 4.0 + left, y, wide, high, name) for left, wide in spots]
        word_y = max(word_y + 5.5, y + high / 2)
        shapes += [
            Line("mark", (4.0 + width, y + high / 2), (16.0 + width, word_y)),
            Words(f"{name}, {thick:g} mm", (18.0 + width, word_y - 1.3), 3.4),
        ]
        y += high + 1.2  # a gap, so that each is seen
    title = f"{layout.id}: a cut along one row, heights times {_TALL:g}"
    return Drawing("cut-through", title, (width + 104.0, y + 4.0), tuple(shapes))
