"""Layouts: what a file says, where each cell lies, and a sentence for every way in which a file can be wrong."""

import dataclasses

import numpy as np
import pytest

from groundtone.errors import LayoutError
from groundtone.mat.layout import known_layouts, layout_of, read_layout

GOOD = """
id = "garage-3x2"
rows = 3
columns_per_panel = 2
row_pitch_mm = 20.0
column_pitch_mm = 30
[electrical]
pulldown_ohm = 1000.0
series_ohm = 100.0
reference_ohm = 990.0
driver_ohm = 40.0
"""


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "garage.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_a_file_by_hand(written):
    layout = read_layout(written(GOOD))
    assert (layout.id, layout.rows, layout.columns_per_panel, layout.columns, layout.cells) == (
        "garage-3x2",
        3,
        2,
        4,
        12,
    )
    assert (layout.length_mm, layout.width_mm) == (60.0, 60.0)
    assert layout.u_mm.tolist() == [10.0, 30.0, 50.0]
    assert layout.v_mm.tolist() == [15.0, 45.0]
    drivers = layout.nominal_drivers()
    assert drivers.high_ohm.tolist() == drivers.low_ohm.tolist() == [140.0] * 3
    assert drivers.pulldown_ohm.tolist() == [1000.0] * 4
    assert layout.reference_ohm == 990.0


def test_the_layouts_that_come_with_the_program():
    known = known_layouts()
    assert set(known) == {"reference-16x4", "starter-10x3"}
    assert known["reference-16x4"].cells == 128
    assert (known["reference-16x4"].length_mm, known["reference-16x4"].width_mm) == (320.0, 140.0)
    assert known["starter-10x3"].cells == 60
    for name, layout in known.items():
        # The firmware takes the grid from the end of the id.
        assert name.endswith(f"-{layout.rows}x{layout.columns_per_panel}")
        assert layout_of(name) == layout


def test_an_unknown_layout_says_which_are_known():
    with pytest.raises(LayoutError, match=r"'loft-8x4' is not known here \(known: reference-16x4, starter-10x3\)"):
        layout_of("loft-8x4")


def test_by_panel_puts_each_cell_where_it_lies():
    layout = layout_of("reference-16x4")
    cells = np.arange(2 * 16 * 8).reshape(2, 16, 8).astype(float)
    panels = layout.by_panel(cells)
    assert panels.shape == (2, 2, 16, 4)
    for row, column in ((0, 0), (0, 3), (15, 2), (7, 1)):
        assert panels[1, 0, row, column] == cells[1, row, column]
        assert panels[1, 1, row, column] == cells[1, row, 4 + column]
    np.testing.assert_array_equal(layout.by_panel(cells[0]), panels[0])


@pytest.mark.parametrize("name", [f.name for f in dataclasses.fields(layout_of("reference-16x4"))])
def test_the_digest_changes_with_any_number(name):
    layout = layout_of("starter-10x3")
    value = getattr(layout, name)
    if value == ():  # an order of lines: any that is not the plain one
        other = tuple(range(layout.columns if name == "columns_order" else layout.rows))[::-1]
    else:
        other = value + ("x" if name == "id" else 1)
    changed = dataclasses.replace(layout, **{name: other})
    assert changed.digest != layout.digest
    assert dataclasses.replace(changed, **{name: value}).digest == layout.digest
    assert len(layout.digest) == 8


def test_the_digest_does_not_depend_on_what_was_asked_before():
    layout, fresh = layout_of("starter-10x3"), layout_of("starter-10x3")
    assert layout.u_mm.size + layout.v_mm.size == 13
    assert layout.digest == fresh.digest


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing"),
        (GOOD.replace("rows = 3", ""), "rows missing"),
        (GOOD.replace("[electrical]", "[wires]"), "pulldown_ohm"),
        (GOOD + "colour = 3\n", "colour unknown"),
        (GOOD.replace("rows = 3", "rows = 3 4"), "not TOML"),
        (GOOD.replace("rows = 3", "rows = 3\nrows = 4"), "not TOML"),
        (GOOD.encode() + b"\xff\xfe", "not TOML"),
        (b"\x00\x01\x02", "not TOML"),
        (GOOD.replace("rows = 3", "rows = 0"), "rows = 0"),
        (GOOD.replace("rows = 3", "rows = -3"), "rows = -3"),
        (GOOD.replace("rows = 3", "rows = 3.0"), "whole"),
        (GOOD.replace("rows = 3", "rows = true"), "whole"),
        (GOOD.replace("rows = 3", "rows = '3'"), "whole"),
        (GOOD.replace("rows = 3", "rows = 1"), "at least 2"),
        (GOOD.replace("rows = 3", "rows = 17"), "more rows"),
        (GOOD.replace("rows = 3", "rows = 1" + "0" * 400), "rows = 1000"),
        (GOOD.replace("columns_per_panel = 2", "columns_per_panel = 5"), "more rows or columns"),
        (GOOD.replace("columns_per_panel = 2", "columns_per_panel = [2]"), "whole"),
        (GOOD.replace("20.0", "nan"), "row_pitch_mm = nan"),
        (GOOD.replace("20.0", "inf"), "row_pitch_mm = inf"),
        (GOOD.replace("20.0", "'wide'"), "row_pitch_mm = 'wide'"),
        (GOOD.replace("20.0", "true"), "row_pitch_mm = True"),
        (GOOD.replace("1000.0", "0.0"), "pulldown_ohm = 0.0"),
        (GOOD.replace("100.0\n", "-100.0\n"), "series_ohm = -100.0"),
        (GOOD.replace('"garage-3x2"', "7"), "id = 7"),
        (GOOD.replace('"garage-3x2"', '""'), "1 to 32"),
        (GOOD.replace('"garage-3x2"', f'"{"x" * 33}"'), "1 to 32"),
        ("electrical = 3\n" + GOOD.split("[electrical]")[0], "table of its own"),
    ],
)  # fmt: skip
def test_a_bad_file_says_in_one_sentence_what_is_wrong(written, text, says):
    with pytest.raises(LayoutError) as caught:
        read_layout(written(text))
    sentence = str(caught.value)
    assert says in sentence
    assert "\n" not in sentence
    assert ":" in sentence


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(LayoutError, match="cannot be read"):
            read_layout(path)
