"""Tables from conductance to force: their bound against the curves, and what is not a curve."""

import numpy as np
import pytest

from groundtone.calibration.force_curve import Curves
from groundtone.onboard.tables import FORCE_STEP_N, NODES, looked_up, node_conductances, tables_of


def curves_of(exponent, saturation_s=5e-3, spread=0.3):
    rng = np.random.default_rng(7)
    level = np.log(37.0) + rng.normal(0, spread, (16, 8))
    return Curves(level, exponent, 0.0, -2.5, 2.5, saturation_s, 0.0, rng.normal(0, 0.05, (16, 8)), 0.3)


@pytest.mark.parametrize(("exponent", "saturation_s"), [(0.8, np.inf), (1.1, 5e-3), (1.6, 2e-3), (2.0, np.inf)])
def test_forces_lie_within_the_stated_bound(exponent, saturation_s):
    curves = curves_of(exponent, saturation_s)
    tables = tables_of(curves, 1000.0)
    assert tables.worst < 0.02
    # The bound is kept at conductances that nothing was chosen at.
    at = np.exp(np.random.default_rng(1).uniform(np.log(1e-6), np.log(3e-3), 500))
    truth = np.moveaxis(curves.force_n(np.broadcast_to(at[:, None, None], (500, 16, 8))), 0, -1)
    mine = looked_up(tables.force, node_conductances(1000.0), at)
    inside = (truth > 5) & (truth < 700)
    assert np.abs(mine / truth - 1)[inside].max() <= tables.worst + FORCE_STEP_N / 2 / 5
    assert np.sort(np.diff(tables.force.astype(int), axis=-1).ravel())[0] >= 0


def test_a_cell_without_a_curve_reads_nothing():
    curves = curves_of(1.1)
    curves.level[3, 4] = np.nan
    tables = tables_of(curves, 1000.0)
    assert not tables.force[3, 4].any()
    assert tables.force.shape == (16, 8, NODES)
    assert tables.force[3, 5].any()
