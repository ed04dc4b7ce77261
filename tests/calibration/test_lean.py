"""Each cell's own exponent: found where loads tell it, told apart from hands that scatter, and used by the curves."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.calibration.test_profile import PROFILE

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.fit import fit_curves
from groundtone.calibration.fitting.robust import final_scatter
from groundtone.calibration.profile import profile_from_text, profile_text

ROWS, COLUMNS = 16, 8


def run(spread, scatter, seed, loads=(30.0, 120.0)):
    """Two loads on every cell, six on a dozen, by a power law with an exponent a cell; what each cell's law is."""
    rng = np.random.default_rng(seed)
    level = rng.normal(math.log(35.0), 0.4, (ROWS, COLUMNS))
    exponent = 1.1 + spread * rng.standard_normal((ROWS, COLUMNS))
    made = []
    for number, cell in enumerate(np.ndindex(ROWS, COLUMNS)):
        for load in loads + ((15.0, 60.0, 200.0, 250.0) if number % 11 == 0 else ()):
            grid = np.zeros((ROWS, COLUMNS))
            force = load * math.exp(scatter * rng.standard_normal())
            grid[cell] = 100e-6 * math.exp((math.log(force) - level[cell]) / exponent[cell])
            made.append(Placement(*cell, load, grid, slice(0, 1), False, 0.0))
    return made, level, exponent


def errors(fit, level, exponent, load=10.0):
    """ln of the force that each cell's curve makes of what a load reads there, over the load."""
    reads = 100e-6 * np.exp((math.log(load) - level) / exponent)
    return np.log(fit.curves.force_n(reads) / load)


@pytest.mark.parametrize(("spread", "scatter"), [(0.2, 0.05), (0.1, 0.02), (0.02, 0.01)])
def test_the_spread_is_told_apart_from_the_scatter(spread, scatter):
    found = [fit_curves(run(spread, scatter, seed)[0], ROWS, COLUMNS).exponent_spread for seed in (1, 2, 3)]
    assert np.median(found) == pytest.approx(spread, rel=0.35)


def test_a_cells_own_exponent_halves_the_error_of_a_light_load():
    made, level, exponent = run(0.2, 0.03, 4)
    fit = fit_curves(made, ROWS, COLUMNS)
    own = errors(fit, level, exponent)
    shared = replace(fit, curves=replace(fit.curves, lean=None))
    assert own.std() < 0.5 * errors(shared, level, exponent).std()


def test_hands_that_scatter_by_a_tenth_do_not_make_exponents():
    made, level, exponent = run(0.0, 0.10, 5)
    fit = fit_curves(made, ROWS, COLUMNS)
    shared = replace(fit, curves=replace(fit.curves, lean=None))
    assert errors(fit, level, exponent).std() < 1.1 * errors(shared, level, exponent).std()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_cell_that_leans_is_not_held_for_slipped(seed):
    """Nothing slipped: with two loads a cell none may be taken for it because its exponent lies far from the others."""
    made, level, exponent = run(0.18, 0.04, seed, (10.0, 80.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert np.mean(fit.trust < 0.5) < 0.02
    # Two loads of 4 % with their logarithms 2.1 apart tell an exponent to 0.03.
    assert (fit.exponent_cell - exponent).std() < 0.045
    assert errors(fit, level, exponent, 3.0).std() < 0.09


def test_a_profile_keeps_each_cells_lean():
    lean = np.round(np.random.default_rng(1).normal(0.0, 0.1, PROFILE.film.curves.level.shape), 6)
    curves = replace(PROFILE.film.curves, lean=lean, lean_from=0.25)
    text = profile_text(replace(PROFILE, film=replace(PROFILE.film, curves=curves)))
    back = profile_from_text(text, "x").film.curves
    np.testing.assert_array_equal(back.lean, lean)
    assert back.lean_from == 0.25
    grid = np.full(lean.shape, 7e-5)
    np.testing.assert_array_equal(back.force_n(grid), curves.force_n(grid))


def test_one_load_a_cell_leaves_nothing_to_judge_the_scatter_by():
    """All errors far beyond the scatter so far: the weighted mean square has nothing to weigh; the scatter stays."""
    error, freed = np.full(60, 1.0), np.full(60, 0.07)
    assert final_scatter(error, np.full(60, 1e-5), freed, 0.06) == 0.06
