"""Fits of times: curves made by hand whose times are known."""

import math

import numpy as np
import pytest

from groundtone.swing.events import Moment
from groundtone.swing.onset import onset, peak, turning
from groundtone.swing.top import top_of

T = np.arange(0, 2, 0.005)


@pytest.mark.parametrize("noise", [0.0, 0.002])
def test_an_onset_is_found_whatever_the_level_before(noise):
    scatter = noise * np.random.default_rng(1).standard_normal(T.size)
    since = np.maximum(T - 1.203, 0)
    when, u = onset(T, 0.4 + 0.8 * since**2 - 0.3 * since**3 + scatter, np.arange(0.9, 1.5, 0.005))
    assert when == pytest.approx(1.203, abs=0.003 + 8 * noise)
    assert u < 0.02


def test_a_turn_with_unequal_sides():
    since = T - 0.777
    values = 0.25 + np.where(since < 0, 0.6, 3.0) * since**2
    when, _ = turning(T[140:180], values[140:180], np.arange(0.70, 0.85, 0.004))
    assert when == pytest.approx(0.777, abs=0.001)


def test_a_peak_between_the_frames():
    when, height = peak(T, 1.5 - 40 * (T - 1.0021) ** 2)
    assert (when, height) == (pytest.approx(1.0021, abs=1e-6), pytest.approx(1.5, abs=1e-6))


def test_too_little_to_fit():
    assert all(map(math.isnan, onset(T[:5], T[:5], T[:4])))
    assert all(map(math.isnan, turning(T[:5], T[:5], T[:4])))


def moment(t, u=0.01):
    return Moment(t, "pressure", u)


def test_the_top_lies_where_tempo_and_turn_allow():
    """A second from takeaway to impact: a tempo of 2.8, the middle, puts the top at 0.737."""
    top, (low, high) = top_of(moment(0.0, 0.001), moment(0.65, 0.001), moment(1.0, 0.001))
    assert top.t_s == pytest.approx(2.8 / 3.8, abs=0.03)
    # 95 % of tempos lie between 2.8 times and a part of exp(1.96 * 0.26): 1.68 and 4.66.
    assert 1.68 / 2.68 - 0.03 <= low < top.t_s < high <= 4.66 / 5.66 + 0.01
    # A turn at 0.76 leaves only tops after it, but for a few golfers who turn late.
    later, (low, _) = top_of(moment(0.0, 0.001), moment(0.76, 0.001), moment(1.0, 0.001))
    assert low >= 0.758 - 0.05
    assert later.t_s > 0.76
    assert later.doubt_s < top.doubt_s
    # A turn so early that no tempo agrees with it is set aside.
    early, _ = top_of(moment(0.0, 0.001), moment(0.05, 0.001), moment(1.0, 0.001))
    alone, _ = top_of(moment(0.0, 0.001), None, moment(1.0, 0.001))
    assert early.t_s == pytest.approx(alone.t_s, abs=0.02)


def test_the_tops_interval_covers_what_it_says():
    """Tops drawn from what is assumed, events off by their doubts: 95 of 100 intervals hold the top."""
    rng = np.random.default_rng(2)
    inside = []
    for _ in range(400):
        tempo, down = 2.8 * np.exp(0.26 * rng.standard_normal()), rng.uniform(0.2, 0.32)
        lead = rng.uniform(0, 0.25) if rng.random() < 0.9 else rng.uniform(-0.05, 0.45)
        top = tempo * down
        heard = [t + 0.015 * rng.standard_normal() for t in (0.0, top - lead, top + down)]
        _, (low, high) = top_of(*(moment(t, 0.015) for t in heard))
        inside.append(low <= top <= high)
    assert 0.92 <= np.mean(inside) <= 0.98
