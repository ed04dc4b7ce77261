"""What the twin's golfer does besides swinging, and swings of a given size: the truth says what was asked for."""

import numpy as np
import pytest

from groundtone.twin.golfer import session_curves
from groundtone.twin.scenario import DOINGS, Doing, GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.true_swing import true_measures
from groundtone.twin.truth import truth


def known_of(session):
    return truth(Scenario(MatSpec.reference(seed=2), session))


def cut(known, values, low_s, high_s):
    return values[(known.t_s >= low_s) & (known.t_s <= high_s)]


@pytest.mark.parametrize("kind", DOINGS)
def test_each_doing_goes_before_its_swing_and_leaves_it_as_it_was(kind):
    doing = Doing(kind, 6.0, before=1, visitor_kg=80.0)
    session = Session(swings=(SwingSpec(), SwingSpec()), seed=3, doings=(doing,))
    plain, known = known_of(Session(swings=session.swings, seed=3)), known_of(session)
    assert known.swings[0] == plain.swings[0]
    later = known.swings[1].takeaway_s - plain.swings[1].takeaway_s
    assert later >= 5.9
    assert known.swings[1].impact_s - known.swings[1].takeaway_s == pytest.approx(
        plain.swings[1].impact_s - plain.swings[1].takeaway_s
    )
    between = (known.swings[0].end_s + 1.2, known.swings[1].setup_s - 0.9)
    share = cut(known, known.lead_share, *between)
    weight = cut(known, known.force_n.sum(axis=1), *between) / (80 * 9.80665)
    spread, most, least = np.nanmax(share) - np.nanmin(share), weight.max(), weight.min()
    if kind == "stand":
        assert spread < 0.05
    if kind in ("shift", "one_leg", "pace"):
        assert spread > 0.1
    if kind == "walk":
        assert least == 0.0
    if kind == "visitor":
        assert most == pytest.approx(2.03, abs=0.05)
    if kind in ("stand", "shift", "waggle", "one_leg"):
        assert 0.97 < least < most < 1.03
    if kind == "bend":
        assert most - least > 0.08


def test_who_comes_back_stands_elsewhere():
    session = Session(swings=(SwingSpec(), SwingSpec()), seed=3, doings=(Doing("walk", 3.0, 1),))
    curves = session_curves(session)
    ((off_s, on_s),) = curves.away_s
    before, after = curves.placement[curves.t_s < off_s].max(), curves.placement[curves.t_s > on_s].min()
    assert (before, after) == (0, 2)
    assert curves.force_n[(curves.t_s > off_s + 0.05) & (curves.t_s < on_s)].max() == 0.0


def test_waggles_a_press_and_a_slow_swing():
    plain = known_of(Session(swings=(SwingSpec(),), seed=6))
    known = known_of(Session(swings=(SwingSpec(waggles=3, press=0.04, slow=4.0, strike=False),), seed=6))
    at, was = known.swings[0], plain.swings[0]
    assert at.takeaway_s - at.setup_s == pytest.approx(2.5 + 3.0)
    assert at.top_s - at.takeaway_s == pytest.approx(4 * (was.top_s - was.takeaway_s))
    share = cut(known, known.lead_share, at.setup_s + 0.3, at.takeaway_s - 0.5)
    assert share.min() < 0.525 - 0.025
    press = cut(known, known.lead_share, at.takeaway_s - 0.3, at.takeaway_s - 0.2)
    assert press.max() == pytest.approx(0.565, abs=0.012)
    # Sixteen times less force.
    force = cut(known, known.force_n.sum(axis=1), at.takeaway_s, at.finish_s) / (80 * 9.80665)
    assert force.max() < 1.06


@pytest.mark.parametrize(
    ("spec", "name", "value", "within"),
    [
        (SwingSpec(impact_share=0.48), "share_impact", 0.48, 0.01),
        (SwingSpec(least_share=0.35), "share_turn", 0.35, 0.01),
        (SwingSpec(down_heel_toe=0.75), "overall_most_down", 0.75, 0.012),
        (SwingSpec(down_heel_toe=0.25), "overall_least_down", 0.25, 0.012),
        (SwingSpec(setup_share=0.42), "share_setup", 0.42, 0.012),
        (SwingSpec(setup_heel_toe=0.70), "overall_setup", 0.70, 0.012),
        (SwingSpec(trail_back=0.58), "trail_turn", 0.58, 0.012),
        (SwingSpec(lead_after=0.55), "lead_finish", 0.55, 0.012),
        (SwingSpec(lead_back=0.78), "lead_most_back", 0.78, 0.012),
        # Rolled onto the edge: about a fifth of the sole's width, 0.36 of 290 mm.
        (SwingSpec(lead_edge=-2.5), "lead_outer_after_mm", 20.9, 3.0),
        (SwingSpec(trail_edge=-2.5), "trail_outer_back_mm", 20.9, 3.0),
        (SwingSpec(setup_share=0.5, back_change=0.08), "share_over_back", 0.08, 0.012),
        (SwingSpec(peak_lead_ms=-60), "force_most_s", 0.06, 0.012),
        (SwingSpec("slide"), "lead_heel_work", 0.0, 0.015),
        (SwingSpec(backswing_s=0.9, downswing_s=0.3), "tempo", 3.0, 1e-9),
        (SwingSpec(backswing_s=0.75, downswing_s=0.25, turn_lead_ms=500), "turn_early", 0.75, 1e-9),
    ],
)
def test_a_swing_has_the_size_that_was_asked_for(spec, name, value, within):
    session = Session(GolferSpec(hand="left"), (spec,), seed=8)
    assert true_measures(known_of(session), session, 0)[name] == pytest.approx(value, abs=within)


def test_how_long_the_finish_is_held():
    held = []
    for hold_s in (0.4, 1.4, 2.4):
        session = Session(swings=(SwingSpec(hold_s=hold_s),), seed=8)
        held.append(true_measures(known_of(session), session, 0)["held_s"])
    assert np.diff(held) == pytest.approx([1.0, 1.0], abs=0.15)


def test_doings_go_to_json_and_back_and_are_checked():
    plan = Scenario(MatSpec.reference(), Session(doings=(Doing("visitor", 8.0, 1), Doing("walk", rock=True))))
    assert Scenario.from_json(plan.to_json()) == plan
    for bad in ({"kind": "dance"}, {"kind": "walk", "seconds": 0}, {"kind": "walk", "before": -1}):
        with pytest.raises(ValueError, match=r"kind|seconds|before"):
            Doing(**bad)
