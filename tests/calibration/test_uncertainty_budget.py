"""The budget's formula against hand-worked cases and against drawing the errors it assumes."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.uncertainty import Budget, Terms, budget_of
from groundtone.mat.layout import layout_of
from studies.budgets import cell_u_n

LAYOUT = layout_of("reference-16x4")
CURVES = Curves(np.full((16, 8), math.log(37.0)), 1.1, 0.0, -4.0, 2.0)
QUIET = Terms(**dict.fromkeys((field.name for field in fields(Terms)), 0.0))


def film_of(**more: object) -> Film:
    return replace(Film(CURVES, highest_n=200.0), **more)  # type: ignore[arg-type]


def two_cells(left_n: float, right_n: float) -> np.ndarray:
    force = np.zeros((1, 16, 8))
    force[0, 4, 1], force[0, 10, 6] = left_n, right_n
    return force


def test_two_cells_by_hand() -> None:
    # Independent 5 % on 300 N and on 100 N: u(F) = 15 and 5 N; share 0.75, u = 0.75 * 0.25 * 0.05 * sqrt(2).
    stated = Budget(LAYOUT, film_of(), 0.05**2 * np.eye(128), QUIET).of(two_cells(300.0, 100.0))
    assert stated.force_n[0] == pytest.approx([15.0, 5.0])
    assert stated.share[0] == pytest.approx(0.75 * 0.25 * 0.05 * math.sqrt(2))
    assert stated.along_mm[0] == pytest.approx([0.0, 0.0], abs=1e-9)


def test_what_all_cells_share_moves_no_share_and_no_centre() -> None:
    stated = Budget(LAYOUT, film_of(), np.full((128, 128), 0.1**2), QUIET).of(two_cells(300.0, 100.0))
    assert stated.force_n[0] == pytest.approx([30.0, 10.0])
    assert stated.share[0] == pytest.approx(0.0, abs=1e-9)


def test_noise_alone_by_hand() -> None:
    # 64 cells of 0.5 N each a foot.
    stated = Budget(LAYOUT, film_of(), np.zeros((128, 128)), replace(QUIET, noise_n=0.5)).of(two_cells(300.0, 100.0))
    assert stated.force_n[0] == pytest.approx([4.0, 4.0])


def test_above_the_highest_calibrated_load_the_interval_widens() -> None:
    budget = Budget(LAYOUT, film_of(), np.zeros((128, 128)), replace(QUIET, beyond=0.15))
    below, above = (budget.of(two_cells(force, 0.0)).force_n[0, 0] for force in (199.0, 400.0))
    assert below == pytest.approx(0.0, abs=1e-9)
    assert above == pytest.approx(400.0 * 0.15 * math.log(2.0))


def test_a_filled_cell_widens_it() -> None:
    whole = budget_of(LAYOUT, film_of(level_u=np.full((16, 8), 0.03)))
    holed = budget_of(LAYOUT, film_of(level_u=np.full((16, 8), 0.03), dead=((4, 1),)))
    force = two_cells(300.0, 100.0)
    assert holed.of(force).force_n[0, 0] > 2 * whole.of(force).force_n[0, 0]
    assert cell_u_n(holed, force)[0, 4, 1] > 2 * cell_u_n(whole, force)[0, 4, 1]


def test_a_foot_in_the_air_has_no_centre() -> None:
    stated = budget_of(LAYOUT, film_of()).of(two_cells(300.0, 0.0))
    assert math.isnan(stated.along_mm[0, 1])
    assert not math.isnan(stated.along_mm[0, 0])


def test_creep_and_loop_do_what_is_said_of_them() -> None:
    """Two feet of 200 N: what a foot's creep, and a loop of 5 % that is not met, make of the share."""
    force = np.full((1, 16, 8), 400 / 128)
    nothing = np.zeros((128, 128))
    # u = s (1 - s) √2 c: a twentieth of a decade and a half of 3 %, each foot for itself.
    creep = Budget(LAYOUT, film_of(creep=0.03), nothing, replace(QUIET, creep_u=0.05, creep_decades=1.5)).of(force)
    assert creep.share[0] == pytest.approx(0.25 * math.sqrt(2) * 0.05 * 0.03 * 1.5)
    assert creep.share[0] == pytest.approx(0.0008, abs=5e-5)
    # u = s (1 - s) 2 l: one foot up, the other down, of an arch that makes a loop of 5 % and is not met at all.
    loop = Budget(LAYOUT, film_of(arch=0.075), nothing, replace(QUIET, loop_u=1.0)).of(force)
    assert loop.share[0] == pytest.approx(0.0125)
    met = Budget(LAYOUT, film_of(arch=0.075), nothing, replace(QUIET, loop_u=Terms().loop_u)).of(force)
    assert met.share[0] == pytest.approx(0.00125)


def test_it_goes_with_s_times_one_less_s() -> None:
    budget = Budget(LAYOUT, film_of(), 0.05**2 * np.eye(128), QUIET)
    for left in (50.0, 200.0, 350.0):
        s = left / 400
        assert budget.of(two_cells(left, 400 - left)).share[0] == pytest.approx(s * (1 - s) * 0.05 * math.sqrt(2))


