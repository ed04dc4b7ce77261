"""Exported files read by libraries that had no part in writing them: ezc3d, pyarrow, csv of the standard library."""

import csv
import math

import ezc3d
import numpy as np
import pyarrow.parquet as pq
import pytest

from groundtone.errors import GroundtoneError
from groundtone.lesson.export_files import MOST_FRAMES, series_columns, write_c3d, write_table
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import rows_of, series_from_rows

LAYOUT = layout_of("reference-16x4")


def standing(lead, flare=(10.0, 20.0)):
    """Six seconds on the mat, heavier on one row after the other; the first half second empty."""
    t_s = np.arange(1200) / 200.0
    force = np.zeros((1200, LAYOUT.rows, LAYOUT.columns))
    weights = np.exp(-0.5 * ((np.arange(LAYOUT.rows) - 8 - 3 * np.sin(t_s)[:, None]) / 3.0) ** 2)
    force[100:] = 12.0 * weights[100:, :, None] * np.linspace(0.5, 1.5, LAYOUT.columns)
    stance = Stance(lead, 420.0, 30.0, flare)
    return series_from_rows(rows_of(t_s, force, LAYOUT), LAYOUT, stance), stance


@pytest.mark.parametrize("lead", [LEFT, RIGHT])
def test_c3d_platforms_tell_the_same_forces_and_centres(tmp_path, lead):
    series, stance = standing(lead)
    path = tmp_path / "swing.c3d"
    write_c3d(path, series, LAYOUT, stance, 200.0, [(1.0, "takeaway"), (2.5, "impact")])
    read = ezc3d.c3d(str(path), extract_forceplat_data=True)
    plates = read["data"]["platform"]
    for panel in (LEFT, RIGHT):
        assert plates[panel]["force"][2] == pytest.approx(series.force_n[:, panel], rel=1e-6, abs=1e-4)
        assert np.abs(plates[panel]["force"][:2]).max() == 0
    # The overall centre from the platforms alone, turned back into the stance frame.
    frame = 700
    force = np.array([plate["force"][2, frame] for plate in plates])
    centres = np.array([plate["center_of_pressure"][:2, frame] for plate in plates])
    overall = force @ centres / force.sum()
    towards_lead = overall[0] if lead == RIGHT else -overall[0]
    assert (towards_lead, overall[1]) == pytest.approx(tuple(series.centre_mm[frame]), abs=0.01)
    # And the points are the same places.
    points = read["data"]["points"]
    assert points[:2, 0, frame] == pytest.approx(overall, abs=0.01)
    assert points[:2, 1, frame] == pytest.approx(centres[0], abs=0.01)


def test_c3d_frame_is_right_handed_with_x_to_the_golfers_right(tmp_path):
    series, stance = standing(LEFT)
    write_c3d(tmp_path / "a.c3d", series, LAYOUT, stance, 200.0)
    read = ezc3d.c3d(str(tmp_path / "a.c3d"), extract_forceplat_data=True)
    left, right = (plate["corners"].mean(axis=1) for plate in read["data"]["platform"])
    assert left[0] < 0 < right[0]
    assert right[0] - left[0] == pytest.approx(420.0, abs=0.01)
    # The lead panel lies 30 mm ahead: forward is +Y.
    assert left[1] - right[1] == pytest.approx(30.0, abs=0.01)
    # Toes outwards: the left panel's toe end lies further left than its heel end.
    corners = read["data"]["platform"][0]["corners"]
    assert corners[0, :2].mean() < corners[0, 2:].mean()


def test_c3d_events_rates_and_missing_points(tmp_path):
    series, stance = standing(LEFT)
    write_c3d(tmp_path / "a.c3d", series, LAYOUT, stance, 200.0, [(1.0, "takeaway"), (2.5, "impact")])
    read = ezc3d.c3d(str(tmp_path / "a.c3d"))
    assert read["header"]["points"]["frame_rate"] == 200.0
    assert read["header"]["points"]["size"] == 3
    events = read["parameters"]["EVENT"]
    assert events["LABELS"]["value"] == ["takeaway", "impact"]
    assert events["TIMES"]["value"][1] == pytest.approx([1.0, 2.5])
    assert read["parameters"]["POINT"]["UNITS"]["value"] == ["mm"]
    residuals = read["data"]["meta_points"]["residuals"][0]
    assert (residuals[:, 50] == -1).all()
    assert (residuals[:, 700] == 0).all()


def test_c3d_refuses_nothing_and_too_much(tmp_path):
    _, stance = standing(LEFT)
    t_s, nothing = np.arange(MOST_FRAMES + 1) / 200.0, np.zeros((MOST_FRAMES + 1, LAYOUT.rows, LAYOUT.columns))
    long = series_from_rows(rows_of(t_s, nothing, LAYOUT), LAYOUT, stance)
    with pytest.raises(GroundtoneError, match="swing by swing"):
        write_c3d(tmp_path / "a.c3d", long, LAYOUT, stance, 200.0)
    assert not list(tmp_path.iterdir())


def test_frames_as_parquet_and_csv_are_the_same_numbers(tmp_path):
    series, _ = standing(LEFT)
    columns = series_columns(series)
    for name in ("frames.parquet", "frames.csv"):
        write_table(tmp_path / name, columns)
    table = pq.read_table(tmp_path / "frames.parquet").to_pydict()
    with (tmp_path / "frames.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(table) == list(columns) == list(rows[0])
    assert table["lead_share"][0] is None
    assert rows[0]["lead_share"] == ""
    assert float(rows[700]["cop_x_mm"]) == table["cop_x_mm"][700] == series.centre_mm[700, 0]


def test_text_that_looks_like_a_formula_stays_text(tmp_path):
    write_table(tmp_path / "names.csv", {"golfer": ["=1+1", 'Ä, "B"'], "value": [math.nan, -1.5]})
    rows = list(csv.reader((tmp_path / "names.csv").open(newline="", encoding="utf-8")))
    assert rows == [["golfer", "value"], ["'=1+1", ""], ['Ä, "B"', "-1.5"]]


def test_tables_that_cannot_be(tmp_path):
    with pytest.raises(GroundtoneError, match="different lengths"):
        write_table(tmp_path / "a.csv", {"a": [1], "b": []})
    with pytest.raises(GroundtoneError, match=r"\.csv or \.parquet"):
        write_table(tmp_path / "a.xls", {"a": [1]})
    (tmp_path / "file").write_text("")
    with pytest.raises(GroundtoneError, match="cannot be written"):
        write_table(tmp_path / "file" / "a.csv", {"a": [1]})
