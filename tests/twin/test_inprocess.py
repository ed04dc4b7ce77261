"""Frames of the in-process mat are what the wire's specification says of the world's readings."""

import numpy as np
import pytest

from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Empty, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import truth
from groundtone.twin.world import World


def test_fields_by_hand():
    plan = Scenario(MatSpec.reference(), Session(swings=(SwingSpec(),), seed=2))
    frames = list(InProcessMat(plan, ticks0=2**32 - 5_000_000).frames(80.0))
    world = World(plan)
    assert len(frames) == int(world.duration_s * 80) + 1
    assert [f.seq for f in frames[:3]] == [0, 1, 2]
    for n in (0, 1, 800, 801):
        table = np.frombuffer(world.table(n * 12500), "<u2").reshape(18, 16, 4).astype(int)
        frame = frames[n]
        assert frame.t_us == (2**32 - 5_000_000 + n * 12500) % 2**32
        assert frame.cells.dtype == np.uint16
        # 14 bits of the mean of two: four times the mean is twice the sum.
        np.testing.assert_array_equal(frame.cells, 2 * (table[:16, :8, 0] + table[:16, :8, 1]).ravel())
        state, line = ((16, 8), (17, 9))[n % 2]
        assert frame.ref_a == 2 * table[state, line, :2].sum()
        assert frame.ref_b == 2 * table[state, 10, :2].sum()
        assert frame.flags == (8 if n == 0 else 0)


def test_one_strike_with_its_time():
    plan = Scenario(MatSpec.reference(), Session(swings=(SwingSpec(),), seed=2))
    impact = round(truth(plan).swings[0].impact_s * 1e6)
    struck = [f for f in InProcessMat(plan).frames(100.0) if f.flags & 1]
    assert len(struck) == 1
    assert struck[0].t_us - struck[0].strike_offset_us == impact
    assert 0 <= struck[0].strike_offset_us < 10_000
    assert 0.45 * 16383 - 1 <= struck[0].strike_peak <= 0.9 * 16383


def test_ceiling_is_flagged():
    shorted = MatSpec.reference(shorted_cells=((4, 4),), supply_v=3.6)
    assert all(f.flags & 4 == 0 for f in InProcessMat(Scenario(MatSpec.reference(), Empty(0.2))).frames(50.0))
    assert all(f.flags & 4 for f in InProcessMat(Scenario(shorted, Empty(0.2))).frames(50.0) if f.cells.max() == 16380)
    lot = Scenario(MatSpec.reference(supply_v=5.0, shorted_cells=((4, 4),)), Empty(0.2))
    assert all(f.flags & 4 for f in InProcessMat(lot).frames(50.0))


def test_rates_out_of_range_are_refused():
    with pytest.raises(ValueError, match="rate"):
        next(InProcessMat(Scenario(MatSpec.reference(), Empty(1.0))).frames(0.5))
