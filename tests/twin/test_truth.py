"""The truth against numerical integration of the print, and its frames worked out by hand."""

import numpy as np
import pytest

from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import Bench, Empty, GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import stance_from_panel, truth


def integrate(sole, stand, shares):
    """Centre of pressure (u, v) of one foot by summing its blobs over a 1 mm grid well beyond the panel."""
    u, v = np.meshgrid(np.arange(-80.0, 400.0), np.arange(-100.0, 240.0), indexing="ij")
    centre_u, centre_v = stand.to_panel(sole.along_mm, sole.across_mm)
    load = np.zeros_like(u)
    for b in range(sole.parent.size):
        s2 = sole.sigma_mm[b] ** 2
        weight = shares[sole.parent[b]] * sole.part[b]
        load += weight * np.exp(-((u - centre_u[b]) ** 2 + (v - centre_v[b]) ** 2) / (2 * s2)) / (2 * np.pi * s2)
    return (load * u).sum() / load.sum(), (load * v).sum() / load.sum()


@pytest.mark.parametrize(
    "golfer",
    [
        GolferSpec(mass_kg=25.0, shoe_mm=180.0, flare_deg=(0.0, 0.0)),
        GolferSpec(mass_kg=130.0, shoe_mm=330.0, flare_deg=(30.0, 30.0), hand="left"),
        GolferSpec(shoe_mm=270.0, flare_deg=(0.0, 25.0), sole="studded"),
        GolferSpec(sole="soft", hand="left"),
    ],
    ids=lambda g: f"{g.mass_kg:g}kg-{g.shoe_mm:g}mm-{g.hand}",
)
@pytest.mark.parametrize("style", ["toe_drift", "lost_balance"])
def test_centre_of_pressure_by_numerical_integration(golfer, style):
    plan = Scenario(MatSpec.reference(), Session(golfer, (SwingSpec(style),), seed=3))
    t = truth(plan)
    loads = GolferLoads(plan.mat, plan.act)
    swing = t.swings[0]
    moments = [swing.setup_s, swing.turn_s, swing.impact_s, swing.finish_s, swing.end_s - 0.2]
    for i in (t.index(round(s * 1e6)) for s in moments):
        force, shares, placement = loads.feet(i, i + 1)
        xy = np.zeros(2)
        for foot in (0, 1):
            u, v = integrate(loads.sole, loads.stands[foot][placement[0, foot]], shares[0, foot])
            assert abs(t.cop_u_mm[i, foot] - u) < 1e-6
            assert abs(t.cop_v_mm[i, foot] - v) < 1e-6
            # By rotation about the panel's middle, written with complex numbers: right + forward · 1j of the golfer.
            turn = np.radians(golfer.flare_deg[foot]) * (1 if foot == 0 else -1)
            side = golfer.stance_mm / 2 * (-1 if foot == 0 else 1)
            place = side + ((v - 70.0) + (u - 160.0) * 1j) * np.exp(1j * turn)
            xy += force[0, foot] * np.array([-place.real if golfer.hand == "right" else place.real, place.imag])
        np.testing.assert_allclose(t.cop_stance_mm[i], xy / force[0].sum(), atol=1e-6)


def test_stance_frame_by_hand():
    mat, right, left = (
        MatSpec.reference(),
        GolferSpec(flare_deg=(0.0, 30.0)),
        GolferSpec(flare_deg=(0.0, 30.0), hand="left"),
    )
    # The left panel's middle is the lead side of a right-handed golfer.
    assert stance_from_panel(mat, right, 0, 160.0, 70.0) == (200.0, 0.0)
    assert stance_from_panel(mat, left, 0, 160.0, 70.0) == (-200.0, 0.0)
    # 10 mm to the golfer's right on the left panel is towards the trail foot of a right-handed golfer.
    assert stance_from_panel(mat, right, 0, 160.0, 80.0) == (190.0, 0.0)
    # 100 mm towards the toes on the right panel, flared by 30 degrees: 50 outwards, 86.6 forwards.
    x, y = stance_from_panel(mat, right, 1, 260.0, 70.0)
    assert abs(x + 250.0) < 1e-9
    assert abs(y - 86.60254) < 1e-5


