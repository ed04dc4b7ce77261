"""The check before a lesson, on the twin: a good mat, an aged one, ruined ones, and what a person does wrong."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.calibration.checking.check_result import Kind, Verdict
from groundtone.calibration.checking.check_steps import CheckRun, Step
from groundtone.calibration.checking.verdict import aged_prior, for_another_stand, mark_u
from groundtone.calibration.shoes.dead_cells import dead_cells, unevenness
from groundtone.calibration.uncertainty import Terms
from groundtone.errors import CalibrationError
from groundtone.mat.layout import layout_of
from groundtone.twin.scenario import Check, GolferSpec, MatSpec
from studies.mats import Played, typical_film

LAYOUT = layout_of("reference-16x4")
PUPIL = GolferSpec(mass_kg=62.0, shoe_mm=265.0)
# A mat whose film is the same everywhere, and its calibration known: what the check says is then the check's own.
# Its cells conduct next to nothing without a load: the film is the twin's own curve and counts that as force, while the
# host's zero is what empty cells read (groundtone/mat/hum.py), which makes 2 % of a weight on many cells.
MAT = MatSpec.reference(seed=4, gain_sigma=0.0, exponent_sigma=0.0, shoe_ratio_span=0.1, preload_n=1e-3)
FILM = replace(typical_film(MAT), level_u=np.full((16, 8), 0.02), highest_n=200.0)
ACT = Check(PUPIL, seed=8)


def follow(mat=MAT, act=ACT, **known):
    run = Played(mat, act, PUPIL)
    check = CheckRun(LAYOUT, FILM, **known)
    steps = [check.step(float(t), g) for t, g in zip(run.t_s[::4], run.conductance_s[::4], strict=True)]
    return check, steps, run


@pytest.fixture(scope="module")
def good():
    return follow(mass_kg=62.0)


def test_the_steps_come_in_their_order_within_a_minute(good):
    _, steps, run = good
    seen = [now.step for now in steps]
    order = [step for i, step in enumerate(seen) if i == 0 or seen[i - 1] is not step]
    assert order == [Step.EMPTY, Step.STAND, Step.ROCK, Step.LIFT_LEFT, Step.LIFT_RIGHT, Step.DONE]
    assert steps[-1].passed_over == ()
    assert run.t_s[::4][seen.index(Step.DONE)] < 60.0


def test_a_good_mat_is_ready_and_the_person_is_weighed(good):
    result = good[0].result()
    assert result.verdict is Verdict.READY
    assert result.mass_kg == pytest.approx(62.0, rel=0.01)
    assert abs(result.common) < 0.05
    assert result.soles is not None
    for heel, toe in result.soles:
        assert toe - heel == pytest.approx(265.0, abs=25.0)


def test_without_a_known_weight_it_says_what_cannot_be_seen():
    result = follow()[0].result()
    assert result.verdict is Verdict.READY
    assert any("no known weight" in f.text for f in result.findings)
    assert result.mass_u > 0.02


def test_ageing_is_found_and_corrected():
    dead = ((5, 1), (11, 6))
    aged = replace(MAT, aged_each=0.2, aged_common=-0.15, dead_cells=dead)
    result = follow(aged, mass_kg=62.0)[0].result()
    assert result.verdict is Verdict.CORRECTED
    assert {c for f in result.findings if f.kind is Kind.DEAD for c in f.cells} == set(dead)
    assert result.film.dead == dead
    # A film that reads 15 % less needs 1 / 0.85 ** 1.11 = 1.20 times its force.
    assert 1 + result.common == pytest.approx(1.20, abs=0.09)
    change = next(f for f in result.findings if f.kind is Kind.COMMON)
    assert change.amount == pytest.approx(result.common)


def test_a_weight_on_the_marks_shows_a_common_change_without_a_known_person():
    act = replace(ACT, weight_n=98.0665)
    check, steps, _ = follow(replace(MAT, aged_common=-0.15), act, mark_n=98.0665)
    assert Step.MARK_LEFT in {now.step for now in steps}
    assert steps[-1].passed_over == ()
    result = check.result()
    new = follow(act=act, mark_n=98.0665)[0].result()
    assert (1 + result.common) / (1 + new.common) == pytest.approx(1.20, abs=0.03)
    assert result.mass_kg == pytest.approx(62.0, rel=0.08)


def test_a_weight_that_is_left_on_its_mark_is_no_person():
    """Ten kilograms go on lying there for a while after the tick; the total of the person's postures knows nothing."""
    act = replace(ACT, weight_n=98.0665)
    check, steps, run = follow(act=act, mark_n=98.0665, mass_kg=62.0)
    after = next(i for i, now in enumerate(steps) if now.step is Step.STAND)
    lying = FILM.curves.force_n(run.conductance_s[::4][after]).sum()
    assert lying == pytest.approx(98.0, rel=0.15)
    result = check.result()
    assert result.verdict is Verdict.READY
    assert not [f for f in result.findings if f.kind is Kind.DISAGREES]


