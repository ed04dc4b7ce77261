"""The templates, written and read back by ezdxf and an SVG parser: each strip, hole and crossing in its place."""

import dataclasses
import io
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pytest

from groundtone.build.drawing import Circle, mirrored, rectangle
from groundtone.build.mat_file import read_mat
from groundtone.build.panel_drawings import (
    all_drawings,
    ball_strip,
    base,
    base_rule,
    columns_from_below,
    crossing,
    film_strips,
    pads,
    rim,
    row_strips,
    seams,
)  # fmt: skip
from groundtone.build.sheets import dxf, svg, write_templates

TENTH = 0.1  # mm, asked for; the drawings are far closer
SVG = "{http://www.w3.org/2000/svg}"
PANELS = ("left", "right")


def expected_places(mat):
    """Centre of every cell on its plate, by hand: margins of the description and the pitch of the layout."""
    p, layout = mat.panel, mat.layout
    for panel in (0, 1):
        left = (p.margin_outer_mm, p.margin_inner_mm)[panel]
        for row in range(layout.rows):
            for column in range(layout.columns_per_panel):
                yield (
                    panel, row, column,
                    left + (column + 0.5) * layout.column_pitch_mm,
                    p.margin_heel_mm + (row + 0.5) * layout.row_pitch_mm,
                )  # fmt: skip


def box(points):
    """Centre and size of an upright rectangle."""
    points = np.asarray(points, dtype=float)
    low, high = points.min(0), points.max(0)
    return (*((low + high) / 2), *(high - low))


class FromDxf:
    """A sheet as ezdxf reads it back: rectangles and circles by layer."""

    def __init__(self, drawing):
        document = ezdxf.read(io.StringIO(dxf(drawing)))
        assert document.units == ezdxf.units.MM
        space = document.modelspace()
        self.boxes, self.circles, self.crosses = {}, {}, []
        for shape in space.query("LWPOLYLINE"):
            assert shape.closed
            self.boxes.setdefault(shape.dxf.layer, []).append(box(list(shape.get_points("xy"))))
        for shape in space.query("CIRCLE"):
            self.circles.setdefault(shape.dxf.layer, []).append((*list(shape.dxf.center)[:2], 2 * shape.dxf.radius))
        for shape in space.query("LINE"):
            self.crosses.append((*list(shape.dxf.start)[:2], *list(shape.dxf.end)[:2]))
        assert not document.audit().has_errors


class FromSvg:
    """The same, by an XML parser: millimetres from the view box and the stated size, y turned up again."""

    def __init__(self, drawing):
        root = ET.fromstring(svg(drawing))
        _, _, wide, high = (float(word) for word in root.get("viewBox").split())
        for given, size in ((root.get("width"), wide), (root.get("height"), high)):
            assert given.endswith("mm")
            assert float(given[:-2]) == pytest.approx(size)  # 1:1
        self.boxes, self.circles, self.crosses = {}, {}, []
        for group in root.iter(f"{SVG}g"):
            layer = group.get("class")
            for shape in group:
                if shape.tag == f"{SVG}polygon":
                    points = [[float(n) for n in pair.split(",")] for pair in shape.get("points").split()]
                    self.boxes.setdefault(layer, []).append(box([(x, -y) for x, y in points]))
                elif shape.tag == f"{SVG}circle":
                    x, y, r = (float(shape.get(key)) for key in ("cx", "cy", "r"))
                    self.circles.setdefault(layer, []).append((x, -y, 2 * r))
                elif shape.tag == f"{SVG}line":
                    ends = [float(shape.get(key)) for key in ("x1", "y1", "x2", "y2")]
                    self.crosses.append((ends[0], -ends[1], ends[2], -ends[3]))


@pytest.fixture(scope="module", params=["starter", "reference"])
def mat(request):
    return read_mat(request.param)


@pytest.fixture(scope="module", params=[FromDxf, FromSvg])
def sheets(request, mat):
    return {drawing.name: request.param(drawing) for drawing in all_drawings(mat)}


def within(found, wanted):
    """Every wanted tuple is there, each once, within a tenth of a millimetre."""
    found, wanted = np.array(sorted(found)), np.array(sorted(wanted))
    assert found.shape == wanted.shape
    for each in wanted:
        assert (np.abs(found - each).max(1) < TENTH).sum() == 1


def test_row_strips(mat, sheets):
    p, layout = mat.panel, mat.layout
    for panel, name in enumerate(PANELS):
        # Tails end 2 mm before the rim: it has what 2 mm beside the pads and the rows' wires leave of the margin.
        tail = p.margin_outer_mm - 2.0 - (1.27 * layout.rows + 2.0) + 2.0
        length = layout.width_mm + p.margin_outer_mm - tail
        # Left panel: from there to the active area's right edge. Right panel: mirrored.
        middle = (tail + p.margin_outer_mm + layout.width_mm) / 2 if panel == 0 else p.margin_inner_mm + length / 2
        rows = {(middle, y, length, p.strip_mm) for at, _, _, _, y in expected_places(mat) if at == panel}
        within(sheets[f"{name}-2-rows"].boxes["copper"], rows)


