"""Every style moves the pressure as it says, for either hand and over many seeds; curves are smooth."""

import numpy as np
import pytest

from groundtone.twin.golfer import session_curves
from groundtone.twin.scenario import STYLES, GolferSpec, MatSpec, Scenario, Session, SwingSpec, demo_scenario
from groundtone.twin.truth import truth

SEEDS = range(50)


class Swing:
    """The truth of a session of one swing, cut at its events."""

    def __init__(self, style, seed, hand, **golfer):
        session = Session(GolferSpec(hand=hand, **golfer), (SwingSpec(style),), seed=seed)
        self.truth = truth(Scenario(MatSpec.reference(seed=seed), session))
        self.at = self.truth.swings[0]
        self.weight = session.golfer.mass_kg * 9.80665
        self.lead, self.trail = (0, 1) if hand == "right" else (1, 0)

    def cut(self, values, start_s, stop_s):
        return values[self.truth.index(round(start_s * 1e6)) : self.truth.index(round(stop_s * 1e6)) + 1]

    def share(self, start_s, stop_s):
        return self.cut(self.truth.lead_share, start_s, stop_s)

    def overall(self, start_s, stop_s):
        return self.cut(self.truth.heel_toe_overall, start_s, stop_s)

    def foot(self, which, start_s, stop_s):
        return self.cut(self.truth.heel_toe[:, which], start_s, stop_s)


def within(values, low, high):
    return bool(np.all(values >= low) and np.all(values <= high))


@pytest.fixture(scope="module", params=STYLES)
def swings(request):
    """Fifty seeds of one style, hands in turn for every seed."""
    return request.param, [Swing(request.param, seed, hand) for seed in SEEDS for hand in ("right", "left")]


def test_setup_and_backswing_of_every_style(swings):
    _, every = swings
    for s in every:
        assert within(s.share(s.at.setup_s, s.at.takeaway_s), 0.50, 0.55)
        assert within(s.overall(s.at.setup_s, s.at.takeaway_s), 0.50, 0.56)
        assert abs(s.at.takeaway_s - s.at.setup_s - 2.5) < 1e-9
        back = s.share(s.at.takeaway_s, s.at.impact_s)
        assert 0.20 <= back.min() <= 0.32
        # The share is least at the turn of pressure, and that is what the event says.
        assert abs(s.at.takeaway_s + np.argmin(back) * 0.0025 - s.at.turn_s) < 0.0076
        assert 0.0 <= s.at.top_s - s.at.turn_s <= 0.25
        assert 0.70 <= s.at.top_s - s.at.takeaway_s <= 0.80
        assert 0.23 <= s.at.impact_s - s.at.top_s <= 0.27
        assert within(s.overall(s.at.turn_s, s.at.turn_s + 0.002), 0.45, 0.50)
        total = s.cut(s.truth.force_n.sum(axis=1), s.at.top_s, s.at.finish_s) / s.weight
        assert 1.3 <= total.max() <= 1.7
        assert total.min() < 0.92
        assert within(s.cut(s.truth.force_n.sum(axis=1), s.at.setup_s, s.at.takeaway_s) / s.weight, 0.98, 1.02)


def test_what_makes_each_style(swings):
    style, every = swings
    for s in every:
        at = s.at
        impact = s.share(at.impact_s, at.impact_s)[0]
        overall = s.overall(at.takeaway_s, at.end_s)
        lead = s.foot(s.lead, at.takeaway_s, at.end_s)
        if style in ("good", "trail_hang", "slide"):
            assert within(overall, 0.38, 0.60)
            assert within(lead, 0.38, 0.60)
        if style in ("good", "toe_drift", "heel_drift"):
            assert 0.72 <= impact <= 0.85
            assert within(s.share(at.finish_s, at.end_s), 0.85, 0.93)
        if style == "good":
            assert within(s.foot(s.lead, at.impact_s + 0.3, at.end_s), 0.35, 0.50)
            assert within(s.foot(s.trail, at.impact_s + 0.5, at.impact_s + 0.6), 0.80, 0.90)
        elif style == "toe_drift":
            for values in (s.overall(at.impact_s, at.impact_s + 0.4), s.foot(s.lead, at.impact_s, at.impact_s + 0.4)):
                assert within(values, 0.78, 0.86)
            assert s.overall(at.end_s, at.end_s)[0] < 0.60
            assert within(s.overall(at.takeaway_s, at.turn_s), 0.44, 0.56)
        elif style == "heel_drift":
            assert within(s.overall(at.impact_s, at.impact_s + 0.4), 0.20, 0.25)
            assert within(s.foot(s.lead, at.impact_s, at.impact_s + 0.4), 0.20, 0.25)
        elif style == "trail_hang":
            assert s.share(at.turn_s, at.impact_s).max() <= 0.48
            assert within(s.share(at.finish_s, at.finish_s + 0.8), 0.45, 0.55)
        elif style == "slide":
            assert impact > 0.87
            assert s.share(at.impact_s - 0.05, at.impact_s).min() > 0.85
        elif style == "reverse":
            down = s.share(at.turn_s, at.impact_s)
            assert down.max() > 0.55
            assert 0.42 <= impact <= 0.48
            assert 0.59 <= s.overall(at.impact_s, at.impact_s)[0] <= 0.65
        elif style == "lost_balance":
            held = s.share(at.finish_s, at.end_s)
            assert np.nanmax(held) - np.nanmin(held) > 0.15
            (off, on), _ = at.step_s
            assert np.all(s.cut(s.truth.force_n[:, s.trail], off + 0.01, on - 0.01) < 1e-6 * s.weight)
            assert np.all(np.isnan(s.foot(s.trail, off + 0.01, on - 0.01)))


