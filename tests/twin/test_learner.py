"""The simulated learner: does, feels, practises and forgets as it was planted."""

from dataclasses import replace

import numpy as np
import pytest

from groundtone.twin.learner import Learner, LearnerSpec, Striker, drawn


def test_does_what_is_asked_as_well_as_planted():
    learner = Learner(LearnerSpec(middle=0.5, gain=0.6, offset=0.03, spread=0.02, memory=0.4), 3)
    did = np.array([learner.does(0.7) for _ in range(4000)])
    assert did.mean() == pytest.approx(0.5 + 0.03 + 0.6 * 0.2, abs=0.002)
    assert did.std() == pytest.approx(0.02, abs=0.001)
    off = did - did.mean()
    assert (off[1:] @ off[:-1]) / (off @ off) == pytest.approx(0.4, abs=0.05)


def test_skill_grows_by_what_was_planted():
    learner = Learner(LearnerSpec(middle=0.5, gain=0.4, growth=0.3, spread=0.0))
    for _ in range(100):
        learner.does(0.6)
    assert learner.means(0.6) == pytest.approx(0.5 + 0.7 * 0.1)


def test_feels_beside_the_truth_until_told():
    learner = Learner(LearnerSpec(feel_bias=0.1, feel_spread=0.05, feel_heals=0.02))
    felt = np.array([learner.feels(0.5) for _ in range(50)])
    assert learner.biases[0] == 0.1
    assert learner.biases[-1] == pytest.approx(0.1 * 0.98**49)
    assert np.std(felt - 0.5 - np.array(learner.biases)) == pytest.approx(0.05, abs=0.015)


def test_the_quick_part_is_gone_after_a_night_and_the_slow_one_is_not():
    learner = Learner(LearnerSpec(spread=0.001, forgets=0.03))
    learner.practises([("iron", True)] * 40)
    assert learner.quick_part > 0.02
    slow = learner.slow_part
    learner.sleeps(7)
    assert learner.quick_part < 1e-9
    assert learner.slow_part == pytest.approx(slow * 0.97**7)


@pytest.mark.parametrize(("planted", "better"), [(1.0, True), (-0.9, False)])
def test_what_makes_it_stay_is_planted(planted, better):
    spec = replace(LearnerSpec(spread=0.001), change_helps=planted, silence_helps=0.0)
    left = {}
    for name, clubs in (("random", "ab" * 20), ("blocked", "a" * 20 + "b" * 20)):
        learner = Learner(spec)
        learner.practises([(club, True) for club in clubs])
        learner.sleeps(7)
        left[name] = abs(np.mean(learner.silent(20)))
    assert bool(left["random"] < left["blocked"]) is better


def test_the_same_seed_is_the_same_learner():
    spec = drawn(np.random.default_rng(4))
    first, again = Learner(spec, 4), Learner(spec, 4)
    assert [first.does(0.6) for _ in range(5)] == [again.does(0.6) for _ in range(5)]


def test_a_strikers_good_ones_come_from_their_own_place():
    striker = Striker(3)
    best, off = striker.chance(np.array([striker.best, striker.best + striker.width * (1, 0, 0)]))
    assert best / (1 - best) == pytest.approx(np.e * off / (1 - off))
    balls = striker.balls(4000)
    assert balls.mean(axis=0) == pytest.approx(striker.usual, abs=0.03)
    assert balls.std(axis=0) == pytest.approx(striker.scatter, rel=0.06)
    assert striker.struck(balls).mean() == pytest.approx(striker.chance(balls).mean(), abs=0.03)
