"""What a reading can be: half a puck, a cell that reads little, and how much room few cells leave."""

import math

import numpy as np
import pytest

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.expectation import Expectation
from groundtone.calibration.guided.load_watch import Reading

SLOPE = 0.9
BASE = math.log(5e-6)  # ln S at 1 N of a cell of gain 1


def reads(force_n, gain=1.0):
    """Conductance of a cell under a load, S."""
    return gain * math.exp(BASE + SLOPE * math.log(force_n))


def taken(cell, force_n=50.0, gain=1.0):
    grid = np.zeros((16, 8))
    grid[cell] = reads(force_n, gain)
    return Placement(*cell, force_n, grid, slice(0, 1), False, 0.02)


def reading(*around):
    """A load on the first of the cells, which read so much."""
    grid = np.zeros((16, 8))
    for cell, level in around:
        grid[cell] = level
    return Reading(around[0][0], grid, np.zeros((16, 8)), 1.0, 1.5, 0.02, 0.0, tuple(around),
                   around[1][0] if len(around) > 1 else None, (), math.nan, slice(0, 1))  # fmt: skip


def expectation(cells, gains=None):
    out = Expectation(16, 8)
    for i in range(cells):
        out.learn(taken((i // 8, i % 8), gain=1.0 if gains is None else gains[i]))
    return out


def test_half_a_puck_is_half_by_both_ways_of_reckoning():
    half = reading(((9, 2), reads(25.0)), ((9, 3), reads(25.0)))
    assert expectation(10).share(half) == pytest.approx(0.5)
    assert expectation(10).share(half, 50.0) == pytest.approx(0.5)


def test_a_cell_that_reads_a_third_is_no_half_puck():
    """46 of 50 N lie on a cell of a third of the gain, 4 N on its neighbour."""
    weak = reading(((9, 2), reads(46.0, 1 / 3)), ((9, 3), reads(4.0)))
    by_all = (46**SLOPE / 3) / (46**SLOPE / 3 + 4**SLOPE)
    assert expectation(10).share(weak) == pytest.approx(by_all)
    assert expectation(10).share(weak, 50.0) == pytest.approx(1 - 4 / 50)


@pytest.mark.parametrize(("cells", "believed"), [(6, True), (60, False)])
def test_few_cells_leave_more_room_for_the_others(cells, believed):
    """A cell of four times the gain of all the others: ln 4 = 1.39 against 1.10 and half as much, or a twentieth."""
    odd = reading(((9, 2), reads(50.0, 4.0)))
    found = expectation(cells).judge(odd, 50.0)
    assert (found is None) is believed
    if not believed:
        assert found == pytest.approx(50.0 * 4 ** (1 / SLOPE))
