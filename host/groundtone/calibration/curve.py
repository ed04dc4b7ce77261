"""Force from conductance: one curve for the film, one gain a cell.

With x = ln(G / 100 µS),   ln F = level[cell] + exponent·x + bend·x²

`exponent` and `bend` belong to the film and are pooled over all cells, `level` is the cell's own. `bend` takes up the
beginning saturation of the film. Outside the range of x that was calibrated the curve goes on straight in x, and near
nothing it runs straight through the origin, so that the noise of an empty cell averages out instead of adding up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

UNIT_S = 100e-6
# Below this, about 1 N on the reference film and a few times the noise, force goes straight with conductance.
_STRAIGHT_S = 2e-6


@dataclass(frozen=True)
class Curves:
    """The curves of all cells of one mat.

    Attributes
    ----------
    level : ndarray, shape (rows, columns)
        ln of the force in N at 100 µS. NaN marks a cell without a curve.
    exponent, bend : float
    x_low, x_high : float
        Calibrated range of x = ln(G / 100 µS).
    """

    level: NDArray[np.float64]
    exponent: float
    bend: float
    x_low: float
    x_high: float

    def force_n(self, conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces of cells.

        Parameters
        ----------
        conductance_s : ndarray, shape (..., rows, columns)
            S; small negative values (noise) give small negative forces.

        Returns
        -------
        ndarray, same shape
            N. NaN in, NaN out; a cell without a curve gives NaN.
        """
        size = np.abs(conductance_s)
        x = np.log(np.maximum(size, _STRAIGHT_S) / UNIT_S)
        inside = np.minimum(np.maximum(x, self.x_low), self.x_high)
        slope = self.exponent + 2 * self.bend * inside
        log_force = self.level + inside * (self.exponent + self.bend * inside) + slope * (x - inside)
        straight = np.minimum(size / _STRAIGHT_S, 1.0)
        force: NDArray[np.float64] = np.copysign(np.exp(log_force) * straight, conductance_s)
        return force


def typical_curves(rows: int, columns: int) -> Curves:
    """The film's typical curve for every cell, for a mat that has not been calibrated (invented figures)."""
    return Curves(np.full((rows, columns), np.log(37.0)), 1.1, 0.0, np.log(0.02), np.log(5.0))
