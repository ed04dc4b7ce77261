"""Dead cells filled from their neighbours: means by hand, planes kept, panels apart, one frame and blocks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundtone.calibration.shoes.dead_cells import dead_cells, filled, filling

ROWS, COLUMNS = 16, 8


def field():
    """Forces that fall on each cell differently, N."""
    return np.random.default_rng(3).uniform(5, 50, (ROWS, COLUMNS))


def test_one_dead_cell_by_hand():
    force = field()
    force[5, 2] = 0.0
    out = filled(force, filling([(5, 2)], ROWS, COLUMNS))
    along, across = 1 / 20**2, 1 / 35**2
    mean = (along * (force[4, 2] + force[6, 2]) + across * (force[5, 1] + force[5, 3])) / (2 * along + 2 * across)
    assert out[5, 2] == pytest.approx(mean, rel=1e-12)
    out[5, 2] = 0.0
    np.testing.assert_array_equal(out, force)


def test_at_the_panels_inner_edge_nothing_comes_from_the_other_panel():
    force = field()
    how = filling([(0, 3)], ROWS, COLUMNS)
    other = force.copy()
    other[:, 4:] *= 7
    assert filled(force, how)[0, 3] == filled(other, how)[0, 3]
    along, across = 1 / 20**2, 1 / 35**2
    assert filled(force, how)[0, 3] == pytest.approx(
        (along * force[1, 3] + across * force[0, 2]) / (along + across), rel=1e-12
    )


def test_dead_cells_side_by_side_follow_a_straight_slope():
    """Equal in every column, straight along the foot: the mean of neighbours is exact, however many are dead."""
    force = np.repeat(np.linspace(10, 40, ROWS)[:, None], COLUMNS, axis=1)
    dead = [(7, 1), (8, 1), (9, 1), (8, 2)]
    broken = force.copy()
    for cell in dead:
        broken[cell] = 0.0
    np.testing.assert_allclose(filled(broken, filling(dead, ROWS, COLUMNS)), force, rtol=1e-12)


@given(st.lists(st.tuples(st.integers(0, ROWS - 1), st.integers(0, COLUMNS - 1)), max_size=12))
def test_a_filled_cell_lies_between_its_living_ones(dead):
    force = field()
    how = filling(dead, ROWS, COLUMNS)
    living = np.delete(force.ravel(), how.dead)
    out = filled(force, how).ravel()[how.dead]
    assert ((out >= living.min() - 1e-9) & (out <= living.max() + 1e-9)).all()


def test_a_block_is_filled_as_its_frames():
    block = np.random.default_rng(4).uniform(0, 50, (20, ROWS, COLUMNS))
    how = filling([(3, 3), (4, 3), (15, 7)], ROWS, COLUMNS)
    np.testing.assert_allclose(filled(block, how), np.stack([filled(frame, how) for frame in block]), rtol=1e-13)


def test_nan_and_whole_panels():
    force = field()
    how = filling([(5, 2)], ROWS, COLUMNS)
    force[4, 2] = np.nan
    assert np.isnan(filled(force, how)[5, 2])
    force[4, 2], force[9, 2] = 1.0, np.nan
    assert np.isfinite(filled(force, how)[5, 2])
    left = [(row, column) for row in range(ROWS) for column in range(4)]
    out = filled(field(), filling([*left, (3, 6)], ROWS, COLUMNS))
    assert np.isnan(out[:, :4]).all()
    assert np.isfinite(out[:, 4:]).all()


def test_a_sole_that_ends_before_the_panels_edge_has_no_dead_cells_there():
    """One foot stands nearer to the edge than the other: four cells of its edge carry nothing, and one cell is dead."""
    force = np.zeros((1, ROWS, COLUMNS))
    force[0, 1:13] = 10.0
    force[0, 1:5, 3] = 0.0
    assert dead_cells(force, 4) == ()
    force[0, 8, 3] = 0.0
    assert dead_cells(force, 4) == ((8, 3),)
