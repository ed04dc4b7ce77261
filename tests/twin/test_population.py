"""Populations keep to their ranges, name their sources, and what they draw can be played."""

from dataclasses import replace

import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.twin.golfer import session_curves
from groundtone.twin.population import (
    MEMORIES,
    POPULATIONS,
    club_of,
    draw_doings,
    draw_families,
    draw_golfer,
    draw_mat,
    draw_swings,
    families,
    memory_of,
    ranges,
    weathered,
)
from groundtone.twin.rapid import scans
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session
from groundtone.twin.truth import truth


def quantities():
    groups = ("mat", "weather", "bench", "golfer", "golfer_own")
    return [(group, name, entry) for group in groups for name, entry in ranges()[group].items()]


@pytest.mark.parametrize(("group", "name", "entry"), quantities(), ids=lambda value: str(value)[:24])
def test_every_range_has_a_source_and_the_wide_one_holds_the_ordinary(group, name, entry):
    assert len(entry["source"]) > 5
    low, high = entry["wide"]
    ordinary = entry["ordinary"] if isinstance(entry["ordinary"], list) else [entry["ordinary"]] * 2
    if name not in ("exponent_sigma", "leak_s", "scatter"):  # the wide world is never as even or as tight as this
        assert low <= ordinary[0] <= ordinary[1] <= high


def test_ordinary_mats_are_those_that_figures_were_always_made_on():
    drawn = draw_mat("ordinary", 7)
    assert replace(drawn, uid=MatSpec.reference().uid) == MatSpec.reference(seed=7)


def test_wide_mats_fill_their_ranges_and_have_each_kind_of_memory():
    mats = [draw_mat("wide", seed) for seed in range(300)]
    levels = np.array([mat.conductance_at_100n_s for mat in mats]) / 0.25e-3
    assert 0.25 <= levels.min() < 0.3
    assert 3.5 < levels.max() <= 4.0
    creep = np.array([mat.creep_per_decade for mat in mats])
    assert 0.03 <= creep.min() < 0.04
    assert 0.25 < creep.max() <= 0.28
    kinds = [memory_of(mat) for mat in mats]
    assert all(kinds.count(kind) > 70 for kind in MEMORIES)
    assert 100 < sum(mat.saturation_by_gain for mat in mats) < 200
    assert all(draw_mat("worst", seed).creep_per_decade in (0.03, pytest.approx(0.28)) for seed in range(20))


@pytest.mark.parametrize("population", POPULATIONS)
@pytest.mark.parametrize("layout", ["reference-16x4", "starter-10x3"])
def test_what_is_drawn_can_be_scanned(population, layout):
    mat = draw_mat(population, 3, layout)
    told = layout_of(layout)
    assert (mat.row_pitch_mm, mat.column_pitch_mm) == (told.row_pitch_mm, told.column_pitch_mm)
    golfer = replace(draw_golfer(population, 3), shoe_mm=200.0)
    swings = draw_swings(population, 3, ["taught", "chip"])
    run = scans(Scenario(mat, Session(golfer, swings, seed=3)), 50.0)
    assert np.isfinite(run.cells).all()
    assert run.cells.max() > 500.0


def test_weather_changes_the_gain_and_nothing_else():
    mat = draw_mat("wide", 5)
    changed = [weathered(mat, "wide", seed).aged_common for seed in range(200)]
    assert -0.13 <= min(changed) < -0.11
    assert 0.04 < max(changed) <= 0.053
    assert weathered(mat, "ordinary", 1) == mat


def test_golfers_differ_and_keep_what_is_their_own():
    golfers = [draw_golfer("wide", seed) for seed in range(200)]
    assert min(g.mass_kg for g in golfers) < 30
    assert max(g.mass_kg for g in golfers) > 125
    assert {g.hand for g in golfers} == {"right", "left"}
    assert {g.sole for g in golfers} == {"plain", "studded", "soft", "arched", "hard"}
    own, spread = [], []
    for seed in range(80):
        leads = [swing.peak_lead_ms for swing in draw_swings("wide", seed, ["taught"] * 12)]
        own.append(np.mean(leads))
        spread.append(np.std(leads))
    assert np.mean(spread) < 6.0
    assert np.std(own) > 20.0


@pytest.mark.parametrize("family", families())
def test_a_family_moves_the_pressure_as_it_says(family):
    entry = ranges()["family"][family]
    changes, peaks = [], []
    for seed in range(12):
        golfer = GolferSpec(mass_kg=80.0, hand="left" if seed % 2 else "right")
        session = Session(golfer, draw_swings("wide", seed, [family]), seed=seed)
        known = truth(Scenario(MatSpec.reference(), session))
        at = known.swings[0]
        setup = known.lead_share[known.index(round((at.takeaway_s - 0.02) * 1e6))]
        turn = known.lead_share[known.index(round(at.turn_s * 1e6))]
        changes.append(turn - setup)
        assert abs(changes[-1] - at.back_change) < 0.09
        weight = known.force_n.sum(axis=1) / (80.0 * 9.80665)
        cut = slice(known.index(round(at.top_s * 1e6)), known.index(round((at.impact_s + 0.1) * 1e6)))
        peaks.append(weight[cut].max())
        when = known.t_s[cut][weight[cut].argmax()]
        if at.style == "good" and peaks[-1] > 1.05:
            assert abs(when - at.peak_s) < 0.02
    low, high = entry["change"]
    assert low - 0.06 < min(changes) <= max(changes) < high + 0.06
    assert max(peaks) < 1.0 + 1.9 * (entry["peak"][1] - 1.0) + 0.05
    assert club_of(family) in ("driver", "wood", "hybrid", "iron", "wedge", "putter")


def test_the_force_may_be_greatest_after_the_ball_is_gone():
    late = [at for seed in range(30) for at in session_curves(one(seed, "late_push")).swings]
    assert sum(at.peak_s > at.impact_s for at in late) > 15


def one(seed, family):
    return Session(GolferSpec(), draw_swings("wide", seed, [family]), seed=seed)


def test_families_come_as_often_as_the_file_says():
    drawn = draw_families(1, 4000)
    often = {name: ranges()["family"][name]["often"] for name in families()}
    total = sum(often.values())
    for name, count in often.items():
        assert abs(drawn.count(name) / 4000 - count / total) < 0.025
    assert "putt" not in drawn


def test_restless_golfers_can_be_drawn_and_keep_their_weight():
    for seed in range(8):
        swings = draw_swings("wide", seed, draw_families(seed, 2))
        session = Session(draw_golfer("wide", seed), swings, seed=seed, doings=draw_doings("wide", seed, 2))
        curves = session_curves(session)
        assert np.isfinite(curves.force_n).all()
        assert curves.force_n.min() >= 0.0


def test_an_unknown_population_is_refused():
    with pytest.raises(ValueError, match="a population is one of"):
        draw_mat("strange", 1)
