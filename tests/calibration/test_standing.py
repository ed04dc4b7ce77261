"""Standing calibration: a person of known mass rocks, on synthetic forces and on the twin; and what it refuses."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest

from groundtone.calibration.film import typical_film as sold_film
from groundtone.calibration.shoes.standing import Ask, StandingRun, standing_film
from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import layout_of
from groundtone.twin.film import cell_curves
from groundtone.twin.scenario import GolferSpec, MatSpec, Standing
from studies.mats import Played, gathered, typical_film

LAYOUT = layout_of("reference-16x4")
PERSON = GolferSpec(mass_kg=78.4, shoe_mm=285.0)
MAT = MatSpec.reference(seed=7, gain_sigma=0.4, shoe_ratio_span=0.15)
ACT = Standing(PERSON, seed=3, rock_s=32.0, fast_s=4.0)


@pytest.fixture(scope="module")
def stood():
    """A run on a mat of the hard set, and its film by typical curve."""
    return Played(MAT, ACT, PERSON), typical_film(MAT)


@pytest.fixture(scope="module")
def postures(stood):
    """Its postures."""
    run, film = stood
    return gathered(run, run.above_empty(film), 1e9, across=True)


def test_the_total_is_the_weight_afterwards_and_the_feet_come_nearer(stood, postures):
    run, film = stood
    result = standing_film(postures, film, LAYOUT, 78.4 * STANDARD_GRAVITY)
    assert result.left < 0.015
    assert result.moving > 200  # the fast part was left out
    rows = run.rows[300:-300]
    true = run.known.force_n[rows]
    loaded = true.min(1) > 100.0

    def foot_error(force):
        feet = LAYOUT.by_panel(force[300:-300]).sum((-2, -1))
        return float(np.sqrt(np.mean((feet[loaded] / true[loaded] - 1) ** 2)))

    before, after = foot_error(run.above_empty(film)), foot_error(run.above_empty(result.film))
    # The person's own shoes press up to 15 % otherwise than the film knows: that part stays.
    assert before > 0.12
    assert after < 0.5 * before


def test_what_was_not_stood_on_is_said_and_keeps_its_doubt(stood, postures):
    result = standing_film(postures, stood[1], LAYOUT, 78.4 * STANDARD_GRAVITY)
    assert (0, 0) in result.unseen
    assert (15, 7) in result.unseen
    assert result.film.level_u[0, 0] > 0.2
    loaded = np.unravel_index(postures.force_n.mean(0).argmax(), (16, 8))
    assert result.film.level_u[loaded] < result.film.level_u[0, 0]
    assert result.film.level_u.min() > 0.03


def test_a_person_of_another_mass_is_asked_about(stood, postures):
    known = replace(stood[1], level_u=np.full((16, 8), 0.05))
    true_gain, _ = cell_curves(MAT)
    level = stood[1].curves.level - np.log(true_gain / MAT.conductance_at_100n_s) / MAT.exponent
    known = replace(known, curves=replace(known.curves, level=level))
    run = stood[0]
    mine = gathered(run, run.above_empty(known), 1e9, across=True)
    assert standing_film(mine, known, LAYOUT, 78.4 * STANDARD_GRAVITY).mass_kg == pytest.approx(78.4, rel=0.12)
    # 78.4 kg are 172.8 pounds.
    with pytest.raises(CalibrationError, match=r"the mat says \d+ kg .* where 150\.0 kg"):
        standing_film(mine, known, LAYOUT, 150.0 * STANDARD_GRAVITY)


@pytest.mark.parametrize("mass", [172.8, 0.0, -5.0, float("nan"), 7840.0])
def test_a_mass_that_no_person_has_is_refused(stood, mass):
    with pytest.raises(CalibrationError, match="in kilograms"):
        StandingRun(LAYOUT, stood[1], mass)


def test_the_run_asks_in_order_and_ends(stood):
    run, film = stood
    follow = StandingRun(LAYOUT, film, 78.4)
    asked = [follow.step(float(t), g) for t, g in zip(run.t_s[::3], run.conductance_s[::3], strict=True)]
    order = [a for i, a in enumerate(asked) if i == 0 or asked[i - 1] is not a]
    assert order[:3] == [Ask.EMPTY, Ask.STEP_ON, Ask.ROCK]
    assert asked[-1] is Ask.DONE
    assert follow.result().postures > 25


def test_a_foot_on_the_mat_that_should_be_empty(stood):
    run, film = stood
    follow = StandingRun(LAYOUT, film, 78.4)
    middle = run.conductance_s[(run.t_s > 10) & (run.t_s < 14)]
    for i, conductance in enumerate(middle):
        assert follow.step(i / 100, conductance) is Ask.STEP_OFF
    with pytest.raises(CalibrationError, match="never empty"):
        follow.result()


def test_nobody_and_too_little(stood, postures):
    run, film = stood
    follow = StandingRun(LAYOUT, film, 78.4)
    for t, g in zip(run.t_s[:280], run.conductance_s[:280], strict=True):
        follow.step(float(t), g)
    with pytest.raises(CalibrationError, match="nobody stood"):
        follow.result()
    # On a film that nobody knows, an empty mat says the same, and nothing else.
    follow = StandingRun(LAYOUT, sold_film(16, 8), 78.4)
    for i in range(200):
        follow.step(i / 50, np.zeros((16, 8)))
    with warnings.catch_warnings(action="error"), pytest.raises(CalibrationError, match="nobody stood"):
        follow.result()
    few = replace(postures, force_n=postures.force_n[:9], frames=postures.frames[:9], u=postures.u[:9])
    with pytest.raises(CalibrationError, match="only 9 of 12 postures"):
        standing_film(few, film, LAYOUT, 700.0)


@pytest.mark.parametrize(("at_100n_s", "exponent"), [(0.083e-3, 1.05), (0.75e-3, 0.75)])
def test_a_film_that_nobody_knows_is_learnt_from_the_mass_alone(at_100n_s, exponent):
    """Level three times off, either way, and another exponent: by the typical curve the mat says 18 or 300 kg."""
    mat = replace(MAT, seed=27, gain_sigma=0.3, conductance_at_100n_s=at_100n_s, exponent=exponent)
    run, film = Played(mat, ACT, PERSON), sold_film(16, 8)
    result = standing_film(
        gathered(run, run.above_empty(film), 1e9, across=True), film, LAYOUT, PERSON.mass_kg * STANDARD_GRAVITY
    )
    rows = run.rows[300:-300]
    true = run.known.force_n[rows]
    loaded = true.min(1) > 100.0
    feet = LAYOUT.by_panel(run.above_empty(result.film)[300:-300]).sum((-2, -1))[loaded]
    share = feet[:, 0] / feet.sum(1) - true[loaded, 0] / true[loaded].sum(1)
    assert np.sqrt(np.mean(share**2)) < 0.02
    assert np.sqrt(np.mean((feet / true[loaded] - 1) ** 2)) < 0.07
    assert result.film.curves.exponent == pytest.approx(1 / exponent, abs=0.2)
    assert result.film.shape_cov[0, 0] > 0


def test_a_child_on_a_film_that_conducts_little_is_there_and_not_refused():
    """By the typical curve 26 kg weigh as much as a bag: nobody would be there, and no foot."""
    child = GolferSpec(mass_kg=26.0, shoe_mm=215.0)
    mat = replace(MAT, seed=28, conductance_at_100n_s=0.0625e-3, exponent=1.1)
    run = Played(mat, Standing(child, seed=3, rock_s=32.0, fast_s=2.0), child)
    follow = StandingRun(LAYOUT, sold_film(16, 8), 26.0)
    for t, conductance in zip(run.t_s[::3], run.conductance_s[::3], strict=True):
        follow.step(float(t), conductance)
    film = follow.result().film
    rows = run.rows[300:-300]
    true = run.known.force_n[rows]
    loaded = true.min(1) > 40.0
    feet = LAYOUT.by_panel(run.above_empty(film)[300:-300]).sum((-2, -1))[loaded]
    assert np.median(feet.sum(1) / true[loaded].sum(1)) == pytest.approx(1.0, abs=0.04)
    share = feet[:, 0] / feet.sum(1) - true[loaded, 0] / true[loaded].sum(1)
    assert np.sqrt(np.mean(share**2)) < 0.04


def test_who_never_stands_still_is_not_asked_for_ever():
    follow = StandingRun(LAYOUT, sold_film(16, 8), 80.0)
    asked = []
    for i in range(110 * 20):
        t = i / 20
        bounce = 1.0 + 0.4 * np.sin(2 * np.pi * 2.1 * t)
        asked.append(follow.step(t, np.full((16, 8), (2e-5 if 2.0 < t < 101.0 else 0.0) * bounce)))
    assert asked[60 * 20] is Ask.ROCK
    assert asked[97 * 20] is Ask.LEAVE
    assert asked[-1] is Ask.DONE
    with pytest.raises(CalibrationError, match="too quick"):
        follow.result()