def test_steps_and_rock():
    for seed in range(10):
        plan = Scenario(MatSpec.reference(seed=seed), Session(seed=seed))
        t = truth(plan)
        force = t.force_n.sum(axis=1)
        assert np.all(force[t.t_s < 1.5] == 0.0)
        assert np.all(force[t.t_s > t.t_s[-1] - 1.4] == 0.0)
        alone = (t.t_s > t.step_on_s + 0.6) & (t.t_s < t.step_on_s + 0.95)
        assert np.sort(t.force_n[alone].mean(axis=0))[0] < 1e-6 * force.max()
        rock = (t.t_s > t.step_on_s + 1.9) & (t.t_s < t.step_on_s + 6.9)
        for foot in (0, 1):
            assert 0.15 <= t.heel_toe[rock, foot].min() < 0.17
            assert 0.86 < t.heel_toe[rock, foot].max() <= 0.90


@pytest.mark.parametrize("style", STYLES)
def test_curves_are_smooth(style):
    curves = session_curves(Session(swings=(SwingSpec(style),), seed=5))
    weight = 80.0 * 9.80665
    # Over one grid step of 2.5 ms the slope itself changes little: a kink of 10 body weights a second would be 0.025.
    assert np.abs(np.diff(curves.force_n, axis=0)).max() / weight < 0.06
    assert np.abs(np.diff(curves.force_n, n=2, axis=0)).max() / weight < 0.012
    assert np.abs(np.diff(curves.heel_toe, n=2, axis=0)).max() < 0.003


def test_a_foot_moves_only_while_it_is_off():
    curves = session_curves(Session(swings=(SwingSpec("lost_balance"), SwingSpec("good")), seed=2))
    moved = np.flatnonzero(np.diff(curves.placement[:, 1]))
    assert len(moved) == 2
    assert np.all(curves.force_n[moved, 1] == 0.0)
    assert not curves.placement[:, 0].any()


def test_other_shapes_of_a_session():
    still = truth(Scenario(MatSpec.reference(), Session(swings=(), rocks=0)))
    assert np.nanmax(still.heel_toe[still.t_s < still.step_off_s - 1.2]) < 0.5
    swaying = truth(Scenario(MatSpec.reference(), Session(swings=(), rocks=4, rock_s=6.0, rock_share_sway=0.35)))
    rock = (swaying.t_s > swaying.step_on_s + 1.9) & (swaying.t_s < swaying.step_on_s + 25.9)
    assert 0.13 < swaying.lead_share[rock].min() < 0.17
    assert 0.83 < swaying.lead_share[rock].max() < 0.87
    for style in STYLES:
        quick = SwingSpec(style, turn_lead_ms=250.0, backswing_s=0.4, downswing_s=0.15)
        at = truth(Scenario(MatSpec.reference(), Session(swings=(quick, quick), hold_s=1.4, setup_s=0.5))).swings[1]
        assert abs(at.top_s - at.turn_s - 0.25) < 1e-9


def test_swings_of_one_session_differ():
    t = truth(Scenario(MatSpec.reference(), Session(swings=(SwingSpec(),) * 6)))
    impacts = [t.at(round(s.impact_s * 1e6)).lead_share for s in t.swings]
    assert len({round(i, 4) for i in impacts}) == 6
    assert len({round(s.top_s - s.turn_s, 4) for s in t.swings}) == 6


def test_what_is_given_is_used():
    spec = SwingSpec("good", turn_lead_ms=125.0, backswing_s=0.9, downswing_s=0.3, impact_share=0.7, strike=False)
    t = truth(Scenario(MatSpec.reference(), Session(swings=(spec, SwingSpec()))))
    at = t.swings[0]
    assert abs(at.top_s - at.turn_s - 0.125) < 1e-9
    assert abs(at.top_s - at.takeaway_s - 0.9) < 1e-9
    assert abs(at.impact_s - at.top_s - 0.3) < 1e-9
    assert abs(t.at(round(at.impact_s * 1e6)).lead_share - 0.7) < 0.01
    assert not at.strike
    strikes = session_curves(Session(swings=(spec, SwingSpec()))).strikes
    assert [round(s[0], 6) for s in strikes] == [round(t.swings[1].impact_s, 6)]


def test_demo_lasts_little_more_than_a_minute():
    for seed in range(8):
        duration = truth(demo_scenario(seed)).t_s[-1]
        assert 70.0 <= duration <= 80.0
