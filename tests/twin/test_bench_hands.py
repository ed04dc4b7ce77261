"""A helper's plan on the twin: what lies where and when, stacked, slipped, with slow hands, with a foot left on."""

import numpy as np
import pytest

from groundtone.twin.bench import placements
from groundtone.twin.loads import PatchLoads
from groundtone.twin.scenario import Bench, MatSpec, Put, Scenario

MAT = MatSpec.reference()
PLAN = (
    Put((2, 1), 20.0),
    Put((2, 1), 60.0, stay=True),
    Put((2, 1), 30.0, stay=True, hold_s=2.0),
    Put((9, 6), 50.0, wait_s=3.0),
)


def at(loads, t_s):
    step = round(t_s / 0.02)
    return loads.film_forces(step, step + 1)[0]


def test_the_plan_in_time_by_hand():
    plan = placements(MAT, Bench(plan=PLAN, lead_in_s=2.0, on_s=1.5, off_s=0.5))
    times = [(round(p.on_s, 6), round(p.off_s, 6)) for p in plan]
    assert times == [(2.0, 3.5), (3.5, 5.0), (5.0, 7.0), (10.0, 11.5)]
    # What stays lies where it lay; what is set down anew lies a little elsewhere.
    assert plan[0].offset_mm == plan[1].offset_mm == plan[2].offset_mm != plan[3].offset_mm


def test_loads_are_added_and_taken_off_without_a_gap():
    loads = PatchLoads(MAT, Bench(plan=PLAN, lead_in_s=2.0, on_s=1.5, off_s=0.5, repeatability=0.0))
    for t, cell, load in ((2.7, (2, 1), 20.0), (4.2, (2, 1), 60.0), (6.0, (2, 1), 30.0), (10.7, (9, 6), 50.0)):
        force = at(loads, t)
        assert force[cell] == pytest.approx(load)
        assert force.sum() == pytest.approx(load)
    between = loads.film_forces(round(2.2 / 0.02), round(6.8 / 0.02))[:, 2, 1]
    assert between.min() >= 20.0 - 1e-9
    assert at(loads, 8.5).sum() == 0.0


def test_slow_hands():
    how = {"plan": PLAN[:1], "lead_in_s": 2.0, "repeatability": 0.0}
    quick, slow = (PatchLoads(MAT, Bench(hand_s=hand_s, **how)) for hand_s in (0.1, 0.8))
    assert at(quick, 2.2).sum() == pytest.approx(20.0)
    # Half a cosine over 0.8 s: at a quarter of it (1 - cos 45°) / 2.
    assert at(slow, 2.2).sum() == pytest.approx(20.0 * 0.5 * (1 - np.cos(np.pi / 4)))


def test_a_slip_moves_the_load_to_the_neighbour():
    hands = (Put((4, 1), 50.0, offset_mm=(0.0, 0.0)), Put((4, 1), 50.0, stay=True, offset_mm=(10.0, 0.0)))
    loads = PatchLoads(MAT, Bench(plan=hands, lead_in_s=2.0, on_s=2.0))
    assert at(loads, 3.0)[4, 1] == pytest.approx(50.0)
    after = at(loads, 5.0)
    assert after[4, 1] == pytest.approx(25.0)
    assert after[5, 1] == pytest.approx(25.0)


def test_a_foot_left_on_the_left_panel_is_gone_before_the_first_weight():
    loads = PatchLoads(MAT, Bench(plan=PLAN[:1], lead_in_s=1.0, foot_s=3.0, repeatability=0.0))
    force = at(loads, 1.5)
    assert force[:, :4].sum() == pytest.approx(300.0)
    assert force[:, 4:].sum() == 0.0
    assert at(loads, 3.5).sum() == 0.0
    assert loads.plan[0].on_s == 4.0


def test_a_plan_goes_to_json_and_back():
    plan = Scenario(
        mat=MatSpec.reference(),
        act=Bench(plan=(*PLAN, Put((0, 0), 5.0, offset_mm=(1.0, -2.0))), hand_s=0.5, foot_s=2.0),
    )
    assert Scenario.from_json(plan.to_json()) == plan


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Bench(plan=()), "plan"),
        (lambda: Put((0, 0), -1.0), "load_n"),
        (lambda: Put((0, 0), 1.0, hold_s=0.0), "hold_s"),
        (lambda: Put((0, 0), 1.0, stay=1), "stay"),
        (lambda: Put((0, 0), 1.0, offset_mm=(1e4, 0.0)), "offset_mm"),
        (lambda: Bench(hand_s=9.0), "hand_s"),
        (lambda: Scenario(MatSpec.reference(), Bench(plan=(Put((16, 0), 5.0),))), "plan"),
    ],
)
def test_impossible_plans_are_refused(make, says):
    with pytest.raises(ValueError, match=says):
        make()
