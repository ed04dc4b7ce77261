"""The shoe is learnt from postures: against closed forms, an independent optimiser, and the twin's own golfer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.shoes.body_weight import PLACES, prior_gains, sole_basis, weigh
from groundtone.calibration.shoes.postures import Postures, SteadyFrames
from groundtone.calibration.shoes.shoe import (
    ShoeLearner,
    above_empty,
    film_prior,
    shoe_from,
    soles_from,
)
from groundtone.mat.layout import layout_of

LAYOUT = layout_of("reference-16x4")
SOLES = ((20.0, 300.0), (20.0, 300.0))
BASIS = sole_basis(SOLES, LAYOUT.u_mm, 16, 8)
WEIGHT_N = 700.0


def postures_of(force: np.ndarray, u: float = 0.002) -> Postures:
    count = len(force)
    return Postures(force, np.full(count, 50), np.full(count, u), 0, 50 * count, 10.0)


def feet(left_heel: float, left_toe: float, right_heel: float, right_toe: float) -> np.ndarray:
    """Forces with each load on one cell: heels in row 2, toes in row 13."""
    force = np.zeros((16, 8))
    force[2, 1], force[13, 1], force[2, 6], force[13, 6] = left_heel, left_toe, right_heel, right_toe
    return force


def round_rock(factors: tuple[float, float, float, float]) -> np.ndarray:
    """What a mat reads of a rock that goes round, with a factor for each of the four loads."""
    shares = [(0.8, 0.2), (0.2, 0.8), (0.5, 0.5), (0.7, 0.3), (0.3, 0.7)]
    out = []
    for left, right in shares:
        for toe in (0.1, 0.5, 0.9):
            loads = WEIGHT_N * np.array([left * (1 - toe), left * toe, right * (1 - toe), right * toe])
            out.append(feet(*(loads / np.array(factors))))
    return np.array(out)


def test_a_round_rock_tells_four_factors_when_the_weight_is_known() -> None:
    factors = (1.12, 0.91, 0.95, 1.08)
    gains = prior_gains(np.full((16, 8), 1e-4), 1e-4, 0.15)
    found = weigh(gains, BASIS, round_rock(factors), np.full(15, 1e-4), WEIGHT_N)
    cells = found.gains.on_cells(BASIS)
    assert [cells[2, 1], cells[13, 1], cells[2, 6], cells[13, 6]] == pytest.approx(factors, rel=3e-3)
    assert found.weight_n == pytest.approx(WEIGHT_N, rel=6e-3)


def test_without_the_weight_only_what_differs_is_learnt() -> None:
    factors = np.array((1.12, 0.91, 0.95, 1.08)) * 1.3
    found = weigh(prior_gains(np.full((16, 8), 1e-4), 1e-4, 0.15), BASIS, round_rock(tuple(factors)), np.full(15, 1e-4))
    cells = found.gains.on_cells(BASIS)
    learnt = np.array([cells[2, 1], cells[13, 1], cells[2, 6], cells[13, 6]])
    assert learnt / learnt[0] == pytest.approx(factors / factors[0], rel=5e-3)
    assert found.weight_u > 0.03


def test_a_straight_rock_never_tells_the_left_shoe_from_the_right() -> None:
    gains = prior_gains(np.full((16, 8), 1e-4), 1e-4, 0.15)

    def spread_of_difference(of) -> float:
        covariance = of.cells_covariance(BASIS)
        left, right = 2 * 8 + 1, 2 * 8 + 6  # the two heels
        return math.sqrt(covariance[left, left] + covariance[right, right] - 2 * covariance[left, right])

    def after(force: np.ndarray) -> float:
        return spread_of_difference(weigh(gains, BASIS, force, np.full(len(force), 1e-3), WEIGHT_N).gains)

    both = WEIGHT_N / 2
    straight = np.array([feet(both * (1 - t), both * t, both * (1 - t), both * t) for t in np.linspace(0.05, 0.95, 15)])
    before = spread_of_difference(gains)
    assert before == pytest.approx(math.sqrt(2) * 0.15 / math.sqrt(3), rel=0.05)
    assert after(straight) == pytest.approx(before, rel=1e-3)
    assert after(round_rock((1, 1, 1, 1))) < 0.1 * before


def test_the_estimate_is_the_optimum_that_a_general_optimiser_finds() -> None:
    rng = np.random.default_rng(3)
    force = rng.uniform(0.0, 1.0, (12, 128)) ** 4
    force *= WEIGHT_N / force.sum(1, keepdims=True)
    force *= np.exp(0.05 * rng.standard_normal(128))
    gains = prior_gains(np.full((16, 8), 0.05), 0.02, 0.15)
    u = np.full(12, 0.01)
    found = weigh(gains, BASIS, force, u, WEIGHT_N, 0.005)
    assert np.abs(found.residual).max() < 0.02  # no residual is so large that robust weights play a part
    root = np.linalg.cholesky(gains.covariance + 1e-12 * np.eye(gains.mean.size))

    def misfit(z: np.ndarray) -> np.ndarray:
        total = (force * np.exp(BASIS @ (root @ z[:-1]))).sum(1)
        return np.concatenate([(np.log(total) - math.log(WEIGHT_N) - 0.005 * z[-1]) / u, z])

    best = least_squares(misfit, np.zeros(gains.mean.size + 1), xtol=1e-12, ftol=1e-12, gtol=1e-12)
    assert root @ best.x[:-1] == pytest.approx(found.gains.mean, abs=2e-5)


def test_one_wrong_posture_does_not_spoil_the_rest() -> None:
    force = round_rock((1.0, 1.0, 1.0, 1.0))
    force[4] *= 1.25
    found = weigh(prior_gains(np.full((16, 8), 0.01), 0.01, 0.15), BASIS, force, np.full(15, 0.005), WEIGHT_N)
    cells = found.gains.on_cells(BASIS)
    assert np.abs(np.log([cells[2, 1], cells[13, 1], cells[2, 6], cells[13, 6]])).max() < 0.03


def test_factors_are_straight_between_places_and_end_with_the_sole() -> None:
    basis = sole_basis(((40.0, 280.0), (40.0, 280.0)), LAYOUT.u_mm, 16, 8)
    shoe = basis[:, 128:]
    assert shoe.sum(1) == pytest.approx(1.0)
    # Row 7, u = 150 mm: 110 / 240 of the sole, between the fourth place (0.375) and the fifth (0.5).
    row = shoe[7 * 8 + 0, : PLACES.size]
    assert row[3] == pytest.approx((0.5 - 110 / 240) / 0.125)
    assert row[4] == pytest.approx(1 - row[3])
    assert shoe[0, 0] == 1.0
    assert shoe[15 * 8 + 7, -1] == 1.0


def still(total_n: float, bounce: float, seconds: float, hertz: float = 1.3) -> SteadyFrames:
    steady = SteadyFrames(16, 8)
    for i in range(int(seconds * 100)):
        steady.add(i / 100, feet(1, 1, 1, 1) * total_n / 4 * (1 + bounce * math.sin(2 * math.pi * hertz * i / 100)))
    return steady


def test_who_bounces_is_left_out_and_counted() -> None:
    standing, bouncing = still(700.0, 0.0, 5.0), still(700.0, 0.08, 5.0)
    assert standing.still > 470
    assert standing.moving < 30
    assert bouncing.still < 0.1 * bouncing.moving
    assert len(standing.postures().frames) == 1


def test_a_minute_in_one_posture_counts_no_more_than_a_second() -> None:
    long, short = still(700.0, 0.0, 60.0).postures(), still(700.0, 0.0, 1.5).postures()
    assert long.u[0] == pytest.approx(short.u[0], rel=0.1)
    assert long.force_n[0] == pytest.approx(short.force_n[0])


def test_nobody_on_the_mat_gives_no_posture() -> None:
    assert len(still(50.0, 0.0, 3.0).postures().frames) == 0


def test_the_empty_mats_reading_is_taken_off_and_no_foot_pulls() -> None:
    force, empty = np.array([[10.0, 0.3, -2.0, np.nan]]), np.array([[0.5, 0.2, 0.1, 0.1]])
    assert above_empty(force, empty)[0, :3] == pytest.approx([9.5, 0.1, -0.05])
    assert np.isnan(above_empty(force, empty)[0, 3])


def test_too_few_postures_teach_nothing() -> None:
    film = Film(Curves(np.zeros((16, 8)), 1.0, 0.0, -1.0, 1.0))
    assert shoe_from(film_prior(film), postures_of(round_rock((1, 1, 1, 1))[:3]), SOLES, LAYOUT) is None
    assert soles_from(np.zeros((16, 8)), LAYOUT) is None


def test_the_learner_forgets_who_stepped_off() -> None:
    film = Film(Curves(np.zeros((16, 8)), 1.0, 0.0, -1.0, 1.0), level_u=np.full((16, 8), 0.02))
    learner = ShoeLearner(LAYOUT, film, weight_n=WEIGHT_N)
    rest = np.full((16, 8), 0.05)
    for i in range(100):
        learner.take(i / 100, rest, gather=True)
    now = 1.0
    for force in round_rock((1.1, 1.1, 1.1, 1.1)):
        for _ in range(60):
            now += 0.01
            given = learner.take(now, force + rest, gather=True)
    assert given == pytest.approx(np.maximum(force, -0.05), abs=1e-6)
    assert learner.solve(SOLES) is not None
    corrected = learner.take(now + 0.01, force + rest, gather=False)
    assert corrected.sum() == pytest.approx(WEIGHT_N, rel=0.02)
    learner.forget()
    assert learner.take(now + 0.02, force + rest, gather=False).sum() == pytest.approx(WEIGHT_N / 1.1, rel=0.01)
