"""The mat as a SPICE netlist that ngspice runs: every resistor written out, each row high in turn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.build.circuit import Join
from groundtone.mat.network import Drivers


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
    drivers : Drivers
    supply_v : float
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
