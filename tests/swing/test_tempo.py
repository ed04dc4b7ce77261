"""How slow a swing is, by its backswing and by the golfer's own tempo."""

import math

import pytest

from groundtone.swing.definition import FINISH_S
from groundtone.swing.events import Phase
from groundtone.swing.tempo import USUAL_S, Tempo, finish_s, slowness
from groundtone.swing.tracker import SwingTracker


@pytest.mark.parametrize(
    ("times", "slow"), [(0.5, 1.0), (1.0, 1.0), (1.5, 1.0), (1.75, 1.5), (2.0, 2.0), (3.5, 3.5), (9.0, 6.0)]
)
def test_times_the_usual(times, slow):
    assert slowness(times * USUAL_S) == pytest.approx(slow)


def test_nothing_known_is_full_speed():
    assert slowness(math.nan) == 1.0


def test_it_rises_without_a_jump():
    values = [slowness(0.001 * k) for k in range(4000)]
    assert all(0 <= b - a < 0.01 for a, b in zip(values, values[1:], strict=False))


def test_a_golfers_own_tempo_counts():
    tempo = Tempo()
    assert tempo.slow(1.3) == pytest.approx(2.0)
    for took in (1.2, 1.3, 1.1, 5.0, 1.25):
        tempo.add(took)
    assert tempo.usual_s == 1.25
    assert tempo.slow(1.3) == 1.0
    # Only the last five count.
    for _ in range(5):
        tempo.add(0.6)
    assert tempo.usual_s == 0.6


def test_the_finish_stretches_on_the_way_to_it_only():
    assert finish_s(1.0) == FINISH_S
    assert finish_s(3.0) == pytest.approx(FINISH_S + 0.9)


def play(tracker, script, weights=None, begin=0.0):
    """A script of (time, share) with straight lines; forces in body weights the same way."""
    swings, sure = [], []
    t, end = 0.0, script[-1][0]
    while t <= end:
        share = _at(script, t)
        load = math.nan if weights is None else _at(weights, t)
        ended = tracker.step(begin + t, share, weights=load, toes=0.4).ended
        sure.append(tracker.sure)
        swings += [ended] if ended else []
        t = round(t + 0.01, 4)
    return swings, sure


def _at(knots, t):
    for (t0, v0), (t1, v1) in zip(knots, knots[1:], strict=False):
        if t0 <= t <= t1:
            return v0 + (v1 - v0) * (t - t0) / (t1 - t0)
    return knots[-1][1]


FULL = ((0, 0.52), (2.0, 0.52), (3.2, 0.26), (3.6, 0.78), (4.0, 0.89), (6.0, 0.88))
FORCE = ((0, 1.0), (3.0, 1.03), (3.3, 0.87), (3.57, 1.5), (3.7, 0.9), (4.0, 1.0), (6.0, 1.0))
LEVEL = ((0, 1.0), (6.0, 1.0))


def test_force_shows_that_a_deliberate_backswing_belongs_to_a_full_swing():
    """1.2 s to the turn, taken for slow at first; the force says otherwise, and the next one is this golfer's usual."""
    tracker = SwingTracker()
    (swing,), _ = play(tracker, FULL, FORCE)
    assert swing.slow == 1.0
    assert swing.end_s == pytest.approx(swing.impact.t_s + FINISH_S, abs=0.1)
    assert tracker._phases._tempo.usual_s == pytest.approx(1.2, abs=0.1)


def test_without_force_it_is_a_rehearsal():
    (swing,), _ = play(SwingTracker(), (*FULL[:5], (8.0, 0.88)), ((0, 1.0), (8.0, 1.0)))
    assert swing.slow == pytest.approx(1.0 + (1.2 / USUAL_S - 1.5) / 0.5, abs=0.15)


def test_at_full_speed_a_tone_needs_the_force_of_a_swing():
    quick = ((0, 0.52), (2.0, 0.52), (2.65, 0.26), (3.0, 0.50), (6.0, 0.50))
    force = ((0, 1.0), (2.5, 1.03), (2.7, 0.87), (2.97, 1.5), (3.1, 0.9), (3.4, 1.0), (6.0, 1.0))
    assert not any(play(SwingTracker(), quick, LEVEL)[1])
    _, sure = play(SwingTracker(), quick, force)
    assert sure.index(True) / 100 == pytest.approx(2.7 + 0.27 * 0.15 / 0.63 + 0.03, abs=0.06)


def test_who_rests_on_one_foot_is_not_in_a_slow_swing():
    rests = ((0, 0.52), (2.0, 0.52), (3.0, 0.26), (4.5, 0.26), (5.0, 0.40), (6.0, 0.5))
    assert not any(play(SwingTracker(), rests, LEVEL)[1])
    turns = ((0, 0.52), (2.0, 0.52), (4.2, 0.26), (5.0, 0.42), (6.0, 0.5))
    assert any(play(SwingTracker(), turns, LEVEL)[1])


@pytest.mark.parametrize(
    ("forth", "phase"), [(((4.6, 0.50), (7.3, 0.50)), Phase.SETUP), (((4.6, 0.40), (7.3, 0.56)), Phase.FINISH)]
)
def test_who_shifts_back_slowly_and_stands_there_is_in_the_next_setup(forth, phase):
    """Slowly to the trail side until 3.6 s: back by 4.6 s and still, or still on the way as a slow one is."""
    tracker = SwingTracker()
    play(tracker, ((0, 0.52), (2.0, 0.52), (3.6, 0.30), *forth), LEVEL)
    assert tracker.phase is phase


def test_a_share_that_falls_back_was_no_swing():
    """A foot that rests on the mat touches it once: the share rises and is back at once."""
    tap = ((0, 0.52), (2.0, 0.52), (2.6, 0.10), (3.0, 0.10), (3.06, 0.28), (3.14, 0.28), (3.2, 0.10), (3.6, 0.10))
    tracker = SwingTracker()
    play(tracker, (*tap, (4.2, 0.5), (6.0, 0.5)), LEVEL)
    assert tracker.swing is None
    # Also where no force is known that could tell: it went far enough across for a swing, and it is over at once.
    tracker = SwingTracker()
    swings, sure = play(tracker, tap)
    assert swings == []
    assert 3.0 < sure.index(True) / 100 < 3.06
    assert 3.14 < (len(sure) - sure[::-1].index(True)) / 100 <= 3.2
    assert tracker.swing is None
    (swing,), _ = play(SwingTracker(), (*tap[:6], (6.0, 0.28)))
    assert swing.turn.t_s == pytest.approx(2.6, abs=0.02)
