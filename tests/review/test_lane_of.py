"""A swing's lane as data: what counts from impact, which events are shown, where bands begin, which cues are in it."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from groundtone.cue.bands import Bands
from groundtone.review.lane import lane_of

T = np.arange(0.0, 20.0, 0.01)
SERIES = SimpleNamespace(t_s=T, share=T / 20, overall=1 - T / 20)
BANDS = Bands(trail=0.6, toes_before=0.66, toes_setup=0.71, toes_after=0.67, dwell_trail_s=0.36)
MOMENTS = {"setup": 8.0, "takeaway": 9.0, "turn": 9.7, "top": 9.8, "impact": 10.0, "finish": 11.9}


def test_time_counts_from_impact_and_what_lies_outside_is_left_out():
    lane = lane_of(MOMENTS, SERIES, BANDS, [], zero_s=10.0)
    assert lane.t_s[0] == pytest.approx(-1.4, abs=0.011)
    assert lane.share[np.argmin(np.abs(lane.t_s))] == pytest.approx(0.5, abs=1e-3)
    assert [name for _, name in lane.events] == ["takeaway", "turn", "top", "impact"]
    assert lane.events[1][0] == pytest.approx(-0.3)


def test_a_top_at_the_turn_is_the_same_to_the_eye():
    lane = lane_of({**MOMENTS, "top": 9.71}, SERIES, BANDS, [], zero_s=10.0)
    assert "top" not in dict(map(reversed, lane.events))


def test_bands_follow_the_turn_and_a_slow_swing_stretches_them():
    (share,) = lane_of(MOMENTS, SERIES, BANDS, [], zero_s=10.0).limits["share"]
    assert share == (pytest.approx(0.06), 1.5, 0.6, math.inf)
    (share,) = lane_of(MOMENTS, SERIES, BANDS, [], zero_s=10.0, span_s=(2.8, 3.0), slow=2.0).limits["share"]
    assert share[0] == pytest.approx(0.42)
    setup, before, after = lane_of(MOMENTS, SERIES, BANDS, [], zero_s=10.0).limits["overall"]
    begun = pytest.approx(MOMENTS["takeaway"] - 10.0)
    assert setup == (-1.4, begun, -math.inf, 0.71)
    assert before == (begun, pytest.approx(-0.3), -math.inf, 0.66)
    assert after == (pytest.approx(-0.3), 1.5, -math.inf, 0.67)


def test_cues_are_cut_to_what_is_shown():
    heard = [("toes", 8.0, 9.0), ("toes", 3.0, 4.0), ("heels", 11.0, 15.0), ("slide", 11.6, 12.0)]
    assert lane_of(MOMENTS, SERIES, BANDS, heard, zero_s=10.0).cues == ((-1.4, -1.0, "toes"), (1.0, 1.5, "heels"))