def test_heel_toe_and_share_fit_the_places():
    plan = Scenario(MatSpec.reference(), Session(GolferSpec(flare_deg=(0.0, 0.0)), (SwingSpec("good"),), seed=8))
    t = truth(plan)
    loads = GolferLoads(plan.mat, plan.act)
    i = t.index(round(t.swings[0].impact_s * 1e6))
    f = t.force_n[i]
    assert abs(t.lead_share[i] - f[0] / f.sum()) < 1e-12
    assert abs(t.heel_toe_overall[i] - (f @ t.heel_toe[i]) / f.sum()) < 1e-12
    for foot in (0, 1):
        stand = loads.stands[foot][0]
        turn = np.radians(stand.turn_deg)
        du, dv = t.cop_u_mm[i, foot] - stand.centre_mm[0], t.cop_v_mm[i, foot] - stand.centre_mm[1]
        along = du * np.cos(turn) - stand.inner * dv * np.sin(turn)
        assert abs(along / 290.0 + 0.5 - t.heel_toe[i, foot]) < 1e-12


@pytest.mark.parametrize(("mass", "least"), [(40.0, 30.0), (100.0, 49.03)])
def test_a_foot_without_load_has_no_place(mass, least):
    t = truth(Scenario(MatSpec.reference(), Session(GolferSpec(mass_kg=mass), (SwingSpec("good"),))))
    for values in (t.heel_toe, t.cop_u_mm, t.cop_v_mm):
        np.testing.assert_array_equal(np.isnan(values), t.force_n < least)
    assert np.isnan(t.lead_share[0])
    assert np.isnan(t.cop_stance_mm[0]).all()


def test_hands_mirror_each_other():
    flare = {"right": (5.0, 20.0), "left": (20.0, 5.0)}
    t = {
        hand: truth(Scenario(MatSpec.reference(), Session(GolferSpec(hand=hand, flare_deg=flare[hand]))))
        for hand in flare
    }
    np.testing.assert_array_equal(t["right"].force_n, t["left"].force_n[:, ::-1])
    np.testing.assert_array_equal(t["right"].lead_share, t["left"].lead_share)
    np.testing.assert_array_equal(t["right"].heel_toe, t["left"].heel_toe[:, ::-1])


def test_body_mass_scales_force_only():
    light, heavy = (truth(Scenario(MatSpec.reference(), Session(GolferSpec(mass_kg=m)))) for m in (50.0, 100.0))
    np.testing.assert_allclose(2.0 * light.force_n, heavy.force_n, rtol=1e-12)
    both = ~np.isnan(light.heel_toe) & ~np.isnan(heavy.heel_toe)
    np.testing.assert_allclose(light.heel_toe[both], heavy.heel_toe[both], rtol=1e-12)


def test_bench_truth_is_its_plan():
    plan = Scenario(MatSpec.reference(), Bench(cells=((3, 5),), loads_n=(60.0, 180.0)))
    t = truth(plan)
    for p in t.placements:
        now = t.at(round((p.on_s + p.off_s) / 2 * 1e6))
        assert now.force_n == (0.0, p.load_n)
        assert abs(now.cop_u_mm[1] - 70.0 - p.offset_mm[0]) < 1e-9
        assert abs(now.cop_v_mm[1] - 52.5 - p.offset_mm[1]) < 1e-9
        assert np.isnan(now.cop_u_mm[0])
        assert np.isnan(now.lead_share)


def test_a_known_weight_lies_on_each_panel_in_turn():
    t = truth(Scenario(MatSpec.reference(), Session(swings=(), weight_n=98.0)))
    assert t.at(3_000_000).force_n == (98.0, 0.0)
    assert t.at(7_000_000).force_n == (0.0, 98.0)
    assert t.at(7_000_000).cop_u_mm[1] == 160.0
    assert t.step_on_s > 8.9


def test_empty():
    t = truth(Scenario(MatSpec.reference(), Empty(1.0)))
    assert t.t_s[-1] == 1.0
    assert not t.force_n.any()
    assert np.isnan(t.step_on_s)
