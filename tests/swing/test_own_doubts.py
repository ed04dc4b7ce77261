"""Doubts that are a golfer's own: the lead of the force's peak, and what came before a takeaway."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.swing.definition import PEAK_DOUBT_S, PEAK_TO_IMPACT_S
from groundtone.swing.peak_lead import own_lead
from groundtone.swing.phases import find_swings
from groundtone.twin.scenario import GolferSpec, Session, SwingSpec


def test_without_a_struck_swing_the_usual_lead_and_its_doubt_hold():
    assert own_lead([]) == (PEAK_TO_IMPACT_S, PEAK_DOUBT_S)
    assert own_lead([math.nan]) == (PEAK_TO_IMPACT_S, PEAK_DOUBT_S)


def test_the_more_swings_the_surer_and_the_nearer_to_the_golfers_own():
    doubts = [own_lead([0.09] * n)[1] for n in (1, 3, 10)]
    assert doubts == sorted(doubts, reverse=True)
    assert [own_lead([0.09] * n)[0] for n in (1, 10)] == [
        pytest.approx(0.0858, abs=2e-4),
        pytest.approx(0.0899, abs=5e-4),
    ]


def test_one_swing_that_peaks_late_takes_nothing_away():
    lead, u = own_lead([0.06, 0.062, 0.058, 0.061, -0.03])
    assert lead == pytest.approx(0.06, abs=0.002)
    assert u < 0.016


def test_the_lead_holds_in_draws_of_golfers():
    """Golfers of 0 to 60 ms, swings 8 ms about it: the interval of the next swing holds 95 of 100."""
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(2000):
        own = rng.normal(PEAK_TO_IMPACT_S, PEAK_DOUBT_S)
        lead, u = own_lead(own + 0.008 * rng.standard_normal(5))
        inside += abs(own + 0.008 * rng.standard_normal() - lead) <= 1.96 * u
    assert 0.93 <= inside / 2000 <= 0.99


def test_a_ball_that_was_not_heard_has_the_golfers_own_lead(play):
    """Peak 85 ms before impact; the last of five balls makes no sound."""
    swings = tuple(SwingSpec(peak_lead_ms=85.0, strike=k < 4, hold_s=1.5) for k in range(5))
    series, known = play(Session(GolferSpec(), swings, seed=4))
    alone = find_swings(replace(series, strikes=()))
    found = find_swings(series)
    true = known.swings[-1].impact_s
    assert len(alone) == len(found) == 5
    assert abs(alone[-1].impact.t_s - true) > 0.04
    assert alone[-1].impact.doubt_s == pytest.approx(PEAK_DOUBT_S, abs=1e-3)
    assert abs(found[-1].impact.t_s - true) < 0.02
    assert found[-1].impact.doubt_s < 0.02


def test_who_wanders_before_the_takeaway_is_doubted_more(play):
    series, known = play(Session(GolferSpec(), (SwingSpec(), SwingSpec(mill=0.045)), seed=5))
    still, wandered = find_swings(series)
    assert still.takeaway.doubt_s < 0.04
    assert wandered.takeaway.doubt_s > 1.5 * still.takeaway.doubt_s
    for swing, true in zip((still, wandered), known.swings, strict=True):
        assert abs(swing.takeaway.t_s - true.takeaway_s) < 2.5 * swing.takeaway.doubt_s
