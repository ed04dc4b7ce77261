"""Scenarios: there and back through JSON, and clear refusals."""

import json
import math
from collections import Counter

import pytest

from groundtone.twin.scenario import (
    Bench,
    Empty,
    GolferSpec,
    MatSpec,
    Press,
    Scenario,
    Session,
    SwingSpec,
    demo_scenario,
)

EVERY = [
    demo_scenario(3, "left", 61.5),
    Scenario(
        MatSpec.reference(joined_rows=((1, 2), (4, 9)), dead_cells=((0, 0),), side_ohm=2e4, pads=False), Empty(3.0)
    ),
    Scenario(MatSpec.reference(rows=10, columns_per_panel=3, layout="starter-10x3"), Press(cells=((9, 5), (0, 0)))),
    Scenario(MatSpec.reference(), Bench(cells=((3, 4),), loads_n=(10.0, 50.0), puck_mm=(30.0, 30.0))),
    Scenario(
        mat=MatSpec.reference(),
        act=Session(
            GolferSpec(sole="studded", flare_deg=(0.0, 25.0), width_mm=95.0),
            (SwingSpec("slide", 40.0, impact_share=0.9), SwingSpec("reverse", strike=False)),
            stray_strikes_s=(4.0, 9.5),
            weight_n=98.0,
        ),
    ),
]


@pytest.mark.parametrize("plan", EVERY, ids=lambda plan: plan.act.kind)
def test_there_and_back(plan):
    assert Scenario.from_json(plan.to_json()) == plan
    assert json.loads(plan.to_json())["act"]["kind"] == plan.act.kind


@pytest.mark.parametrize(
    ("make", "names"),
    [
        (lambda: GolferSpec(mass_kg=24.9), "mass_kg"),
        (lambda: GolferSpec(mass_kg=130.1), "mass_kg"),
        (lambda: GolferSpec(mass_kg=math.nan), "mass_kg"),
        (lambda: GolferSpec(mass_kg=-80.0), "mass_kg"),
        (lambda: GolferSpec(hand="both"), "hand"),
        (lambda: GolferSpec(shoe_mm=179.0), "shoe_mm"),
        (lambda: GolferSpec(flare_deg=(10.0, 31.0)), "flare_deg"),
        (lambda: GolferSpec(sole="barefoot"), "sole"),
        (lambda: SwingSpec("wild"), "style"),
        (lambda: SwingSpec(turn_lead_ms=901), "turn_lead_ms"),
        (lambda: MatSpec.reference(rows=17), "rows"),
        (lambda: MatSpec.reference(rows=16.0), "rows"),
        (lambda: MatSpec.reference(rs_ohm=math.inf), "rs_ohm"),
        (lambda: MatSpec.reference(uid="xyz"), "uid"),
        (lambda: MatSpec.reference(joined_rows=((3, 3),)), "itself"),
        (lambda: MatSpec.reference(dead_cells=((16, 0),)), "dead_cells"),
        (lambda: MatSpec.reference(rows=10, columns_per_panel=3, noisy_cells=((0, 6),)), "noisy_cells"),
        (lambda: MatSpec.reference(pads="yes"), "pads"),
        (lambda: Scenario(MatSpec.reference(rows=10), Bench(cells=((10, 0),))), "cells"),
        (lambda: Bench(loads_n=(20.0, -1.0)), "loads_n"),
        (lambda: Bench(loads_n=()), "loads_n"),
        (lambda: Empty(duration_s=math.nan), "duration_s"),
        (lambda: Session(stray_strikes_s=(-1.0,)), "stray_strikes_s"),
    ],
)
def test_values_out_of_range_are_named(make, names):
    with pytest.raises(ValueError, match=names):
        make()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "not JSON"),
        ("[]", "two parts"),
        ('{"mat": {}, "act": {"kind": "dance"}}', "act.kind"),
        ('{"mat": {"colour": 1}, "act": {"kind": "empty"}}', "does not know colour"),
        ('{"mat": {"joined_rows": 5}, "act": {"kind": "empty"}}', "wrong kind"),
        ('{"mat": {}, "act": {"kind": "session", "swings": null}}', "swings"),
        ('{"mat": {}, "act": {"kind": "session", "golfer": {"mass_kg": "heavy"}}}', "mass_kg"),
        ('{"mat": {}, "act": {"kind": "session", "golfer": {"mass_kg": NaN}}}', "mass_kg"),
    ],
)
def test_bad_text_is_refused_with_a_sentence(text, says):
    with pytest.raises(ValueError, match=says):
        Scenario.from_json(text)


def test_demo_draws_the_order_and_nothing_else():
    orders = set()
    for seed in range(12):
        plan = demo_scenario(seed)
        styles = [swing.style for swing in plan.act.swings]
        assert Counter(styles[:6]) == {"good": 2, "toe_drift": 2, "trail_hang": 2}
        assert styles[6:] == ["centred", "pitch"]
        assert plan.mat.seed == seed
        orders.add(tuple(styles))
    assert len(orders) > 6
    assert demo_scenario(4) == demo_scenario(4)