def test_a_weight_on_many_cells_is_read_worse_the_lighter_it_is():
    film = replace(FILM, shape_cov=np.diag([1e-4, 1e-5]))
    block = np.zeros((16, 8))
    block[5:10, 0:4] = 1.0
    light, heavy = (float(mark_u(block * n, film, LAYOUT)[0]) for n in (2.5, 40.0))
    assert 0.02 < heavy < 0.035 < light
    # By hand: the shape at 2.5 N a cell, noise and rest of all 64 cells, twenty cells for themselves, creep, and
    # the loop of the foot and of its toes (two rows) against its heel (three).
    x = (math.log(2.5) - film.curves.level[0, 0]) / film.curves.exponent
    shape = math.hypot(1e-2 * x, math.sqrt(1e-5) * x * x)
    terms = Terms()
    noise = math.sqrt(64 * terms.noise_n**2 + 2 * (32 * terms.rest_n) ** 2) / 50
    own = terms.cell_u / math.sqrt(20)
    creep = terms.creep_u * film.creep * terms.creep_decades
    loop = terms.loop_u * film.arch / 3 * math.hypot(1.0, 0.2)
    by_hand = math.sqrt(0.02**2 + shape**2 + noise**2 + own**2 + loop**2 + creep**2)
    assert light == pytest.approx(by_hand, rel=0.05)


@pytest.mark.parametrize(
    "ruin",
    [
        {"dead_cells": tuple((row, 1) for row in range(16))},
        {"shorted_cells": ((4, 1), (4, 2), (11, 1), (11, 5), (3, 6))},
        {"aged_common": -0.6, "aged_each": 0.5},
        {"aged_each": 0.95},
    ],
)
def test_a_ruined_mat_is_never_ready(ruin):
    check, _, _ = follow(replace(MAT, **ruin), mass_kg=62.0)
    try:
        result = check.result()
    except CalibrationError:
        return
    assert result.verdict is Verdict.NOT_FIT
    assert any(f.bad and f.text for f in result.findings)


def test_a_foot_that_stays_on_the_empty_mat():
    run = Played(MAT, replace(ACT, foot_left=True), PUPIL)
    check = CheckRun(LAYOUT, FILM)
    on = (run.t_s > 1.0) & (run.t_s < 8.0)
    now = [check.step(float(t), g) for t, g in zip(run.t_s[on][::8], run.conductance_s[on][::8], strict=True)]
    assert now[-1].step is Step.EMPTY
    assert now[-1].stands
    with pytest.raises(CalibrationError, match="step off"):
        check.result()


def test_lifts_that_are_not_done_are_passed_over_and_said():
    check, _steps, run = follow(act=replace(ACT, lifts=False), mass_kg=62.0)
    last = run.conductance_s[np.searchsorted(run.t_s, 20.0)]
    for i in range(700):
        now = check.step(float(run.t_s[-1]) + i / 20, last)
    assert now.step is Step.DONE
    assert now.passed_over == (Step.LIFT_LEFT, Step.LIFT_RIGHT)
    assert sum(f.kind is Kind.SKIPPED for f in check.result().findings) == 2


