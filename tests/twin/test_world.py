"""The world's answers: the same for the same seed, right against the network, in the agreed bytes."""

from itertools import pairwise

import numpy as np
import pytest

from groundtone.twin.board import build_board, table_voltages
from groundtone.twin.loads import make_loads
from groundtone.twin.rapid import scans
from groundtone.twin.scenario import Bench, Empty, MatSpec, Scenario, Session, SwingSpec, demo_scenario
from groundtone.twin.truth import truth
from groundtone.twin.world import World

STILL = {"adc_noise_lsb": 0.0, "film_noise": 0.0, "adc_spikes": False}


def decode(data, rows=16):
    return np.frombuffer(data, "<u2").reshape(rows + 2, 16, 4)


def test_same_seed_same_bytes_in_any_rhythm():
    first, second = World(demo_scenario(5)), World(demo_scenario(5))
    times = [0, 2_000_000, 2_400_000, 9_000_000, 8_100_000]
    one = [first.table(t) for t in times]
    for t in range(0, 9_000_000, 30_000):
        second.table(t)
    assert [second.table(8_100_000), second.table(9_000_000)] == [one[4], one[3]]
    assert World(demo_scenario(6)).table(9_000_000) != one[3]


def test_tables_are_the_network_of_the_film():
    plan = Scenario(MatSpec.reference(seed=2, **STILL), Session(seed=2))
    world = World(plan)
    now = round(truth(plan).swings[0].impact_s * 1e6)
    codes = decode(world.table(now))
    expected = table_voltages(world.conductance(now)[None], build_board(plan.mat))[0] * 3.3 / 3.27 * 4096
    np.testing.assert_array_equal(codes, np.minimum(np.floor(expected), 4095)[:, :, None].repeat(4, axis=2))


def test_conversions_are_independent():
    world = World(Scenario(MatSpec.reference(), Empty(20.0)))
    tables = np.array([decode(world.table(t)) for t in range(0, 20_000_000, 20_000)], dtype=float)
    supply = tables[:, 3, 9, :]
    # Noise of 2.5 steps, plus the twelfth of rounding; no conversion follows another nor the table before.
    assert abs(supply.std() - np.sqrt(2.5**2 + 1.0 / 12.0)) < 0.05
    assert np.abs(np.corrcoef(supply.T) - np.eye(4)).max() < 0.12
    assert abs(np.corrcoef(supply[1:, 0], supply[:-1, 0])[0, 1]) < 0.12


def test_noise_of_neighbouring_times_is_drawn_apart():
    world = World(Scenario(MatSpec.reference(), Empty(1.0)))
    for spacing in (2500, 5000, 10_000, 12_500):
        stretches = [world._noise(k * spacing, 1152) for k in range(1000)]
        shared = sum(np.shares_memory(a, b) for a, b in pairwise(stretches))
        assert shared < 30  # by chance about 9


def test_probe_bytes():
    world = World(Scenario(MatSpec.reference(**STILL), Empty(1.0)))
    answer = world.probe(0, bytes([3] + [2] * 15), 0)
    assert len(answer) == 16 * 2 + 16 + 1
    np.testing.assert_array_equal(np.frombuffer(answer[:32], "<u2"), decode(world.table(0))[0, :, 0])
    assert list(answer[32:]) == [1] + [0] * 15 + [1]  # REF floats on row 0's line


def test_rows_are_proven_apart_on_an_empty_mat_only():
    plan = demo_scenario(2)
    world = World(plan)
    assert list(world.probe(0, bytes([1] * 16), 0)[32:48]) == [1] * 16
    low_three = bytes([1, 1, 1, 2] + [1] * 12)
    assert list(world.probe(0, low_three, 0)[32:48]) == [1] * 3 + [0] + [1] * 12
    standing = world.probe(9_500_000, bytes([1] * 16), 0)[32:48]
    assert sum(standing) < 8
    joined = World(Scenario(MatSpec.reference(joined_rows=((3, 8),)), Empty(1.0)))
    assert [k for k, level in enumerate(joined.probe(0, low_three, 0)[32:48]) if not level] == [3, 8]


def test_starter_mat():
    world = World(Scenario(MatSpec.reference(rows=10, columns_per_panel=3), Session(swings=(SwingSpec(),))))
    assert (world.rows, world.columns) == (10, 6)
    assert len(world.table(9_000_000)) == 12 * 16 * 4 * 2
    assert len(world.probe(9_000_000, bytes([2] * 10), 0)) == 32 + 11