def test_column_strips_cross_every_row(mat, sheets):
    p, layout = mat.panel, mat.layout
    for panel, name in enumerate(PANELS):
        top = p.margin_heel_mm + layout.length_mm
        low = p.margin_heel_mm - 2.0 - (1.27 * layout.rows + 2.0) + 2.0
        columns = {
            (x, (low + top) / 2, p.strip_mm, top - low) for at, _, _, x, _ in expected_places(mat) if at == panel
        }
        within(sheets[f"{name}-4-columns"].boxes["copper"], columns)
        width = mat.base_width_mm
        below = {(width - x, y, w, h) for x, y, w, h in columns}
        within(sheets[f"{name}-4-columns-from-below"].boxes["copper"], below)


def test_pads_buttons_and_crosses_lie_on_the_crossings(mat, sheets):
    p, layout = mat.panel, mat.layout
    pad = (layout.column_pitch_mm - p.pad_gap_mm, layout.row_pitch_mm - p.pad_gap_mm)
    for panel, name in enumerate(PANELS):
        places = [(x, y) for at, _, _, x, y in expected_places(mat) if at == panel]
        sheet = sheets[f"{name}-5-pads"]
        pads = [shape for shape in sheet.boxes["cut"] if shape[2] < 100]
        within(pads, [(x, y, *pad) for x, y in places])
        within(sheet.boxes["glue"], [(x, y, p.button_mm, p.button_mm) for x, y in places])
        middles = [((a + c) / 2, (b + d) / 2) for a, b, c, d in sheet.crosses if b == d]
        for place in places:
            assert (np.abs(np.array(middles) - place).max(1) < TENTH).sum() == 1
        assert len(places) == layout.cells / 2


def test_film_lies_under_every_crossing_and_its_seams_between_rows(mat, sheets):
    layout = mat.layout
    for panel, name in enumerate(PANELS):
        pieces = sheets[f"{name}-3-film"].boxes["film"]
        for at, _, _, x, y in expected_places(mat):
            if at == panel:
                over = [b for b in pieces if abs(b[0] - x) < TENTH and abs(b[1] - y) < b[3] / 2]
                assert len(over) == 1
                # The whole crossing lies on one piece: no edge is nearer than half a copper strip.
                assert abs(over[0][1] - y) + mat.panel.strip_mm / 2 < over[0][3] / 2
        assert max(b[3] for b in pieces) <= mat.film.sheet_mm
    for seam in seams(mat):
        assert seam / layout.row_pitch_mm == pytest.approx(round(seam / layout.row_pitch_mm))


def test_holes_and_outline(mat, sheets):
    p = mat.panel
    w, h, i = mat.base_width_mm, mat.base_length_mm, p.hole_inset_mm
    holes = [(x, y, p.hole_mm) for x in (i, w - i) for y in (i, h - i)]
    for name in PANELS:
        for layer in ("1-base", "1-rim", "2-rows", "4-columns", "5-pads", "6-cover"):
            sheet = sheets[f"{name}-{layer}"]
            within(sheet.circles["drill"], holes)
            if layer == "1-rim":  # pieces, no plate
                continue
            outline = max(sheet.boxes["cut"], key=lambda shape: shape[2] * shape[3])
            assert outline == pytest.approx((w / 2, h / 2, w, h), abs=TENTH)


def test_marks_on_the_cover(mat, sheets):
    p, layout = mat.panel, mat.layout
    for panel, name in enumerate(PANELS):
        circles = sheets[f"{name}-6-cover"].circles["mark"]
        left = (p.margin_outer_mm, p.margin_inner_mm)[panel]
        weight = (left + layout.width_mm / 2, p.margin_heel_mm + layout.length_mm / 2, p.weight_mark_mm)
        pucks = [(x, y, p.puck_mm) for at, _, _, x, y in expected_places(mat) if at == panel]
        within(circles, [weight, *pucks])


def test_the_base_rule_reads_the_distance_of_the_panels_middles(mat, sheets):
    """A tick lies at the foot of the right plate's bevel: gap between the plates less that bevel. Its number is the gap
    and what lies between the inner edges and the active areas' middles."""
    inner, bevel = mat.panel.margin_inner_mm + mat.layout.width_mm / 2, mat.ground.bevel_mm
    rule = base_rule(mat)
    (edge,) = rule.named("left plate's edge")
    ticks = rule.named("stance ")
    assert [float(tick.name.split()[1]) for tick in ticks][-1] == mat.panel.widest_stance_mm
    for tick in ticks:
        gap = tick.begin[0] - edge.begin[0] + bevel
        assert float(tick.name.split()[1]) == pytest.approx(gap + 2 * inner, abs=TENTH)
    drawn = {round(x, 3) for x, y, _, _ in sheets["base-rule"].crosses if y == 0}
    assert {round(tick.begin[0], 3) for tick in ticks} <= drawn


