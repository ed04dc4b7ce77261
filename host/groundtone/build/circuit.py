"""The mat as a circuit with what can go wrong in it: currents in every pin, also with rows joined or under water.

Nodal analysis (Kirchhoff's current law at every row and column), one row high and the others low. For the mat in
working order it gives the same as `groundtone.mat.network`, which cannot have rows joined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.network import Drivers

Join = tuple[int, int, float]
"""Two rows and the resistance between them, Ω."""


@dataclass(frozen=True)
class Currents:
    """What flows while each row in turn is high.

    Attributes
    ----------
    reading : ndarray, shape (rows, columns)
        Columns as fractions of the supply.
    high_a : ndarray, shape (rows,)
        Out of the high pin, A.
    sunk_a : ndarray, shape (rows, rows)
        Into each low pin, A; 0 for the high one.
    """

    reading: NDArray[np.float64]
    high_a: NDArray[np.float64]
    sunk_a: NDArray[np.float64]


def currents(
    conductance_s: NDArray[np.float64], drivers: Drivers, supply_v: float, joins: Sequence[Join] = ()
) -> Currents:
    """Readings and pin currents of known cells.

    Parameters
    ----------
    conductance_s : ndarray, shape (rows, columns)
        S.
    drivers : Drivers
    supply_v : float
    joins : sequence of Join
        Resistances between rows that should not be there.
    """
    rows, columns = conductance_s.shape
    nodal = np.zeros((rows + columns, rows + columns))
    nodal[:rows, rows:] = -conductance_s
    nodal[rows:, :rows] = -conductance_s.T
    nodal[np.arange(rows), np.arange(rows)] = conductance_s.sum(1)
    column = rows + np.arange(columns)
    nodal[column, column] = 1 / drivers.pulldown_ohm + conductance_s.sum(0)
    for a, b, ohm in joins:
        nodal[[a, b], [a, b]] += 1 / ohm
        nodal[[a, b], [b, a]] -= 1 / ohm
    stack = np.repeat(nodal[None], rows, axis=0)
    row = np.arange(rows)
    driver = np.repeat(1 / drivers.low_ohm[None], rows, axis=0)
    driver[row, row] = 1 / drivers.high_ohm
    stack[:, row, row] += driver
    fed = np.zeros((rows, rows + columns, 1))
    fed[row, row, 0] = supply_v / drivers.high_ohm
    volts = np.linalg.solve(stack, fed)[:, :, 0]
    high = (supply_v - volts[row, row]) * driver[row, row]
    sunk = volts[:, :rows] * driver
    sunk[row, row] = 0.0
    return Currents(volts[:, rows:] / supply_v, high, sunk)
