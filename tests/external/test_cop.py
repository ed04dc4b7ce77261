"""Centres of pressure against scipy.ndimage.center_of_mass, for every known layout and each panel by itself."""

import numpy as np
import pytest
from scipy.ndimage import center_of_mass

from groundtone.mat.layout import known_layouts
from groundtone.pressure.feet import centres

LAYOUTS = known_layouts()
LEAST_N = 30.0


def by_scipy(panel, layout):
    """Force and centre of one panel; scipy counts in cells from the centre of the first."""
    row, column = center_of_mass(panel)
    return panel.sum(), (row + 0.5) * layout.row_pitch_mm, (column + 0.5) * layout.column_pitch_mm


@pytest.fixture(params=sorted(LAYOUTS))
def layout(request):
    return LAYOUTS[request.param]


def test_random_forces(layout):
    number = np.random.default_rng(9)
    force_n = number.gamma(0.5, 12.0, (50, layout.rows, layout.columns))
    force, u_mm, v_mm = centres(force_n, layout, LEAST_N)
    assert force.shape == u_mm.shape == v_mm.shape == (50, 2)
    half = layout.columns_per_panel
    for i, frame in enumerate(force_n):
        for foot, panel in enumerate((frame[:, :half], frame[:, half:])):
            expected = by_scipy(panel, layout)
            np.testing.assert_allclose((force[i, foot], u_mm[i, foot], v_mm[i, foot]), expected, rtol=1e-12)


def test_one_cell_is_its_own_centre(layout):
    for row in range(layout.rows):
        for column in range(layout.columns):
            force_n = np.zeros((layout.rows, layout.columns))
            force_n[row, column] = 400.0
            foot, across = divmod(column, layout.columns_per_panel)
            force, u_mm, v_mm = centres(force_n, layout, LEAST_N)
            assert force[foot] == 400.0
            assert force[1 - foot] == 0.0
            assert u_mm[foot] == pytest.approx((row + 0.5) * layout.row_pitch_mm, rel=1e-12)
            assert v_mm[foot] == pytest.approx((across + 0.5) * layout.column_pitch_mm, rel=1e-12)
            assert np.isnan([u_mm[1 - foot], v_mm[1 - foot]]).all()


def test_cells_without_a_value_count_as_nothing(layout):
    number = np.random.default_rng(10)
    force_n = number.uniform(5.0, 40.0, (layout.rows, layout.columns))
    holes = number.random(force_n.shape) < 0.2
    force, u_mm, v_mm = centres(np.where(holes, np.nan, force_n), layout, LEAST_N)
    filled, half = np.where(holes, 0.0, force_n), layout.columns_per_panel
    for foot, panel in enumerate((filled[:, :half], filled[:, half:])):
        np.testing.assert_allclose((force[foot], u_mm[foot], v_mm[foot]), by_scipy(panel, layout), rtol=1e-12)


@pytest.mark.parametrize(("total", "known"), [(30.0, True), (29.99, False)])
def test_the_least_force_that_has_a_centre(layout, total, known):
    force_n = np.zeros((layout.rows, layout.columns))
    force_n[1, 0] = total
    _, u_mm, v_mm = centres(force_n, layout, LEAST_N)
    if known:
        np.testing.assert_allclose((u_mm[0], v_mm[0]), by_scipy(force_n[:, : layout.columns_per_panel], layout)[1:])
    else:
        assert np.isnan([u_mm[0], v_mm[0]]).all()
