"""The budget's formula against hand-worked cases and against drawing the errors it assumes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.uncertainty import Budget, Terms
from groundtone.mat.layout import layout_of
from studies.budgets import budget_of, cell_u_n

LAYOUT = layout_of("reference-16x4")
CURVES = Curves(np.full((16, 8), math.log(37.0)), 1.1, 0.0, -4.0, 2.0)
QUIET = Terms(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


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


def test_the_formula_is_what_drawing_the_errors_gives() -> None:
    rng = np.random.default_rng(5)
    shape_cov = np.array([[4e-4, 1e-4], [1e-4, 2e-4]])
    film = film_of(shape_cov=shape_cov, exponent_spread=0.02, x_centre=0.4, level_u=np.full((16, 8), 0.04), creep=0.03)
    places = rng.uniform(-200, 200, (128, 2))
    terms = replace(Terms(), along_mm=0.0, across_mm=0.0)
    budget = budget_of(LAYOUT, film, place_mm=places, terms=terms)
    row, column = np.divmod(np.arange(128), 8)
    force = 40 * np.exp(-(((row - 4) / 3) ** 2)) + 30 * np.exp(-(((row - 11) / 2) ** 2)) * (1 + column / 8)
    stated = budget.of(force.reshape(1, 16, 8))
    draws = 20_000
    x = (np.log(np.maximum(force, 0.5)) - math.log(37.0)) / 1.1
    root = np.linalg.cholesky(budget.covariance + 1e-14 * np.eye(128))
    log = rng.standard_normal((draws, 128)) @ root.T
    log += rng.standard_normal((draws, 128)) * np.hypot(terms.loop_u, 0.02 * (x - 0.4))
    shape = rng.multivariate_normal([0, 0], shape_cov, draws)
    log += shape[:, :1] * (x - 0.4) + shape[:, 1:] * (x**2 - 0.4**2)
    log += rng.standard_normal((draws, 1)) * terms.loop_common_u
    log += rng.standard_normal((draws, 1)) * terms.creep_u * 0.03 * terms.creep_decades
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
