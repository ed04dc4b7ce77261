"""Before the first ball and between balls: a round rock is silent and learnt from, restless waiting is silent too."""

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.asking import FAINT, NO_ROCK, UNSEEN
from groundtone.engine.live import LiveEngine
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import Doing, GolferSpec, MatSpec, Session, SwingSpec

LAYOUT = layout_of("reference-16x4")
FILM = Film(typical_curves(LAYOUT.rows, LAYOUT.columns), level_u=np.full((LAYOUT.rows, LAYOUT.columns), 0.03))


def engine():
    return LiveEngine(LAYOUT, FILM, Stance(LEFT, 400.0))


def played(act, made=None, factor=1.0, every=4, strikes=True):
    """All that an engine says of true forces, `factor` on each cell, at 100 frames a second."""
    loads = GolferLoads(MatSpec.reference(seed=3), act)
    force = loads.film_forces(0, loads.steps)[::every] * factor
    t_s = loads.curves.t_s[::every]
    heard = [t for t, _ in loads.curves.strikes] if strikes else []
    made = made or engine()
    out = []
    for i, (now, frame) in enumerate(zip(t_s.tolist(), force, strict=True)):
        struck = next((t for t in heard if i and t_s[i - 1] < t <= now), None)
        out.append(made.take_forces(now, frame, struck))
    return out, loads.curves


def round_rock(*swings, **more):
    return Session(GolferSpec(), swings, seed=5, rocks=2, rock_share_sway=0.35, **more)


def test_neither_lap_of_a_round_rock_sounds():
    out, _ = played(round_rock())
    assert sum("ready" in live.signals for live in out) == 1
    assert not [live.t_s for live in out if live.sizes]


def test_the_second_lap_teaches_too():
    """Shoes that press 12 % too much under one heel and too little under the other foot's toes."""
    factor = np.ones((LAYOUT.rows, LAYOUT.columns))
    factor[:6, :4], factor[9:, 4:] = 1.12, 0.90
    made = engine()
    seen = []
    learn = made.shoe.take

    def take(t_s, force_n, *, gather):
        seen.append((t_s, gather))
        return learn(t_s, force_n, gather=gather)

    made.shoe.take = take
    out, curves = played(round_rock(), made, factor)
    ready_s = next(live.t_s for live in out if "ready" in live.signals)
    rock_end_s = curves.step_on_s + 11.0
    later = [gather for t, gather in seen if ready_s < t < rock_end_s]
    assert len(later) > 300
    assert all(later)
    share = np.array([live.share for live in out if rock_end_s < live.t_s < rock_end_s + 1])
    true = np.interp([live.t_s for live in out if rock_end_s < live.t_s < rock_end_s + 1], curves.t_s,
                     curves.force_n[:, 0] / np.maximum(curves.force_n.sum(1), 1))  # fmt: skip
    raw = (1.12 * 0.5 + 1.0 * 0.5) / (1.12 * 0.5 + 1.0 * 0.5 + 0.95)
    assert np.abs(share - true).max() < 0.5 * (raw - 0.5)


def test_a_swing_after_the_rock_is_still_heard():
    out, curves = played(round_rock(SwingSpec("trail_hang"), SwingSpec("toe_drift")))
    for swing, cue in zip(curves.swings, ("trail side", "toes"), strict=True):
        assert any(cue in live.sizes for live in out if swing.turn_s < live.t_s < swing.impact_s + 1.3)
    inside = [(s.takeaway_s, s.impact_s + 1.5) for s in curves.swings]
    assert not [live.t_s for live in out if live.sizes and not any(a < live.t_s < b for a, b in inside)]


@pytest.mark.parametrize("kind", ["mill", "settle", "shift", "waggle", "hop", "bend", "one_leg", "pace"])
def test_who_waits_restlessly_hears_nothing(kind):
    doings = tuple(Doing(kind, 9.0) for _ in range(2))
    out, _ = played(round_rock(doings=doings), every=8)
    assert not [(live.t_s, live.sizes) for live in out if live.sizes]


def test_slow_swings_sound_where_they_are_rehearsed():
    slowly = SwingSpec("trail_hang", slow=3.0, strike=False)
    out, curves = played(round_rock(SwingSpec("good"), slowly))
    assert not [live.t_s for live in out if live.sizes]
    made = engine()
    made.drills = True
    out, curves = played(round_rock(SwingSpec("good"), slowly), made)
    assert any("trail side" in live.sizes for live in out if live.t_s > curves.swings[1].turn_s)


