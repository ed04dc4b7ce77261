"""How a person's weight falls on the cells, simply: a rectangle for the foot, one for the heel, one for the ball.

Enough to size resistors and currents; all proportions are invented round figures (the ball of the foot from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import LEFT, RIGHT, Layout

FOOT_MM = (270.0, 95.0)
"""Length and width of a shoe's bearing part."""
_HEEL = (0.02, 0.28)
_BALL = (0.60, 0.88)


def _overlap(begin: float, end: float, centres: NDArray[np.float64], pitch: float) -> NDArray[np.float64]:
    """Length of each cell that lies between two places, mm."""
    low, high = np.maximum(begin, centres - pitch / 2), np.minimum(end, centres + pitch / 2)
    out: NDArray[np.float64] = np.maximum(0.0, high - low)
    return out


def foot(layout: Layout, force_n: float, ball_part: float) -> NDArray[np.float64]:
    """Forces of one panel's cells under a foot that stands in its middle.

    Parameters
    ----------
    layout : Layout
    force_n : float
    ball_part : float
        Part of the force under the ball of the foot, 0-1; the rest is under the heel.

    Returns
    -------
    ndarray, shape (rows, columns_per_panel)
        N; their sum is `force_n`.
    """
    length, width = min(FOOT_MM[0], layout.length_mm), min(FOOT_MM[1], layout.width_mm)
    start = (layout.length_mm - length) / 2
    side = (layout.width_mm - width) / 2
    across = _overlap(side, side + width, layout.v_mm, layout.column_pitch_mm)
    out = np.zeros((layout.rows, layout.columns_per_panel))
    for part, (begin, end) in ((1 - ball_part, _HEEL), (ball_part, _BALL)):
        along = _overlap(start + begin * length, start + end * length, layout.u_mm, layout.row_pitch_mm)
        area = np.outer(along, across)
        out += part * force_n * area / area.sum()
    return out


def both(layout: Layout, total_n: float, lead_part: float, ball_part: float) -> NDArray[np.float64]:
    """Forces of all cells, the left foot leading.

    Returns
    -------
    ndarray, shape (rows, columns)
        N.
    """
    feet: dict[int, NDArray[np.float64]] = {
        LEFT: foot(layout, total_n * lead_part, ball_part),
        RIGHT: foot(layout, total_n * (1 - lead_part), ball_part),
    }
    return np.hstack([feet[LEFT], feet[RIGHT]])
