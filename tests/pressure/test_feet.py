"""Force, centre of pressure and lead share by hand; the stance frame by hand and against the twin's."""

import math

import numpy as np
import pytest

from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import (
    OUTWARDS,
    Feet,
    Stance,
    centres,
    feet_of,
    foot_forces,
    lead_share,
    least_force_n,
    overall_centre,
)
from groundtone.twin.scenario import GolferSpec, MatSpec
from groundtone.twin.truth import stance_from_panel

LAYOUT = layout_of("reference-16x4")
NAN = math.nan


def mat(**cells):
    """Forces of a mat from {"r<row>c<column>": N}."""
    out = np.zeros((16, 8))
    for name, force in cells.items():
        row, column = name[1:].split("c")
        out[int(row), int(column)] = force
    return out


def test_two_cells_by_hand():
    # Left panel: 30 N at (10, 17.5) and 90 N at (310, 122.5). Right panel: 40 N at (110, 52.5).
    feet = feet_of(mat(r0c0=30.0, r15c3=90.0, r5c5=40.0), LAYOUT, 30.0)
    assert feet.force_n == (120.0, 40.0)
    assert feet.total_n == 160.0
    assert feet.u_mm == pytest.approx((235.0, 110.0))
    assert feet.v_mm == pytest.approx((96.25, 52.5))


@pytest.mark.parametrize(("force", "has_centre"), [(29.99, False), (30.0, True)])
def test_a_foot_under_the_threshold_has_no_centre(force, has_centre):
    feet = feet_of(mat(r3c1=force, r8c6=200.0), LAYOUT, 30.0)
    assert feet.force_n == (force, 200.0)
    assert math.isnan(feet.u_mm[0]) == math.isnan(feet.v_mm[0]) == (not has_centre)
    assert (feet.u_mm[1], feet.v_mm[1]) == pytest.approx((170.0, 87.5))


def test_an_empty_mat_has_none_and_warns_of_nothing():
    feet = feet_of(np.zeros((16, 8)), LAYOUT, 30.0)
    assert feet.total_n == 0.0
    assert np.isnan([*feet.u_mm, *feet.v_mm]).all()
    # A threshold of zero must not bring 0/0 as a place either.
    assert np.isnan(feet_of(np.zeros((16, 8)), LAYOUT, least_force_n(0.0)).u_mm).all()


def test_a_cell_without_a_value_counts_as_nothing():
    with_nan = mat(r0c0=30.0, r15c3=90.0)
    with_nan[7, 1] = NAN
    assert feet_of(with_nan, LAYOUT, 30.0).u_mm[0] == pytest.approx(235.0)
    np.testing.assert_array_equal(foot_forces(with_nan, LAYOUT), [120.0, 0.0])
    lost = feet_of(np.full((16, 8), NAN), LAYOUT, 30.0)
    assert lost.force_n == (0.0, 0.0)
    assert np.isnan(lost.u_mm).all()


def test_noise_of_empty_cells_does_not_pull_the_centre():
    noise = np.random.default_rng(1).normal(0, 0.3, (400, 16, 8))
    _, u, _ = centres(noise + mat(r4c1=200.0, r4c6=200.0), LAYOUT, 30.0)
    assert np.abs(u.mean(0) - 90.0).max() < 0.5


@pytest.mark.parametrize(("weight", "least"), [(0.0, 30.0), (600.0, 30.0), (601.0, 30.05), (1200.0, 60.0)])
def test_the_threshold_by_hand(weight, least):
    assert least_force_n(weight) == pytest.approx(least)


@pytest.mark.parametrize(("lead", "share"), [(LEFT, 0.25), (RIGHT, 0.75)])
def test_lead_share_by_hand(lead, share):
    feet = Feet((150.0, 450.0), (100.0, 100.0), (70.0, 70.0))
    assert lead_share(feet, lead, 60.0) == share
    assert math.isnan(lead_share(feet, lead, 600.1))
    assert lead_share(Feet((0.0, 450.0), (NAN, 100.0), (NAN, 70.0)), lead, 60.0) == (0.0 if lead == LEFT else 1.0)


def test_the_stance_of_a_right_handed_golfer_by_hand():
    # The lead foot is the left one: +x points to the golfer's left, +y to the toes.
    stance = Stance(LEFT, 400.0)
    assert stance.trail == RIGHT
    assert stance.to_stance(LEFT, 160.0, 70.0, LAYOUT) == pytest.approx((200.0, 0.0))
    assert stance.to_stance(RIGHT, 160.0, 70.0, LAYOUT) == pytest.approx((-200.0, 0.0))
    # 30 mm towards the left panel's right edge is 30 mm nearer to the trail foot; 100 mm towards the toes.
    assert stance.to_stance(LEFT, 260.0, 100.0, LAYOUT) == pytest.approx((170.0, 100.0))


