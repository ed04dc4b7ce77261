"""Hum and the converter's lower end: taken off where they are, a foot not taken for hum, a light load read as it is."""

import numpy as np
import pytest

from groundtone.mat.hum import Hum

STEP = 1 / 4096


def frames(amplitude, hz, rate_hz=100.0, count=600, seed=1, noise=0.25, offset=2.0):
    """A mat whose middle half is stepped on after two seconds: readings with hum, and what they are above zero.

    `offset` is where the converter has its zero, in its steps; it ends at 0.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(count)[:, None, None] / rate_hz + 60e-6 * np.arange(16)[:, None] + np.zeros((1, 1, 8))
    clean = np.zeros(t.shape)
    clean[200:, :, 2:6] += 0.15 * rng.uniform(0.2, 1.0, (16, 4))
    hum = amplitude * STEP * np.sin(2 * np.pi * hz * t + 0.7)
    return clean, converted(clean + hum + offset * STEP, noise, rng)


def converted(level, noise, rng):
    """Mean of two conversions, each with noise and ended at 0."""
    each = [level + 2**0.5 * noise * STEP * rng.standard_normal(level.shape) for _ in range(2)]
    return np.maximum(each, 0.0).mean(0)


def followed(hum, read, rate_hz=100.0, zero=2 * STEP, noise=0.25, amplitude=0.0, hz=50.0):
    """All frames through `hum`, which hears the supply, after the last row, every other frame."""
    rng = np.random.default_rng(9)
    t_s = np.arange(len(read)) / rate_hz
    supply = 0.25 + STEP * noise * rng.standard_normal(len(read))
    supply += STEP * amplitude * np.sin(2 * np.pi * hz * (t_s + 16 * 60e-6) + 0.7)
    each = zip(read, np.round(t_s * 1e6).astype(int).tolist(), supply.tolist(), strict=True)
    return np.stack([hum.without(frame, t, zero, s if i % 2 else np.nan) for i, (frame, t, s) in enumerate(each)])


@pytest.mark.parametrize(("hz", "rate_hz"), [(50.0, 100.0), (60.0, 100.0), (50.0, 200.0), (49.95, 83.0), (60.0, 22.0)])
def test_six_steps_of_hum_become_less_than_a_third(hz, rate_hz):
    clean, read = frames(6.0, hz, rate_hz, offset=8.0)
    error = (followed(Hum(), read, rate_hz, 8 * STEP, 0.25, 6.0, hz) - clean)[300:].mean((1, 2))
    assert (read - clean)[300:].mean((1, 2)).std() > 1.5 * STEP
    assert error.std() < 0.3 * STEP


@pytest.mark.parametrize(("hz", "noise"), [(60.0, 0.8), (50.0, 0.8), (60.0, 1.6)])
def test_hum_of_which_empty_cells_show_the_upper_half_leaves_loaded_cells(hz, noise):
    """With the converter's zero at its end half of the hum, and the upper half of the noise, is never read there."""
    clean, read = frames(4.0, hz, noise=noise, offset=0.0, count=1200)
    zero = float(np.maximum(read[:100], 0).mean())
    error = (followed(Hum(), read, 100.0, zero, noise, 4.0, hz) - clean)[500:] / STEP
    loaded = clean[-1] > 0
    assert np.abs((read - zero - clean)[500:][:, loaded].mean(1)).mean() / STEP > 1.5
    assert error[:, loaded].mean(1).std() < 0.5
    assert abs(error[:, loaded].mean()) < 0.6
    assert abs(error[:, ~loaded].mean()) < 0.15
    assert error[:, ~loaded].mean(1).std() < 0.3


def test_a_load_within_the_noise_is_read_in_the_mean():
    """Two steps on each of some cells, noise of as much: the converter's end takes nothing of them."""
    rng = np.random.default_rng(3)
    clean = np.zeros((1500, 16, 8))
    clean[400:, 4:8, 2:6] = np.linspace(1.0, 6.0, 16).reshape(4, 4) * STEP
    read = converted(clean, 1.6, rng)
    zero = float(read[:300].mean())
    out = followed(Hum(), read, zero=zero, noise=1.6)
    error = (out - clean)[600:, 4:8, 2:6].mean((1, 2)) / STEP
    assert abs((read - zero - clean)[600:, 4:8, 2:6].mean()) / STEP > 0.35
    assert abs(error.mean()) < 0.2


