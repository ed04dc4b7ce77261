"""The mat's clock: unwrapping across 2^32 µs, and the age of frames against the lower envelope."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundtone.link.clock import DeviceClock

WRAP = 2**32
HALF = WRAP // 2


def test_unwrapping_by_hand():
    clock = DeviceClock()
    seen = [WRAP - 20_000, WRAP - 10_000, 0, 10_000, WRAP - 5_000, 5_000]
    # The fifth came late, from before the wrap: it goes back, and the next comes forward again.
    true = [WRAP - 20_000, WRAP - 10_000, WRAP, WRAP + 10_000, WRAP - 5_000, WRAP + 5_000]
    assert [clock.unwrap(t) for t in seen] == true


@given(start=st.integers(0, WRAP - 1), steps=st.lists(st.integers(-HALF + 1, HALF - 1), max_size=30))
def test_steps_of_less_than_half_a_wrap_are_understood(start, steps):
    clock, now = DeviceClock(), start
    assert clock.unwrap(now) == start
    for step in steps:
        now += step
        assert clock.unwrap(now % WRAP) == now


def test_a_day_of_frames():
    clock, now = DeviceClock(), 4_000_000_000
    for _ in range(20_000):
        assert clock.unwrap(now % WRAP) == now
        now += 4_321_987
    assert now > 20 * WRAP


def test_age_by_hand():
    clock = DeviceClock(drift=0.0)
    # Host time runs 100 s ahead and messages take 2, 7, 1 and 3 ms.
    ages = [clock.arrived(t, 100 + t * 1e-6 + late) for t, late in ((0, 0.002), (10**4, 0.007), (2 * 10**4, 0.001))]
    assert ages == pytest.approx([0.0, 0.005, 0.0], abs=1e-9)
    assert clock.arrived(30_000, 100.03 + 0.003) == pytest.approx(0.002, abs=1e-9)


@pytest.mark.parametrize("ppm", [-40, 0, 40])
def test_drift_of_the_quartzes_is_no_age(ppm):
    clock, number = DeviceClock(), random.Random(3)
    for i in range(60_000):
        device_s = i * 0.01
        late = 0.001 + number.expovariate(1 / 0.002)
        age = clock.arrived(round(device_s * 1e6), 5.0 + device_s * (1 + ppm * 1e-6) + late)
        if i > 1000:
            # The quickest of some hundred frames is within 0.1 ms of the least delay, and the let-up adds little.
            assert late - 0.001 - 0.0008 <= age <= late - 0.001 + 0.0008


def test_an_age_is_never_negative():
    clock, number = DeviceClock(), random.Random(4)
    assert all(clock.arrived(i * 10_000, i * 0.01 + number.gauss(0, 0.05)) >= 0 for i in range(2000))
