"""The error of feel: by hand, on simulated learners, and beside guessing at random."""

import math

import numpy as np
import pytest
from scipy.stats import binom

from groundtone.feel.guess import Guess, feel
from groundtone.feel.lines import HEEL_TOE, SIDE
from groundtone.twin.learner import Learner, LearnerSpec


def guesses_of(learner, n, line=HEEL_TOE, seed=1):
    rng = np.random.default_rng(seed)
    out = []
    for value in rng.normal(line.goals["impact"][1], 0.07, n).tolist():
        place = line.place(learner.feels(value), "impact")
        out.append(Guess(place, value if line is HEEL_TOE else 0.5, 0.75 if line is HEEL_TOE else value, line.name))
    return out


@pytest.mark.parametrize("line", [HEEL_TOE, SIDE])
@pytest.mark.parametrize("bias", [-0.08, 0.0, 0.08])
def test_bias_and_spread_of_many_guesses(line, bias):
    found = feel(guesses_of(Learner(LearnerSpec(feel_bias=bias, feel_spread=0.05), 3), 600, line), line)
    assert found.known
    assert found.bias.value == pytest.approx(bias, abs=0.012)
    assert found.spread.value == pytest.approx(0.05, abs=0.012)
    assert found.bias.low < bias < found.bias.high


def test_right_ones_beside_chance():
    said = [Guess("toes", 0.65, 0.75)] * 6 + [Guess("heels", 0.65, 0.75)] * 3
    found = feel(said, HEEL_TOE)
    assert (found.n, found.right, found.by_chance) == (9, 6, 3.0)
    assert found.p == pytest.approx(sum(binom.pmf(k, 9, 1 / 3) for k in range(6, 10)))


def test_who_guesses_at_random_is_not_said_to_feel():
    rng = np.random.default_rng(1)
    sure = 0
    for _ in range(100):
        said = [Guess(str(rng.choice(HEEL_TOE.places)), float(rng.normal(0.5, 0.07)), 0.75) for _ in range(20)]
        sure += feel(said, HEEL_TOE).p < 0.05
    assert sure <= 9  # 95 % of Binomial(100, 0.05), and a discrete p is no larger than that


def test_always_right_is_a_small_spread_and_no_bias():
    found = feel([Guess(place, value, 0.75) for place, value in
                  [("heels", 0.38), ("middle", 0.50), ("toes", 0.62)] * 8], HEEL_TOE)  # fmt: skip
    assert found.right == found.n == 24
    assert abs(found.bias.value) < 0.02
    assert found.spread.value < 0.06


def test_too_few_say_so_and_only_what_is_about_the_line_counts():
    said = guesses_of(Learner(LearnerSpec()), 7)
    few = feel(said, HEEL_TOE)
    assert (few.n, few.known) == (7, False)
    assert math.isnan(few.bias.value)
    assert math.isnan(feel([], HEEL_TOE).p)
    more = [*said, Guess("trail", 0.5, 0.55), Guess("middle", math.nan, 0.75)]
    assert feel(more, HEEL_TOE).n == 7
    # A middle is one of the line that was asked about; where that was not written down, of heel and toe.
    assert feel(more, SIDE).n == 1
    asked = [Guess("middle", 0.5, 0.75, line) for line in ("", "heel-toe", "side", "both")]
    assert [feel([each], SIDE).n for each in asked] == [0, 0, 1, 1]
    assert [feel([each], HEEL_TOE).n for each in asked] == [1, 1, 0, 1]


def test_a_slip_of_the_hand_does_not_make_the_feel_vague():
    clean = [Guess(HEEL_TOE.place(v, "impact"), v, 0.75) for v in np.linspace(0.38, 0.62, 40).tolist()]
    slipped = [*clean, Guess("heels", 0.66, 0.75)]
    assert feel(slipped, HEEL_TOE).spread.value < 2.5 * feel(clean, HEEL_TOE).spread.value
