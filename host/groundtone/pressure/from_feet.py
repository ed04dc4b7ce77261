"""Forces of a mat that tells each foot's force and centre alone: laid on the cells around that centre.

Whatever looks at a foot as a whole (force, centre, share, positions once the soles are known) sees what the mat told;
nothing else of these cells means anything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundtone.mat.layout import PANELS, Layout
from groundtone.wire.messages import NO_U, NO_V, Feet, FeetFlag

Array = NDArray[np.float64]


def forces_from_feet(force_n: ArrayLike, u: ArrayLike, v: ArrayLike, layout: Layout) -> Array:
    """Forces of cells whose sums and centres are those told.

    Parameters
    ----------
    force_n : array_like, shape (n, 2)
        Of the left and the right foot, N.
    u, v : array_like, shape (n, 2)
        Centre in the panel, cells from the first one's middle, u along the foot from the heel end; NaN for a foot that
        carries too little for one: its force is laid on the panel's middle.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        NaN throughout in a frame whose forces are NaN.
    """
    force = np.asarray(force_n, np.float64)
    rows, columns = layout.rows, layout.columns_per_panel
    out = np.zeros((force.shape[0], rows, len(PANELS) * columns))
    at = np.arange(force.shape[0])
    for panel in range(len(PANELS)):
        along = _within(np.asarray(u, np.float64)[:, panel], rows)
        across = _within(np.asarray(v, np.float64)[:, panel], columns)
        row = np.minimum(along.astype(int), rows - 2)
        column = np.minimum(across.astype(int), columns - 2)
        far, right = along - row, across - column
        for down, part in ((0, 1 - far), (1, far)):
            for over, share in ((0, 1 - right), (1, right)):
                out[at, row + down, panel * columns + column + over] += force[:, panel] * part * share
    out[np.isnan(force).any(axis=1)] = np.nan
    return out


def told_feet(feet: Sequence[Feet]) -> tuple[Array, Array, Array]:
    """Forces, N, and centres, cells, of feet messages, each of shape (n, 2); NaN where a message knows nothing."""
    told = np.array(
        [[m.left_force, m.right_force, m.left_u, m.right_u, m.left_v, m.right_v, m.flags] for m in feet], np.float64
    ).reshape(-1, 7)
    force, u, v = told[:, 0:2] / 8, told[:, 2:4].copy(), told[:, 4:6].copy()
    u[u == NO_U], v[v == NO_V] = math.nan, math.nan
    force[told[:, 6].astype(int) & FeetFlag.UNKNOWN > 0] = math.nan
    return force, u / 256, v / 64


def _within(places: Array, count: int) -> Array:
    """Places on the panel; its middle where there is none."""
    return np.clip(np.where(np.isfinite(places), places, (count - 1) / 2), 0.0, count - 1.0)
