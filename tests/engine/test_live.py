"""The live engine over the twin's mat, frame by frame: what it measures against the truth, and what it lets hear."""

import dataclasses
import math
import pickle
import tracemalloc
from functools import cache

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.fit import film_from_bench
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.swing.events import Phase
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Bench, Scenario, demo_scenario
from groundtone.twin.truth import truth

LAYOUT = layout_of("reference-16x4")
MUST_BE_HEARD = {
    "good": set(), "toe_drift": {"toes"}, "trail_hang": {"trail side"}, "centred": set(), "pitch": set(),
}  # fmt: skip
MAY_LACK_A_TURN = ("centred", "pitch")


def frames(scenario, rate_hz):
    """What the mat sends."""
    return InProcessMat(scenario).frames(rate_hz)


@cache
def film_of(mat):
    """The film of a mat, from its own bench run."""
    meter, act = ConductanceMeter(LAYOUT), Bench(seed=mat.seed)
    t_s, conductance = [], []
    for frame in frames(Scenario(mat, act), 10.0):
        t_s.append(frame.t_us * 1e-6)
        conductance.append(meter.measure(frame))
    return film_from_bench(np.array(t_s), np.array(conductance), act.loads_n).film


def engine_for(scenario, film=None):
    golfer = scenario.act.golfer
    stance = Stance(LEFT if golfer.hand == "right" else RIGHT, golfer.stance_mm, 0.0, golfer.flare_deg)
    return LiveEngine(LAYOUT, film or film_of(scenario.mat), stance)


@pytest.fixture(
    scope="module",
    params=[(41, "right", 40.0), (42, "left", 110.0)],
    ids=lambda p: f"mat {p[0]}, {p[1]}-handed golfer of {p[2]:g} kg",
)
def session(request):
    """A session of eight invented swings: the engine, the truth, and all that came out."""
    scenario = demo_scenario(*request.param)
    engine = engine_for(scenario)
    return engine, truth(scenario), [engine.take_frame(frame, frame.t_us) for frame in frames(scenario, 100.0)]


def test_every_swing_is_heard_as_it_must_be(session):
    _, known, out = session
    ended = [live.ended for live in out if live.ended is not None]
    assert [swing.number for swing in ended] == [1, 2, 3, 4, 5, 6, 7, 8]
    for swing, true in zip(ended, known.swings, strict=True):
        assert swing.impact.source == "strike sensor"
        assert swing.impact.t_s == pytest.approx(true.impact_s, abs=0.001)
        # A centred swing may lack the turn; whoever has one has it there.
        assert swing.turn is not None or true.style in MAY_LACK_A_TURN
        assert swing.turn is None or swing.turn.t_s == pytest.approx(true.turn_s, abs=0.05)
        assert {name for name, _, _ in swing.heard} == MUST_BE_HEARD[true.style]


def test_nothing_sounds_between_swings(session):
    _, known, out = session
    inside = [(swing.turn_s, swing.impact_s + 1.4) for swing in known.swings]
    for live in out:
        if not any(begin <= live.t_s <= end for begin, end in inside):
            assert not live.sizes


def test_signals(session):
    engine, known, out = session
    signals = [(name, live.t_s) for live in out for name in live.signals]
    assert [name for name, _ in signals] == ["ready", *["tick"] * 8]
    assert known.step_on_s + 2 < signals[0][1] < known.swings[0].setup_s
    for (_, t_s), true in zip(signals[1:], known.swings, strict=True):
        assert t_s == pytest.approx(true.impact_s + 1.3, abs=0.02)
    # Stepped off at the end: away, and the footprints forgotten.
    assert out[-1].phase is Phase.AWAY
    assert not engine.ready
    assert math.isnan(out[-1].overall)
    assert known.step_off_s < out[-1].t_s


def test_measures_against_the_truth(session):
    """While both feet carry: 95 % of the frames are nearer than 0.02 in lead share and 5 mm in CoP along the foot."""
    _, known, out = session
    rows = [(live, known.at(round(live.t_s * 1e6))) for live in out]
    both = [(m, t) for m, t in rows if not (np.isnan(m.feet.u_mm).any() or np.isnan(t.heel_toe).any())]
    assert len(both) > 2500
    share = [abs(m.share - t.lead_share) for m, t in both]
    ahead = [abs(m.centre_mm[1] - t.cop_stance_mm[1]) for m, t in both]
    across = [abs(m.centre_mm[0] - t.cop_stance_mm[0]) for m, t in both]
    assert np.percentile(share, 95) < 0.02
    assert np.percentile(ahead, 95) < 5.0
    # Across, an error of share counts with the width of the stance.
    assert np.percentile(across, 95) < 0.02 * 400.0
    placed = [abs(m.overall - t.heel_toe_overall) for m, t in both if not math.isnan(m.overall)]
    assert np.percentile(placed, 95) < 0.035
    weight = np.median([m.feet.total_n / sum(t.force_n) for m, t in both])
    assert weight == pytest.approx(1.0, abs=0.05)


def test_without_a_calibration_the_measures_are_worse():
    """What the calibration is worth: the typical film on the same frames."""
    scenario = demo_scenario(41, "right", 40.0)
    known, errors = truth(scenario), {}
    for name, film in (("typical", Film(typical_curves(16, 8))), ("own", None)):
        engine, share = engine_for(scenario, film), []
        for i, frame in enumerate(frames(scenario, 20.0)):
            live, true = engine.take_frame(frame, frame.t_us), known.at(frame.t_us)
            if i > 40 and not (np.isnan(live.feet.u_mm).any() or np.isnan(true.heel_toe).any()):
                share.append(abs(live.share - true.lead_share))
        errors[name] = np.percentile(share, 95)
    assert errors["typical"] > 1.5 * errors["own"]


def test_standing_for_long_costs_no_memory():
    scenario = demo_scenario(41, "right", 40.0)
    engine, setup_us = engine_for(scenario), truth(scenario).swings[0].setup_s * 1e6
    still = next(frame for frame in frames(scenario, 50.0) if frame.t_us >= setup_us)
    kept = []
    for number in range(1601):
        engine.take_frame(dataclasses.replace(still, seq=number), number * 20_000)
        if number in (600, 1600):
            kept.append(len(pickle.dumps(engine)))
    assert kept[1] - kept[0] < 1000


@pytest.mark.long
def test_memory_does_not_grow():
    """20,000 frames: one session's frames again and again, time and numbers going on.

    What the engine keeps is weighed at the same place of every session; one session is watched by tracemalloc too.
    """
    scenario = demo_scenario(41, "right", 40.0)
    engine = engine_for(scenario)
    once = list(frames(scenario, 50.0))
    kept, traced, swings = [], [], 0
    for number in range(20_000):
        turn, place = divmod(number, len(once))
        frame = dataclasses.replace(once[place], seq=number & 0xFFFF)
        if place == 1500:
            kept.append(len(pickle.dumps(engine)))
            if turn == 3:
                tracemalloc.start()
                engine.take_frame(frame, number * 20_000)
            # From the second traced session on, what one session allocates replaces what the one before has left.
            if turn in (4, 5):
                traced.append(tracemalloc.get_traced_memory()[0])
            if turn == 5:
                tracemalloc.stop()
        swings += engine.take_frame(frame, number * 20_000).ended is not None
    assert swings >= 6 * (20_000 // len(once))
    assert len(kept) >= 6
    assert max(kept[1:]) - min(kept[1:]) < 2000
    assert traced[1] - traced[0] < 20_000
