"""Creep taken out of readings that crept by the logarithm of time, simulated without any exponential."""

import math
import warnings

import numpy as np
import pytest

from groundtone.calibration.fitting.film_memory import MOST_CREEP, CreepMemory, creep_from_drift, step_response

DT_S = 0.01
# Where log10(1 + t/t0) and a sum of exponentials in steps of half a decade, the first of 0.056 s, mean the same.
BEGIN_S = 0.0178


def crept(force, c, dt_s=DT_S):
    """Readings of forces by direct convolution: every step of load grows by c a decade of the time since it came."""
    t = np.arange(force.size) * dt_s
    return force + c * np.convolve(np.diff(force, prepend=0.0), np.log10(1 + (t + dt_s) / BEGIN_S))[: force.size]


def history():
    """60 s: nobody, a golfer who rocks, nobody, a still weight."""
    t = np.arange(0, 60, DT_S)
    force = np.where((t > 2) & (t < 30), 300 + 200 * np.sin(2 * np.pi * 0.3 * t), 0.0)
    force[t > 40] = 100.0
    return t, force


def uncreep(t, reading, c):
    memory = CreepMemory(c, (1,))
    return np.array([memory.force_n(float(a), np.array([b]))[0] for a, b in zip(t, reading, strict=True)])


@pytest.mark.parametrize("c", [0.02, 0.05, 0.10])
def test_an_independent_creep_is_inverted(c):
    t, force = history()
    reading = crept(force, c)
    error = np.abs(uncreep(t, reading, c) - force)
    raw = np.abs(reading - force)
    # Of up to 500 N: what is left is below a twentieth of c at the worst instant, a hundredth in the mean.
    assert error.max() < 0.05 * c * 500
    assert error[(t > 3) & (t < 30)].mean() < 0.012 * c * 500
    assert error.max() < raw.max() / 40
    # The empty mat after the golfer: the film's memory is gone to a two-hundredth.
    gone = (t > 30.5) & (t < 39.5)
    assert error[gone].max() < 0.01 * c * 500
    assert raw[gone].max() > 0.2 * c * 500


def test_step_response_by_hand():
    # Nine time constants 10^-1.25 to 10^2.75 (half decades): after one second, weight c/2 each.
    times = [10 ** (-1.25 + 0.5 * i) for i in range(9)]
    assert step_response(0.06, 1.0) == pytest.approx(1 + 0.03 * sum(1 - math.exp(-1 / tau) for tau in times), rel=1e-12)
    assert step_response(0.06, 0.0) == 1.0


@pytest.mark.parametrize("t_s", [0.3, 1.0, 3.0, 10.0, 20.0])
def test_a_decade_of_time_adds_c(t_s):
    assert step_response(0.05, 10 * t_s) - step_response(0.05, t_s) == pytest.approx(0.05, rel=0.1)


def test_its_own_step_response_is_inverted_exactly():
    t = np.arange(1, 800) * 0.05
    reading = np.array([200.0 * step_response(0.05, s) for s in t])
    memory = CreepMemory(0.05, (1,))
    memory.force_n(0.0, np.zeros(1))
    out = [memory.force_n(float(s), np.array([r]))[0] for s, r in zip(t, reading, strict=True)]
    np.testing.assert_allclose(out, 200.0, rtol=1e-12)


def test_frames_at_any_spacing():
    rng = np.random.default_rng(2)
    t = np.cumsum(rng.uniform(0.005, 0.4, 300))
    reading = np.array([200.0 * step_response(0.05, s - t[0]) for s in t])
    np.testing.assert_allclose(uncreep(t, reading, 0.05), 200.0, rtol=1e-12)


def test_a_frame_twice_at_the_same_time_changes_nothing():
    memory = CreepMemory(0.05, (1,))
    memory.force_n(0.0, np.zeros(1))
    first = memory.force_n(1.0, np.array([100.0]))
    assert memory.force_n(1.0, np.array([100.0])) == pytest.approx(first, rel=1e-12)
    assert memory.force_n(0.9, np.array([100.0])) == pytest.approx(first, rel=1e-12)


def test_nan_stays_nan_and_is_remembered_as_nothing():
    memory, other = CreepMemory(0.05, (2,)), CreepMemory(0.05, (2,))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for i in range(50):
            memory.force_n(i * 0.01, np.array([100.0, 50.0]))
            other.force_n(i * 0.01, np.array([100.0, 50.0]))
        out = memory.force_n(0.5, np.array([np.nan, 50.0]))
        other.force_n(0.5, np.array([0.0, 50.0]))
    assert math.isnan(out[0])
    assert out[1] < 50.0
    after, expected = memory.force_n(0.51, np.array([100.0, 50.0])), other.force_n(0.51, np.array([100.0, 50.0]))
    # Counting a lost frame as a force of zero is a difference of at most c for that one frame's time.
    np.testing.assert_allclose(after, expected, rtol=0.005)


def test_no_creep_changes_nothing():
    memory, reading = CreepMemory(0.0, (3,)), np.array([1.0, np.nan, -2.0])
    np.testing.assert_array_equal(memory.force_n(1.0, reading), reading)


def test_creep_from_drifts():
    def drift(c, early=0.25, late=0.825):
        return math.log(step_response(c, late) / step_response(c, early)) / math.log10(late / early)

    # ln conductance grows less than ln force by the exponent; the middle of three counts.
    seen = np.array([drift(0.05), np.nan, drift(0.01), drift(0.036)]) / 1.2
    assert creep_from_drift(seen, 1.2) == pytest.approx(0.036, rel=1e-9)
    assert creep_from_drift(np.array([drift(0.036, 0.5, 2.0)]), 1.0, (0.5, 2.0)) == pytest.approx(0.036, rel=1e-9)
    # It is not far from the drift itself: a decade adds c, over a reading that has grown a little.
    assert creep_from_drift(np.array([0.03]), 1.0) == pytest.approx(0.03, rel=0.1)
    assert creep_from_drift(np.array([np.nan, np.nan]), 1.2) == 0.0
    assert creep_from_drift(np.array([]), 1.2) == 0.0
    assert creep_from_drift(np.array([-0.03]), 1.0) == 0.0
    assert creep_from_drift(np.array([9.0]), 1.0) == MOST_CREEP
