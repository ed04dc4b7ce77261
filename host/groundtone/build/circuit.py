"""The mat as a circuit with what can go wrong in it: currents in every pin, also with rows joined or under water.

Nodal analysis (Kirchhoff's current law at every row and column), one row high and the others low. For the mat in
working order it gives the same as `groundtone.mat.network`, which cannot have rows joined. The same circuit is written
out as a netlist that ngspice runs.
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


def netlist(
    conductance_s: NDArray[np.float64],
    drivers: Drivers,
    supply_v: float,
    joins: Sequence[Join] = (),
    *,
    title: str = "groundtone mat",
    rows: Sequence[int] | None = None,
) -> str:
    """A netlist whose control part prints all columns and the selected row's current, row by row.

    Parameters
    ----------
    conductance_s : ndarray, shape (rows, columns)
        S; a cell of 0 is left out.
    joins : sequence of Join
        Resistances between rows that should not be there.
    title : str
        First line, what SPICE takes for the name.
    rows : sequence of int, optional
        Rows to select; all without it.

    Returns
    -------
    str
        Nodes: p0… the pins, r0… the rows behind their resistors, c0… the columns.
    """
    count, columns = conductance_s.shape
    lines = [
        title.replace("\n", " "),
        "* run: ngspice -b FILE    nodes: p pins, r rows, c columns; row k is high in block k",
        ".options reltol=1e-12 abstol=1e-18 vntol=1e-15 gmin=1e-18",
    ]
    for k in range(count):
        lines += [f"V{k} p{k} 0 0", f"RD{k} p{k} r{k} {drivers.low_ohm[k]:.17g}"]
        lines += [
            f"RG{k}_{c} r{k} c{c} {1 / conductance_s[k, c]:.17g}" for c in range(columns) if conductance_s[k, c] > 0
        ]
    lines += [f"RS{c} c{c} 0 {drivers.pulldown_ohm[c]:.17g}" for c in range(columns)]
    lines += [f"RJ{i} r{a} r{b} {ohm:.17g}" for i, (a, b, ohm) in enumerate(joins)]
    lines += [".control", "set numdgt=15"]
    for k in range(count) if rows is None else rows:
        lines += [
            f"echo row {k}",
            f"alter V{k} dc = {supply_v:.17g}",
            f"alter RD{k} = {drivers.high_ohm[k]:.17g}",
            "op",
        ]
        lines += [f"print v(c{c})" for c in range(columns)]
        lines += [f"print i(V{n})" for n in range(count)]
        lines += [f"alter V{k} dc = 0", f"alter RD{k} = {drivers.low_ohm[k]:.17g}"]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])
