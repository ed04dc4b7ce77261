"""How the gain of a loaded cell grows over a minute: told by loads that lie on, kept in the profile, taken out live."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.calibration.hands import play
from tests.calibration.test_profile import PROFILE

from groundtone.calibration.film import ForceMeter
from groundtone.calibration.fitting.film_memory import gain_growth, growth
from groundtone.calibration.fitting.gain_memory import USUAL_STRAIGHT, same_start, told_by_holds
from groundtone.calibration.guided.remarks import Ask
from groundtone.calibration.guided.run_log import RunHead, RunLog, read_run
from groundtone.calibration.guided.worklist import Step
from groundtone.calibration.profile import profile_from_text, profile_text
from groundtone.twin.scenario import MatSpec, Put

CELL = (3, 2)
AT_S = np.array([0.5, 1.0, 1.5, 3.0, 6.0, 12.0, 24.0, 44.0])


def lay(reading):
    """A placement that lay on, with these readings at `AT_S`."""
    from groundtone.calibration.fitting.capture import Placement

    grew = tuple(zip(AT_S.tolist(), np.log(reading / reading[2]).tolist(), strict=True))
    return Placement(*CELL, 98.0, np.full((16, 8), 1e-4), slice(0, 1), False, 0.05, grew=grew)


def test_the_family_by_hand():
    g = float(growth(np.array(10.0)))
    assert float(gain_growth(0.2, 1.0, 10.0)) == pytest.approx(1 + 0.2 * g, rel=1e-12)
    assert float(gain_growth(0.2, 0.0, 10.0)) == pytest.approx(math.exp(0.2 * g), rel=1e-12)
    assert float(gain_growth(0.2, 0.5, 10.0)) == pytest.approx((1 + 0.1 * g) ** 2, rel=1e-12)


@pytest.mark.parametrize("straight", [0.0, 0.5, 1.0])
def test_two_long_loads_tell_size_and_form(straight):
    held = [lay(gain_growth(0.2, straight, AT_S))] * 2
    creep, found = told_by_holds(held, 0.0)
    assert found == pytest.approx(straight, abs=0.2)
    told = gain_growth(creep, found, AT_S) / gain_growth(0.2, straight, AT_S)
    np.testing.assert_allclose(told / told[2], 1.0, atol=0.01)
    # Short ones tell nothing, and a memory that is kept grows straight whatever is believed of gains.
    assert told_by_holds([replace(held[0], grew=held[0].grew[:5])], 0.0) is None
    assert told_by_holds([lay(1 + 0.2 * growth(AT_S))] * 2, 1.0)[0] == pytest.approx(0.2, rel=0.03)


def test_what_seconds_tell_is_the_same_growth_whatever_the_form():
    c = same_start(0.3, USUAL_STRAIGHT)
    straight, other = (
        gain_growth(0.3, 1.0, np.array([0.25, 0.825])),
        gain_growth(c, USUAL_STRAIGHT, np.array([0.25, 0.825])),
    )
    assert other[1] / other[0] == pytest.approx(straight[1] / straight[0], rel=1e-6)
    assert c < 0.3


def test_live_the_same_form_is_taken_out():
    film = replace(PROFILE.film, creep=0.2 * PROFILE.film.curves.exponent, kept=0.0, straight=0.0, arch=0.0)
    again = profile_from_text(profile_text(replace(PROFILE, film=film)), "here").film
    assert again.straight == 0.0
    steady = film.curves.conductance_of(40.0)
    t_s = np.arange(0.0, 60.0, 0.02)
    reading = np.where(t_s[:, None, None] > 0, steady * gain_growth(0.2, 0.0, t_s)[:, None, None], 0.0)
    force = ForceMeter(again).forces_n(t_s, reading)
    assert np.abs(force[5:] / 40.0 - 1).max() < 0.01
    wrong = ForceMeter(replace(again, straight=1.0)).forces_n(t_s, reading)
    assert np.abs(wrong[-1] / 40.0 - 1).max() > 0.1


def test_the_guide_lets_a_load_lie_on_and_learns_how_it_creeps(tmp_path):
    mat = MatSpec.reference(creep_per_decade=0.15, creep_kept=0.0, hysteresis=0.0)
    plan = [Step(CELL, 98.0, "10 kg", hold_s=45.0), Step((8, 2), 98.0, "10 kg")]
    hands = [Put(CELL, 98.0, hold_s=48.0), Put((8, 2), 98.0, hold_s=4.0)]
    story = play(mat, plan, hands, puck_mm=(20.0, 35.0))
    first, second = story.guide.taken
    assert second.grew == ()
    assert 40.0 < first.grew[-1][0] < 48.5
    # It ticks when it has lain, not before.
    ticks = [t for t, now in story.said if "tick" in now.signals]
    assert ticks[0] - first.t_s == pytest.approx(45.0, abs=0.3)
    assert story.said[-1][1].ask is not Ask.AGAIN
    creep, straight = told_by_holds([first], 0.0)
    one, ten = gain_growth(creep, straight, np.array([1.0, 10.0]))
    assert ten / one == pytest.approx(1.15, abs=0.02)
    log = RunLog(tmp_path / "run", RunHead("x", "y", "z", "now", (16, 8), (), tuple(plan)))
    log.placement(replace(first, grew=()))
    log.lifted(first.lifted_s, first.grew)
    log.close()
    run = read_run(tmp_path / "run")
    assert run.head.plan[0].hold_s == 45.0
    np.testing.assert_allclose(run.placements[0].grew, first.grew, atol=1e-4)
