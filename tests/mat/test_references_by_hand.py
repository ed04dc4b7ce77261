"""What a board measures of itself, step by step: a running mean of drivers, where pins may lie, how turns are saved."""

import nodal
import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.mat.network import Drivers
from groundtone.mat.references import References, _limit_of, drivers_after, drivers_from

LAYOUT = layout_of("reference-16x4")
EMPTY = np.zeros((16, 8))


def told_by(high, low, cells=EMPTY):
    """References of a mat with these drivers, Ω, and cells."""
    pins = Drivers.equal(16, 8, high, low, 1000.0)
    taps = nodal.taps(cells, pins.high_ohm, pins.low_ohm, pins.pulldown_ohm, 1000.0, high - 100, low - 100)
    return References(0.0, 8000.0, *(16000.0 * tap for tap in taps))


def test_a_look_counts_for_a_tenth_and_the_first_one_whole():
    known = told_by(150.0, 130.0)
    first = drivers_after(None, known, LAYOUT, EMPTY, EMPTY)
    assert (first.high_ohm[0], first.low_ohm[0]) == pytest.approx((150.0, 130.0), rel=1e-6)
    before = Drivers.equal(16, 8, 140.0, 120.0, 1000.0)
    after = drivers_after(before, known, LAYOUT, EMPTY, EMPTY)
    np.testing.assert_allclose(after.high_ohm, 141.0, rtol=1e-6)
    np.testing.assert_allclose(after.low_ohm, 121.0, rtol=1e-6)
    assert (after.pulldown_ohm == 1000.0).all()


def test_where_a_series_leads_that_comes_nearer_by_the_same_part():
    assert _limit_of(1.5, 1.25, 1.125) == pytest.approx(1.0)
    assert _limit_of(3.0, -1.0, 1.0) == pytest.approx(1 / 3)  # to and fro by half each time
    assert _limit_of(1.0, 2.0, 3.0) == 3.0  # it leads nowhere
    assert _limit_of(2.0, 2.0, 2.0) == 2.0
    assert _limit_of(1.0, 2.0, 3.0009) == 3.0009
    assert _limit_of(1.0, 2.0, 2.9) == pytest.approx(2.9 + 0.81 / 0.1)


@pytest.mark.parametrize(("high", "low"), [(155.0, 130.0), (125.0, 170.0)])
@pytest.mark.parametrize("near", [None, Drivers.equal(16, 8, 150.0, 140.0, 1000.0)])
def test_under_a_load_on_the_first_rows_drivers_are_found_exactly_where_the_cells_are_known(high, low, near):
    """What the cells of row 0 take, and what row 1 sends through them, is some per cent: all of that comes off."""
    cells = np.random.default_rng(1).uniform(5e-5, 4e-4, (16, 8))
    cells[5:, :4] = 1e-7
    cells[0, 3] = np.nan
    found = drivers_from(told_by(high, low, np.nan_to_num(cells)), LAYOUT, cells, near)
    assert (found.high_ohm[0], found.low_ohm[0]) == pytest.approx((high, low), rel=1e-6)
    free = drivers_from(told_by(high, low, np.nan_to_num(cells)), LAYOUT, EMPTY, near)
    assert abs(free.high_ohm[0] / high - 1) > 0.02
