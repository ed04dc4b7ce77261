"""Hum in the readings: taken off where it is, nothing touched where it is not, a foot not taken for it."""

import numpy as np
import pytest

from groundtone.mat.conductance import Hum

STEP = 1 / 4096


def frames(amplitude, hz, rate_hz=100.0, count=400, seed=1):
    """Readings of an empty mat on which half the cells are stepped on after a second; with hum and without."""
    rng = np.random.default_rng(seed)
    t = np.arange(count)[:, None, None] / rate_hz + 60e-6 * np.arange(16)[:, None] + np.zeros((1, 1, 8))
    clean = 0.25 * STEP * rng.standard_normal(t.shape) + 2 * STEP
    clean[100:, :, 2:6] += 0.15 * rng.uniform(0.2, 1.0, (16, 4))
    return clean, clean + amplitude * STEP * np.sin(2 * np.pi * hz * t + 0.7)


@pytest.mark.parametrize(("hz", "rate_hz"), [(50.0, 100.0), (60.0, 100.0), (50.0, 200.0), (49.7, 83.0)])
def test_six_steps_of_hum_become_less_than_a_third(hz, rate_hz):
    clean, read = frames(6.0, hz, rate_hz)
    hum = Hum()
    out = np.stack([hum.without(frame) for frame in read])
    error = (out - clean)[60:].mean((1, 2))
    assert (read - clean)[60:].mean((1, 2)).std() > 1.5 * STEP
    assert error.std() < 0.3 * STEP


def test_without_hum_nothing_is_touched():
    clean, _ = frames(0.0, 50.0)
    hum = Hum()
    np.testing.assert_array_equal(np.stack([hum.without(frame) for frame in clean]), clean)


def test_what_is_not_wired_has_no_say():
    clean, read = frames(4.0, 60.0)
    read[:, :, 6:] = 0.0
    hum = Hum([6, 7])
    out = np.stack([hum.without(frame) for frame in read])
    assert (out - clean)[60:, :, :6].mean((1, 2)).std() < 0.3 * STEP


def test_feet_that_come_and_go_leave_the_other_cells_where_they_were():
    """Cells that join the quiet ones while they still fall, or leave them while they rise, shift none of the others."""
    rng = np.random.default_rng(4)
    t = np.arange(1600)[:, None, None] / 100.0 + 60e-6 * np.arange(16)[:, None] + np.zeros((1, 1, 8))
    clean = 0.5 * STEP * rng.standard_normal(t.shape) + 2 * STEP
    foot = np.clip(2 * np.sin(2 * np.pi * 0.7 * t[:, :, 2:6] + np.linspace(0, 3, 16)[:, None]) - 0.5, 0, None)
    clean[:, :, 2:6] += 0.02 * foot
    hum = Hum()
    out = np.stack([hum.without(frame) for frame in clean + 1.2 * STEP * np.sin(2 * np.pi * 60 * t)])
    off = (out - clean)[200:].mean((1, 2)).reshape(-1, 100).mean(1)
    assert np.abs(off).max() < 0.2 * STEP


def told(read):
    """All that is said of these readings."""
    hum, said = Hum(), []
    for frame in read:
        hum.without(frame)
        said += filter(None, [hum.sentence()])
    return said


@pytest.mark.parametrize(("hz", "rate_hz"), [(60.0, 100.0), (50.0, 83.0)])
def test_hum_that_is_taken_out_is_told_once(hz, rate_hz):
    (sentence,) = told(frames(5.0, hz, rate_hz, count=800)[1])
    assert "and are taken out: keep the mat's lead" in sentence
    assert 2 <= int(sentence.split("(")[1].split()[0]) <= 6


def test_too_much_hum_is_refused_in_a_sentence():
    read = np.maximum(frames(60.0, 60.0, 100.0, count=800)[1], 0.0)
    (sentence,) = told(read)
    assert "so strongly in the readings that it cannot be taken out" in sentence


def test_nothing_is_said_of_a_quiet_mat_and_of_feet():
    assert told(frames(0.0, 50.0, count=800)[1]) == []
    rng = np.random.default_rng(4)
    t = np.arange(1600)[:, None, None] / 100.0
    read = 0.5 * STEP * rng.standard_normal((1600, 16, 8)) + 2 * STEP
    read[:, :, 2:6] += 0.1 * np.clip(np.sin(2 * np.pi * 1.5 * t + np.linspace(0, 3, 16)[:, None]), 0, None)
    assert told(read) == []