def test_a_load_that_comes_is_read_at_once_and_one_that_goes_is_gone():
    clean, read = frames(0.0, 50.0, noise=1.6, offset=0.0)
    read[400:] = frames(0.0, 50.0, noise=1.6, offset=0.0, seed=2)[1][:200]
    out = followed(Hum(), read, zero=0.64 * STEP, noise=1.6)
    heavy = clean[-1] > 0
    assert np.abs(out[200, heavy] - clean[200, heavy]).max() < 8 * STEP
    assert np.abs(out[401, heavy]).mean() < 2 * STEP


def test_an_even_offset_is_taken_off_and_nothing_else():
    clean, read = frames(0.0, 50.0, offset=12.0)
    out = followed(Hum(), read, zero=12 * STEP)
    assert np.abs(out - clean)[300:].mean((1, 2)).max() < 0.3 * STEP


def test_what_is_not_wired_has_no_say():
    clean, read = frames(4.0, 60.0, offset=6.0)
    read[:, :, 6:] = 0.3 * np.random.default_rng(5).uniform(size=read[:, :, 6:].shape)
    out = followed(Hum([6, 7]), read, zero=6 * STEP)
    assert (out - clean)[300:, :, :6].mean((1, 2)).std() < 0.3 * STEP


def test_feet_that_come_and_go_leave_the_other_cells_where_they_were():
    rng = np.random.default_rng(4)
    t = np.arange(1600)[:, None, None] / 100.0 + 60e-6 * np.arange(16)[:, None] + np.zeros((1, 1, 8))
    clean = np.zeros(t.shape)
    foot = np.clip(2 * np.sin(2 * np.pi * 0.7 * t[:, :, 2:6] + np.linspace(0, 3, 16)[:, None]) - 0.5, 0, None)
    clean[200:, :, 2:6] += 0.02 * foot[200:]
    read = clean + (2.5 + 0.5 * rng.standard_normal(t.shape) + 1.2 * np.sin(2 * np.pi * 60 * t)) * STEP
    off = (followed(Hum(), np.maximum(read, 0), zero=2.5 * STEP, noise=0.5) - clean)[400:].mean((1, 2))
    assert np.abs(off.reshape(-1, 100).mean(1)).max() < 0.2 * STEP


def test_nothing_is_learnt_of_a_frame_that_cannot_be_read():
    clean, read = frames(0.0, 50.0)
    read[300] = np.nan
    out = followed(Hum(), read)
    assert np.isnan(out[300]).all()
    assert np.abs(out[301] - clean[301]).max() < 3 * STEP


def told(read, rate_hz=100.0):
    """All that is said of these readings."""
    hum, said = Hum(), []
    for i, frame in enumerate(read):
        hum.without(frame, round(i * 1e6 / rate_hz), 2 * STEP)
        said += filter(None, [hum.sentence()])
    return said


@pytest.mark.parametrize(("hz", "rate_hz"), [(60.0, 100.0), (50.0, 83.0)])
def test_hum_that_is_taken_out_is_told_once(hz, rate_hz):
    (sentence,) = told(frames(5.0, hz, rate_hz, count=800)[1], rate_hz)
    assert "and are taken out: keep the mat's lead" in sentence
    assert 2 <= int(sentence.split("(")[1].split()[0]) <= 6


def test_too_much_hum_is_refused_in_a_sentence():
    (sentence,) = told(frames(60.0, 60.0, 100.0, count=800)[1])
    assert "so strongly in the readings that it cannot be taken out" in sentence


def test_nothing_is_said_of_a_quiet_mat_and_of_feet():
    assert told(frames(0.0, 50.0, count=800)[1]) == []
    rng = np.random.default_rng(4)
    t = np.arange(1600)[:, None, None] / 100.0
    read = 0.5 * STEP * rng.standard_normal((1600, 16, 8)) + 2 * STEP
    read[:, :, 2:6] += 0.1 * np.clip(np.sin(2 * np.pi * 1.5 * t + np.linspace(0, 3, 16)[:, None]), 0, None)
    assert told(np.maximum(read, 0)) == []
