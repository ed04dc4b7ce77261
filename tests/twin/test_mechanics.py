"""Cells' shares of a foot against numerical integration; what is lost, bent and gathered."""

import numpy as np
import pytest

from groundtone.twin.footprint import blob_weights, make_sole
from groundtone.twin.mechanics import (
    Stand,
    bend,
    crossing_matrix,
    draw_stands,
    film_matrix,
    foot_matrix,
    shoe_ratios,
)
from groundtone.twin.scenario import WIDE_SOLES, GolferSpec, MatSpec

MAT = MatSpec.reference()


def brute_cells(sole, stand, cover):
    """Each parent's share in each cell by sampling Gaussians every half millimetre of the panel."""
    u, v = np.meshgrid(np.arange(640) / 2 + 0.25, np.arange(280) / 2 + 0.25, indexing="ij")
    centre_u, centre_v = stand.to_panel(sole.along_mm, sole.across_mm)
    out = np.zeros((sole.base.size, 16, 4))
    for b in range(sole.parent.size):
        s2 = sole.sigma_mm[b] ** 2 + cover**2
        field = np.exp(-((u - centre_u[b]) ** 2 + (v - centre_v[b]) ** 2) / (2 * s2)) / (2 * np.pi * s2)
        out[sole.parent[b]] += sole.part[b] * field.reshape(16, 40, 4, 70).sum(axis=(1, 3)) / 4
    return out


@pytest.mark.parametrize("kind", WIDE_SOLES)
@pytest.mark.parametrize("inner", [1.0, -1.0])
def test_cell_shares_by_numerical_integration(kind, inner):
    sole = make_sole(GolferSpec(sole=kind))
    stand = Stand((163.0, 68.0), 2.5, inner)
    np.testing.assert_allclose(
        foot_matrix(MAT, sole, stand).reshape(-1, 16, 4), brute_cells(sole, stand, 2.0), atol=2e-4
    )


def test_outward_turn_and_inner_side():
    # The left foot's toes turn to smaller v, its inner side lies at larger v; the right foot's the other way round.
    for inner in (1.0, -1.0):
        stand = Stand((160.0, 70.0), 3.0, inner)
        toe_u, toe_v = stand.to_panel(np.array([140.0]), np.array([0.0]))
        side_u, side_v = stand.to_panel(np.array([0.0]), np.array([50.0]))
        assert abs(toe_u[0] - 160.0 - 140.0 * np.cos(np.radians(3.0))) < 1e-12
        assert abs(toe_v[0] - 70.0 + inner * 140.0 * np.sin(np.radians(3.0))) < 1e-12
        assert abs(side_v[0] - 70.0 - inner * 50.0 * np.cos(np.radians(3.0))) < 1e-12
        assert abs(side_u[0] - 160.0 - 50.0 * np.sin(np.radians(3.0))) < 1e-12


@pytest.mark.parametrize("shoe", [180.0, 240.0, 290.0, 310.0])
def test_little_load_is_lost_up_to_310_mm(shoe):
    golfer = GolferSpec(shoe_mm=shoe)
    sole = make_sole(golfer)
    for seed in range(10):
        for foot in draw_stands(MAT, golfer, seed, 2):
            for stand in foot:
                assert abs(stand.centre_mm[0] - 160.0) <= min(6.0, (320.0 - shoe) / 2.0 - 1.0)
                assert abs(stand.centre_mm[1] - 70.0) <= 4.0
                assert abs(stand.turn_deg) <= 3.0
                kept = foot_matrix(MAT, sole, stand).sum(axis=1)
                for wanted in (0.2, 0.5, 0.85):
                    assert blob_weights(sole, np.array([wanted]), np.zeros(1))[0] @ kept > 0.975


def test_the_largest_shoe_loses_some_at_the_toe():
    golfer = GolferSpec(shoe_mm=330.0)
    sole = make_sole(golfer)
    kept = foot_matrix(MAT, sole, Stand((160.0, 70.0), 3.0, 1.0)).sum(axis=1)
    assert 0.8 < kept[-1] < 0.97


def test_shoe_ratios_span():
    drawn = np.array([shoe_ratios(MatSpec.reference(shoe_ratio_span=0.05), seed) for seed in range(200)])
    assert drawn.min() > 0.95
    assert drawn.max() < 1.05
    assert abs(drawn.std() - 0.05 / np.sqrt(3)) < 0.002
    sole, stand = make_sole(GolferSpec()), Stand((160.0, 70.0), 0.0, 1.0)
    ratios = np.array([1.04, 0.97, 1.01, 0.99])
    by_zone = film_matrix(MAT, sole, stand, ratios).sum(axis=1) / foot_matrix(MAT, sole, stand).sum(axis=1)
    np.testing.assert_allclose(by_zone[0], 1.04)
    np.testing.assert_allclose(by_zone[1], 0.97)
    np.testing.assert_allclose(by_zone[4], 1.01)
    np.testing.assert_allclose(by_zone[7], 0.99)


def test_without_pads_only_crossings_count():
    sole, stand = make_sole(GolferSpec()), Stand((160.0, 70.0), 0.0, 1.0)
    whole = foot_matrix(MAT, sole, stand).sum()
    crossing = crossing_matrix(MAT, sole, stand).sum()
    # 10 × 12 mm of 20 × 35 mm is 0.171 of an even load.
    assert 0.13 < crossing / whole < 0.21
    bare = film_matrix(MatSpec.reference(pads=False), sole, stand, np.ones(4)).sum()
    assert 1.7 < bare / crossing < 2.4


def test_a_bending_base_keeps_load_and_pinches():
    force = np.zeros((1, 16, 8))
    force[0, 3, 1] = 100.0
    assert np.array_equal(bend(MAT, force), force)
    bent = bend(MatSpec.reference(bending_base=1.0), force)
    assert 70.0 < bent[0, 3, 1] < 101.0
    # Middle rows of the loaded panel are pinched by a hundredth of its load, the other panel by nothing.
    assert abs(bent[0, 8, 2] - np.sin(np.pi * 8.5 / 16)) < 1e-9
    assert np.all(bent[0, :, 4:] == 0.0)
