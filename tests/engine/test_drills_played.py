"""Every drill is played as its words say: seen, ticked, cue and limit in force and heard, in review, its band counted.

The golfer does each drill twice as described; where the cue can be heard, a third time with the fault that it is about.
"""

import math
from collections import deque
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.rulefile import default_rules
from groundtone.engine.live import LiveEngine
from groundtone.lesson.drills import all_drills, rules_in_drill
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import rows_of, series_from_rows
from groundtone.swing.measures import measures
from groundtone.swing.phases import find_swings
from groundtone.twin.drill_acts import DRILLS, drill_session
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario

LAYOUT = layout_of("reference-16x4")
RIGHT_ONES = 2
# What is wrong with the third swing, by drill.
HANGS = {"style": "trail_hang", "impact_share": None}
SLIDES = {"style": "slide", "impact_share": None, "lead_after": None, "back_change": -0.42}
WRONG = {
    "heels-down": {"down_heel_toe": 0.82},
    "rock-and-settle": {"setup_heel_toe": 0.74},
    "ball-of-foot": {"down_heel_toe": 0.22},
    "feet-together": {"down_heel_toe": 0.82},
    "step-through": {**HANGS, "walks": False},  # who cannot walk on has stayed behind
    "over-the-stick": HANGS,
    "off-the-card": {**HANGS, "down_heel_toe": None},
    "step-in": HANGS,
    "slow-rehearsal": {**HANGS, "back_change": -0.30},
    "turn-into-heel": SLIDES,
    "heel-first": SLIDES,
    "hold-it": {"style": "lost_balance", "hold_s": None},
}
# A slow one without a ball that ends between the feet cannot be told from shifting: its cue sounds, and no tick comes.
NOT_TOLD = {"slow-rehearsal"}
# Where nothing of the drill is a swing, the cue tells of what goes on between.
STANDING = {"back-pocket", "slow-rocks", "side-rocks"}
# Acted as described, it is not always within its band: when the turn came.
LOOSE = {"pause-at-turn"}


@cache
def played(name):
    """The drill, what the engine brought in each frame, its swings in review, and the truth's."""
    drill = all_drills()[name]
    session = drill_session(name, GolferSpec(hand="left", mass_kg=68.0), 11, RIGHT_ONES + (name in WRONG))
    if name in WRONG:
        session = replace(session, swings=(*session.swings[:-1], replace(session.swings[-1], **WRONG[name])))
    scenario = Scenario(MatSpec.reference(seed=1), session)
    loads = GolferLoads(scenario.mat, session)
    force = loads.film_forces(0, loads.steps)[::4]
    force += np.random.default_rng(5).normal(0.0, 0.2, force.shape)
    t_s, strikes = loads.curves.t_s[::4], deque(loads.curves.strikes)
    stance = Stance(RIGHT if session.golfer.hand == "left" else LEFT, session.golfer.stance_mm, 0.0, (10.0, 10.0))
    engine = LiveEngine(LAYOUT, Film(typical_curves(LAYOUT.rows, LAYOUT.columns)), stance, default_rules())
    engine.drills = True
    engine.cues.set_rules(rules_in_drill(drill, engine.cues.book))
    brought = []
    for at_s, cells in zip(t_s.tolist(), force, strict=True):
        strike = strikes.popleft() if strikes and strikes[0][0] <= at_s else (None, math.nan)
        brought.append(engine.take_forces(at_s, cells, *strike))
    series = series_from_rows(rows_of(t_s, force, LAYOUT), LAYOUT, stance, strikes=loads.curves.strikes)
    return drill, engine, brought, series, loads.curves.swings


def sounding(brought, name, begin_s, end_s):
    return any(name in live.sizes for live in brought if begin_s <= live.t_s <= end_s)


def test_every_drill_with_a_cue_is_done_wrongly_too():
    assert {name for name, drill in all_drills().items() if drill.rule} - STANDING == set(WRONG)


@pytest.mark.parametrize("name", sorted(DRILLS))
def test_every_swing_of_a_drill_is_seen_ticked_and_in_review(name):
    _, _, brought, series, true = played(name)
    true = true[:RIGHT_ONES] if name in NOT_TOLD else true
    ended = [live.ended for live in brought if live.ended is not None]
    ticks = [signal for live in brought for signal in live.signals if signal in ("tick", "unseen")]
    found = find_swings(series)
    assert ticks == ["tick"] * len(true)
    assert len(true) == (0 if name in STANDING else RIGHT_ONES + (name in WRONG and name not in NOT_TOLD))
    for seen in (ended, found):
        assert len(seen) == len(true)
        for swing, known in zip(seen, true, strict=True):
            assert abs(swing.impact.t_s - known.impact_s) < 0.35 * max(1.0, known.slow)


@pytest.mark.parametrize("name", [name for name, drill in sorted(all_drills().items()) if drill.rule])
def test_the_cue_of_a_drill_is_on_with_its_limit(name):
    drill, engine, *_ = played(name)
    rule = engine.cues.book.rule(drill.rule)
    assert rule.on
    limit = drill.high if math.isfinite(drill.high) else drill.low
    # How long a finish is held is no limit of its cue, which is about how far the share moves in it.
    assert drill.rule == "finish" or limit in [band.limit for band in rule.bands]


@pytest.mark.parametrize("name", [*sorted(WRONG), "slow-rocks"])
def test_the_cue_of_a_drill_is_heard_where_it_goes_wrong_and_only_there(name):
    drill, _, brought, _, true = played(name)
    if not true:
        assert sounding(brought, drill.rule, 0.0, math.inf)
    spans = [(swing.setup_s, swing.end_s) for swing in true]
    assert [sounding(brought, drill.rule, *span) for span in spans] == [False] * (len(true) - 1) + [True] * bool(true)


@pytest.mark.parametrize("name", sorted(set(DRILLS) - STANDING))
def test_the_band_of_a_drill_holds_what_was_done_as_described(name):
    drill, _, _, series, _ = played(name)
    values = [measures(swing, series)[drill.measure].value for swing in find_swings(series)]
    assert all(map(math.isfinite, values))
    inside = [drill.low <= value <= drill.high for value in values]
    if name not in LOOSE:
        assert inside == [True] * RIGHT_ONES + [False] * (name in WRONG and name not in NOT_TOLD), values
