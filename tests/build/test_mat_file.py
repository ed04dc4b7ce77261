"""The one description: read, checked, refused with a sentence that names the entry."""

import tomllib

import pytest

from groundtone.build.layout_check import as_table, mat_toml
from groundtone.build.mat_file import mat_from, mats_folder, read_mat
from groundtone.errors import BuildError
from groundtone.mat.layout import known_layouts, layout_from, layout_text

BUILDS = ("starter", "reference")


@pytest.mark.parametrize("name", BUILDS)
def test_the_description_and_the_programs_layout_are_one(name):
    mat = read_mat(name)
    assert known_layouts()[mat.layout.id] == mat.layout
    assert layout_from(tomllib.loads(layout_text(mat.layout)), "written") == mat.layout
    assert mat_from(tomllib.loads(mat_toml(mat)), "written") == mat


def test_a_panels_height_by_hand():
    # 1 sheet + 6 plate + 2 x 0.1 foil + 3 x 0.07 copper (columns doubled) + 0.2 film + 1 button + 2 pad + 2 cover
    assert read_mat("starter").height_mm == pytest.approx(12.61)
    assert read_mat("reference").base_width_mm == 140 + 30 + 15
    assert read_mat("reference").base_length_mm == 320 + 40 + 15


@pytest.mark.parametrize(
    ("section", "key", "value", "words"),
    [
        ("electrical", "pulldown_ohm", -5, "electrical.pulldown_ohm = -5: it must be a number from 10"),
        ("electrical", "supply_v", float("nan"), "electrical.supply_v = nan"),
        ("scan", "oversample", 2.0, "scan.oversample = 2.0: it must be a whole number from 1 to 8"),
        ("scan", "bits", True, "scan.bits = True"),
        ("film", "weight_kg", [1.0], "film.weight_kg = [1.0]: it must be two numbers"),
        ("panel", "strip_mm", 60.0, "panel.strip_mm is wider than the row pitch"),
        ("panel", "strip_mm", 31.9, "strips 0.1 mm apart touch"),
        ("film", "strip_mm", 45.9, "strips of film 0.1 mm apart are less than 3 mm"),
        ("film", "strip_mm", 50.0, "film.strip_mm reaches into the next column"),
        ("film", "sheet_mm", 60.0, "film.sheet_mm is shorter than two rows"),
        ("panel", "button_mm", 31.5, "panel.button_mm is larger than a pad"),
        ("panel", "hole_inset_mm", 14.0, "the holes do not fit into the rim"),
        ("panel", "glitter_mm", 1.0, "[panel]: glitter_mm unknown"),
        (None, "rows", 0, "it must be a plain number above zero"),
        (None, "rows", 17, "more rows or columns than the board has"),
        (None, "id", "starter-10x4", "id = 'starter-10x4' must end with -10x3"),
        (None, "board", 3, "board must be a name in quotation marks"),
        (None, "person", 3, "[person] must be a table"),
    ],
)
def test_each_wrong_entry_is_named(section, key, value, words):
    table = as_table(read_mat("starter"))
    (table if section is None else table[section])[key] = value
    with pytest.raises(BuildError) as refused:
        mat_from(table, "my.toml")
    assert words in str(refused.value)
    assert "my.toml" in str(refused.value)


def test_a_missing_entry_is_named():
    table = as_table(read_mat("starter"))
    del table["water"]["depth_mm"]
    with pytest.raises(BuildError, match=r"\[water\]: depth_mm missing"):
        mat_from(table, "my.toml")


def test_files_that_are_not_there_or_not_toml(tmp_path):
    with pytest.raises(BuildError, match="name one of reference, starter, or a TOML file"):
        read_mat("nobody")
    with pytest.raises(BuildError, match="cannot be read"):
        read_mat(str(tmp_path / "none.toml"))
    broken = tmp_path / "broken.toml"
    broken.write_bytes(b"id = \xff")
    with pytest.raises(BuildError, match="is not TOML"):
        read_mat(str(broken))
    own = tmp_path / "own.toml"
    own.write_text((mats_folder() / "starter.toml").read_text().replace("mass_kg = 110.0", "mass_kg = 70.0"))
    assert read_mat(str(own)).person.mass_kg == 70.0


def test_a_description_made_earlier_keeps_opening():
    """Without sheet, base, ground and feed, its notch still called a slot: usual values stand in, the bevel follows."""
    table = as_table(read_mat("starter"))
    for key in ("sheet_mm", "pads_glued_to", "buttons_glued_to"):
        del table["stack"][key]
    for key in ("feed", "fuse_a"):
        del table["power"][key]
    del table["base"], table["ground"]
    table["panel"]["slot_mm"] = table["panel"].pop("notch_mm")
    mat = mat_from(table, "old.toml")
    assert (mat.panel.notch_mm, mat.base.material, mat.power.fuse_a) == (40.0, "plywood", 0.5)
    assert mat.bevel_mm == 26.0  # 2 x 12.61, whole mm
    table["stack"]["cover_mm"] = 2.5  # as it was: 13.1 mm are more than ADA 303.3 allows a bevel, so a ramp
    assert mat_from(table, "old.toml").bevel_mm == 158.0
