"""What a film remembers of somebody who stood on it, and who is still: told from an empty mat and from a noisy one."""

import numpy as np
import pytest

from groundtone.calibration.fitting.film_memory import TIME_CONSTANTS_S, kept_creep
from groundtone.calibration.shoes.postures import SteadyFrames

RATE_HZ = 50.0


def stood(c_per_decade, seconds=30.0, after_s=2.0):
    """Two cells under a person who goes from one to the other and back and steps off within half a second; and t."""
    t = np.arange(round((seconds + after_s + 2.0) * RATE_HZ)) / RATE_HZ
    on = np.clip((t - 2.0) / 0.5, 0, 1) * np.clip((2.0 + seconds - t) / 0.5, 0, 1)
    share = 0.5 + 0.4 * np.sin(0.8 * t)
    load = 1e-4 * np.stack([on * share, on * (1 - share)], axis=1)
    state, out = np.zeros((TIME_CONSTANTS_S.size, 2)), np.empty_like(load)
    keep = np.exp(-1 / RATE_HZ / TIME_CONSTANTS_S)[:, None]
    for i, now in enumerate(load):
        state = keep * state + (1 - keep) * now
        out[i] = now + c_per_decade / 2 * state.sum(0)
    return t, out[:, None, :]


@pytest.mark.parametrize("creep", [0.0, 0.05, 0.2, 0.35])
def test_what_stays_when_a_person_steps_off_tells_the_creep_that_is_kept(creep):
    rng = np.random.default_rng(2)
    t, reading = stood(creep)
    found = kept_creep(t, reading + 2e-7 * rng.standard_normal(reading.shape))
    assert found == pytest.approx(creep, abs=0.012)


def test_who_does_not_step_off_tells_nothing():
    t, reading = stood(0.2)
    still_on = t < 30.0
    assert np.isnan(kept_creep(t[still_on], reading[still_on]))


def test_a_posture_on_cells_that_read_little_is_no_empty_mat():
    """The second cell reads a fifth: on it alone the mat reads half as much for a while, and somebody stands there."""
    t, reading = stood(0.05)
    reading[:, 0, 1] *= 0.2
    assert kept_creep(t, reading) == pytest.approx(0.05, abs=0.012)
    still_on = t < 29.5  # on that cell mostly
    assert reading[still_on][-1].sum() < 0.6 * np.percentile(reading.sum((1, 2)), 80)
    assert np.isnan(kept_creep(t[still_on], reading[still_on]))


@pytest.mark.parametrize(("frames", "known"), [(21, False), (22, True)])
def test_eight_frames_of_an_empty_mat_tell(frames, known):
    """50 Hz: five frames are the mean, and it is free once that is nothing a fifth of a second long: after 14."""
    load = np.zeros((250 + frames, 1, 1))
    load[:250] = 1e-4
    assert kept_creep(np.arange(len(load)) / RATE_HZ, load) == pytest.approx(0.0 if known else np.nan, nan_ok=True)


def left_behind(*cells, frames=50):
    """Ten seconds at the first reading of each cell, then what it reads by the time since, both of 1e-4 S."""
    since = np.arange(frames) / RATE_HZ
    load = np.array([[1e-4 * before] * 500 + [1e-4 * after(s) for s in since] for before, after in cells])
    return np.arange(500 + frames) / RATE_HZ, load.T[:, None, :]


@pytest.mark.parametrize(("reads", "counts"), [(0.19, False), (0.21, True)])
def test_cells_that_were_stood_on_by_a_fifth_of_the_most_tell(reads, counts):
    t, load = left_behind((1.0, lambda _: 0.0), (reads, lambda _: 0.02 * reads))
    assert (kept_creep(t, load) > 0.0) == counts


@pytest.mark.parametrize(("rate", "free"), [(1.26, True), (1.36, False)])
def test_a_mat_that_falls_by_more_than_three_tenths_within_a_fifth_of_a_second_is_not_empty_yet(rate, free):
    """A twentieth is left, which falls by e^(0.2 rate): by 0.287 and by 0.313 of what it is then."""
    t, load = left_behind((1.0, lambda s: 0.05 * np.exp(-rate * s)), frames=30)
    assert np.isfinite(kept_creep(t, load)) == free


@pytest.mark.parametrize(("part", "known"), [(0.195, True), (0.21, False)])
def test_what_a_mat_reads_mostly_is_what_it_reads_for_a_fifth_of_the_time(part, known):
    """Two stood there at first: where that was long, whoever stays behind reads too little to be anybody."""
    load = np.full((1000, 1, 1), 1e-4)
    load[: round(1000 * part)] = 2e-4
    load[-40:] = 0.0
    assert kept_creep(np.arange(1000) / RATE_HZ, load) == pytest.approx(0.0 if known else np.nan, nan_ok=True)


def counted(noise, bounce):
    """Frames in which a person of 700 N is taken to stand still, of 20 s at 50 Hz."""
    rng = np.random.default_rng(3)
    steady = SteadyFrames(16, 8)
    for i in range(1000):
        total = 700.0 * (1 + bounce * np.sin(2 * np.pi * 1.3 * i / RATE_HZ) + noise * rng.standard_normal())
        steady.add(i / RATE_HZ, np.full((16, 8), total / 128))
    return steady.still


def test_noise_of_a_per_cent_is_no_trembling_and_a_bounce_beneath_it_is():
    assert counted(0.01, 0.0) > 850
    assert counted(0.01, 0.08) < 350
