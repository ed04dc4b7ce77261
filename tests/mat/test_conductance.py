"""The live form: frames in, conductances out, with the ADC's reference and the drivers measured on the way."""

import dataclasses
import math

import nodal
import numpy as np
import pytest

from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import layout_of
from groundtone.mat.network import Drivers, readings
from groundtone.wire.messages import Frame

LAYOUT = layout_of("reference-16x4")
HIGH, LOW = 155.0, 130.0
PINS = Drivers.equal(16, 8, HIGH, LOW, 1000.0)
ZERO, SPAN = 21, 16000


def cells_of(level, seed=1):
    g = np.random.default_rng(seed).uniform(0.2, 1.0, (16, 8)) * level
    return g


def frame(seq, g):
    """What a mat without noise sends: the ADC's zero at 21, its reference 2.4 % below the supply."""
    v = readings(g[None], PINS)[0]
    tap_high, tap_low = nodal.taps(g, PINS.high_ohm, PINS.low_ohm, PINS.pulldown_ohm, 1000.0, HIGH - 100, LOW - 100)
    a, b = (ZERO, ZERO + SPAN * tap_high) if seq % 2 == 0 else (ZERO + SPAN / 2, ZERO + SPAN * tap_low)
    return Frame(0, seq, seq * 10_000, 0, 0, round(a), round(b), np.round(ZERO + SPAN * v).astype(np.uint16).ravel())


def run(meter, first, count, g):
    return [meter.measure(frame(seq, g)) for seq in range(first, first + count)]


@pytest.mark.parametrize("first", [0, 1])
def test_nothing_is_said_before_all_references_have_been_seen(first):
    out = run(ConductanceMeter(LAYOUT), first, 3, cells_of(1e-4))
    assert np.isnan(out[0]).all()
    assert np.isfinite(out[1]).all()


def test_conductances_with_measured_drivers():
    g, meter = cells_of(2e-4), ConductanceMeter(LAYOUT)
    out = run(meter, 0, 130, g)
    # Nominal drivers at first: off by some per cent. Then only the rounding of the counts is left.
    assert abs(out[1].sum() / g.sum() - 1) > 0.01
    assert abs(out[-1].sum() / g.sum() - 1) < 0.001
    np.testing.assert_allclose(out[-1], g, atol=5e-7)
    assert meter.drivers.high_ohm[0] == pytest.approx(HIGH, abs=0.6)
    assert meter.drivers.low_ohm[0] == pytest.approx(LOW, abs=0.6)


def test_a_frame_that_is_lost_does_not_undo_what_is_known_of_the_drivers():
    g, meter = cells_of(2e-4), ConductanceMeter(LAYOUT)
    run(meter, 0, 60, g)
    known = meter.drivers
    # A short: two columns' readings add up to more than a network can give, for as long as a look at the drivers takes.
    for seq in range(60, 180):
        wrong = frame(seq, g)
        wrong.cells.reshape(16, 8)[:, 2:4] = 2000
        assert np.isnan(meter.measure(wrong)).all()
    assert meter.drivers is known
    after = meter.measure(frame(180, g))
    np.testing.assert_allclose(after, g, atol=1e-6)
    assert meter.drivers.high_ohm[0] == pytest.approx(HIGH, abs=0.6)


def test_a_line_that_reads_nothing_at_all_gives_nan_and_no_error():
    meter, dead = ConductanceMeter(LAYOUT), Frame(0, 0, 0, 0, 0, 0, 0, np.zeros(128, np.uint16))
    for seq in range(120):
        assert np.isnan(meter.measure(dataclasses.replace(dead, seq=seq))).all()
    assert not math.isnan(meter.drivers.high_ohm[0])


def test_following_a_load_that_comes_and_goes():
    meter = ConductanceMeter(LAYOUT)
    run(meter, 0, 70, cells_of(1e-7))
    for i, level in enumerate((3e-4, 1e-7, 4e-4, 2e-4, 1e-8, 1e-4)):
        g = cells_of(level, seed=i)
        # One count is 1/16000 of the supply: 0.06 µS, times the noise gain of up to five here.
        np.testing.assert_allclose(meter.measure(frame(70 + i, g)), g, atol=1.2e-6)


def test_drivers_are_told_while_a_heavy_load_wanders():
    meter, row = ConductanceMeter(LAYOUT), np.arange(16)[:, None]
    run(meter, 0, 20, cells_of(1e-7))
    for seq in range(20, 420):
        # A heavy person on a sheet that conducts well, over the toes and back in two seconds.
        middle = 7.5 - 6.5 * math.cos(2 * math.pi * seq / 200)
        g = cells_of(9e-4) * np.exp(-(((row - middle) / 3) ** 2))
        told = meter.measure(frame(seq, g))
        assert told.sum() == pytest.approx(g.sum(), rel=0.01)
        assert meter.drivers.high_ohm[0] == pytest.approx(HIGH, abs=2.0)
        assert meter.drivers.low_ohm[0] == pytest.approx(LOW, abs=2.0)
