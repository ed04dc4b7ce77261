"""Each drill is acted as its words say, for either hand; stops, steps and walking off happen when they are said to."""

import numpy as np
import pytest

from groundtone.twin.drill_acts import DRILLS, drill_session
from groundtone.twin.golfer import session_curves
from groundtone.twin.scenario import Doing, GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import truth


def played(session):
    known = truth(Scenario(MatSpec.reference(), session))
    lead = 0 if session.golfer.hand == "right" else 1
    return known, lead


def between(known, values, start_s, stop_s):
    return values[known.index(round(start_s * 1e6)) : known.index(round(stop_s * 1e6)) + 1]


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("name", sorted(DRILLS))
def test_every_drill_can_be_played(name, hand):
    session = drill_session(name, GolferSpec(hand=hand), seed=2, repeats=3)
    known, _ = played(session)
    assert len(known.swings) in (0, 3)
    assert np.isfinite(known.force_n).all()
    assert (len(known.swings) == 0) == (name in ("back-pocket", "slow-rocks", "side-rocks"))


def test_a_pause_holds_the_pressure_where_it_turns():
    swing = SwingSpec(pause_s=1.2, back_change=-0.25, turn_lead_ms=0.0)
    known, _ = played(Session(swings=(swing,)))
    at = known.swings[0]
    held = between(known, known.lead_share, at.turn_s - 1.15, at.turn_s - 0.05)
    assert np.ptp(held) < 0.03
    assert abs(at.impact_s - at.turn_s - 0.25) < 0.03


def test_halts_stop_the_way_back_so_many_times():
    swing = SwingSpec(slow=3.0, halts=3, back_change=-0.3, strike=False)
    known, _ = played(Session(swings=(swing,)))
    at = known.swings[0]
    t = np.arange(at.takeaway_s, at.turn_s, 0.0025)
    share = np.interp(t, known.t_s, known.lead_share)
    resting = np.abs(np.gradient(np.convolve(share, np.ones(40) / 40, "same"), t)) < 0.03
    rests = np.flatnonzero(np.diff(resting[40:-40].astype(int)) == 1).size
    assert rests >= 3


def test_stepping_in_lifts_the_lead_foot_until_the_turn_and_it_lands_elsewhere():
    session = drill_session("step-in", GolferSpec(hand="left"), seed=5, repeats=2)
    known, lead = played(session)
    curves = session_curves(session)
    for at in known.swings:
        ((off, on),) = at.lead_step_s
        assert on == at.turn_s
        assert 0.1 < on - off < 1.1
        assert between(known, known.force_n[:, lead], off + 0.01, on - 0.01).max() < 2.0
        before, after = (curves.placement[known.index(round(t * 1e6)), 0] for t in (off - 0.05, on + 0.05))
        assert before != after
        assert known.lead_share[known.index(round(at.impact_s * 1e6))] > 0.6


def test_walking_after_the_ball_leaves_the_mat_empty_and_comes_back():
    session = drill_session("step-through", GolferSpec(), seed=5, repeats=2)
    known, _ = played(session)
    for at in known.swings:
        assert between(known, known.force_n.sum(axis=1), at.end_s + 0.6, at.end_s + 2.5).max() == 0.0
        assert known.force_n[known.index(round((at.end_s + 8.5) * 1e6))].sum() > 500.0 or at is known.swings[-1]


def test_ten_seconds_are_ten_seconds():
    for at in session_curves(drill_session("slow-rehearsal", GolferSpec(), seed=3)).swings:
        assert 7.0 < at.finish_s - at.takeaway_s < 12.0
        assert not at.strike


@pytest.mark.parametrize(
    "kind", ["mill", "settle", "hop", "rocks", "sides", "heels", "turn_back", "pick_up", "look_round"]
)
def test_what_is_done_between_balls_ends_in_the_middle(kind):
    session = Session(swings=(SwingSpec(),), doings=(Doing(kind, 8.0),), seed=4)
    known, _ = played(session)
    assert np.isfinite(known.force_n).all()
    at = known.swings[0]
    assert abs(known.lead_share[known.index(round((at.takeaway_s - 0.3) * 1e6))] - 0.525) < 0.03


def test_restless_feet_reach_their_bounds_and_a_hop_leaves_the_ground():
    known, _ = played(Session(swings=(SwingSpec(),), doings=(Doing("mill", 60.0),), seed=4))
    early = between(known, known.lead_share, 10.0, 60.0)
    assert early.min() < 0.37
    assert early.max() > 0.63
    known, _ = played(Session(swings=(SwingSpec(),), doings=(Doing("hop", 3.0),), seed=4))
    inside = between(known, known.force_n.sum(axis=1), known.step_on_s + 1.0, known.swings[0].takeaway_s)
    assert inside.min() == 0.0
    assert inside.max() > 1.6 * 80 * 9.80665


def test_a_club_lies_on_the_mat():
    plain, leant = (Scenario(MatSpec.reference(), Session(leant_n=force)) for force in (0.0, 8.0))
    from groundtone.twin.loads import make_loads

    first, second = (make_loads(scenario).film_forces(0, 1) for scenario in (plain, leant))
    assert first.sum() == 0.0
    assert abs(second.sum() - 8.0) < 1e-9
    assert second[:, :, :4].sum() == 0.0


def test_who_picks_up_a_ball_stays_down_and_who_looks_round_stands_on_one_foot():
    known, _ = played(Session(swings=(SwingSpec(),), doings=(Doing("pick_up", 8.0), Doing("look_round", 8.0)), seed=4))
    weight = known.force_n.sum(axis=1) / (80 * 9.80665)
    before = between(known, weight, 5.0, known.swings[0].setup_s - 1.0)
    assert np.ptp(before) > 0.04  # it takes some force to go down and up
    share = between(known, known.lead_share, 5.0, known.swings[0].setup_s - 1.0)
    assert max(share.max() - 0.5, 0.5 - share.min()) > 0.19