def test_the_stance_of_a_left_handed_golfer_by_hand():
    stance = Stance(RIGHT, 400.0)
    assert stance.trail == LEFT
    assert stance.to_stance(RIGHT, 160.0, 70.0, LAYOUT) == pytest.approx((200.0, 0.0))
    assert stance.to_stance(LEFT, 160.0, 70.0, LAYOUT) == pytest.approx((-200.0, 0.0))
    assert stance.to_stance(RIGHT, 260.0, 100.0, LAYOUT) == pytest.approx((230.0, 100.0))


@pytest.mark.parametrize("lead", [LEFT, RIGHT])
def test_flare_turns_the_toes_outwards(lead):
    # 30 degrees: a point 100 mm ahead of the middle goes 50 mm outwards and 86.6 mm ahead, on both sides.
    stance = Stance(lead, 400.0, 0.0, (30.0, 30.0))
    out, ahead = 100 * math.sin(math.radians(30)), 100 * math.cos(math.radians(30))
    for panel in (LEFT, RIGHT):
        x, y = stance.to_stance(panel, 260.0, 70.0, LAYOUT)
        assert (abs(x), y) == pytest.approx((200.0 + out, ahead))
        assert (x > 0) == (panel == lead)
    # Each foot by its own angle.
    x, y = Stance(lead, 400.0, 0.0, (0.0, 30.0)).to_stance(LEFT, 260.0, 70.0, LAYOUT)
    assert (abs(x), y) == pytest.approx((200.0, 100.0))


def test_the_offset_moves_the_lead_foot_ahead():
    for lead in (LEFT, RIGHT):
        stance = Stance(lead, 400.0, 30.0)
        assert stance.to_stance(lead, 160.0, 70.0, LAYOUT)[1] == 15.0
        assert stance.to_stance(1 - lead, 160.0, 70.0, LAYOUT)[1] == -15.0


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_same_frame_as_the_twins(hand):
    golfer = GolferSpec(hand=hand, flare_deg=(7.0, 22.0), stance_mm=455.0)
    stance = Stance(LEFT if hand == "right" else RIGHT, 455.0, 0.0, (7.0, 22.0))
    rng = np.random.default_rng(2)
    for u, v in zip(rng.uniform(0, 320, 50), rng.uniform(0, 140, 50), strict=True):
        for panel in (LEFT, RIGHT):
            expected = stance_from_panel(MatSpec.reference(), golfer, panel, np.array(u), np.array(v))
            assert stance.to_stance(panel, u, v, LAYOUT) == pytest.approx((float(expected[0]), float(expected[1])))


def test_the_overall_centre_by_hand():
    stance = Stance(LEFT, 400.0)
    # Lead 300 N at (200, 40), trail 100 N at (-200, -40).
    feet = Feet((300.0, 100.0), (200.0, 120.0), (70.0, 70.0))
    assert overall_centre(feet, stance, LAYOUT) == pytest.approx((100.0, 20.0))
    alone = Feet((300.0, 20.0), (200.0, NAN), (70.0, NAN))
    assert overall_centre(alone, stance, LAYOUT) == pytest.approx((200.0, 40.0))
    neither = Feet((20.0, 20.0), (NAN, NAN), (NAN, NAN))
    assert np.isnan(overall_centre(neither, stance, LAYOUT)).all()


@pytest.mark.parametrize(
    "wrong",
    [{"lead": 2}, {"width_mm": 0.0}, {"width_mm": -1.0}, {"width_mm": NAN}, {"offset_mm": math.inf},
     {"flare_deg": (0.0, NAN)}],
)  # fmt: skip
def test_stances_that_cannot_be_are_refused(wrong):
    with pytest.raises(ValueError, match=r"stance|lead"):
        Stance(**wrong)


def test_outwards_is_away_from_the_other_foot():
    for panel in (LEFT, RIGHT):
        inner, outer = (Stance().to_stance(panel, 160.0, 70.0 + by * OUTWARDS[panel], LAYOUT)[0] for by in (0.0, 10.0))
        assert abs(outer) - abs(inner) == pytest.approx(10.0)


def test_a_share_is_told_from_the_least_force_on():
    feet = Feet((45.0, 15.0), (100.0, 100.0), (70.0, 70.0))
    assert lead_share(feet, LEFT, 60.0) == 0.75
    assert math.isnan(lead_share(feet, LEFT, 60.01))