def standing(seconds, strikes=()):
    """Somebody who stands quietly and has not rocked; which signals come when."""
    made = engine()
    frame = np.zeros((LAYOUT.rows, LAYOUT.columns))
    frame[2:13] = 800.0 / (11 * LAYOUT.columns)
    heard = []
    for t in np.arange(0.0, seconds, 0.02).tolist():
        struck = next((s for s in strikes if t - 0.02 < s <= t), None)
        live = made.take_forces(t, frame if t > 1.0 else 0 * frame, struck, 0.8 if struck else float("nan"))
        heard += [(t, signal, live.said) for signal in live.signals]
    return heard


def test_who_has_not_rocked_is_asked_to():
    heard = standing(80.0)
    assert [signal for _, signal, _ in heard] == ["rock", "rock"]
    assert heard[0][0] == pytest.approx(16.0, abs=0.1)
    assert heard[1][0] == pytest.approx(76.0, abs=0.1)
    assert heard[0][2] == (NO_ROCK,)


def test_a_ball_before_the_rock_asks_at_once():
    heard = standing(12.0, strikes=(8.0, 8.5))
    assert [(round(t, 1), signal) for t, signal, _ in heard] == [(8.0, "rock")]


def test_who_walks_off_and_comes_back_is_heard_without_another_rock():
    act = round_rock(SwingSpec("good"), SwingSpec("toe_drift"), doings=(Doing("walk", 4.0, before=1),))
    made = engine()
    out, curves = played(act, made)
    assert sum("ready" in live.signals for live in out) == 2
    spans = [(swing.takeaway_s, swing.impact_s + 1.5) for swing in curves.swings]
    heard = [any("toes" in live.sizes for live in out if a < live.t_s < b) for a, b in spans]
    assert heard == [False, True]
    # The feet came down elsewhere: their places are told as before.
    late = [live for live in out if curves.swings[1].setup_s + 0.5 < live.t_s < curves.swings[1].takeaway_s]
    true = np.array([[np.interp(live.t_s, curves.t_s, curves.heel_toe[:, k]) for k in (0, 1)] for live in late])
    assert np.abs(np.array([live.position for live in late]) - true).max() < 0.04


@pytest.mark.parametrize(("mass_kg", "shoe_mm"), [(66.0, 290.0), (80.0, 325.0)])
def test_another_golfer_has_to_rock(mass_kg, shoe_mm):
    made = engine()
    _, curves = played(round_rock(SwingSpec("good")), made)
    loads = GolferLoads(
        MatSpec.reference(seed=3), Session(GolferSpec(mass_kg=mass_kg, shoe_mm=shoe_mm), (), seed=6, rocks=0)
    )
    later_s = curves.t_s[-1] + 2.0
    force = loads.film_forces(0, loads.steps)[::4]
    said = [made.take_forces(later_s + 0.01 * k, frame) for k, frame in enumerate(force)]
    assert not any("ready" in live.signals for live in said)


def test_a_ball_without_a_swing_is_never_passed_over_in_silence():
    """Two faint ones within a minute, one after it and a loud one, while somebody stands there quietly."""
    made = engine()
    _, curves = played(round_rock(), made, strikes=False)
    begin_s = curves.t_s[-1] + 1.0
    frame = np.zeros((LAYOUT.rows, LAYOUT.columns))
    frame[2:13] = 785.0 / (11 * LAYOUT.columns)
    peaks = {10.0: 0.2, 30.0: 0.2, 75.0: 0.2, 85.0: 0.8}
    heard = []
    for t in np.arange(0.0, 90.0, 0.02).tolist():
        struck = next((s for s in peaks if t - 0.02 < s <= t), None)
        strike_s, peak = (begin_s + struck, peaks[struck]) if struck is not None else (None, float("nan"))
        live = made.take_forces(begin_s + t, frame, strike_s, peak)
        heard += [(round(t), said, "unseen" in live.signals) for said in live.said if said in (FAINT, UNSEEN)]
    assert heard == [(11, FAINT, False), (76, FAINT, False), (86, UNSEEN, True)]
