"""Lead shares drawn by hand: what is a swing, and what is none."""

import math

import numpy as np
import pytest

from groundtone.swing.events import Phase
from groundtone.swing.tracker import SwingTracker

# Time in s and lead share, straight in between.
GOOD = [(0, 0.53), (2, 0.53), (2.7, 0.25), (3.0, 0.80), (4.5, 0.90), (5.5, 0.53)]
HANG = [(0, 0.53), (2, 0.53), (2.7, 0.25), (3.0, 0.44), (4.5, 0.50), (5.5, 0.53)]
WAGGLE = [(0, 0.53), (2, 0.53), (2.2, 0.45), (2.4, 0.53), (4, 0.53)]
SWAY = [(0, 0.53), (2, 0.53), (3.5, 0.38), (6, 0.40), (9, 0.53)]
HELD = [(0, 0.90), (3, 0.90), (3.5, 0.60), (4.0, 0.75), (6, 0.80)]


def play(knots, *, strike_s=None, until=None, away_s=None):
    tracker, ended, phases = SwingTracker(), [], []
    times = np.arange(0, until or knots[-1][0], 0.01)
    for t in times:
        share = math.nan if away_s is not None and t >= away_s else float(np.interp(t, *zip(*knots, strict=True)))
        struck = strike_s if strike_s is not None and abs(t - strike_s) < 0.005 else None
        step = tracker.step(float(t), share, strike_s=struck)
        phases.append(step.phase)
        if step.ended:
            ended.append(step.ended)
    return ended, phases, times


def test_good_swing_is_found_once_with_its_events():
    ended, _, _ = play(GOOD)
    assert len(ended) == 1
    assert ended[0].takeaway.t_s == pytest.approx(2.0, abs=0.06)
    assert ended[0].turn.t_s == pytest.approx(2.70, abs=0.011)
    assert ended[0].impact.source == "estimate"
    assert ended[0].setup_share == pytest.approx(0.53, abs=0.005)


def test_strike_makes_impact_exact():
    ended, _, _ = play(GOOD, strike_s=2.98)
    assert (ended[0].impact.source, ended[0].impact.t_s) == ("strike sensor", 2.98)
    assert ended[0].top.t_s == pytest.approx(2.73)
    assert ended[0].end_s == pytest.approx(2.98 + 1.3, abs=0.011)


def test_strike_without_a_swing_is_none():
    assert play([(0, 0.53), (4, 0.53)], strike_s=2.0)[0] == []


def test_hanging_back_is_a_swing_too():
    assert len(play(HANG)[0]) == 1


@pytest.mark.parametrize("knots", [WAGGLE, SWAY, HELD], ids=["waggle", "sway", "held finish"])
def test_no_swing(knots):
    ended, phases, _ = play(knots)
    assert ended == []
    assert Phase.FINISH not in phases


def test_held_finish_is_no_setup():
    assert Phase.SETUP not in play([(0, 0.9), (4, 0.9)])[1]


def test_stepping_off_in_the_finish_ends_the_swing():
    ended, phases, _ = play(GOOD, away_s=3.6)
    assert len(ended) == 1
    assert ended[0].end_s == pytest.approx(3.6, abs=0.011)
    assert phases[-1] is Phase.AWAY


def test_stepping_off_in_the_backswing_is_no_swing():
    assert play(GOOD, away_s=2.5)[0] == []
