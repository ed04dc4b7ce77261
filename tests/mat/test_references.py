"""What the board measures of itself, from readings that a second nodal solution computed."""

import warnings

import nodal
import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.mat.network import Drivers, conductances, readings
from groundtone.mat.references import References, drivers_from, fractions

LAYOUT = layout_of("reference-16x4")
ZERO, SPAN = 21.0, 16000.0
SUPPLY = ZERO + SPAN / 2


def test_fractions_by_hand():
    # 0 V reads 20, half the supply 8020: the supply is 16000 steps above 20.
    got = fractions(np.array([20.0, 4020.0, 8020.0, 12020.0, 16020.0, 12.0]), References(20.0, 8020.0))
    np.testing.assert_allclose(got, [0, 0.25, 0.5, 0.75, 1, -0.0005], rtol=1e-14)


@pytest.mark.parametrize(("zero", "supply"), [(0, 0), (100.0, 100.0), (200.0, 100.0), (np.nan, 100.0)])
def test_a_supply_no_higher_than_zero_is_no_measure(zero, supply):
    assert np.isnan(fractions(np.array([1.0, 2.0]), References(zero, supply))).all()


def test_running_means_by_hand():
    known = References()
    for seq, a, b in ((0, 10, 100), (1, 8000, 200), (2, 14, 110), (3, 8010, 190), (4, 18, 120)):
        assert known.complete == (seq >= 2)
        known = known.updated(seq, a, b)
    assert (known.zero, known.tap_high) == (pytest.approx(14.0), 120.0)  # a tap goes with its own frame's load
    assert (known.supply, known.tap_low) == (pytest.approx(8005.0), 190.0)
    assert (known.even, known.odd) == (3, 2)


def test_means_become_slow_but_not_stuck():
    known = References()
    for i in range(400):
        known = known.updated(i, 10.0, 100.0)
    # A step then goes in with a weight of 0.02 each time a kind is seen: after 50 of them 1 − 0.98^50 = 0.636.
    for i in range(100):
        known = known.updated(i, 20.0, 100.0)
    assert known.zero == pytest.approx(10 + 10 * (1 - 0.98**50), rel=1e-12)


@pytest.mark.parametrize("first", [0, 1])
def test_a_mat_that_sends_one_kind_only_for_a_while(first):
    known = References()
    for i in range(60):
        known = known.updated(2 * i + first, 50.0, 500.0)
        assert not known.complete
    known = known.updated(1 - first, 70.0, 700.0).updated(1 - first, 80.0, 800.0)
    other, tap = (known.supply, known.tap_low) if first == 0 else (known.zero, known.tap_high)
    assert (other, tap) == (75.0, 800.0)


def heel_on_row_0(g):
    """70 kg on the heels, a good part of it on rows 0 and 1."""
    g[0, :] = [2e-4, 4e-4, 3e-4, 1e-4, 1e-4, 3e-4, 4e-4, 2e-4]
    g[1, :] = g[0] * 1.2
    g[2, :] = g[0] * 0.8


@pytest.mark.parametrize("load", ["empty", "toes", "heel"])
@pytest.mark.parametrize("series", [220.0, 100.0])  # today's mats, and those with the row resistors of earlier ones
@pytest.mark.parametrize(("high", "low"), [(55.0, 30.0), (40.0, 40.0), (25.0, 70.0), (12.0, 8.0)])
def test_drivers_are_recovered_to_one_per_cent(load, high, low, series):
    high, low = high + series, low + series
    g = np.full((16, 8), 1e-7)
    if load == "toes":
        g[10:14] = 2e-4
    if load == "heel":
        heel_on_row_0(g)
    pins = Drivers.equal(16, 8, high, low, 1000.0)
    reading = nodal.read(g, pins.high_ohm, pins.low_ohm, pins.pulldown_ohm)
    own = high - series, low - series
    tap_high, tap_low = nodal.taps(g, pins.high_ohm, pins.low_ohm, pins.pulldown_ohm, 1000.0, *own)
    known = References(ZERO, SUPPLY, ZERO + SPAN * tap_high, ZERO + SPAN * tap_low)
    # As in life: the cells are known only through nominal drivers at first, then through the ones found.
    found = LAYOUT.nominal_drivers()
    for _ in range(5):
        cells, _ = conductances(reading[None], found)
        found = drivers_from(known, LAYOUT, cells[0])
    assert found.high_ohm == pytest.approx(np.full(16, high), rel=0.01)
    assert found.low_ohm == pytest.approx(np.full(16, low), rel=0.01)
    assert (found.pulldown_ohm == 1000.0).all()
    if load != "heel":
        assert found.high_ohm[0] == pytest.approx(high, rel=1e-4)


def test_measured_drivers_take_the_error_out_of_the_force():
    g = np.full((16, 8), 1e-7)
    heel_on_row_0(g)
    pins = Drivers.equal(16, 8, 155.0, 130.0, 1000.0)
    reading = readings(g[None], pins)[0]
    taps = nodal.taps(g, pins.high_ohm, pins.low_ohm, pins.pulldown_ohm, 1000.0, 55.0, 30.0)
    known = References(ZERO, SUPPLY, *(ZERO + SPAN * tap for tap in taps))
    nominal, _ = conductances(reading[None], LAYOUT.nominal_drivers())
    found = drivers_from(known, LAYOUT, nominal[0])
    for _ in range(4):
        found = drivers_from(known, LAYOUT, conductances(reading[None], found)[0][0])
    better, _ = conductances(reading[None], found)
    assert abs(nominal.sum() / g.sum() - 1) > 0.02
    assert abs(better.sum() / g.sum() - 1) < 0.002


@pytest.mark.parametrize(
    ("tap_high", "tap_low"),
    [(0, 0), (1, 1), (1, 0), (0, 1), (0.5, 0.5), (0.999, 0.001), (-0.1, 0.1), (1.2, 0.2), (np.nan, 0.1), (0.9, np.nan)],
)
@pytest.mark.parametrize("loaded", [False, True])
def test_nonsense_falls_back_to_the_nominal_drivers(tap_high, tap_low, loaded):
    g = np.zeros((16, 8))
    if loaded:
        heel_on_row_0(g)
    known = References(ZERO, SUPPLY, ZERO + SPAN * tap_high, ZERO + SPAN * tap_low)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = drivers_from(known, LAYOUT, g)
    assert (found.high_ohm == 260.0).all()
    assert (found.low_ohm == 260.0).all()


def test_a_dead_supply_line_falls_back_too():
    found = drivers_from(References(5.0, 5.0, 9000.0, 1000.0), LAYOUT, np.zeros((16, 8)))
    assert (found.high_ohm == 260.0).all()
