"""What was kept, and whether the pressure passed a thing on the ground: by hand."""

import math

import numpy as np
import pytest

from groundtone.feel.agreement import kept
from groundtone.swing.ground import left_trail_heel, passed_middle


def test_what_was_kept_by_hand():
    rng = np.random.default_rng(2)
    before, test, later = (level + rng.normal(0, 0.02, 20) for level in (0.66, 0.56, 0.60))
    found = kept(before, test, later)
    assert found.told
    assert found.learnt.value == pytest.approx(-0.10, abs=0.015)
    assert found.stayed.value == pytest.approx(-0.06, abs=0.015)
    assert found.part.low < 0.6 < found.part.high
    assert 0.4 < found.part.value < 0.8


def test_where_nothing_was_learnt_no_part_of_it_is_told():
    rng = np.random.default_rng(3)
    same = [0.5 + rng.normal(0, 0.03, 10) for _ in range(3)]
    found = kept(*same)
    assert found.told
    assert math.isnan(found.part.value)
    assert found.learnt.low < 0 < found.learnt.high


def test_too_few_swings_claim_nothing():
    found = kept(np.full(9, 0.5), np.array([0.5] * 5 + [math.nan] * 4), np.full(9, 0.5))
    assert (found.told, found.n) == (False, (9, 5, 9))
    assert math.isnan(found.stayed.value)


T = np.arange(0.0, 2.0, 0.01)


def line(*knots):
    return np.interp(T, *zip(*knots, strict=True))


def test_the_middle_is_passed_before_impact_or_after_it():
    early = passed_middle(T, line((0, 5), (0.8, -80), (1.0, 0), (1.2, 80), (2, 90)), 0.8, 1.1)
    assert early.passed is True
    assert early.before_s == pytest.approx(0.09, abs=0.011)
    late = passed_middle(T, line((0, 5), (0.8, -80), (1.3, 0), (2, 90)), 0.8, 1.1)
    assert late.passed is False
    assert late.before_s == pytest.approx(-0.21, abs=0.011)
    never = passed_middle(T, np.full(T.size, -20.0), 0.8, 1.1)
    assert (never.passed, math.isnan(never.before_s)) == (False, True)


def test_the_last_passing_counts():
    back = passed_middle(T, line((0, -80), (0.9, 30), (1.0, -30), (1.2, 30), (2, 40)), 0.8, 1.15)
    assert back.before_s == pytest.approx(0.04, abs=0.011)


def test_what_is_not_known_is_not_told():
    x = line((0, -50), (2, 50))
    assert passed_middle(T, x, math.nan, 1.1).passed is None
    assert passed_middle(T, x, 0.8, math.nan).passed is None
    assert passed_middle(T, np.full(T.size, math.nan), 0.8, 1.1).passed is None


def test_the_trail_heel_is_left_by_rolling_or_lifting():
    trail = line((0, 0.45), (0.8, 0.25), (1.0, 0.40), (1.2, 0.8), (2, 0.9))
    assert left_trail_heel(T, trail, 0.8, 1.1).passed is True
    lifted = np.where(T > 1.05, math.nan, 0.25)
    assert left_trail_heel(T, lifted, 0.8, 1.1).passed is True
    assert left_trail_heel(T, lifted, 0.8, 1.0).passed is False
