"""Ill cells on an empty mat."""

import numpy as np
import pytest

from groundtone.mat.conductance import NOISY_S, STUCK_S, CellFault, faults_when_empty


def empty(frames=40, seed=1):
    """A quiet mat: half a microsiemens of noise."""
    return np.random.default_rng(seed).normal(0.2e-6, 0.5e-6, (frames, 16, 8))


def test_a_quiet_mat_has_no_faults():
    assert faults_when_empty(empty()) == []


def test_a_stuck_and_a_noisy_cell_are_named():
    g = empty()
    g[:, 3, 2] += 1.05 * STUCK_S
    g[::2, 10, 7] += 2.2 * NOISY_S
    assert faults_when_empty(g) == [CellFault(3, 2, "stuck"), CellFault(10, 7, "noisy")]
    g[:, 3, 2] -= 0.2 * STUCK_S
    g[::2, 10, 7] -= 0.5 * NOISY_S
    assert faults_when_empty(g) == []


def test_one_touch_is_no_stuck_cell_but_a_noisy_one():
    g = empty()
    g[5:9, 0, 0] = 100e-6
    assert faults_when_empty(g) == [CellFault(0, 0, "noisy")]


def test_lost_frames_count_as_nothing():
    g = empty()
    g[:, 3, 2] += 30e-6
    g[7] = np.nan
    assert faults_when_empty(g) == [CellFault(3, 2, "stuck")]


def test_too_few_frames_are_refused():
    with pytest.raises(ValueError, match="5 frames"):
        faults_when_empty(empty(4))
