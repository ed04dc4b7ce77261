"""The network and its inverse: against a second nodal solution, by hand, and where an answer must be refused."""

import warnings

import nodal
import numpy as np
import pytest

from groundtone.mat.network import SUM_LIMIT, Drivers, conductances, pin_current_a, readings
from groundtone.twin.network import column_voltages

ROWS, COLUMNS = 16, 8


def grids(kind, count, seed=1):
    """Random conductances of 1 µS to 0.5 mS."""
    rng = np.random.default_rng(seed)
    if kind == "uniform":
        return rng.uniform(1e-6, 0.5e-3, (count, ROWS, COLUMNS))
    return np.exp(rng.uniform(np.log(1e-6), np.log(0.5e-3), (count, ROWS, COLUMNS)))


def drivers(kind):
    """Drivers with Rs = 1 kΩ."""
    rng = np.random.default_rng(5)
    high, low = {
        "equal": (np.full(ROWS, 140.0), np.full(ROWS, 140.0)),
        "high above low": (np.full(ROWS, 155.0), np.full(ROWS, 130.0)),
        "low above high": (np.full(ROWS, 120.0), np.full(ROWS, 165.0)),
        "each row its own": (rng.uniform(110, 180, ROWS), rng.uniform(105, 150, ROWS)),
    }[kind]
    pulldown = rng.uniform(950, 1050, COLUMNS) if kind == "each row its own" else np.full(COLUMNS, 1000.0)
    return Drivers(high, low, pulldown)


DRIVERS = ("equal", "high above low", "low above high", "each row its own")


@pytest.mark.parametrize("kind", DRIVERS)
def test_readings_equal_a_second_nodal_solution(kind):
    pins = drivers(kind)
    g = np.concatenate([grids("uniform", 2), grids("log", 2)])
    g[1, 3:5, 2] = 0.0
    expected = np.stack([nodal.read(one, pins.high_ohm, pins.low_ohm, pins.pulldown_ohm) for one in g])
    np.testing.assert_allclose(readings(g, pins), expected, rtol=1e-11)


def test_one_cell_by_hand():
    # One row of 100 Ω, one cell of 1 kΩ, Rs 1 kΩ: a plain divider of 1000 / 2100. A second row without cells is idle.
    g = np.array([[[1e-3], [0.0]]])
    got = readings(g, Drivers.equal(2, 1, 100.0, 60.0, 1000.0))
    np.testing.assert_allclose(got, [[[1000 / 2100], [0.0]]], rtol=1e-14)


def test_two_rows_by_hand():
    # Row 0 high through 50 Ω and 950 Ω; the column sees 1 kΩ to ground and 900 + 100 Ω to the low row: 1/3 of 1 V.
    g = np.array([[[1 / 950], [1 / 900]]])
    got = readings(g, Drivers(np.array([50.0, 600.0]), np.array([800.0, 100.0]), np.array([1000.0])))
    # Row 1 high through 600 + 900 Ω = 1500; the column sees 1000 || (950 + 800).
    other = 1 / (1 / 1000 + 1 / 1750)
    np.testing.assert_allclose(got[0, :, 0], [1 / 3, other / (other + 1500)], rtol=1e-14)


@pytest.mark.parametrize("kind", DRIVERS)
@pytest.mark.parametrize("spread", ["uniform", "log"])
def test_inverse_recovers_200_random_grids_from_a_cold_start(kind, spread):
    g, pins = grids(spread, 200), drivers(kind)
    # The forward model is the twin's: another program than the one that is inverted.
    v = column_voltages(g, pins.pulldown_ohm, pins.high_ohm, pins.low_ohm)
    got, _ = conductances(v, pins)
    assert np.abs(got / g - 1).max() <= 1e-6


@pytest.mark.parametrize("kind", DRIVERS)
def test_a_warm_start_comes_to_the_same(kind):
    pins = drivers(kind)
    g = grids("log", 40)
    near = g * np.random.default_rng(2).uniform(0.9, 1.1, g.shape)
    _, start = conductances(readings(near, pins), pins)
    before = start.coupling.copy(), start.scale.copy()
    warm, after = conductances(readings(g, pins), pins, start=start)
    cold, _ = conductances(readings(g, pins), pins)
    np.testing.assert_allclose(warm, cold, rtol=2e-6)
    np.testing.assert_allclose(warm, g, rtol=1e-6)
    # The caller's start is left as it was, and the new one starts where this one ended.
    assert (start.coupling == before[0]).all()
    assert (start.scale == before[1]).all()
    again, _ = conductances(readings(g, pins), pins, start=after, turns=0)
    np.testing.assert_allclose(again, g, rtol=1e-6)


