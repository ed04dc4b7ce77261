"""Which cells are ill, from readings of an empty mat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# On an empty mat a cell of the reference film stays far below this; a stuck or pressed one lies above it.
STUCK_S = 20e-6
# Standard deviation of a quiet cell's conductance is below 1 µS at 12 bits; ten times that is a bad joint.
NOISY_S = 5e-6


@dataclass(frozen=True)
class CellFault:
    """One ill cell and what is wrong with it."""

    row: int
    column: int
    what: str


def faults_when_empty(conductance_s: NDArray[np.float64]) -> list[CellFault]:
    """Cells that are not as an empty mat's should be.

    Parameters
    ----------
    conductance_s : ndarray, shape (n, rows, columns)
        n frames of an empty mat, at least 5.

    Returns
    -------
    list of CellFault
        "stuck" (conducts without a load) or "noisy". Dead cells cannot be seen on an empty mat.
    """
    if conductance_s.shape[0] < 5:
        raise ValueError("at least 5 frames are needed to judge a mat")
    level, spread = np.nanmedian(conductance_s, axis=0), np.nanstd(conductance_s, axis=0)
    out = []
    for row, column in zip(*np.nonzero((level > STUCK_S) | (spread > NOISY_S)), strict=True):
        what = "stuck" if level[row, column] > STUCK_S else "noisy"
        out.append(CellFault(int(row), int(column), what))
    return out
