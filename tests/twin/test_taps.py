"""A golfer who taps: what lies under which foot, and when."""

import numpy as np
import pytest

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.golfer import session_curves
from groundtone.twin.scenario import DOINGS, TAPS, Doing, GolferSpec, MatSpec, Scenario, Session, SwingSpec

GOLFER = GolferSpec(mass_kg=70.0)


def taps_of(seed, places=TAPS, hand="right"):
    doings = tuple(Doing("tap", 0.5, 1, place=place) for place in places)
    return session_curves(Session(GolferSpec(hand=hand, mass_kg=70.0), (SwingSpec(),), seed=seed, doings=doings))


@pytest.mark.parametrize("seed", range(6))
def test_each_tap_is_where_and_as_strong_as_it_says(seed):
    curves = taps_of(seed)
    assert [tap.place for tap in curves.taps] == list(TAPS)
    body = 70.0 * STANDARD_GRAVITY
    for tap in curves.taps:
        foot = 0 if tap.place.startswith("lead") else 1
        touch = (curves.t_s > tap.begin_s) & (curves.t_s < tap.end_s)
        before = (curves.t_s > tap.begin_s - 0.1) & (curves.t_s < tap.begin_s)
        force = curves.force_n[:, foot]
        rest = np.median(force[before])
        assert rest == pytest.approx(tap.rest * body, abs=0.02 * body)
        assert force[touch].max() - rest == pytest.approx(tap.force * body, abs=0.03 * body)
        # The other foot carries the body.
        assert curves.force_n[touch, 1 - foot].min() > 0.5 * body
        place = curves.heel_toe[touch, foot][np.argmax(force[touch])]
        added = ((tap.rest + tap.force) * place - tap.rest * curves.heel_toe[before, foot].mean()) / tap.force
        low, high = {"toe": (0.7, 1.0), "heel": (0.0, 0.3), "foot": (0.33, 0.6)}[tap.place.split()[1]]
        assert low < added < high
        assert 0.06 < tap.end_s - tap.begin_s < 0.45


def test_taps_come_after_the_swing_and_one_after_the_other():
    curves = taps_of(3)
    ends = [curves.swings[0].end_s, *(tap.end_s for tap in curves.taps)]
    assert all(tap.begin_s > end for tap, end in zip(curves.taps, ends, strict=False))
    assert curves.step_off_s > ends[-1]


def test_who_does_not_tap_has_none():
    assert session_curves(Session(GOLFER, (SwingSpec(),))).taps == ()


def test_a_tap_has_a_place_and_goes_through_json():
    plan = Scenario(
        MatSpec.reference(), Session(GOLFER, (SwingSpec(),), doings=(Doing("tap", 0.3, 1, place="trail toe"),))
    )
    assert Scenario.from_json(plan.to_json()) == plan
    with pytest.raises(ValueError, match="place"):
        Doing("tap", place="trail elbow")
    # What is drawn from the other doings stays as it was.
    assert "tap" not in DOINGS