def test_strikes():
    plan = Scenario(
        MatSpec.reference(adc_noise_lsb=1.0), Session(swings=(SwingSpec(),), stray_strikes_s=(4.0,), seed=3)
    )
    world = World(plan)
    impact = round(truth(plan).swings[0].impact_s * 1e6)
    stray = world.strike(0, 5_000_000)
    assert stray is not None
    assert stray[1] == 4_000_000
    own = world.strike(5_000_000, impact)
    assert own is not None
    assert own[1] == impact
    assert 0.45 <= own[0] <= 0.9
    assert world.strike(impact, impact + 5_000_000) is None
    assert world.strike(0, impact) == own
    # The burst comes to the disc 0.26 ms later: its peak at once, a small rest after 2 ms, noise after 10 and before.
    heard = impact + 260
    assert abs(world.strike_code(heard) - own[0] * 4096) < 40
    assert 0.0 < max(world.strike_code(heard + 2000 + k * 50) for k in range(8)) / 4096 < 0.05 * own[0] / 0.45
    assert world.strike_code(heard + 10_000) < 10
    assert world.strike_code(heard - 1) < 10


def test_the_film_runs_forward_and_its_end_holds():
    world = World(Scenario(MatSpec.reference(), Empty(3.0)))
    world.table(2_500_000)
    world.table(1_500_000)
    with pytest.raises(ValueError, match="back by more than a second"):
        world.table(1_499_999)
    np.testing.assert_array_equal(world.conductance(3_000_000), world.conductance(9_000_000))


def test_forces_come_through_within_the_mat_s_errors():
    # Invert the film's mean curve cell by cell: the foot's whole force comes back within shoes, hysteresis and creep.
    exact = {"gain_sigma": 0.0, "exponent_sigma": 0.0, "hysteresis": 0.0, "creep_per_decade": 0.0}
    plan = Scenario(MatSpec.reference(film_noise=0.0, shoe_ratio_span=0.0, **exact), Session(seed=4))
    world, t = World(plan), truth(plan)
    now = round(t.swings[0].takeaway_s * 1e6)
    g = world.conductance(now)
    g = g / (1.0 - g / 5e-3)
    force = 100.0 * (g / 0.25e-3) ** (1.0 / 0.9) - 0.05
    kept = np.array([force[:, :4].sum(), force[:, 4:].sum()]) / t.force_n[t.index(now)]
    assert np.all((kept > 0.975) & (kept <= 1.0))
    u = (np.arange(16) + 0.5) * 20.0
    for panel in (0, 1):
        part = force[:, 4 * panel : 4 * panel + 4]
        assert abs((part.sum(axis=1) @ u) / part.sum() - t.cop_u_mm[t.index(now), panel]) < 4.0


def test_loads_do_not_depend_on_blocks():
    loads = make_loads(demo_scenario(1))
    whole = loads.film_forces(3000, 3200)
    parts = np.concatenate([loads.film_forces(3000, 3010), loads.film_forces(3010, 3200)])
    np.testing.assert_allclose(parts, whole, rtol=1e-9, atol=1e-12)


def test_long_bench_starts_at_once_and_stays_small():
    world = World(Scenario(MatSpec.reference(), Bench()))
    assert world.duration_s > 600.0
    for t in range(0, 60_000_000, 1_000_000):
        world.table(t)
    assert len(world._conductance) <= 17


def test_the_mains_stand_in_both_ways_of_reading():
    quiet = {"adc_noise_lsb": 0.0, "adc_spikes": False, "film_noise": 0.0, "seed": 4}
    act = Empty(duration_s=1.0)
    for size in (0.0, 6.0):
        scenario = Scenario(MatSpec.reference(hum_lsb=size, hum_hz=60.0, **quiet), act)
        table = [np.frombuffer(World(scenario).table(1000 * ms), "<u2").reshape(-1, 16, 4) for ms in range(50)]
        supply = np.array([t[16, 9, 0] for t in table], dtype=float)
        many = scans(scenario, 400.0).supply / 4.0
        for values in (supply, many):
            assert (np.ptp(values) < 1.0) if size == 0.0 else (12.0 < np.ptp(values) < 17.0)