def test_what_two_frames_have_in_common_drops_out_of_their_difference() -> None:
    budget = Budget(LAYOUT, film_of(), 0.05**2 * np.eye(128), QUIET)
    same = budget.between(two_cells(300.0, 100.0), two_cells(300.0, 100.0))
    assert same.share[0] == pytest.approx(0.0, abs=1e-12)
    # 0.75 to 0.5, the same two cells off by the same parts: (0.1875 - 0.25) 0.05 √2.
    moved = budget.between(two_cells(300.0, 100.0), two_cells(200.0, 200.0))
    assert moved.share[0] == pytest.approx(0.0625 * 0.05 * math.sqrt(2))
    # The total of 400 N with shares of 0.75 and 0.25, then of 0.5 each: what each cell makes of it changes by 0.25.
    assert moved.total[0] == pytest.approx(0.25 * 0.05 * math.sqrt(2))
    noisy = Budget(LAYOUT, film_of(), 0 * np.eye(128), replace(QUIET, noise_n=0.5))
    still = noisy.between(two_cells(200.0, 200.0), two_cells(200.0, 200.0))
    assert still.share[0] == pytest.approx(noisy.of(two_cells(200.0, 200.0)).share[0] * math.sqrt(2))


def test_what_a_stands_own_totals_left_widens_it_and_turns_over_from_posture_to_posture() -> None:
    budget = Budget(LAYOUT, film_of(), np.zeros((128, 128)), replace(QUIET, left=0.7), left=0.02)
    stated = budget.of(two_cells(200.0, 200.0))
    # Each foot and its toes against its heel: two causes of 0.014 a foot.
    assert stated.share[0] == pytest.approx(0.25 * 0.014 * 2)
    change = budget.between(two_cells(200.0, 200.0), two_cells(200.0, 200.0))
    assert change.share[0] == pytest.approx(stated.share[0] * math.sqrt(2))


def test_shoes_that_were_learnt_widely_are_doubted_by_what_shoes_are() -> None:
    """A shoe's factor is learnt as one of 15 % span and reckoned as one of 8 %: before a rock the prior is all."""
    film = film_of(level_u=np.full((16, 8), 1e-9))
    narrow, wide = (budget_of(LAYOUT, film, terms=replace(QUIET, shoe_span=span)) for span in (0.08, 0.15))
    force = np.full((1, 16, 8), 3.0)
    least = np.sqrt(np.diagonal(narrow.covariance)).max(), np.sqrt(np.diagonal(wide.covariance)).max()
    assert narrow.of(force).share[0] < 0.65 * wide.of(force).share[0]
    assert least[0] == pytest.approx(math.sqrt(0.08**2 / 3 + 0.02**2 + 0.03**2), rel=0.06)
    assert least[1] == pytest.approx(math.sqrt(0.15**2 / 3 + 0.02**2 + 0.03**2), rel=0.06)


def test_the_formula_is_what_drawing_the_errors_gives() -> None:
    rng = np.random.default_rng(5)
    shape_cov = np.array([[4e-4, 1e-4], [1e-4, 2e-4]])
    film = film_of(
        shape_cov=shape_cov, exponent_spread=0.02, x_centre=0.4, level_u=np.full((16, 8), 0.04), creep=0.03, arch=0.09
    )
    places = rng.uniform(-200, 200, (128, 2))
    terms = replace(Terms(), along_mm=0.0, across_mm=0.0)
    budget = replace(budget_of(LAYOUT, film, place_mm=places, terms=terms), left=0.01)
    row, column = np.divmod(np.arange(128), 8)
    force = 40 * np.exp(-(((row - 4) / 3) ** 2)) + 30 * np.exp(-(((row - 11) / 2) ** 2)) * (1 + column / 8)
    stated = budget.of(force.reshape(1, 16, 8))
    draws = 20_000
    x = (np.log(np.maximum(force, 0.5)) - math.log(37.0)) / 1.1
    root = np.linalg.cholesky(budget.covariance + 1e-14 * np.eye(128))
    log = rng.standard_normal((draws, 128)) @ root.T
    log += rng.standard_normal((draws, 128)) * np.hypot(terms.cell_u, terms.exponent * 0.02 * (x - 0.4))
    shape = rng.multivariate_normal([0, 0], shape_cov, draws)
    log += shape[:, :1] * (x - 0.4) + shape[:, 1:] * (x**2 - 0.4**2)
    left, front = column < 4, row >= 8
    loop, creep = terms.loop_u * 0.09 / 3, terms.creep_u * 0.03 * terms.creep_decades
    log += rng.standard_normal((draws, 1)) * loop * np.where(left, 1, -1)
    for foot in (left, ~left):
        tilt = foot * np.where(front, 1, -1)
        for cause in (creep * foot, loop * tilt, terms.left * 0.01 * foot, terms.left * 0.01 * tilt):
            log += rng.standard_normal((draws, 1)) * cause
    drawn = force * np.exp(log) + terms.noise_n * rng.standard_normal((draws, 128))
    quarter = (column >= 4) * 2 + (row >= 8)
    drawn += (terms.rest_n * rng.standard_normal((draws, 4)))[:, quarter]
    left = drawn[:, column < 4].sum(1)
    right = drawn[:, column >= 4].sum(1)
    assert stated.force_n[0] == pytest.approx([left.std(), right.std()], rel=0.03)
    assert stated.share[0] == pytest.approx((left / (left + right)).std(), rel=0.03)
    along = drawn[:, column < 4] @ LAYOUT.u_mm[row[column < 4]] / left
    assert stated.along_mm[0, 0] == pytest.approx(along.std(), rel=0.03)
    assert stated.place_mm is not None
    assert stated.place_mm[0] == pytest.approx((drawn @ places / drawn.sum(1)[:, None]).std(0), rel=0.03)
    assert cell_u_n(budget, force.reshape(1, 16, 8))[0].ravel() == pytest.approx(drawn.std(0), rel=0.05)