def test_crossings_by_the_layouts_own_numbers(mat):
    for panel, row, column, x, y in expected_places(mat):
        assert crossing(mat, panel, row, column) == pytest.approx((x, y), abs=1e-9)


def test_one_sheet_of_film_that_is_long_enough_has_no_seam(mat):
    whole = dataclasses.replace(mat, film=dataclasses.replace(mat.film, sheet_mm=400.0))
    assert seams(whole) == []
    assert len(film_strips(whole, 0).named("film ")) == mat.layout.columns_per_panel
    short = dataclasses.replace(mat, film=dataclasses.replace(mat.film, sheet_mm=110.0))
    ends = [0.0, *seams(short), mat.layout.length_mm]
    assert len(ends) - 1 == 4
    assert max(np.diff(ends)) + 4.0 <= 110.0


def test_mirroring_twice_changes_nothing():
    shapes = (rectangle("cut", 1, 2, 3, 4, "a"), Circle("drill", (5, 6), 2.0, "b"))
    once = mirrored(shapes, 50.0)
    assert once[0].points[0] == (49.0, 2.0)
    assert once[1].centre == (45.0, 6.0)
    assert mirrored(once, 50.0) == shapes


def test_titles_are_readable_on_the_mirrored_sheet(mat):
    words = [shape.text for shape in columns_from_below(mat, 1).shapes if hasattr(shape, "text")]
    assert "column strips seen from below, right panel" in words
    assert "column strips, right panel" not in words


def test_all_files_are_written_and_none_is_left_half(mat, tmp_path):
    written = write_templates(mat, tmp_path, ("a4",))
    names = {path.name for path in written}
    assert len(written) == len(names) == 2 * len(all_drawings(mat)) + 1
    assert {path.name for path in (tmp_path / mat.layout.id).iterdir()} == names
    assert all(path.stat().st_size > 500 for path in written)


def test_the_rim_fills_the_margins_and_leaves_pads_ribbon_and_notch_free(mat):
    """Taken off the drawing piece by piece: 2 mm to every pad, flush with the plate's edge, under every hole."""
    for panel in (0, 1):
        sheet = rim(mat, panel)
        pieces = [box(shape.points) for name in ("rim ", "lid ") for shape in sheet.named(name)]
        assert len(pieces) == 5 + 2
        solid = [np.array([x - w / 2, y - h / 2, x + w / 2, y + h / 2]) for x, y, w, h in pieces[:5]]
        cells = [box(shape.points) for shape in pads(mat, panel).named("pad ")]
        for x, y, w, h in cells:
            for left, low, right, top in solid:
                apart = max(left - (x + w / 2), x - w / 2 - right, low - (y + h / 2), y - h / 2 - top)
                assert apart >= 2.0 + mat.panel.pad_gap_mm / 2 - 1e-9
        for hole in sheet.named("hole"):
            (x, y), r = hole.centre, hole.diameter / 2
            assert any(a <= x - r and b <= y - r and x + r <= c and y + r <= d for a, b, c, d in solid)
        area = sum((c - a) * (d - b) for a, b, c, d in solid)
        assert area == pytest.approx(mat.rim_mm2)
        # What is marked on the plate, and the lower foil, fill exactly what the rim goes round.
        heel, side, other, toe = solid[0], *sorted(solid[2:4], key=lambda s: s[0]), solid[4]
        inside = (side[2], heel[3], other[0], toe[1])
        for drawing, name in ((base(mat, panel), "opening"), (row_strips(mat, panel), "foil")):
            x, y, w, h = box(drawing.named(name)[0].points)
            assert (x - w / 2, y - h / 2, x + w / 2, y + h / 2) == pytest.approx(inside)
        # The lid over the ribbon lies 1 mm from the rim, 2 mm from the pads, and is wide enough for the wires.
        lid = pieces[5]
        assert lid[2] == pytest.approx(1.27 * mat.layout.rows + 2.0 - 2.0)
        (edge,) = base(mat, panel).named("edge")
        xs = [x for x, y in edge.points if 0 < y < 30 and mat.panel.corner_mm < x < mat.base_width_mm - 8]
        assert max(xs) - min(xs) == mat.panel.notch_mm
        assert mat.panel.notch_mm >= 1.27 * mat.ways


def test_the_ball_strip_keeps_hard_things_off_the_line(mat):
    strip = ball_strip(mat)
    assert strip.size_mm[0] >= 600
    assert strip.size_mm[1] >= 300
    (line,) = strip.named("ball's line")
    hard = [*strip.named("peg"), *strip.named("strike sensor")]
    assert len(hard) == 5
    for each in hard:
        assert abs(each.centre[1] - line.begin[1]) - each.diameter / 2 >= 150
    edge, bevel = (box(strip.named(name)[0].points) for name in ("edge", "bevel"))
    assert line.begin[1] >= 150
    assert edge[3] - line.begin[1] >= 150
    for full, flat in zip(edge[2:], bevel[2:], strict=True):
        assert (full - flat) / 2 >= 2 * mat.height_mm
