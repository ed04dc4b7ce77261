"""What Review reads: lanes and strikes that are kept, and files that are damaged, half or not in the library."""

import numpy as np
import pytest
from odd_names import PUPIL

from groundtone.app.window import jobs
from groundtone.app.window.places.pupil import Pupil
from groundtone.record.reader import open_recording
from groundtone.review.lane_store import swing_lanes
from groundtone.review.library_reader import open_session
from groundtone.review.session_review import review
from groundtone.review.strikes import Strike
from groundtone.review.told_later import tell_strike


def test_the_library_shows_what_measuring_anew_shows(lesson_home):
    (line,) = jobs.session_list()
    view = open_session(line.path)
    seen = review(open_recording(line.path))
    assert (line.golfer, line.swings, line.strikes) == (PUPIL, 4, 4)
    for mine, other in zip(view.swings, seen.rows(), strict=True):
        assert (mine.number, mine.kind, mine.strike) == (other.number, other.kind, other.strike)
        assert mine.values == pytest.approx(other.values, nan_ok=True)
        assert [f.name for f in mine.faults] == [f.name for f in other.faults]
    lanes = swing_lanes(view)
    series = seen.measured.series
    at = np.searchsorted(series.t_s, lanes[2].device_s)
    np.testing.assert_allclose(lanes[2].share, series.share[at], atol=1e-6)
    np.testing.assert_allclose(swing_lanes(view)[2].share, lanes[2].share, atol=1e-6)


def test_event_time_counts_events(lesson_home):
    lane = swing_lanes(open_session(jobs.session_list()[0].path))[2]
    by_word = {name: lane.step_at(at) for at, name in lane.events}
    assert by_word["takeaway"] == pytest.approx(0.0, abs=0.02)
    assert by_word["turn"] == pytest.approx(1.0, abs=0.02)
    assert by_word["impact"] == pytest.approx(2.0, abs=0.02)
    assert (np.diff(lane.step) > 0).all()


def test_a_damaged_file_of_lanes_is_made_anew(lesson_home):
    view = open_session(jobs.session_list()[0].path)
    before = swing_lanes(view)
    (kept,) = (lesson_home / "lanes").glob("*.npz")
    kept.write_bytes(kept.read_bytes()[:200])
    np.testing.assert_array_equal(swing_lanes(view)[1].t_s, before[1].t_s)


def test_a_strike_told_later_is_in_recording_and_library(lesson_home):
    path = jobs.session_list()[0].path
    tell_strike(path, open_session(path).swings[0], Strike(field=9))
    assert open_session(path).swings[0].strike == Strike(field=9)
    assert review(open_recording(path)).swings[0].strike == Strike(field=9)
    tell_strike(path, open_session(path).swings[0], Strike())
    assert not open_session(path).swings[0].strike.told


@pytest.mark.parametrize("content", [b"no recording at all", bytes(range(256)) * 40])
def test_a_damaged_file_leaves_nobody_elses_picture(review_place, tmp_path, qtbot, content):
    shell, place = review_place
    bad = tmp_path / "bad.mcap"
    bad.write_bytes(content)
    place.open_path(bad)
    assert place.lane.first is None
    qtbot.waitUntil(lambda: place.title.text() == "This recording cannot be opened")
    assert "bad.mcap" in shell.line.text()
    assert place.view is None
    assert place.swings.rowCount() == 0
    assert place.field.level.max() == 0.0


def test_half_a_session_opens_with_a_word_about_it(review_place, tmp_path, qtbot):
    shell, place = review_place
    half = tmp_path / "half.mcap"
    whole = place.view.path.read_bytes()
    half.write_bytes(whole[: len(whole) * 3 // 4])
    place.open_path(half)
    qtbot.waitUntil(lambda: place.view is not None and place.view.path == half)
    assert "was not ended in order" in shell.line.text()
    assert 1 <= len(place.view.swings) < 4


def test_what_the_library_missed_is_put_in_at_the_start(window, lesson_home, qtbot):
    (lesson_home / "library.sqlite").unlink()
    shell = window()
    qtbot.waitUntil(lambda: len(jobs.session_list()) == 1)
    shell.common.take(Pupil(PUPIL))
    shell.go("review")
    qtbot.waitUntil(lambda: shell.places["review"].swings.rowCount() == 6)
