"""The lane picture: where a ribbon leaves its band, and that the drawn pixels say the same."""

from dataclasses import replace
from pathlib import Path

import matplotlib
import matplotlib.image
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groundtone.lesson.lane_picture import draw_lanes
from groundtone.review.lane import Lane, outside, spread

T = np.arange(-100, 101) / 100.0
# An invented swing: the share rises straight through its band's low edge, the heel-toe position stays where it is.
SWING = Lane(
    t_s=T,
    share=0.5 + 0.2 * T,
    overall=np.full(201, 0.5),
    events=[(-0.5, "takeaway"), (0.4, "impact"), (0.41, "late")],
    limits={"share": [(-1.0, 1.0, 0.45, np.inf)], "overall": [(-1.0, 1.0, 0.4, 0.6)]},
    cues=[],
    title="Swing 1 (invented)",
)
ORANGE = np.array([0xC4, 0x50, 0x0F])


def orange(path: Path, columns: slice = slice(None)) -> np.ndarray:
    """Heights of the picture's rows with warning colour, 0 at the bottom, 1 at the top."""
    picture = np.round(matplotlib.image.imread(path)[:, :, :3] * 255)
    found = np.all(np.abs(picture[:, columns] - ORANGE) <= 3, axis=2).any(axis=1)
    return 1.0 - (np.flatnonzero(found) + 0.5) / len(picture)


def height_of(t: float) -> float:
    """Where a time lies: the lane takes 0.725 of the height from 0.135 up, with 2 % of the time's range spare."""
    return 0.135 + 0.725 * (t + 1.04) / 2.08


def test_outside_by_hand() -> None:
    bands = [(0.0, 2.0, 0.4, 0.6), (3.0, 4.0, 0.55, np.inf)]
    t = [-1.0, 0.0, 1.0, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5]
    x = [0.9, 0.5, 0.61, 0.39, 0.1, 0.54, 0.99, np.nan, 0.0]
    assert outside(t, x, bands).tolist() == [False, False, True, True, False, True, False, False, False]


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ([1.0, 5.0], [1.0, 5.0]),
        ([1.0, 1.0, 1.0], [0.0, 1.0, 2.0]),
        ([5.0, 5.4, 9.9], [4.7, 5.7, 9.9]),
        ([9.8, 9.9], [9.0, 10.0]),
        ([], []),
    ],
)
def test_words_move_apart_as_little_as_may_be(wanted: list[float], expected: list[float]) -> None:
    assert spread(wanted, 1.0, 0.0, 10.0) == pytest.approx(expected)


@settings(deadline=None)
@given(st.lists(st.floats(0, 10), min_size=1, max_size=30).map(sorted))
def test_words_stay_apart_in_order_and_inside(wanted: list[float]) -> None:
    got = spread(wanted, 1.0, 0.0, 10.0)
    gap = min(1.0, 10.0 / max(len(wanted) - 1, 1))
    assert np.all(np.diff(got) >= gap - 1e-9)
    assert min(got) >= -1e-9
    assert max(got) <= 10.0 + 1e-9


def test_the_ribbon_is_striped_just_where_it_is_outside(tmp_path: Path) -> None:
    draw_lanes(tmp_path / "a.png", [SWING])
    rows = orange(tmp_path / "a.png")
    # 0.5 + 0.2 t is under 0.45 until t = -0.25; half a ribbon's width (6 points of 691) is allowed at each end.
    assert rows.min() == pytest.approx(height_of(-1.0), abs=0.011)
    assert rows.max() == pytest.approx(height_of(-0.25), abs=0.011)


def test_no_warning_colour_and_no_stripe_without_a_band(tmp_path: Path) -> None:
    draw_lanes(tmp_path / "a.png", [replace(SWING, limits={})])
    assert len(orange(tmp_path / "a.png")) == 0


# 100 points an inch: time 0.65, margin 0.8, ribbon 2.3, words 2.0, ribbon 2.3, margin 0.8.
@pytest.mark.parametrize(
    ("name", "here", "elsewhere"),
    [("trail side", slice(65, 145), slice(145, None)), ("toes", slice(805, 885), slice(0, 805))],
)
def test_a_cue_stands_beside_the_side_it_warns_of_while_it_sounded(
    tmp_path: Path, name: str, here: slice, elsewhere: slice
) -> None:
    draw_lanes(tmp_path / "a.png", [replace(SWING, limits={}, cues=[(-0.2, 0.6, name)])])
    assert len(orange(tmp_path / "a.png", elsewhere)) == 0
    rows = orange(tmp_path / "a.png", here)
    assert rows.min() == pytest.approx(height_of(-0.2), abs=0.003)
    assert rows.max() == pytest.approx(height_of(0.6), abs=0.003)


def test_a_gap_in_the_measure_is_a_gap_in_the_ribbon(tmp_path: Path) -> None:
    share = np.where(np.abs(T) < 0.3, np.nan, 0.2)
    draw_lanes(tmp_path / "a.png", [replace(SWING, share=share)])
    rows = orange(tmp_path / "a.png")
    inside = (rows > height_of(-0.27)) & (rows < height_of(0.27))
    assert not inside.any()
    assert (rows < height_of(-0.3)).any()
    assert (rows > height_of(0.3)).any()


def test_swings_side_by_side_share_the_scale_of_time(tmp_path: Path) -> None:
    late = replace(SWING, t_s=T + 2.0, limits={}, cues=[(1.5, 2.5, "toes")])
    draw_lanes(tmp_path / "a.png", [replace(SWING, limits={}), late])
    rows = orange(tmp_path / "a.png")
    # Together they last from -1 to 3 s, with 0.08 s spare at both ends.
    assert rows.min() == pytest.approx(0.135 + 0.725 * (1.5 + 1.08) / 4.16, abs=0.003)
    assert rows.max() == pytest.approx(0.135 + 0.725 * (2.5 + 1.08) / 4.16, abs=0.003)


def test_one_swing_is_the_same_picture_under_any_plotting_settings(tmp_path: Path) -> None:
    draw_lanes(tmp_path / "a.png", [SWING])
    with matplotlib.rc_context({"savefig.facecolor": "black", "font.family": "serif", "hatch.linewidth": 9}):
        draw_lanes(tmp_path / "b.png", [SWING])
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_wrong_data_is_refused_with_a_sentence(tmp_path: Path) -> None:
    for swings, words in (
        ([], "no swing"),
        ([replace(SWING, overall=np.zeros(5))], "same length"),
        ([replace(SWING, limits={"sway": []})], "not for sway"),
        ([replace(SWING, cues=[(0.0, 1.0, "elbows")])], "not elbows"),
    ):
        with pytest.raises(ValueError, match=words):
            draw_lanes(tmp_path / "a.png", swings)
    assert not (tmp_path / "a.png").exists()


def test_warning_colour_and_words_have_enough_contrast() -> None:
    def luminance(rgb: tuple[int, int, int]) -> float:
        """WCAG 2.2, relative luminance."""
        c = np.array(rgb) / 255
        linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    from groundtone.lesson import lane_picture as lane

    def rgb(text: str) -> tuple[int, int, int]:
        return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)

    paper = luminance(rgb(lane._PAPER))
    for colour, least in (
        (lane._INK, 4.5),
        (lane._FAINT, 4.5),
        (lane._OUTSIDE, 4.5),
        (lane._INSIDE, 4.5),
        (lane._EDGE, 3),
    ):
        assert (paper + 0.05) / (luminance(rgb(colour)) + 0.05) >= least, colour
