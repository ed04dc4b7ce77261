"""The forward network against circuits worked out by hand and against Kirchhoff's laws."""

import numpy as np

from groundtone.twin.network import column_voltages, node_voltages


def grids(seed, n=5, rows=16, columns=8):
    rng = np.random.default_rng(seed)
    g = 10.0 ** rng.uniform(-6.0, -3.3, (n, rows, columns))
    return g, rng.uniform(900, 1100, columns), rng.uniform(120, 190, rows), rng.uniform(100, 150, rows)


def test_one_cell_is_a_divider():
    v = column_voltages(np.array([[[1e-3]]]), np.array([1000.0]), np.array([155.0]), np.array([130.0]))
    assert abs(v[0, 0, 0] - 1000.0 / (1000.0 + 1000.0 + 155.0)) < 1e-15


def test_two_rows_and_one_column_by_hand():
    # Row 0 high through 150 + 2000 Ω; the column sees 1000 Ω beside the other row's 4000 + 100 Ω.
    g = np.array([[[1 / 2000], [1 / 4000]]])
    v = column_voltages(g, np.array([1000.0]), np.array([150.0, 160.0]), np.array([110.0, 100.0]))
    beside = 1.0 / (1.0 / 1000.0 + 1.0 / 4100.0)
    assert abs(v[0, 0, 0] - beside / (beside + 2150.0)) < 1e-15
    beside = 1.0 / (1.0 / 1000.0 + 1.0 / 2110.0)
    assert abs(v[0, 1, 0] - beside / (beside + 4160.0)) < 1e-15


def test_ideal_drivers_leave_the_closed_form():
    g, rs, _, _ = grids(1)
    tiny = np.full(16, 1e-9)
    v = column_voltages(g, rs, tiny, tiny)
    np.testing.assert_allclose(v, g / (1.0 / rs + g.sum(axis=1))[:, None, :], rtol=1e-8)


def test_currents_balance_at_every_node():
    g, rs, high, low = grids(2)
    side = np.array([1e-4, 2e-4, 0.5e-4, 0.0, 1e-4, 0.3e-4, 1e-4])
    v = column_voltages(g, rs, high, low, side)
    for r in range(16):
        drive = 1.0 / low
        drive[r] = 1.0 / high[r]
        pin = np.zeros(16)
        pin[r] = 1.0
        # The row nodes follow from the columns; then what flows into each column must flow out of it.
        u = (np.einsum("nkc,nc->nk", g, v[:, r]) + drive * pin) / (g.sum(axis=2) + drive)
        into = np.einsum("nkc,nkc->nc", g, u[:, :, None] - v[:, r][:, None, :]) - v[:, r] / rs
        across = side * np.diff(v[:, r], axis=1)
        into[:, :-1] += across
        into[:, 1:] -= across
        assert np.abs(into).max() < 1e-16
        power_in = (drive[r] * (1.0 - u[:, r])).sum()
        spent = (g * (u[:, :, None] - v[:, r][:, None, :]) ** 2).sum() + (v[:, r] ** 2 / rs).sum()
        spent += (drive * (pin - u) ** 2).sum() + (side * np.diff(v[:, r], axis=1) ** 2).sum()
        assert abs(power_in - spent) < 1e-12 * power_in


def test_fast_and_dense_solutions_agree():
    g, rs, high, low = grids(3)
    side = np.full(7, 5e-5)
    drive = np.tile(1.0 / low, (16, 1))
    np.fill_diagonal(drive, 1.0 / high)
    nodes = node_voltages(g, rs, drive, np.diag(1.0 / high), side)
    np.testing.assert_allclose(column_voltages(g, rs, high, low, side), nodes[:, :, 16:], rtol=1e-12)


def test_row_links_join_two_rows():
    # Row 0 is driven through 100 Ω, row 1 only joined to it through 50 Ω; one cell of 1 kΩ from row 1 to Rs of 1 kΩ.
    links = np.array([[0.0, 1 / 50], [1 / 50, 0.0]])
    drive = np.array([[1 / 100, 1e-15]])
    g = np.array([[[0.0], [1e-3]]])
    nodes = node_voltages(g, np.array([1000.0]), drive, np.array([[1 / 100, 0.0]]), None, links)[0, 0]
    np.testing.assert_allclose(nodes, np.array([2050.0, 2000.0, 1000.0]) / 2150.0, rtol=1e-9)
