"""The good one to the ear: after the echo, of the same kind of club, ended by the next swing, or when asked for."""

import numpy as np
import pytest

from groundtone.engine.echo_timer import AFTER_S, EchoTimer, GoodOnes, path_of
from groundtone.engine.session import Lane
from groundtone.swing.events import Phase
from groundtone.tone.echo import EchoPath


def lane(begin=10.0, toes=0.5):
    t = begin + np.arange(0.0, 2.2, 0.01)
    share = np.interp(t - begin, [0, 0.3, 0.9, 1.2, 2.2], [0.52, 0.5, 0.25, 0.8, 0.9])
    overall = np.interp(t - begin, [0, 0.9, 1.2, 2.2], [0.53, 0.47, toes, 0.42])
    return Lane(None, begin + 0.3, begin + 0.9, begin + 1.2, t, share, overall)


def good_ones(club="iron", n=3):
    return GoodOnes({club: [path_of(lane(100.0 + i), "left") for i in range(n)]})


class Heard:
    """What a timer plays over time."""

    def __init__(self, timer, phase=Phase.STANDING):
        self.timer, self.t_s, self.phase = timer, 12.2, phase
        self.paths, self.said = [], []

    def passes(self, seconds):
        for _ in range(round(seconds * 100)):
            sentence = self.timer.announces(self.t_s)
            if sentence:
                self.said.append((self.t_s, sentence))
            path = self.timer.due(self.t_s, self.phase, sounding=False)
            if path is not None:
                self.paths.append((self.t_s, path))
            self.t_s += 0.01


def test_the_good_one_follows_in_the_swings_own_time():
    heard = Heard(EchoTimer(True, "left", good_ones()))
    heard.timer.swing(heard.t_s, lane(toes=0.66), "iron")
    heard.passes(14)
    (first_s, first), (second_s, second) = heard.paths
    assert first_s == pytest.approx(12.2 + AFTER_S, abs=0.02)
    lasts = 4.0 * (first.t_s[-1] - first.t_s[0])
    assert second_s == pytest.approx(first_s + lasts + 1.2, abs=0.05)
    assert (second.turn_s, second.impact_s) == (first.turn_s, first.impact_s)
    assert np.interp(second.impact_s, second.t_s, second.position) == pytest.approx(0.5, abs=0.02)
    ((said_s, sentence),) = heard.said
    assert first_s + lasts < said_s < second_s
    assert "farther towards the toes." in sentence


@pytest.mark.parametrize("good", [None, good_ones("driver"), good_ones(n=2)])
def test_without_a_good_one_of_that_kind_the_echo_is_alone(good):
    heard = Heard(EchoTimer(True, "left", good))
    heard.timer.swing(heard.t_s, lane(), "iron")
    heard.passes(14)
    assert len(heard.paths) == 1
    assert heard.said == []


def test_the_next_swing_ends_it():
    heard = Heard(EchoTimer(True, "left", good_ones()))
    heard.timer.swing(heard.t_s, lane(), "iron")
    heard.passes(4)
    heard.phase = Phase.BACKSWING
    heard.passes(1)
    heard.phase = Phase.STANDING
    heard.passes(12)
    assert len(heard.paths) == 1


def test_asked_for_it_comes_though_the_echo_is_off():
    timer = EchoTimer(False, "left")
    assert not timer.again(5.0, good_ones())
    heard = Heard(timer)
    timer.swing(heard.t_s, lane(), "iron")
    heard.passes(6)
    assert heard.paths == []
    assert timer.again(heard.t_s, good_ones())
    heard.passes(14)
    assert len(heard.paths) == 2


def test_a_swing_that_cannot_be_laid_beside_another_is_heard_alone():
    heard = Heard(EchoTimer(True, "left", good_ones()))
    broken = lane()
    heard.timer.swing(heard.t_s, Lane(None, 10.3, float("nan"), 11.2, broken.t_s, broken.share, broken.overall), "iron")
    heard.passes(14)
    assert len(heard.paths) == 1


def test_what_is_learnt_in_the_session_counts():
    good = GoodOnes()
    assert good.typical("iron") is None
    for i in range(3):
        good.add("iron", path_of(lane(10.0 * i), "left"))
    assert isinstance(good.typical("iron"), EchoPath)
    assert good.typical("driver") is None
