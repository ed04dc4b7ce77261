"""Small faults that had lived among the tests (tests/studies/mutants.md), each with what would have told it."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from groundtone.calibration.fitting.film_memory import CreepMemory
from groundtone.calibration.fitting.hysteresis import HysteresisMemory
from groundtone.cue.rules import SETTLE_S, SlideAndFinish
from groundtone.swing.definition import ONE_SWING_S
from groundtone.swing.doubts import Measure
from groundtone.swing.events import Moment, Swing
from groundtone.swing.findings import style_of
from groundtone.swing.measures import _evenly, _Measuring
from groundtone.swing.phases import CHIP_S, _finish, _takeaway, _takeaway_without_turn, _within_reach
from groundtone.swing.steady import Setup
from groundtone.swing.track import Track
from groundtone.swing.tracker import SwingTracker

GRID_S = 0.005


def track(share, seconds, weights=None):
    t = np.arange(0, seconds, GRID_S)
    share = share(t) if callable(share) else np.full(t.size, share)
    weights = np.ones(t.size) if weights is None else weights(t)
    return Track(t, share, weights, np.full((t.size, 2), 0.5), 0.001, np.zeros((0, 2)))


def test_a_value_is_read_from_the_first_frame_to_the_last_and_not_beyond():
    window = SimpleNamespace(t_s=np.array([1.0, 2.0, 3.0]))
    at = _Measuring._value
    me = SimpleNamespace(w=window)
    values = np.array([10.0, 20.0, 40.0])
    assert [at(me, values, when) for when in (1.0, 1.5, 2.5, 3.0)] == [10.0, 15.0, 30.0, 40.0]
    assert math.isnan(at(me, values, 0.99))
    assert math.isnan(at(me, values, 3.01))
    assert math.isnan(at(SimpleNamespace(w=SimpleNamespace(t_s=np.zeros(0))), np.zeros(0), 1.0))


def test_ten_known_places_are_a_path_and_nine_are_none():
    t = np.arange(12) * 0.02
    places = np.stack([t, t], axis=1)
    places[10:] = np.nan
    grid, _ = _evenly(t, places, 10.0)
    assert grid.size > t.size
    places[9] = np.nan
    assert _evenly(t, places, 10.0)[0] is t


def measured(most, impact):
    return style_of({"share_most_down": Measure("m", most, 0.0, "1"), "share_impact": Measure("i", impact, 0.0, "1")})


def test_a_styles_odds_are_a_probability():
    assert measured(0.80, 0.80) == ("front foot", pytest.approx(1.0, abs=1e-3))
    name, odds = measured(0.80, 0.60)
    assert (name, odds) == ("reverse", pytest.approx(1.0, abs=1e-3))
    assert 0.0 <= measured(0.2, 0.2)[1] <= 1.0


def test_the_finish_settles_to_its_last_moment():
    rule = SlideAndFinish()
    rule.back(0.5, 0.5)
    begin, end = SETTLE_S
    # Three shares within the time in which it settles; the last comes at its very end and is the middle one.
    for since, share in ((begin, 0.70), ((begin + end) / 2, 0.90), (end, 0.80)):
        rule.forth(10.0 + since, share, 0.5, 0.0, since, 1.0)
    rule.forth(10.0 + end + 0.02, 0.75, 0.5, 0.0, end + 0.02, 1.0)
    assert rule.unsteady == pytest.approx(0.05)


def test_a_finish_that_is_seen_too_shortly_is_none():
    late = 2.0
    seen = track(0.9, late + 0.45 + 0.03)
    assert _finish(seen, late, 1.0)[0] is None  # seven samples of where it settles
    seen = track(0.9, late + 0.45 + 0.10)
    reached, _ = _finish(seen, late, 1.0)
    assert reached.t_s == pytest.approx(late + 0.08, abs=GRID_S)


def test_the_takeaway_is_fitted_on_the_first_part_of_the_backswing():
    """A ramp that begins at 2 s: found to a sample or two, whatever comes in its last part."""

    def share(t):
        return 0.5 - 0.3 * np.clip((t - 2.0) / 0.8, 0, 1) ** 1.5

    found = _takeaway(track(share, 3.0), Setup(1.0, 2.0, 0.5), Moment(2.8, "pressure", 0.01))
    assert found.t_s == pytest.approx(2.0, abs=0.06)


def test_who_settles_at_another_share_after_the_setup_begins_from_there():
    """At 0.50 until 1 s, at 0.44 from 1.3 s on, and back from 3.0 to 3.7 s."""
    seen = track(lambda t: np.interp(t, [1.0, 1.3], [0.5, 0.44]) - 0.2 * np.clip((t - 3.0) / 0.7, 0, 1) ** 1.5, 3.8)
    setup, turn = Setup(0.0, 1.0, 0.5), Moment(3.7, "pressure", 0.01)
    first = _takeaway(seen, setup, turn)
    assert first.t_s < 1.4
    again, found = _within_reach(seen, setup, first, turn)
    assert found.t_s == pytest.approx(3.0, abs=0.06)
    assert again.share == pytest.approx(0.44, abs=0.001)


def test_who_rests_at_the_turn_began_before_the_rest():
    seen = track(lambda t: 0.5 - 0.25 * np.clip((t - 1.0) / 0.7, 0, 1) ** 1.5, 3.3)
    setup, turn = Setup(0.0, 1.0, 0.5), Moment(3.2, "pressure", 0.05)
    first = _takeaway(seen, setup, turn)
    assert _within_reach(seen, setup, first, turn) == (setup, first)
    assert first.t_s == pytest.approx(1.0, abs=0.06)


@pytest.mark.parametrize(("goes_s", "begins_s"), [(9.0, 3.0), (3.6, 4.0 - CHIP_S), (3.0, 2.87)])
def test_where_pressure_does_not_turn_a_step_long_before_is_no_takeaway(goes_s, begins_s):
    """A step of 0.08 two seconds before impact; nothing after it, a chip's push alone, a movement at 3 s."""
    seen = track(lambda t: np.interp(t, [1.9, 2.0, 2.1, goes_s, goes_s + 0.4], [0.5, 0.58, 0.5, 0.5, 0.7]), 5.0)
    found = _takeaway_without_turn(seen, Setup(0.5, 1.5, 0.5), 4.0)
    assert (found.t_s, found.doubt_s) == (pytest.approx(begins_s, abs=0.06), pytest.approx(0.3))


