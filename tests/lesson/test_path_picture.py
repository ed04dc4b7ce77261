"""The path of the centre over the feet: where it was at the events, the panels beneath, the picture as a file."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import image

from groundtone.errors import GroundtoneError
from groundtone.lesson.path_picture import panel_corners, path_of_swing, write_paths
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance

LAYOUT = layout_of("reference-16x4")
T = np.arange(0, 5.001, 0.01)
# From the middle to 60 mm on the trail side at the turn, to 120 mm on the lead side at the finish.
X = np.interp(T, [2.0, 2.7, 3.0, 3.5], [0.0, -60.0, 80.0, 120.0])
SERIES = SimpleNamespace(t_s=T, centre_mm=np.stack([X, np.full(T.size, 10.0)], axis=1))
EVENTS = {"takeaway": 2.0, "turn": 2.7, "impact": 3.0, "finish": 3.5}


@pytest.mark.parametrize(("lead", "sign", "side"), [(RIGHT, 1, "right"), (LEFT, -1, "left")])
def test_the_lead_side_is_where_the_golfer_sees_it(lead, sign, side):
    path = path_of_swing("Swing 1", EVENTS, SERIES, Stance(lead), LAYOUT)
    assert path.lead == side
    assert path.events["turn"] == (pytest.approx(sign * -60.0), 10.0)
    assert path.events["finish"] == (pytest.approx(sign * 120.0), 10.0)
    assert (path.at_mm[0, 0], path.at_mm[-1, 0]) == (pytest.approx(0.0), pytest.approx(sign * 120.0, abs=2.0))
    # The left panel lies on the left, for either hand.
    assert path.feet_mm[0][:, 0].mean() == pytest.approx(-200.0)
    assert path.feet_mm[1][:, 0].mean() == pytest.approx(200.0)


def test_panels_have_their_size_and_flare_turns_them():
    left, _ = panel_corners(Stance(LEFT, 400.0), LAYOUT)
    assert np.ptp(left, axis=0) == pytest.approx([LAYOUT.width_mm, LAYOUT.length_mm])
    _, flared = panel_corners(Stance(LEFT, 400.0, 0.0, (0.0, 90.0)), LAYOUT)
    assert np.ptp(flared, axis=0) == pytest.approx([LAYOUT.length_mm, LAYOUT.width_mm])


def test_without_a_begin_or_frames_there_is_no_path():
    assert path_of_swing("x", {"impact": 3.0}, SERIES, Stance(), LAYOUT) is None
    nowhere = SimpleNamespace(t_s=T, centre_mm=np.full((T.size, 2), np.nan))
    assert path_of_swing("x", EVENTS, nowhere, Stance(), LAYOUT) is None
    # Without a finish it goes on for half a second after impact.
    short = path_of_swing("x", {"takeaway": 2.0, "impact": 3.0}, SERIES, Stance(RIGHT), LAYOUT)
    assert short.at_mm[-1, 0] == pytest.approx(120.0, abs=2.0)


def test_the_picture(tmp_path):
    path = path_of_swing("Swing 1", EVENTS, SERIES, Stance(), LAYOUT)
    write_paths(tmp_path / "a.png", [path] * 4)
    picture = image.imread(tmp_path / "a.png")
    assert picture.shape[:2] == (680, 1020)
    assert 0.005 < (picture[:, :, :3].min(axis=2) < 0.5).mean() < 0.3
    write_paths(tmp_path / "a.svg", [path])
    text = (tmp_path / "a.svg").read_text("utf-8")
    assert "<svg" in text
    with pytest.raises(GroundtoneError, match="no swing to draw"):
        write_paths(tmp_path / "b.png", [])
    with pytest.raises(GroundtoneError, match="drawn as"):
        write_paths(tmp_path / "b.pdf", [path])
