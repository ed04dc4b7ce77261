"""Saturation as films have it: far below the readings' double, common or with each cell's gain, or none at all."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.calibration.test_profile import PROFILE

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.fit import fit_curves
from groundtone.calibration.profile import profile_from_text, profile_text

ROWS, COLUMNS = 16, 8
GAIN_S = 0.5e-3


def run(saturation_s, *, by_gain, scatter, seed=1):
    """Two loads on every cell and six on a dozen; and what each cell reads under a force, by its own law."""
    rng = np.random.default_rng(seed)
    gain = GAIN_S * np.exp(0.4 * rng.standard_normal((ROWS, COLUMNS)))
    power = 0.85 + 0.08 * rng.standard_normal((ROWS, COLUMNS))

    def reads(force_n):
        free = gain * (force_n / 100.0) ** power
        return free / (1 + free / (saturation_s * (gain / GAIN_S if by_gain else 1.0)))

    made = []
    for number, cell in enumerate(np.ndindex(ROWS, COLUMNS)):
        for load in (10.0, 80.0) + ((20.0, 40.0, 120.0, 200.0) if number % 11 == 0 else ()):
            grid = np.zeros((ROWS, COLUMNS))
            grid[cell] = reads(load * math.exp(scatter * rng.standard_normal()))[cell]
            made.append(Placement(*cell, load, grid, slice(0, 1), False, 0.0))
    return made, reads


def off(fit, reads, load):
    """Mean of ln of what the curves make of a load over it, and how cells differ in it."""
    each = np.log(fit.curves.force_n(reads(load)) / load)
    return float(each.mean()), float(each.std())


@pytest.mark.parametrize("by_gain", [False, True])
def test_a_saturation_below_twice_the_readings_is_found_whichever_way_it_goes(by_gain):
    made, reads = run(1.4e-3, by_gain=by_gain, scatter=0.01)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.model == ("power with saturation by gain" if by_gain else "power with saturation")
    assert fit.curves.saturation_s == pytest.approx(1.4e-3, rel=0.05)
    for load in (3.0, 30.0, 150.0):
        assert abs(off(fit, reads, load)[0]) < 0.03
    assert off(fit, reads, 200.0)[1] < 0.06


@pytest.mark.parametrize("by_gain", [False, True])
def test_hands_that_scatter_by_a_tenth_hide_no_saturation_of_a_third(by_gain):
    made, reads = run(1.4e-3, by_gain=by_gain, scatter=0.10)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert "saturation" in fit.model
    assert abs(off(fit, reads, 3.0)[0]) < 0.15
    assert abs(off(fit, reads, 250.0)[0]) < 0.15


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_pure_power_stays_one_at_two_newtons(seed):
    made, reads = run(1e3, by_gain=False, scatter=0.03, seed=seed)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.offset_s == 0.0
    assert abs(off(fit, reads, 2.0)[0]) < 0.06


def test_a_profile_keeps_how_each_cell_saturates():
    gain = np.round(np.exp(np.random.default_rng(1).normal(0.0, 0.3, PROFILE.film.curves.level.shape)), 6)
    curves = replace(PROFILE.film.curves, saturation_s=1.2e-3, gain=gain)
    back = profile_from_text(profile_text(replace(PROFILE, film=replace(PROFILE.film, curves=curves))), "x").film.curves
    np.testing.assert_array_equal(back.gain, gain)
    grid = np.full(gain.shape, 6e-4)
    np.testing.assert_array_equal(back.force_n(grid), curves.force_n(grid))
