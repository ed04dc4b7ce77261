"""The mat's electrical network, solved forward by Kirchhoff's laws: conductances and pins in, node voltages out."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def side_matrix(side: FloatArray | None, columns: int) -> FloatArray:
    """Conductance matrix of the paths between neighbouring columns.

    Parameters
    ----------
    side : (C-1,) array or None
        Conductance between column c and c + 1, S.
    columns : int
        C.

    Returns
    -------
    (C, C) array
        To be added to the columns' part of the node matrix, S.
    """
    out = np.zeros((columns, columns))
    if side is not None:
        i = np.arange(columns - 1)
        out[i, i] += side
        out[i + 1, i + 1] += side
        out[i, i + 1] -= side
        out[i + 1, i] -= side
    return out


def column_voltages(
    conductance: FloatArray,
    rs_ohm: FloatArray,
    r_high_ohm: FloatArray,
    r_low_ohm: FloatArray,
    side: FloatArray | None = None,
) -> FloatArray:
    """Column voltages while one row after the other is driven high and all others low.

    The rows' nodes are eliminated exactly. Selecting row r then changes one row's driver, a rank-one change of the
    columns' matrix S, so one factorisation of S serves all rows (Sherman and Morrison).

    Parameters
    ----------
    conductance : (n, R, C) array
        Film conductances, S.
    rs_ohm : (C,) array
        Resistor from each column to 0 V.
    r_high_ohm, r_low_ohm : (R,) array
        A row's driver resistance when its pin is high and when it is low, series resistor included.
    side : (C-1,) array, optional
        Conductance between neighbouring columns, S.

    Returns
    -------
    (n, R, C) array
        Voltage of column c while row r is selected, as a fraction of the supply.
    """
    g = np.asarray(conductance, dtype=np.float64)
    total = g.sum(axis=2)
    at_low = 1.0 / r_low_ohm + total
    at_high = 1.0 / r_high_ohm + total
    schur = column_matrix(g, rs_ohm, at_low, side)
    spread = np.linalg.solve(schur, g.transpose(0, 2, 1))
    own = np.einsum("nkc,nck->nk", g, spread)
    change = 1.0 / at_low - 1.0 / at_high
    factor = 1.0 / (r_high_ohm * at_high) / (1.0 + change * own)
    out: FloatArray = spread.transpose(0, 2, 1) * factor[:, :, None]
    return out


def column_matrix(g: FloatArray, rs_ohm: FloatArray, at_rows: FloatArray, side: FloatArray | None) -> FloatArray:
    """Columns' matrix after the rows' nodes are eliminated.

    Parameters
    ----------
    g : (n, R, C) array
        Film conductances, S.
    rs_ohm : (C,) array
        Column resistors.
    at_rows : (n, R) array
        Sum of all conductances at each row's node, its driver's included, S.
    side : (C-1,) array or None
        Conductance between neighbouring columns, S.

    Returns
    -------
    (n, C, C) array
        S.
    """
    columns = g.shape[2]
    out: FloatArray = -((g / at_rows[:, :, None]).transpose(0, 2, 1) @ g)
    i = np.arange(columns)
    out[:, i, i] += 1.0 / rs_ohm + g.sum(axis=1)
    if side is not None:
        out += side_matrix(side, columns)
    return out


def node_voltages(
    conductance: FloatArray,
    rs_ohm: FloatArray,
    drive_s: FloatArray,
    source: FloatArray,
    side: FloatArray | None = None,
    row_links: FloatArray | None = None,
) -> FloatArray:
    """All node voltages for any setting of the pins: the whole node matrix, solved densely.

    Parameters
    ----------
    conductance : (n, R, C) array
        Film conductances, S.
    rs_ohm : (C,) array
        Resistor from each column to 0 V.
    drive_s : (S, R) array
        For each of S pin settings, the sum of the conductances that tie a row's node to the pins, S. Must be above
        zero for a node that nothing else holds.
    source : (S, R) array
        For each setting, the current these conductances would drive into the node at 0 V: the sum of conductance times
        pin voltage as a fraction of the supply, S.
    side : (C-1,) array, optional
        Conductance between neighbouring columns, S.
    row_links : (R, R) array, optional
        Symmetric conductances between rows (joined or damp rows), S; the diagonal is ignored.

    Returns
    -------
    (n, S, R + C) array
        Voltages of the row nodes, then of the column nodes, as fractions of the supply.
    """
    g = np.asarray(conductance, dtype=np.float64)
    n, rows, columns = g.shape
    base = np.zeros((n, rows + columns, rows + columns))
    base[:, :rows, rows:] = -g
    base[:, rows:, :rows] = -g.transpose(0, 2, 1)
    base[:, rows:, rows:] = side_matrix(side, columns)
    k = np.arange(rows)
    c = np.arange(rows, rows + columns)
    base[:, k, k] += g.sum(axis=2)
    base[:, c, c] += g.sum(axis=1) + 1.0 / rs_ohm
    if row_links is not None:
        links = row_links - np.diag(np.diag(row_links))
        base[:, :rows, :rows] += np.diag(links.sum(axis=1)) - links
    return driven(base, drive_s, source)


def driven(base: FloatArray, drive_s: FloatArray, source: FloatArray) -> FloatArray:
    """Node voltages of a whole node matrix for several settings of the pins.

    Parameters
    ----------
    base : (n, N, N) array
        Node matrix without the pins, S; the rows' nodes come first.
    drive_s, source : (S, R) array
        As for `node_voltages`.

    Returns
    -------
    (n, S, N) array
        Fractions of the supply.
    """
    n, nodes = base.shape[:2]
    settings, rows = drive_s.shape
    k = np.arange(rows)
    matrix = np.repeat(base[:, None], settings, axis=1)
    matrix[:, :, k, k] += drive_s
    right = np.zeros((n, settings, nodes, 1))
    right[:, :, :rows, 0] = source
    return np.asarray(np.linalg.solve(matrix, right)[..., 0], dtype=np.float64)
