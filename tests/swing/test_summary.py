"""Values at events, by hand."""

import math

import numpy as np
import pytest

from groundtone.swing.events import Moment, Swing
from groundtone.swing.summary import at, summarise

T = np.array([1.0, 1.1, 1.2, 1.4])
V = np.array([0.5, 0.4, 0.2, 0.6])


@pytest.mark.parametrize(
    ("when", "value"),
    [(1.0, 0.5), (1.05, 0.45), (1.1, 0.4), (1.175, 0.25), (1.2, 0.2), (1.25, 0.3), (1.4, 0.6)],
)
def test_straight_between_the_frames(when, value):
    assert at(T, V, when) == pytest.approx(value)


@pytest.mark.parametrize("when", [0.999, 1.401, math.nan])
def test_nothing_is_known_outside(when):
    assert math.isnan(at(T, V, when))


def test_a_gap_is_not_filled_in():
    holed = V.copy()
    holed[2] = math.nan
    assert math.isnan(at(T, holed, 1.15))
    assert math.isnan(at(T, holed, 1.3))
    assert at(T, holed, 1.1) == 0.4
    assert at(T, holed, 1.05) == pytest.approx(0.45)


def test_no_frames_and_one_frame():
    assert math.isnan(at(np.array([]), np.array([]), 1.0))
    assert at(np.array([1.0]), np.array([0.3]), 1.0) == 0.3


def test_a_swing_by_hand():
    t = np.arange(0.0, 5.001, 0.1)
    share, overall = 0.1 * t, 0.6 - 0.02 * t
    swing = Swing(3, 0.52, Moment(1.05, "pressure", 0.03))
    swing.turn = Moment(2.0, "pressure", 0.02)
    swing.top = Moment(2.15, "estimate", 0.03)
    swing.impact = Moment(2.4, "strike sensor", 0.002)
    swing.end_s = 3.7
    swing.heard.append(("toes", 2.3, 2.9))
    got = summarise(swing, t, share, overall)
    assert (got.number, got.share_setup) == (3, 0.52)
    assert (got.share_top, got.share_impact) == pytest.approx((0.215, 0.24))
    assert (got.position_setup, got.position_impact) == pytest.approx((0.6 - 0.021, 0.6 - 0.048))
    assert (got.top, got.impact) == (swing.top, swing.impact)
    ((cue, begin, end),) = got.heard
    assert cue == "toes"
    assert (begin, end) == pytest.approx((-0.1, 0.5))


def test_without_impact_times_count_from_the_end():
    swing = Swing(1, 0.5, Moment(1.0, "pressure", 0.03))
    swing.end_s = 4.0
    swing.heard.append(("trail side", 3.0, 3.5))
    got = summarise(swing, T, V, V)
    assert got.heard == (("trail side", -1.0, -0.5),)
    assert math.isnan(got.share_impact)
    assert math.isnan(got.share_top)
    assert got.position_setup == 0.5