@pytest.mark.parametrize("kind", DRIVERS)
def test_a_warm_start_from_far_away_comes_to_the_same(kind):
    """From one frame to the next an empty mat may be stepped on, and a full one left."""
    pins, full = drivers(kind), grids("uniform", 40)
    empty = np.full_like(full, 1e-8)
    for before, g in ((empty, full), (full, empty), (full[::-1], full)):
        _, start = conductances(readings(before, pins), pins)
        np.testing.assert_allclose(conductances(readings(g, pins), pins, start=start)[0], g, rtol=1e-6)


def test_a_start_of_another_shape_is_not_used():
    pins = drivers("equal")
    _, start = conductances(readings(grids("log", 3), pins), pins)
    g = grids("uniform", 5)
    np.testing.assert_allclose(conductances(readings(g, pins), pins, start=start)[0], g, rtol=1e-6)


def test_ideal_drivers_give_the_closed_form():
    g = grids("uniform", 20)
    ideal = Drivers.equal(ROWS, COLUMNS, 1e-9, 1e-9, 1000.0)
    v = g / (1e-3 + g.sum(1, keepdims=True))
    np.testing.assert_allclose(readings(g, ideal), v, rtol=1e-9)
    np.testing.assert_allclose(conductances(v, ideal)[0], 1e-3 * v / (1 - v.sum(1, keepdims=True)), rtol=1e-9)
    np.testing.assert_allclose(conductances(v, ideal)[0], g, rtol=1e-9)


def test_an_empty_mat_and_small_negative_readings():
    pins = drivers("high above low")
    np.testing.assert_array_equal(conductances(np.zeros((2, ROWS, COLUMNS)), pins)[0], np.zeros((2, ROWS, COLUMNS)))
    noise = np.random.default_rng(3).normal(0, 3e-4, (50, ROWS, COLUMNS))
    got, _ = conductances(noise, pins)
    # On an empty mat a reading v is G Rs R_high-free to first order: G = v / Rs, noise of both signs.
    np.testing.assert_allclose(got, noise * 1e-3, atol=0.02 * 3e-7)


@pytest.mark.parametrize("wrong", ["nan reading", "sum above the limit", "sum below minus the limit", "infinite"])
def test_a_frame_that_belongs_to_no_network_is_nan_alone(wrong):
    pins = drivers("high above low")
    g = grids("uniform", 5)
    v = readings(g, pins)
    bad = v.copy()
    match wrong:
        case "nan reading":
            bad[2, 3, 4] = np.nan
        case "sum above the limit":
            bad[2, :, 4] *= (SUM_LIMIT + 1e-6) / bad[2, :, 4].sum()
        case "sum below minus the limit":
            bad[2, :, 4] *= -(SUM_LIMIT + 1e-6) / bad[2, :, 4].sum()
        case "infinite":
            bad[2, 3:5, 4] = np.inf, -np.inf
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        got, start = conductances(bad, pins)
        after, _ = conductances(v, pins, start=start)
    assert np.isnan(got[2]).all()
    np.testing.assert_allclose(got[[0, 1, 3, 4]], g[[0, 1, 3, 4]], rtol=1e-6)
    # The next frames start from this one's end and recover all five.
    np.testing.assert_allclose(after, g, rtol=1e-6)


def test_a_sum_just_inside_the_limit_is_answered():
    # 19 mS on one column against Rs = 1 mS and ideal drivers: Σv = 0.9499.
    pins = Drivers.equal(ROWS, COLUMNS, 1e-6, 1e-6, 1000.0)
    g = np.full((1, ROWS, COLUMNS), 1e-6)
    g[0, :, 2] = 18.96e-3 / ROWS
    v = readings(g, pins)
    assert 0.9498 < v[0, :, 2].sum() < SUM_LIMIT
    np.testing.assert_allclose(conductances(v, pins)[0], g, rtol=1e-6)


@pytest.mark.parametrize(("sum_", "known"), [(0.9495, True), (0.9505, False), (0.975, False)])
def test_a_column_is_believed_up_to_95_hundredths_of_the_supply(sum_, known):
    pins = Drivers.equal(ROWS, COLUMNS, 1e-6, 1e-6, 1000.0)
    g = np.full((1, ROWS, COLUMNS), 1e-6)
    g[0, :, 2] = sum_ / (1 - sum_) * 1e-3 / ROWS
    v = readings(g, pins)
    assert v[0, :, 2].sum() == pytest.approx(sum_, abs=1e-6)
    assert np.isfinite(conductances(v, pins)[0]).all() == known


