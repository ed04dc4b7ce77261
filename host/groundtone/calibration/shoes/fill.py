"""Dead cells filled from their neighbours, within their panel.

A dead cell takes the weighted mean of the cells beside it, along and across, each weighted by one over the square of
its distance: the nearest neighbour along the foot counts three times as much as the one across on the reference
pitches. Dead cells side by side are solved together, so that each is the mean of what lies around them (a discrete
harmonic interpolation; the mean-value property of Laplace's equation). What comes out is a guess that is as smooth as
it can be: the uncertainty budget widens for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PITCH_MM = (20.0, 35.0)
"""Row and column pitch of the reference build; only their ratio counts."""


@dataclass(frozen=True)
class Filling:
    """How dead cells follow from the others.

    Attributes
    ----------
    dead : ndarray of int, shape (dead cells,)
        Flat index, row · columns + column.
    matrix : ndarray, shape (dead cells, cells)
        Each row adds up to 1 and is 0 on dead cells; NaN all along where a whole panel is dead.
    """

    dead: NDArray[np.intp]
    matrix: NDArray[np.float64]


def filling(
    dead: Sequence[tuple[int, int]],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    pitch_mm: tuple[float, float] = PITCH_MM,
) -> Filling:
    """The filling for given dead cells.

    Parameters
    ----------
    dead : sequence of (row, column)
    rows, columns : int
        Of the whole mat.
    panels : int
        Equal parts of the columns; nothing is carried over from one to the next.
    pitch_mm : tuple of float
        Along and across.
    """
    places = sorted({(int(row), int(column)) for row, column in dead})
    index = np.array([row * columns + column for row, column in places], np.intp)
    number = {place: i for i, place in enumerate(places)}
    across = columns // panels if panels > 0 and columns % panels == 0 else columns
    among, from_alive = np.eye(len(places)), np.zeros((len(places), rows * columns))
    for i, (row, column) in enumerate(places):
        beside = [
            (r, c, 1 / pitch**2)
            for r, c, pitch in (
                (row - 1, column, pitch_mm[0]),
                (row + 1, column, pitch_mm[0]),
                (row, column - 1, pitch_mm[1]),
                (row, column + 1, pitch_mm[1]),
            )
            if 0 <= r < rows and 0 <= c < columns and c // across == column // across
        ]
        total = sum(weight for *_, weight in beside)
        for r, c, weight in beside:
            if (r, c) in number:
                among[i, number[r, c]] -= weight / total
            else:
                from_alive[i, r * columns + c] += weight / total
    try:
        matrix = np.asarray(np.linalg.solve(among, from_alive), np.float64)
    except np.linalg.LinAlgError:
        # Only a panel without a single living cell has no answer; the other panel keeps its own.
        matrix = np.asarray(np.linalg.pinv(among) @ from_alive, np.float64)
    matrix[np.abs(matrix.sum(1) - 1) > 1e-6] = np.nan
    return Filling(index, matrix)


def filled(force_n: NDArray[np.float64], how: Filling) -> NDArray[np.float64]:
    """Forces with the dead cells filled.

    Parameters
    ----------
    force_n : ndarray, shape (..., rows, columns)
        N; what stands on dead cells does not matter.
    how : Filling

    Returns
    -------
    ndarray, same shape
        A copy. A dead cell is NaN where a neighbour that it needs is NaN.
    """
    out = force_n.copy()
    if not how.dead.size:
        return out
    flat = out.reshape(*out.shape[:-2], -1)
    needed = np.flatnonzero(np.isnan(how.matrix).any(0) | (how.matrix != 0).any(0))
    flat[..., how.dead] = flat[..., needed] @ how.matrix[:, needed].T
    return out
