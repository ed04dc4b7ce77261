"""The model of strikes: the trade's picture without balls, the golfer's own with many, too few said so."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.special import expit
from scipy.stats import binom

from groundtone.feel.strike_model import FEWEST, USUAL, learn


def balls(n, centre=USUAL, seed=1, top=1.5):
    rng = np.random.default_rng(seed)
    where = rng.normal(USUAL, (0.06, 0.08, 0.3), (n, 3))
    z = (where - centre) / np.array([0.08, 0.15, 1.5])
    return where, rng.random(n) < expit(top - (z**2).sum(1))


def test_without_a_ball_it_is_the_trades_picture():
    model = learn([], [])
    assert (model.n, model.enough) == (0, False)
    middle, off = model.chances(np.array([USUAL, USUAL + np.array([0.12, 0, 0])]))
    assert 0.5 < middle < 0.75
    assert off < 0.6 * middle
    chance = model.of_ten(*USUAL)
    assert chance.high - chance.low >= 4
    assert not model.propose("position").moved


def test_with_many_balls_it_is_the_golfers_own():
    where, good = balls(2000, USUAL + np.array([0.06, 0, 0]))
    model = learn([tuple(row) for row in where], good.tolist())
    z = (where - USUAL) / np.array([0.12, 0.16, 0.8])
    other = sm.Logit(good.astype(float), np.column_stack([np.ones(len(z)), z, z**2])).fit(disp=0)
    assert np.abs(model.chances(where) - other.predict()).max() < 0.06
    proposal = model.propose("position")
    assert proposal.moved
    assert proposal.proposed == pytest.approx(0.56, abs=0.025)
    assert proposal.sure > 0.95
    assert not model.propose("share").moved


def test_of_ten_swings_so_many_are_well_struck():
    where, good = balls(3000)
    chance = learn([tuple(row) for row in where], good.tolist()).of_ten(*USUAL)
    assert chance.p == pytest.approx(expit(1.5), abs=0.04)
    assert (chance.low, chance.high) == tuple(binom.ppf([0.1, 0.9], 10, chance.p))


def test_nothing_is_proposed_that_is_not_nearly_sure():
    """Thirty balls of golfers whose best place is the usual one: now and then one looks better, and is not told."""
    moved = 0
    for seed in range(25):
        where, good = balls(30, seed=seed)
        proposal = learn([tuple(row) for row in where], good.tolist()).propose("position")
        moved += proposal.moved
        assert not proposal.moved or (proposal.sure >= 0.99 and proposal.least > 0)
    assert moved == 0


def test_what_is_proposed_lies_where_the_golfer_has_been():
    """Best far out at the toes, balls in the middle: the model says ever further, the golfer is not sent there."""
    where, good = balls(3000, USUAL + np.array([0.11, 0, 0]))
    proposal = learn([tuple(row) for row in where], good.tolist()).propose("position")
    assert proposal.moved
    assert proposal.proposed <= np.quantile(where[:, 0], 0.9)
    assert 0 < proposal.least < proposal.gain


def test_where_good_ones_come_from_both_ends_there_is_no_best_place():
    rng = np.random.default_rng(3)
    where, _ = balls(400)
    z = (where[:, 0] - 0.50) / 0.06
    good = rng.random(400) < expit(z**2 + 0.8 * z - 2)
    model = learn([tuple(row) for row in where], good.tolist())
    assert model.enough
    assert not model.propose("position").moved


def test_too_few_say_so():
    where, good = balls(FEWEST - 1)
    assert not learn([tuple(row) for row in where], good.tolist()).enough
    where, _ = balls(50)
    assert not learn([tuple(row) for row in where], [True] * 48 + [False] * 2).enough
    assert learn([tuple(row) for row in where], [True] * 47 + [False] * 3).enough


def test_what_is_not_known_is_left_out_and_a_tempo_that_is_not_known_is_the_usual_one():
    where, good = balls(40)
    rows = [tuple(row) for row in where]
    lacking = [*rows, (float("nan"), 0.7, 3.0), (0.5, float("nan"), 3.0)]
    assert learn(lacking, [*good.tolist(), True, False]).n == 40
    model = learn([(a, b, float("nan")) for a, b, _ in rows], good.tolist())
    assert np.isfinite(model.chances(np.array([[0.5, 0.78, float("nan")]]))).all()