def test_readings_of_no_network_never_pass_silently():
    """Random readings: either a network that gives just these readings, or NaN throughout the frame."""
    pins = drivers("high above low")
    v = np.random.default_rng(7).uniform(-0.05, 0.118, (4000, ROWS, COLUMNS))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        got, _ = conductances(v, pins)
    lost = np.isnan(got).any((1, 2))
    assert np.isnan(got[lost]).all()
    assert 500 < lost.sum() < 3500
    np.testing.assert_allclose(readings(got[~lost], pins), v[~lost], atol=1e-6)


def test_a_frame_that_did_not_converge_leaves_nothing_behind():
    pins, g = drivers("high above low"), grids("uniform", 40)
    wild = np.random.default_rng(7).uniform(-0.05, 0.118, g.shape)
    lost, start = conductances(wild, pins)
    assert 5 < np.isnan(lost).any((1, 2)).sum() < 35
    assert np.isfinite(start.coupling).all()
    assert np.isfinite(start.scale).all()
    np.testing.assert_allclose(conductances(readings(g, pins), pins, start=start)[0], g, rtol=1e-6)


def test_too_few_turns_give_nan_and_not_a_guess():
    pins = drivers("each row its own")
    v = readings(grids("uniform", 3), pins)
    assert np.isnan(conductances(v, pins, turns=0, tolerance=1e-12)[0]).all()


def test_arguments_are_left_alone():
    pins = drivers("high above low")
    v = readings(grids("log", 3), pins)
    v[1, 0, 0] = np.nan
    copy = v.copy()
    conductances(v, pins)
    np.testing.assert_array_equal(v, copy)


def test_pin_currents_by_hand():
    # Two rows, one column, 3.3 V. Row 0 high: 100 Ω, 1 kΩ cell, then Rs 1 kΩ beside 1 kΩ + 100 Ω to the low row.
    g = np.array([[[1e-3], [1e-3]]])
    pins = Drivers.equal(2, 1, 100.0, 100.0, 1000.0)
    beside = 1 / (1 / 1000 + 1 / 1100)
    high = 3.3 / (1100 + beside)
    low = high * beside / 1100
    got_high, got_low = pin_current_a(g, readings(g, pins), pins, 3.3)
    np.testing.assert_allclose(got_high, [[high, high]], rtol=1e-12)
    np.testing.assert_allclose(got_low, [[low, low]], rtol=1e-12)


def test_pin_currents_add_up():
    pins = drivers("each row its own")
    g = grids("uniform", 2)
    v = readings(g, pins)
    high, low = pin_current_a(g, v, pins, 3.3)
    for i in range(2):
        worst = np.zeros(ROWS)
        for r in range(ROWS):
            volts = nodal.solve(*nodal.board(g[i], pins.high_ohm, pins.low_ohm, pins.pulldown_ohm, r))
            line = np.array([volts["row", k] for k in range(ROWS)])
            assert high[i, r] == pytest.approx(3.3 * (1 - line[r]) / pins.high_ohm[r], rel=1e-10)
            sunk = 3.3 * line / pins.low_ohm
            sunk[r] = 0
            worst = np.maximum(worst, sunk)
        np.testing.assert_allclose(low[i], worst, rtol=1e-10)


@pytest.mark.parametrize(("volt", "known"), [(0.94, True), (0.98, True), (1.02, False), (1.8, False)])
def test_a_cell_may_be_as_negative_as_a_pulldown_is_positive_and_no_more(volt, known):
    """Ideal drivers and a column whose readings add up to nothing: G = v / Rs. The smallest pull-down counts."""
    pins = Drivers(np.full(3, 1e-9), np.full(3, 1e-9), np.array([1000.0, 2000.0]))
    reading = np.zeros((1, 3, 2))
    reading[0, :2, 0] = volt, -volt
    got = conductances(reading, pins)[0]
    assert np.isfinite(got).all() == known
    if known:
        assert got[0, :2, 0].tolist() == pytest.approx([volt * 1e-3, -volt * 1e-3])


def test_a_frame_is_done_when_no_column_moves_by_more_than_the_tolerance():
    """A frame that converges and one that needs more turns: a loose tolerance gives what is known by then, and says so.

    A turn leaves about a thirteenth of what was wrong: a hundred times the tolerance is still believed.
    """
    pins, g = drivers("each row its own"), grids("uniform", 30)
    v = readings(g, pins)
    errors = []
    for tolerance in (1e-2, 1e-5, 1e-8):
        got = conductances(v, pins, tolerance=tolerance)[0]
        assert np.isfinite(got).all()
        errors.append(np.abs(got / g - 1).max())
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < 1e-6
    few = conductances(v, pins, turns=0)[0]
    assert np.isnan(few).any((1, 2)).all()