class Told(SwingTracker):
    """A tracker that has been told of a swing with an impact, and of strikes about it."""

    def __init__(self, impact_s, *strikes):
        super().__init__()
        self._strikes.extend(strikes)
        self.own = Swing(0, 0.5, Moment(impact_s - 1, "pressure", 0.1), None, impact=Moment(impact_s, "strike", 0.0))


def test_a_swing_that_is_told_takes_its_strikes_and_the_phases_give_it_up():
    tracker = Told(10.0, (10.0, 0.5), (10.0 + ONE_SWING_S, 0.1), (10.0 + ONE_SWING_S + 0.01, 0.6))
    given_up = []
    tracker._phases.give_up = lambda told: given_up.append(told)
    other = Swing(0, 0.5, Moment(10.5, "pressure", 0.1), None)
    tracker._phases.swing = other  # begun after the impact: the next one, which goes on
    tracker._told(tracker.own, 11.0)
    assert given_up == []
    assert [strike for strike, _ in tracker._strikes] == [10.0 + ONE_SWING_S + 0.01]
    assert list(tracker._own_peaks) == [0.5]
    tracker._phases.swing = tracker.own
    tracker._told(tracker.own, 11.0)
    assert given_up == [True]
    tracker._phases.swing = Swing(0, 0.5, Moment(9.5, "pressure", 0.1), None)
    tracker._told(tracker.own, 11.0)
    assert given_up == [True, False]


def test_within_one_swing_of_a_told_one_there_is_no_other():
    tracker = Told(0.0)
    tracker._told_s = 0.0
    assert tracker._just_told(ONE_SWING_S)
    assert not tracker._just_told(ONE_SWING_S + 1e-6)


def test_a_film_that_does_not_creep_changes_nothing():
    memory = CreepMemory(0.0, (1, 2))
    reading = np.array([[1.0, np.nan]])
    assert memory.force_n(1.0, reading) is reading
    assert memory.forces_n(np.array([1.0]), reading[None])[0].tolist()[0][0] == 1.0


@pytest.mark.parametrize("memory", [CreepMemory(0.05, (2, 2)), HysteresisMemory(0.1, (2, 2))])
def test_blocks_in_which_nothing_comes_and_goes_are_not_taken_frame_by_frame(memory, monkeypatch):
    """What makes an hour quick: a cell without a curve is no reason."""

    def slowly(*_):
        raise AssertionError("frame by frame")

    monkeypatch.setattr(memory, "force_n", slowly)
    reading = np.linspace(1.0, 50.0, 40)[:, None, None] + np.zeros((40, 2, 2))
    reading[:, 0, 1] = np.nan
    given = (np.arange(40) * 0.005, reading) if isinstance(memory, CreepMemory) else (reading,)
    assert np.isnan(memory.forces_n(*given)).sum() == 40
    reading[7, 1, 1] = np.nan
    given = (*given[:-1], reading)
    with pytest.raises(AssertionError, match="frame by frame"):
        memory.forces_n(*(given if len(given) == 1 else (given[0] + 1.0, reading)))
