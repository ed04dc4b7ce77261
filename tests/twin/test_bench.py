"""The bench's plan and loads, and that its loads reach the film's hysteresis."""

import numpy as np

from groundtone.twin.bench import patch_shares, placements
from groundtone.twin.loads import PatchLoads
from groundtone.twin.scenario import Bench, MatSpec, Press, Put, Scenario
from groundtone.twin.world import World

MAT = MatSpec.reference()


def test_the_plan_in_time_by_hand():
    plan = placements(MAT, Bench(cells=((2, 1), (0, 7))))
    assert [(p.cell, p.load_n) for p in plan[:5]] == [((2, 1), n) for n in (20.0, 60.0, 180.0, 60.0)] + [((0, 7), 20.0)]
    times = [(round(p.on_s, 6), round(p.off_s, 6)) for p in plan[:5]]
    # 60 N after 180 N comes by taking weights off: no gap.
    assert times == [(1.0, 2.0), (2.4, 3.4), (3.8, 4.8), (4.8, 5.8), (6.2, 7.2)]
    assert plan[3].offset_mm == plan[2].offset_mm != plan[1].offset_mm


def test_all_cells_in_order():
    plan = placements(MAT, Press())
    assert [p.cell for p in plan[:2]] == [(0, 0), (1, 0)]
    assert len({p.cell for p in plan}) == 128


def test_patch_shares_by_hand():
    share = patch_shares(MAT, (50.0, 52.5), (20.0, 35.0))
    assert share[2, 1] == 1.0
    share = patch_shares(MAT, (52.0, 49.0), (20.0, 35.0))
    # 2 mm of 20 into the next row, 3.5 of 35 into the column before.
    np.testing.assert_allclose(share[2:4, 0:2], [[0.09, 0.81], [0.01, 0.09]])
    assert abs(patch_shares(MAT, (8.0, 17.5), (20.0, 35.0)).sum() - 0.9) < 1e-12


def test_repeatability_is_the_mean_share_that_goes_astray():
    lost = []
    for seed in range(12):
        for p in placements(MAT, Bench(seed=seed)):
            u, v = 90.0 + p.offset_mm[0], 52.5 + p.offset_mm[1]
            lost.append(1.0 - patch_shares(MAT, (u, v), p.size_mm)[4, 1])
    assert abs(np.mean(lost) - 0.05) < 0.002


def test_loads_on_the_film_follow_the_plan():
    loads = PatchLoads(MAT, Bench(cells=((4, 5), (4, 6)), repeatability=0.0))
    force = loads.film_forces(0, loads.steps)
    for p in loads.plan:
        middle = round((p.on_s + p.off_s) / 2 / 0.02)
        assert abs(force[middle, p.cell[0], p.cell[1]] - p.load_n) < 1e-9
        assert abs(force[middle].sum() - p.load_n) < 1e-9
    gap = round(3.6 / 0.02)
    assert force[gap].sum() == 0.0
    # Whole and in parts it is the same.
    parts = np.concatenate([loads.film_forces(0, 150), loads.film_forces(150, loads.steps)])
    np.testing.assert_array_equal(parts, force)


def test_unloading_reads_higher_than_loading():
    mat = MatSpec.reference(hysteresis=0.08, creep_per_decade=0.0, film_noise=0.0, saturation_s=1e3, exponent_sigma=0.0)
    world = World(Scenario(mat, Bench(cells=((4, 5),), repeatability=0.0)))
    # 180 N to 60 N is ln 3 = 1.10: play operators of 0.1 and 0.3 have turned fully and of 0.6 by 1.10 of 1.20.
    width, turned = 0.05 + 0.09 + 0.12, 0.05 + 0.09 + 0.2 * (np.log(180.05 / 60.05) / 2)
    full = np.log(1.08)
    up, down = (world.conductance(round(t * 1e6))[4, 5] for t in (3.0, 5.5))
    assert abs(np.log(down / up) - full * turned / width) < 1e-6


def test_a_finger_presses_inside_its_cell():
    loads = PatchLoads(MAT, Press(cells=((0, 0), (15, 7))))
    force = loads.film_forces(0, loads.steps)
    assert force.max() == 40.0
    assert np.argwhere(force.max(axis=0) > 0.0).tolist() == [[0, 0], [15, 7]]


def test_hands_scatter_what_the_film_gets_and_not_what_lies_there():
    plan = (Put((4, 5), 60.0), Put((4, 5), 120.0), Put((4, 5), 60.0, stay=True))
    contacts = []
    for seed in range(300):
        loads = PatchLoads(MAT, Bench(seed=seed, plan=plan, repeatability=0.0, scatter=0.12))
        first, second, third = loads.plan
        assert second.contact == third.contact != first.contact
        assert (first.load_n, second.load_n) == (60.0, 120.0)
        middle = round((first.on_s + first.off_s) / 2 / 0.02)
        assert abs(loads.film_forces(middle, middle + 1).sum() - 60.0 * first.contact) < 1e-9
        contacts += [first.contact, second.contact]
    # 600 draws: three standard errors of a standard deviation are 9 %.
    assert abs(np.std(np.log(contacts)) - 0.12) < 0.011
