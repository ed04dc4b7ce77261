"""A second way to solve the mat's network: one sparse matrix of all nodes for each selected row, nothing shared."""

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve


def solve(parts, held):
    """Node voltages of a network of resistors.

    `parts` are (node, node, conductance), `held` the nodes of known voltage; nodes are any names. Kirchhoff's current
    law is written down at every node that is not held.
    """
    free = sorted({n for a, b, _ in parts for n in (a, b) if n not in held}, key=str)
    place = {node: i for i, node in enumerate(free)}
    at, to, value, current = [], [], [], np.zeros(len(free))
    for a, b, siemens in parts:
        for here, there in ((a, b), (b, a)):
            if here in held:
                continue
            at.append(place[here])
            to.append(place[here])
            value.append(siemens)
            if there in held:
                current[place[here]] += siemens * held[there]
            else:
                at.append(place[here])
                to.append(place[there])
                value.append(-siemens)
    matrix = coo_matrix((value, (at, to)), shape=(len(free), len(free))).tocsc()
    return {**held, **dict(zip(free, spsolve(matrix, current), strict=True))}


def board(g, high, low, pulldown, selected, extra=()):
    """The mat with one row high: its parts, and the voltages of ground and supply as fractions of the supply."""
    rows, columns = g.shape
    parts = [(("row", k), ("column", c), g[k, c]) for k in range(rows) for c in range(columns) if g[k, c] > 0]
    for k in range(rows):
        ohm, end = (high[k], "supply") if k == selected else (low[k], "ground")
        parts.append((("row", k), end, 1 / ohm))
    parts += [(("column", c), "ground", 1 / pulldown[c]) for c in range(columns)]
    return [*parts, *extra], {"ground": 0.0, "supply": 1.0}


def read(g, high, low, pulldown):
    """Readings of all columns, one solution for each selected row, shape (rows, columns)."""
    rows, columns = g.shape
    out = np.empty((rows, columns))
    for r in range(rows):
        volts = solve(*board(g, high, low, pulldown, r))
        out[r] = [volts["column", c] for c in range(columns)]
    return out


def taps(g, high, low, pulldown, reference_ohm, ref_high_ohm, ref_low_ohm):
    """The line of row 0 in the two reference states of the wire's specification: tap high and tap low."""
    line = ("row", 0)
    to_low = (line, "ground", 1 / (reference_ohm + ref_low_ohm))
    to_high = (line, "supply", 1 / (reference_ohm + ref_high_ohm))
    first = solve(*board(g, high, low, pulldown, 0, [to_low]))[line]
    return first, solve(*board(g, high, low, pulldown, 1, [to_high]))[line]
