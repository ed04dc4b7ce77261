"""Pages of the templates against the standards of paper, and the 100 mm rule on them, read back by pypdf.

Sources: ISO 216 (A4 is 210 mm x 297 mm); ANSI/ASME Y14.1, size A (8.5 in x 11 in); 1 in = 25.4 mm (1959); a PDF
point is 1/72 in (ISO 32000).
"""

import io

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from groundtone.build.drawing import Circle, Drawing, Line, rectangle
from groundtone.build.write_pdf import OVERLAP_MM, PAGES_MM, pdf, tiles, window_mm
from groundtone.errors import BuildError

STANDARD_MM = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4)}


def moves(page):
    """Every straight stroke of a page as ((x0, y0), (x1, y1)) in mm on the paper."""
    state, stack, here, out = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [], None, []

    def place(x, y):
        a, b, c, d, e, f = state
        return (a * x + c * y + e) * 25.4 / 72, (b * x + d * y + f) * 25.4 / 72

    for operands, operator in ContentStream(page["/Contents"].get_object(), page.pdf).operations:
        values = [float(v) for v in operands] if operator in (b"cm", b"m", b"l") else []
        if operator == b"q":
            stack.append(state)
        elif operator == b"Q":
            state = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            A, B, C, D, E, F = state
            state = (
                a * A + b * C, a * B + b * D, c * A + d * C, c * B + d * D, e * A + f * C + E, e * B + f * D + F,
            )  # fmt: skip
        elif operator == b"m":
            here = place(*values)
        elif operator == b"l":
            there = place(*values)
            out.append((here, there))
            here = there
    return out


def length(stroke):
    (x0, y0), (x1, y1) = stroke
    return ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5


@pytest.mark.parametrize("paper", list(STANDARD_MM))
def test_pages_have_the_papers_size_and_a_rule_of_100_mm(paper):
    drawing = Drawing("d", "a drawing", (300.0, 400.0), (Line("mark", (20.0, 30.0), (133.0, 30.0), "113"),))
    reader = PdfReader(io.BytesIO(pdf([drawing], paper, "test")))
    assert len(reader.pages) == len(tiles(drawing.size_mm, paper)) == 4
    for page in reader.pages:
        size = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
        assert size == pytest.approx(STANDARD_MM[paper], abs=0.01)
        assert size == pytest.approx(PAGES_MM[paper], abs=0.01)
        lengths = [length(stroke) for stroke in moves(page)]
        assert any(abs(value - 100.0) < 0.01 for value in lengths)  # the rule
        assert any(abs(value - 113.0) < 0.01 for value in lengths)  # and the drawing at 1:1


@pytest.mark.parametrize("paper", list(STANDARD_MM))
def test_tiles_cover_the_drawing_and_overlap(paper):
    size = (412.0, 633.0)
    wide, high = window_mm(paper)
    pages = tiles(size, paper)
    assert max(tile.left for tile in pages) + wide >= size[0]
    assert max(tile.bottom for tile in pages) + high >= size[1]
    steps = {b.left - a.left for a in pages for b in pages if b.column == a.column + 1}
    assert steps == {wide - OVERLAP_MM}


def test_a_point_of_the_drawing_lies_where_its_tile_says():
    """The same point, drawn on two neighbouring pages, is one overlap's step apart on the paper."""
    drawing = Drawing("d", "t", (300.0, 100.0), (Line("mark", (183.0, 50.0), (190.0, 50.0)),))
    reader = PdfReader(io.BytesIO(pdf([drawing], "a4", "test")))
    at = []
    for page in reader.pages:
        at += [a for a, b in moves(page) if abs(length((a, b)) - 7.0) < 0.01]
    (x0, y0), (x1, y1) = at
    assert (x0 - x1, y0 - y1) == pytest.approx((180.0, 0.0), abs=0.01)
    assert (x0, y0) == pytest.approx((10.0 + 183.0, 32.0 + 50.0), abs=0.01)


def test_crosses_of_neighbouring_pages_lie_on_the_same_point_of_the_drawing():
    drawing = Drawing("d", "t", (300.0, 500.0), (Line("mark", (0.0, 0.0), (3.0, 0.0)),))
    reader = PdfReader(io.BytesIO(pdf([drawing], "letter", "test")))
    pages = tiles(drawing.size_mm, "letter")
    assert len(pages) == 6
    counts = {}
    for page, tile in zip(reader.pages, pages, strict=True):
        arms = [a for a, b in moves(page) if abs(length((a, b)) - 8.0) < 0.01 and a[1] == pytest.approx(b[1])]
        for x, y in arms:
            # The cross' middle, 4 mm from the arm's end; the paper's corner is not the drawing's.
            at = round(x + 4 - 10 + tile.left, 2), round(y - 32 + tile.bottom, 2)
            counts[at] = counts.get(at, 0) + 1
    assert len(counts) > 4
    inside = {at: n for at, n in counts.items() if 5 < at[0] < 295 and 5 < at[1] < 495}
    assert min(inside.values()) >= 2


def test_a_closed_outline_and_a_circle_are_on_the_page():
    drawing = Drawing("d", "t", (100.0, 100.0), (rectangle("cut", 10, 20, 31, 41), Circle("drill", (60, 60), 5.0)))
    (page,) = PdfReader(io.BytesIO(pdf([drawing], "letter", "test"))).pages
    lengths = [length(stroke) for stroke in moves(page)]
    assert sum(abs(value - 31.0) < 0.01 for value in lengths) == 2
    assert sum(abs(value - 41.0) < 0.01 for value in lengths) >= 1


def test_an_unknown_paper_is_refused():
    with pytest.raises(BuildError, match="choose one of a4, letter"):
        tiles((10.0, 10.0), "napkin")