@pytest.mark.parametrize("wrong", [{"mass_kg": 172.0}, {"mass_kg": 0.0}, {"mark_n": 2.0}, {"mark_n": float("nan")}])
def test_impossible_weights_are_refused(wrong):
    with pytest.raises(CalibrationError):
        CheckRun(LAYOUT, FILM, **wrong)


def test_nobody_came():
    check = CheckRun(LAYOUT, FILM)
    for i in range(300):
        check.step(i / 100, np.full((16, 8), 1e-7))
    with pytest.raises(CalibrationError, match="nobody stood"):
        check.result()


def bells(rows=(4.0, 11.0), spread=1.4):
    """Two bells of pressure a foot, both feet alike but mirrored, in three postures."""
    row, column = np.indices((16, 8))
    across = np.where(column < 4, column, 7 - column)
    shape = sum(np.exp(-((row - r) ** 2) / (2 * spread**2) - (across - 1.3) ** 2 / 0.8) for r in rows)
    return np.stack([40 * shape, 30 * shape, 50 * shape])


@pytest.mark.parametrize("cell", [(4, 1), (5, 2), (11, 6), (12, 5), (2, 1), (4, 0)])
def test_a_hole_in_a_print_is_found(cell):
    force = bells()
    force[:, cell[0], cell[1]] = 0.0
    assert dead_cells(force, 4) == (cell,)


def test_holes_at_the_same_place_of_both_feet_do_not_vouch_for_each_other():
    force = bells()
    force[:, 4, 1] = force[:, 4, 6] = 0.0
    assert dead_cells(force, 4) == ((4, 1), (4, 6))


def test_two_like_prints_are_even_and_a_spoilt_one_is_not():
    most = bells().max(0)
    spoilt = most * np.exp(np.random.default_rng(1).normal(0.0, 1.0, most.shape))
    assert unevenness(most, 4) < 0.05
    assert unevenness(spoilt, 4) > 0.8
    assert np.isnan(unevenness(np.zeros((16, 8)), 4))


def test_a_dead_cell_that_murmurs_is_dead():
    """0.1 N where forty are expected: more than a silent cell reads at a rim, and nothing all the same."""
    force = bells()
    force[:, 4, 1] = 0.1
    assert dead_cells(force, 4) == ((4, 1),)
    force[:, 4, 1] = 1.5
    assert dead_cells(force, 4) == ()


def test_another_stand_fills_a_dead_cell_otherwise():
    """What a check has learnt of a filled cell stays as a guess, loose and by itself; the rest stays as it is."""
    prior = aged_prior(FILM, ((4, 1),))
    tied = replace(prior, mean=prior.mean + 0.3, covariance=prior.covariance + 0.001)
    loose = for_another_stand(tied, ((4, 1),))
    at = 4 * 8 + 1
    assert loose.mean[at] == tied.mean[at]
    assert loose.covariance[at, at] == 1.0
    assert np.count_nonzero(loose.covariance[at]) == np.count_nonzero(loose.covariance[:, at]) == 1
    others = np.delete(np.arange(tied.mean.size), at)
    np.testing.assert_array_equal(loose.covariance[np.ix_(others, others)], tied.covariance[np.ix_(others, others)])


def test_two_prints_are_laid_over_each_other_in_the_mats_own_pitch():
    """One row apart is 20 mm on the reference mat, as two feet may lie, and more than that on rows of 32 mm."""
    most = bells().max(0)
    most[1:, :4] = most[:-1, :4].copy()
    assert unevenness(most, 4) < 0.05
    assert unevenness(most, 4, pitch_mm=(32.0, 46.0)) > 0.2


def test_the_end_of_a_print_is_no_hole():
    force = bells()
    force[force < 0.05] = 0.0
    assert dead_cells(force, 4) == ()
