"""The good one: the medoid by hand, events laid on each other, and what differs most as it was planted."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.feel.good_one import aligned, differs_most, most_typical, usable
from groundtone.tone.echo import EchoPath


def path(low=0.25, high=0.80, toes=0.50, begin=10.0, turn=0.75, down=0.30, noise=0.0, seed=1):
    t = np.arange(0.0, turn + down + 0.9, 0.01)
    rng = np.random.default_rng(seed)
    share = np.interp(t, [0, 0.2, turn, turn + down, t[-1]], [0.52, 0.50, low, high, 0.9])
    position = np.interp(t, [0, turn, turn + down, t[-1]], [0.53, 0.47, toes, 0.42])
    share, position = (values + rng.normal(0, noise, t.size) for values in (share, position))
    return EchoPath(begin + t, share, position, begin + turn, begin + turn + down, "left")


def test_the_medoid_is_the_one_in_the_middle_and_really_made():
    paths = [
        path(toes=toes, begin=10.0 * i, turn=0.6 + 0.05 * i) for i, toes in enumerate((0.40, 0.47, 0.50, 0.52, 0.70))
    ]
    assert most_typical(paths) == 2
    assert most_typical([replace(paths[2], turn_s=math.nan), *paths[:2], *paths[3:]]) in (2, 3)


def test_too_few_have_none():
    assert most_typical([path(), path()]) is None
    assert most_typical([path(), path(), replace(path(), impact_s=math.nan)]) is None
    assert most_typical([]) is None


def test_what_cannot_be_laid_beside_another_is_known():
    assert usable(path())
    assert not usable(replace(path(), turn_s=math.nan))
    assert not usable(replace(path(), impact_s=99.0))
    assert not usable(EchoPath(np.arange(3.0), np.zeros(3), np.zeros(3), 1.0, 2.0))


def test_events_fall_on_the_others():
    swing, good = path(begin=50.0, turn=0.9, down=0.25), path(begin=3.0, turn=0.7, down=0.35)
    laid = aligned(good, swing)
    t = np.asarray(laid.t_s)
    assert (np.diff(t) > 0).all()
    assert t[0] == pytest.approx(50.0)
    assert (laid.turn_s, laid.impact_s) == (swing.turn_s, swing.impact_s)
    # What was at the good swing's own turn and impact is at the other's.
    assert np.interp(swing.turn_s, t, laid.share) == pytest.approx(0.25, abs=0.01)
    assert np.interp(swing.impact_s, t, laid.share) == pytest.approx(0.80, abs=0.02)


@pytest.mark.parametrize(
    ("planted", "part", "words"),
    [
        ({"toes": 0.66}, "in the downswing", "towards the toes"),
        ({"low": 0.45}, "in the downswing", "on the lead side"),
        ({"high": 0.50}, "after impact", "on the trail side"),
    ],
)
def test_what_differs_most_is_what_was_planted(planted, part, words):
    found = differs_most(path(**planted, begin=7.0, turn=0.9, noise=0.005), path(noise=0.005, seed=2))
    if part != found.part:
        assert {part, found.part} <= {"in the downswing", "after impact"}
    assert found.sentence.endswith(f"your pressure was farther {words}.")


def test_nothing_clear_is_said_so():
    found = differs_most(path(noise=0.01), path(noise=0.01, seed=2, turn=0.8))
    assert found.sentence == "Nothing differs clearly from your typical good one."
