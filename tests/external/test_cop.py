"""Centre of pressure against scipy.ndimage.center_of_mass, which knows nothing of mats."""

import numpy as np
import pytest
from scipy.ndimage import center_of_mass

from groundtone.mat.layout import layout_of
from groundtone.pressure.feet import centres, feet_of, foot_forces


@pytest.mark.parametrize("name", ["reference-16x4", "starter-10x3"])
def test_random_prints(name):
    layout = layout_of(name)
    rng = np.random.default_rng(1)
    force = rng.gamma(0.3, 30.0, (50, layout.rows, layout.columns))
    total, u, v = centres(force, layout, 30.0)
    half = layout.columns_per_panel
    for i in range(50):
        for foot in (0, 1):
            panel = force[i, :, foot * half : (foot + 1) * half]
            row, column = center_of_mass(panel)
            assert total[i, foot] == pytest.approx(panel.sum())
            # Index 0 lies half a pitch inside the panel.
            assert u[i, foot] == pytest.approx((row + 0.5) * layout.row_pitch_mm, rel=1e-12)
            assert v[i, foot] == pytest.approx((column + 0.5) * layout.column_pitch_mm, rel=1e-12)
        one = feet_of(force[i], layout, 30.0)
        assert (one.force_n, one.u_mm, one.v_mm) == (tuple(total[i]), tuple(u[i]), tuple(v[i]))
    np.testing.assert_allclose(foot_forces(force, layout), total, rtol=1e-12)
