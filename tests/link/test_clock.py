"""The mat's clock: unwrapping across 2^32 µs, going on over gaps, and the fit of offset and drift to host time."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundtone.link.clock import DeviceClock, carried_us
from groundtone.record.frames import Frames

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
    clock = DeviceClock()
    # Host time runs 100 s ahead and messages take 2, 7, 1 and 3 ms.
    ages = [clock.arrived(t, 100 + t * 1e-6 + late) for t, late in ((0, 0.002), (10**4, 0.007), (2 * 10**4, 0.001))]
    assert ages == pytest.approx([0.0, 0.005, 0.0], abs=1e-9)
    assert clock.arrived(30_000, 100.03 + 0.003) == pytest.approx(0.002, abs=1e-9)
    assert clock.host_s(40_000) == pytest.approx(100.041, abs=1e-9)


def arrivals(seed, seconds, ppm, least_s, spread_s, step_s=0.01, begin_s=0.0):
    """(device µs, host s, how late beyond the least) of messages whose delays are least plus an exponential."""
    number = random.Random(seed)
    for i in range(round(seconds / step_s)):
        device_s = begin_s + i * step_s
        late = number.expovariate(1 / spread_s)
        yield round(device_s * 1e6), 5.0 + device_s * (1 + ppm * 1e-6) + least_s + late, late


@pytest.mark.parametrize("ppm", [-150, -40, 0, 40, 150])
def test_the_fit_finds_the_drift_and_drift_is_no_age(ppm):
    clock, worst = DeviceClock(), 0.0
    for i, (device_us, host_s, late) in enumerate(arrivals(3, 300, ppm, 0.001, 0.002)):
        age = clock.arrived(device_us, host_s)
        if i > 3000:  # after half a minute
            # The quickest of a hundred messages of a second is late by 0.02 ms in the mean.
            worst = max(worst, abs(age - late))
    assert worst < 0.25e-3
    assert clock.drift == pytest.approx(ppm * 1e-6, abs=1.5e-6)
    assert clock.host_s(300_000_000) == pytest.approx(5.0 + 300 * (1 + ppm * 1e-6) + 0.001, abs=0.25e-3)


def test_before_ten_seconds_there_is_no_slope_and_the_drift_is_all_the_error():
    clock = DeviceClock()
    for device_us, host_s, late in arrivals(5, 9, 100, 0.001, 0.002):
        assert clock.arrived(device_us, host_s) == pytest.approx(late, abs=9 * 100e-6 + 3e-3)
    assert clock.drift == 0.0


def test_a_drift_beyond_any_quartz_is_not_believed():
    clock = DeviceClock(most_drift=50e-6)
    for device_us, host_s, _ in arrivals(6, 60, 400, 0.0, 0.001):
        assert clock.arrived(device_us, host_s) >= 0.0
    assert clock.drift == 50e-6


def test_a_busy_stretch_does_not_pass_for_drift():
    """Half a minute in which every message is 30 ms late: its frames have that age."""
    clock = DeviceClock()
    for device_us, host_s, _ in arrivals(7, 60, 20, 0.001, 0.001):
        clock.arrived(device_us, host_s)
    ages = [clock.arrived(d, h) for d, h, _ in arrivals(8, 30, 20, 0.031, 0.001, begin_s=60.0)]
    assert min(ages) > 0.028
    assert max(ages) < 0.031 + 0.010
    assert clock.drift == pytest.approx(20e-6, abs=3e-6)


def test_a_message_that_comes_before_it_can_begins_the_fit_anew():
    clock = DeviceClock()
    for device_us, host_s, _ in arrivals(9, 20, 0, 0.001, 0.001):
        clock.arrived(device_us, host_s)
    # The computer slept for ten minutes and its clock did not go on.
    assert clock.arrived(620_000_000, 25.0) == 0.0
    assert clock.arrived(620_010_000, 25.012) == pytest.approx(0.002, abs=1e-9)


def test_an_age_is_never_negative():
    clock, number = DeviceClock(), random.Random(4)
    assert all(clock.arrived(i * 10_000, i * 0.01 + number.gauss(0, 0.05)) >= 0 for i in range(20_000))


@pytest.mark.parametrize(
    ("before", "after", "host_s", "step"),
    [
        (5_000_000, 5_010_000, 0.012, 10_000),
        (WRAP - 4_000, 6_000, 0.010, 10_000),  # over the wrap
        (5_000_000, 8_000_000, 3.2, 3_000_000),  # a gap in which the mat ran on
        (500_000_000, 2_000_000, 7.5, 7_500_000),  # it was switched off: its clock begins again
        (5_000_000, 605_000_000, 0.5, 500_000),  # ahead by ten minutes: a flipped bit, or the computer slept
        (9_000, 9_000, 0.0, 1_000),
    ],
)
def test_device_time_goes_on_over_whatever_happened(before, after, host_s, step):
    assert carried_us(before, after, host_s) == step


def test_a_recording_is_read_by_the_same_rule():
    number = random.Random(11)
    t_us, host_s = [0], [100.0]
    for _ in range(300):
        host_s.append(host_s[-1] + number.choice([0.01, 0.01, 0.02, 3.0, 40.0]))
        t_us.append(number.choice([t_us[-1] + 10_000, t_us[-1] + 10_000, number.randrange(WRAP)]) % WRAP)
    raw = np.zeros((len(t_us), 20), np.uint8)
    raw[:, 4:8] = np.array(t_us, "<u4").view(np.uint8).reshape(-1, 4)
    host_ns = np.round(np.array(host_s) * 1e9).astype(np.int64)
    read = np.diff(Frames(raw, host_ns, 0, 14).device_us)
    live = [carried_us(t_us[i], t_us[i + 1], (host_ns[i + 1] - host_ns[i]) * 1e-9) for i in range(300)]
    assert np.abs(read - live).max() <= 1
