"""The film and its meter: blocks are frames, dead cells are filled, uncertainty by hand."""

import numpy as np
import pytest

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.force_curve import typical_curves

FILM = Film(typical_curves(16, 8), 0.03, 0.09)


def session(seed=1, frames=700):
    """Uneven frame times and conductances that rise and fall on every cell."""
    rng = np.random.default_rng(seed)
    t = np.cumsum(rng.uniform(0.004, 0.02, frames))
    g = 3e-4 * np.abs(np.sin(t[:, None, None] * rng.uniform(0.3, 3, (16, 8)) + rng.uniform(0, 6, (16, 8))))
    return t, g + rng.normal(0, 3e-7, g.shape)


def frame_by_frame(film, t, g):
    meter = ForceMeter(film)
    return np.stack([meter.force_n(float(a), b) for a, b in zip(t, g, strict=True)])


@pytest.mark.parametrize("film", [FILM, Film(typical_curves(16, 8), 0.03), Film(typical_curves(16, 8), 0.0, 0.09)])
def test_a_block_is_its_frames(film):
    t, g = session()
    expected = frame_by_frame(film, t, g)
    np.testing.assert_allclose(ForceMeter(film).forces_n(t, g), expected, rtol=1e-9, atol=1e-9)
    # In pieces of any length, and block and frame in turns.
    meter = ForceMeter(film)
    out = [meter.forces_n(t[:1], g[:1]), meter.forces_n(t[1:130], g[1:130])]
    out += [meter.force_n(float(t[130]), g[130])[None], meter.forces_n(t[131:], g[131:])]
    np.testing.assert_allclose(np.concatenate(out), expected, rtol=1e-9, atol=1e-9)


def test_a_block_with_lost_cells_and_a_long_gap_is_its_frames():
    t, g = session(2)
    g[100:140, 3, 2] = np.nan
    g[300:310] = np.nan
    g[:, 9, 7] = np.nan
    t[400:] += 1000.0
    expected = frame_by_frame(FILM, t, g)
    out = ForceMeter(FILM).forces_n(t, g)
    np.testing.assert_array_equal(np.isnan(out), np.isnan(g))
    np.testing.assert_allclose(out, expected, rtol=1e-9, atol=1e-9)


def test_an_empty_block():
    assert ForceMeter(FILM).forces_n(np.zeros(0), np.zeros((0, 16, 8))).shape == (0, 16, 8)


def test_dead_cells_are_filled_live_and_in_blocks():
    film = Film(typical_curves(16, 8), 0.03, 0.09, dead=((5, 2), (0, 4)))
    t, g = session(3, 60)
    g[:, 5, 2] = 0.0
    g[:, 0, 4] = np.nan
    whole = frame_by_frame(Film(typical_curves(16, 8), 0.03, 0.09), t, g)
    out = frame_by_frame(film, t, g)
    np.testing.assert_allclose(ForceMeter(film).forces_n(t, g), out, rtol=1e-9, atol=1e-9)
    along, across = 1 / 20**2, 1 / 35**2
    mean = (
        (along * (whole[:, 4, 2] + whole[:, 6, 2]) + across * (whole[:, 5, 1] + whole[:, 5, 3])) / 2 / (along + across)
    )
    np.testing.assert_allclose(out[:, 5, 2], mean, rtol=1e-12)
    corner = (along * whole[:, 1, 4] + across * whole[:, 0, 5]) / (along + across)
    np.testing.assert_allclose(out[:, 0, 4], corner, rtol=1e-12)


def test_a_dead_cell_is_filled_by_the_mats_own_pitch():
    film = Film(typical_curves(10, 6), dead=((4, 1),))
    g = np.random.default_rng(2).uniform(1e-5, 3e-4, (10, 6))
    out = ForceMeter(film, (32.0, 46.0)).force_n(0.0, g)
    along, across = 1 / 32**2, 1 / 46**2
    mean = (along * (out[3, 1] + out[5, 1]) + across * (out[4, 0] + out[4, 2])) / (2 * along + 2 * across)
    assert out[4, 1] == pytest.approx(mean, rel=1e-12)
    assert ForceMeter(film).force_n(0.0, g)[4, 1] != pytest.approx(mean, rel=1e-3)
