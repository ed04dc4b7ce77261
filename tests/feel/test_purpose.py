"""Range on purpose and agreement: by hand, against another library, and on simulated learners."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from groundtone.feel.agreement import agree
from groundtone.feel.lines import HEEL_TOE, SIDE, asks, heights, mixed, nearness
from groundtone.feel.purpose import Try, command, growth, height
from groundtone.twin.learner import Learner, LearnerSpec


def tries_of(learner, line=HEEL_TOE, times=6, order="random", seed=1, moment="setup"):
    out = []
    for place in asks([line], order, times, seed):
        done = learner.does(line.goal(place, moment))
        out.append(Try(place, moment, *((done, 0.5) if line is HEEL_TOE else (0.5, done)), line=line.name))
    return out


def test_places_of_a_line():
    assert [HEEL_TOE.place(value, "setup") for value in (0.40, 0.475, 0.53, 0.605, 0.61, math.nan)] == [
        "heels", "middle", "middle", "middle", "toes", "",
    ]  # fmt: skip
    assert SIDE.goal("lead", "impact") == 0.90
    assert math.isnan(SIDE.goal("toes", "impact"))


def test_orders():
    assert asks([HEEL_TOE, SIDE], "blocked", 2, 1) == [
        "heels", "heels", "middle", "middle", "toes", "toes", "trail", "trail", "lead", "lead",
    ]  # fmt: skip
    for seed in range(20):
        order = asks([HEEL_TOE], "random", 5, seed)
        assert sorted(order) == sorted(asks([HEEL_TOE], "blocked", 5, 1))
        assert not any(order[i] == order[i + 1] == order[i + 2] for i in range(len(order) - 2))
    assert asks([SIDE], "random", 5, 3) == asks([SIDE], "random", 5, 3) != asks([SIDE], "random", 5, 4)
    assert mixed(["a", "a", "a"], 1) == ["a", "a", "a"]


def test_how_near():
    assert [nearness(0.5, done) for done in (0.53, 0.47, 0.55, 0.41, 0.61, math.nan)] == [
        "near", "near", "nearly", "nearly", "far", "far",
    ]  # fmt: skip


def test_a_line_without_memory_is_ordinary_least_squares():
    rng = np.random.default_rng(3)
    asked = rng.choice([0.4, 0.5, 0.6], 400)
    done = 0.1 + 0.7 * asked + rng.normal(0, 0.03, 400)
    found = agree(asked, done, (0.4, 0.6))
    other = sm.OLS(done, sm.add_constant(asked)).fit()
    assert found.slope.value == pytest.approx(other.params[1], abs=0.01)
    low, high = other.conf_int()[1]
    assert (found.slope.low, found.slope.high) == pytest.approx((low, high), abs=0.012)
    assert found.spread.value == pytest.approx(math.sqrt(other.scale), rel=0.02)
    for place, at in zip((0.4, 0.6), found.at, strict=True):
        seen = other.get_prediction([1.0, place]).conf_int()[0]
        assert (at.low, at.high) == pytest.approx(tuple(seen), abs=0.003)


def test_misses_that_hang_together_leave_more_open():
    """What is sure of the middle of tries that wander: as wide as generalised least squares has it, not as ordinary."""
    rng = np.random.default_rng(5)
    asked, miss = np.resize([0.4, 0.5, 0.6], 120), np.zeros(120)
    for i in range(1, 120):
        miss[i] = 0.6 * miss[i - 1] + rng.normal(0, 0.03)
    found = agree(asked, asked + miss)
    ordinary = sm.OLS(miss, np.ones(120)).fit().conf_int()[0]
    assert found.offset.high - found.offset.low > 1.5 * (ordinary[1] - ordinary[0])


def test_the_range_is_where_the_extremes_bring_the_pressure():
    learner = Learner(LearnerSpec(middle=0.54, gain=0.5, offset=0.02, spread=0.01, memory=0.0), 2)
    found = command(tries_of(learner, times=30), HEEL_TOE, "setup")
    assert (found.low.value, found.high.value) == pytest.approx((0.56 - 0.065, 0.56 + 0.065), abs=0.006)
    assert found.fit.slope.value == pytest.approx(0.5, abs=0.03)
    assert found.fit.offset.value == pytest.approx(0.02, abs=0.006)
    assert found.width.value == pytest.approx(0.13, abs=0.01)


def test_too_few_tries_claim_nothing():
    tries = tries_of(Learner(LearnerSpec()), times=3)
    few = command(tries[:7], HEEL_TOE, "setup")
    assert (few.n, few.told, few.fit) == (7, False, None)
    assert math.isnan(few.low.value)
    assert command(tries[:8], HEEL_TOE, "setup").told
    assert command([Try("middle", "setup", 0.5, 0.5)] * 20, HEEL_TOE, "setup").told is False
    # Neither what was done at another moment nor what was not measured counts.
    assert command(tries, HEEL_TOE, "impact").n == 0
    assert command([Try("toes", "setup", math.nan, 0.5)] * 9, HEEL_TOE, "setup").n == 0


def test_it_grows_over_lessons():
    narrow = command(tries_of(Learner(LearnerSpec(gain=0.4, spread=0.02), 1), times=10), HEEL_TOE, "setup")
    wide = command(tries_of(Learner(LearnerSpec(gain=0.9, spread=0.02), 2), times=10), HEEL_TOE, "setup")
    few = command([], HEEL_TOE, "setup")
    grown = growth([narrow, few, wide])
    assert grown.low < 0.5 * 0.26 < grown.high
    assert grown.low > 0
    assert growth([narrow, few]) is None


def balls(*pairs):
    return [Try(place, "impact", 0.5, 0.75, row) for place, row in pairs]


def test_low_and_high_on_the_face_are_counted_and_their_interval_is_jeffreys():
    assert sorted(heights("random", 4, 3)) == ["high"] * 4 + ["low"] * 4
    asked = balls(*[("low", "low")] * 3, ("low", "middle"), *[("high", "high")] * 4, ("high", "low"), ("high", ""))
    found = height([*asked, Try("toes", "impact", 0.63, 0.75)])
    assert (found.low, found.high, found.n, found.right, found.by_chance) == ((3, 4), (4, 5), 9, 7, 3.0)
    other = sm.stats.proportion_confint(7, 9, method="jeffreys")
    assert (found.part.low, found.part.high) == pytest.approx(other, abs=1e-9)
    assert height(balls(*[("low", "low")] * 8)).part.high == 1.0


def test_too_few_balls_low_and_high_claim_nothing():
    found = height(balls(*[("low", "low")] * 7))
    assert (found.told, found.n) == (False, 7)
    assert math.isnan(found.part.low)


def test_a_middle_counts_on_the_line_that_was_asked_about():
    sides = [Try(place, "setup", 0.5, share, line="side") for place, share in (("trail", 0.4), ("lead", 0.66))] * 4
    heels = [Try("middle", "setup", 0.5, 0.2, line=line) for line in ("heel-toe", "")]
    assert command([*sides, *heels], SIDE, "setup").n == 8
    assert (
        command([*sides, *(Try("middle", "setup", 0.5, 0.5, line=line) for line in ("side", "both"))], SIDE, "setup").n
        == 10
    )
