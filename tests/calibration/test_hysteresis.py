"""Hysteresis: loops, of our own formula and of others, that the memory must open up."""

import math

import numpy as np
import pytest

from groundtone.calibration.fitting.hysteresis import HysteresisMemory


def follow(readings, arch):
    memory = HysteresisMemory(arch, (1,))
    return np.array([memory.force_n(np.array([r]))[0] for r in readings])


def there_and_back(peak=200.0, low=0.0, steps=400):
    """Up to a peak, down again."""
    up = np.linspace(0.0, peak, steps)
    return np.concatenate([up, np.linspace(peak, low, steps)])


def play_loop(force, widths=(0.05, 0.15, 0.35), parts=(0.05, 0.05, 0.04)):
    """Readings of a film made of play operators on the logarithm of force: a known model of such loops, not ours."""
    x = np.log1p(force / 0.05)
    held = np.full(len(widths), x[0])
    out = []
    for value in x:
        held = np.clip(held, value - np.array(widths), value + np.array(widths))
        out.append(value * (1 - sum(parts)) + held @ np.array(parts))
    return 0.05 * np.expm1(np.array(out))


def as_curve_reads(reading, force):
    """What a curve that was fitted on the way up makes of it: exact on the way up."""
    rising = slice(0, force.size // 2)
    return np.interp(reading, reading[rising], force[rising])


@pytest.mark.parametrize("peak", [50.0, 200.0, 800.0])
@pytest.mark.parametrize("arch", [0.05, 0.10])
def test_a_loop_of_its_own_formula_is_opened(peak, arch):
    """Reading r on the way down belongs to the force r − b (P − r) r / P."""
    reading = there_and_back(peak)
    out = follow(reading, arch)
    up, down = out[:400], out[400:]
    np.testing.assert_array_equal(up, reading[:400])
    r = reading[400:]
    force = r - arch * (peak - r) * r / peak
    # Past the turn (half the peak is five times the passage) and until the load is nearly gone. The passage also makes
    # the excess follow a tenth of the peak late: up to a fiftieth of the peak, times b.
    inside = (r < 0.5 * peak) & (r > 0.06 * peak)
    np.testing.assert_allclose(down[inside], force[inside], atol=0.02 * arch * peak)
    assert np.abs(r - force)[inside].max() > 0.24 * arch * peak
    # At the turn itself nothing jumps: no frame moves by more than the reading's step and a part.
    assert np.abs(np.diff(down)).max() < 2.0 * peak / 400


@pytest.mark.parametrize("peak", [60.0, 200.0, 700.0])
def test_an_independent_loop_is_at_least_halved(peak):
    force = there_and_back(peak)
    reading = as_curve_reads(play_loop(force), force)
    down = slice(force.size // 2, None)
    # The bench measures the arch where a third of the peak is left.
    third = down.start + np.argmin(np.abs(force[down] - peak / 3))
    left = force[third]
    arch = float((reading[third] - left) * peak / ((peak - left) * left))
    assert 0.02 < arch < 0.3
    before = (reading - force)[down]
    after = (follow(reading, arch) - force)[down]
    assert np.sqrt(np.mean(after**2)) < 0.5 * np.sqrt(np.mean(before**2))
    assert np.abs(after).max() < 0.7 * np.abs(before).max()


def test_rocking_over_an_independent_loop_is_halved():
    """Loads as under a rocking golfer: up, part of the way down, up again, and off."""
    turns = (0.0, 200.0, 90.0, 180.0, 60.0, 220.0, 0.0)
    force = np.concatenate([np.linspace(a, b, 150, endpoint=False) for a, b in zip(turns, turns[1:], strict=False)])
    film = play_loop(np.concatenate([force]))
    straight = there_and_back(250.0)
    reading = np.interp(film, play_loop(straight)[:400], straight[:400])
    before = reading - force
    after = follow(reading, 0.065) - force
    assert np.sqrt(np.mean(after**2)) < 0.6 * np.sqrt(np.mean(before**2))


def test_a_peak_is_forgotten_when_the_load_is_gone():
    out = follow([*there_and_back(300.0), *np.linspace(0, 60, 100)], 0.1)
    np.testing.assert_allclose(out[-100:], np.linspace(0, 60, 100), atol=1e-9)


@pytest.mark.parametrize(("low", "gone"), [(15.6, False), (14.4, True)])
def test_a_load_is_gone_below_a_twentieth_of_its_peak(low, gone):
    out = follow(there_and_back(300.0, low=low), 0.1)
    assert (out[-1] == pytest.approx(low)) == gone


def test_the_next_loads_arch_is_its_own():
    """After 300 N are gone, 100 N come and go to 50: the excess is b (100 − 50) 50 / 100, not that of 300 N."""
    reading = [*there_and_back(300.0), *np.linspace(0, 100, 200), *np.linspace(100, 50, 200)]
    assert follow(reading, 0.1)[-1] == pytest.approx(50 - 2.5, abs=0.2)


def test_going_up_again_takes_the_excess_back():
    # From 200 N down to 50 and up to 150 again: ten passages of a twentieth of the peak later nothing is taken off.
    reading = [*there_and_back(200.0, low=50.0), *np.linspace(50, 150, 200)]
    out = follow(reading, 0.1)
    assert out[799] == pytest.approx(50 - 0.1 * 150 * 50 / 200, abs=0.2)
    assert out[-1] == pytest.approx(150.0, abs=0.15)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_on_a_load_that_stays_keeps_its_excess(seed):
    reading = there_and_back(200.0, low=100.0)
    held = 100 + np.random.default_rng(seed).normal(0, 0.3, 1000)
    out = follow([*reading, *held], 0.1)[len(reading) :]
    # The passage comes within 0.4 N of it and noise lets it go no further.
    assert out.mean() == pytest.approx(100 - 5, abs=0.45)
    assert out.std() < 0.4


def test_noise_on_a_still_load_turns_nothing():
    rng = np.random.default_rng(3)
    reading = np.concatenate([np.linspace(0, 200, 200), 200 + rng.normal(0, 0.3, 2000)])
    out = follow(reading, 0.1)
    assert np.abs(out[200:] - 200).max() < 2.0
    assert abs(out[200:].mean() - 200) < 0.3


def test_nan_stays_nan_and_changes_nothing_that_is_remembered():
    reading = there_and_back(200.0)[:600]
    clean = follow(reading, 0.1)
    holed = reading.copy()
    holed[450:455] = np.nan
    out = follow(holed, 0.1)
    assert np.isnan(out[450:455]).all()
    np.testing.assert_allclose(out[500:], clean[500:], atol=0.05)
    assert not np.isnan(out[455:]).any()


def test_cells_are_independent():
    memory, reading = HysteresisMemory(0.1, (2, 2)), there_and_back(200.0)
    alone = follow(reading, 0.1)
    for i, r in enumerate(reading):
        out = memory.force_n(np.array([[r, 50.0], [0.0, np.nan]]))
        assert out[0, 0] == alone[i]
        assert (out[0, 1], out[1, 0], math.isnan(out[1, 1])) == (50.0, 0.0, True)


def test_no_arch_changes_nothing():
    reading = np.array([1.0, np.nan, -3.0])
    assert HysteresisMemory(0.0, (3,)).force_n(reading) is reading


def test_a_way_up_and_down_by_hand_frame_by_frame_and_as_a_block():
    """b = 0.1. A hundredth of the peak, or half a newton, is noise: what is followed stays so far behind."""
    # 100 N, followed to 99. Down to 50 is followed to 51, 48 N of way, a tenth of the peak's e-fold each.
    low = 0.1 * 50 * 50 / 100 * (1 - math.exp(-48 / 10))
    # Up to 51.9 moves nothing. Up to 70 is followed to 69, 18 N: the excess fades. Down to 5, a twentieth: 63 N of way.
    faded = low * math.exp(-18 / 10)
    last = faded * math.exp(-63 / 10) + 0.1 * 95 * 5 / 100 * (1 - math.exp(-63 / 10))
    # 4.9 N are less than a twentieth: gone. Then 30 N, followed to 29.5, which 29 do not move and 28.4 move by 0.6.
    small = 0.1 * 1.6 * 28.4 / 30 * (1 - math.exp(-0.6 / 3))
    readings = np.array([100.0, 50.0, 51.9, 70.0, 5.0, 4.9, 30.0, 29.0, 28.4])
    excess = [0.0, low, low, faded, last, 0.0, 0.0, 0.0, small]
    np.testing.assert_allclose(readings - follow(readings, 0.1), excess, rtol=1e-12, atol=1e-14)
    memory = HysteresisMemory(0.1, (1,))
    parts = [memory.forces_n(part[:, None])[:, 0] for part in (readings[:2], readings[2:3], readings[3:])]
    np.testing.assert_allclose(readings - np.concatenate(parts), excess, rtol=1e-12, atol=1e-14)


def test_no_excess_is_more_than_the_arch_has_there():
    """Down to 50 of 100 N and on to 6 in steps that are noise: what is followed stays, and the arch itself limits."""
    down = [100.0, 50.0, *np.arange(49.0, 5.5, -1.0)]
    out = np.array(down) - follow(down, 0.1)
    assert (out[2:] <= [0.1 * (100 - r) * r / 100 + 1e-12 for r in down[2:]]).all()
    assert out[-1] == pytest.approx(0.1 * 94 * 6 / 100, rel=0.01)
    # Below nothing, as noise reads an empty cell, nothing is taken off.
    assert follow([100.0, 50.0, -0.4], 0.1)[-1] == -0.4
