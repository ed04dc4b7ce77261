"""The resistive network: what the columns read for given cells, and the cells for given readings.

One row is driven high (through R_high), every other row low (through R_low); each column has a pull-down Rs. With
g = 1/R_low, G the cells' conductances and D_k = Σ_c G[k,c], eliminating the rows from Kirchhoff's equations leaves a
symmetric 8 × 8 matrix for the columns,

    Q = diag(γ) − Gᵀ diag(1/(g + D)) G,      γ_c = Gs_c + Σ_k G[k,c],

and with v[r,c] the reading of column c while row r is high, and s_r the factor by which a high driver that differs
from a low one changes it (v° = s·v is what low-like drivers would give),

    G = diag(a) v° Q,      a_k = 1 + D_k/g_k = 1 / (1 − Σ_c (v° Q)[k,c] / g_k).

Three facts make this an inverse that needs no equation solver: the off-diagonal of Q is −[Bᵀ diag(a/g) B] with
B = v° Q (small, second order); its diagonal follows from the current law of the columns, Q (1 − Σ_r v°_r) = Gs; and s
follows from the driving-point resistance z_r = 1/(g_r a_r) + Σ_c B[r,c] v°[r,c] / g_r². Repeating the three
converges about thirteenfold a turn on the hardest grids of the reference build. With ideal drivers Q is diagonal and
the first turn is the closed form G = Gs v / (1 − Σ v). Derived for this project; checked against a dense nodal
solution and ngspice (tests/external).

The pull-down stands on the panels' side of the resistor before each multiplexer input, and the converter takes next to
no current: so that resistor, the switch and the one behind it carry none, and are in no equation here (what they cost
in time, and what the converter's sampling takes at most, is in groundtone.build.protection). A row's resistor is part
of its driver and is measured with it: a mat with 100 Ω there and one with 220 Ω go through the same algebra.

Neglected on purpose: capacitance (the mat measures how long its columns take once a row has moved, and waits for it).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# A column whose readings add up to this fraction of the supply leaves nothing to tell its cells apart by:
# noise is amplified twentyfold and more.
SUM_LIMIT = 0.95

# From a cold start no frame of the reference build is done sooner; their movement need not be looked at.
_SURE_TURNS = 4


@dataclass(frozen=True)
class Drivers:
    """Resistances between the supply (or ground) and the row lines, Ω, series resistor included; and pull-downs.

    Attributes
    ----------
    high_ohm, low_ohm : ndarray, shape (rows,)
        Of a row's driver while it is high, and while it is low.
    pulldown_ohm : ndarray, shape (columns,)
        Rs of each column.
    """

    high_ohm: FloatArray
    low_ohm: FloatArray
    pulldown_ohm: FloatArray

    @staticmethod
    def equal(rows: int, columns: int, high_ohm: float, low_ohm: float, pulldown_ohm: float) -> Drivers:
        """The same resistances for every row and every column."""
        return Drivers(np.full(rows, high_ohm), np.full(rows, low_ohm), np.full(columns, pulldown_ohm))


def readings(conductance_s: FloatArray, drivers: Drivers) -> FloatArray:
    """Column readings of known cells: the dense nodal solution.

    Parameters
    ----------
    conductance_s : ndarray, shape (n, rows, columns)
        Conductance of each cell, S.

    Returns
    -------
    ndarray, shape (n, rows, columns)
        [i, r, c]: voltage of column c while row r is high, as a fraction of the rows' supply.
    """
    n, rows, columns = conductance_s.shape
    low, high = 1 / drivers.low_ohm, 1 / drivers.high_ohm
    row, column = np.arange(rows), rows + np.arange(columns)
    nodal = np.zeros((n, rows + columns, rows + columns))
    nodal[:, :rows, rows:] = -conductance_s
    nodal[:, rows:, :rows] = -conductance_s.transpose(0, 2, 1)
    nodal[:, row, row] = low + conductance_s.sum(2)
    nodal[:, column, column] = 1 / drivers.pulldown_ohm + conductance_s.sum(1)
    unit = np.broadcast_to(np.eye(rows + columns, rows), (n, rows + columns, rows))
    response = np.linalg.solve(nodal, unit)
    # The high driver of the selected row differs from its low one: a change of one diagonal element (Sherman-Morrison).
    gain = high / (1 + (high - low) * response[:, row, row])
    return np.ascontiguousarray((response[:, rows:, :] * gain[:, None, :]).transpose(0, 2, 1))


@dataclass(frozen=True)
class Start:
    """Where an inversion ended, from which the next one, of a reading close by, may start.

    Attributes
    ----------
    coupling : ndarray, shape (n, columns, columns)
        Q of the module's text.
    scale : ndarray, shape (n, rows)
        s of the module's text.
    """

    coupling: FloatArray
    scale: FloatArray


def conductances(
    reading: FloatArray, drivers: Drivers, *, tolerance: float = 1e-8, turns: int = 60, start: Start | None = None
) -> tuple[FloatArray, Start]:
    """Cells' conductances from the columns' readings: the exact inverse of `readings`.

    Parameters
    ----------
    reading : ndarray, shape (n, rows, columns)
        Fractions of the rows' supply. Small negative values (noise) are allowed.
    tolerance : float
        A frame is done when no column's γ moved by more than this fraction in the last turn. What is left then is
        smaller by the next turn's factor of about thirteen.
    turns : int
        The most turns taken.
    start : Start, optional
        From the frame before; saves turns.

    Returns
    -------
    conductance : ndarray, shape (n, rows, columns)
        S. NaN throughout a frame that has NaN readings, a column whose readings add up to more than SUM_LIMIT, that
        did not converge, or whose solution has a cell below -1/Rs: such a reading belongs to no passive network, or
        noise would swamp it.
    start : Start
        For the next call.
    """
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        # Readings of no network may run away; they end as NaN.
        bad = ~(np.abs(reading.sum(1)).max(1) < SUM_LIMIT)
        if bad.any():
            reading = np.where(bad[:, None, None], 0.0, reading)
        return _solve(reading, bad, _Network(drivers), tolerance, turns, start)


def _solve(
    reading: FloatArray, bad: NDArray[np.bool_], network: _Network, tolerance: float, turns: int, start: Start | None
) -> tuple[FloatArray, Start]:
    """`conductances` without its guards; frames marked `bad` give NaN."""
    frames = reading.shape[0]
    by_column = np.ascontiguousarray(reading.transpose(0, 2, 1))
    unchecked = 1
    if start is None or start.scale.shape != reading.shape[:2]:
        start = network.first_guess(reading)
        unchecked = _SURE_TURNS
    coupling, scale, moved = network.turns(unchecked, reading, by_column, start.coupling, start.scale)
    left = np.flatnonzero(~(moved <= tolerance))
    # Most frames are done a turn or two before the last: go on with the others alone.
    for _ in range(turns):
        if not left.size:
            break
        if left.size > frames // 2:
            coupling, scale, moved = network.turns(1, reading, by_column, coupling, scale)
        else:
            coupling[left], scale[left], moved[left] = network.turns(
                1, reading[left], by_column[left], coupling[left], scale[left]
            )
        left = left[~(moved[left] <= tolerance)]
    result = network.cells(reading, coupling, scale)
    # Noise makes no cell more negative than a pull-down is positive; a wrong root of the equations does, and wildly.
    bad |= ~(moved <= 100 * tolerance) | ~(result.min((1, 2)) >= -network.pulldown.max())
    if bad.any():
        result[bad] = np.nan
        fresh = network.first_guess(np.zeros_like(reading[bad]))
        coupling[bad], scale[bad] = fresh.coupling, fresh.scale
    return result, Start(coupling, scale)


class _Network:
    """The constants of one set of drivers, and one turn of the inversion on a block of frames."""

    def __init__(self, drivers: Drivers) -> None:
        self._low_ohm = drivers.low_ohm
        self.pulldown = 1 / drivers.pulldown_ohm
        unequal = 1 / drivers.high_ohm - 1 / drivers.low_ohm
        ratio = drivers.high_ohm / drivers.low_ohm
        # s = s0 - s1 s Σ(v Q) + s1 s² Σ(v Q v): the driving-point resistance put into the scale's definition.
        self._s0 = ratio * (1 + unequal * drivers.low_ohm)
        self._s1 = ratio * unequal * drivers.low_ohm**2
        self._ones = np.ones(drivers.pulldown_ohm.size)

    def first_guess(self, reading: FloatArray) -> Start:
        """Ideal drivers: Q diagonal."""
        frames, _, columns = reading.shape
        scale = np.broadcast_to(self._s0, reading.shape[:2]).copy()
        coupling = np.zeros((frames, columns, columns))
        _diagonal(coupling)[:] = self.pulldown / (1 - (scale[:, None, :] @ reading)[:, 0])
        return Start(coupling, scale)

    def turns(
        self, count: int, reading: FloatArray, by_column: FloatArray, coupling: FloatArray, scale: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Q and s after `count` more turns, and by which fraction γ moved at most in the last one, shape (n,).

        `by_column` is the reading with rows and columns exchanged, contiguous: products with it are several times as
        fast as with a transposed view.
        """
        before = coupling
        for _ in range(count):
            before = coupling
            flow = reading @ coupling
            rise, scale = self._rise(reading, flow, scale)
            remaining = 1 - (by_column @ scale[:, :, None])[:, :, 0]
            flow *= (scale * rise * self._low_ohm)[:, :, None]
            coupling = coupling @ (by_column @ flow)
            diagonal = _diagonal(coupling)
            diagonal[:] = 0
            settled = (self.pulldown + (coupling @ remaining[:, :, None])[:, :, 0]) / remaining
            np.negative(coupling, out=coupling)
            diagonal[:] = settled
        moved: FloatArray = np.abs(_diagonal(coupling) / _diagonal(before) - 1).max(1)
        return coupling, scale, moved

    def cells(self, reading: FloatArray, coupling: FloatArray, scale: FloatArray) -> FloatArray:
        """G = diag(a) v° Q."""
        flow = reading @ coupling
        rise, _ = self._rise(reading, flow, scale)
        flow *= rise[:, :, None]
        return flow

    def _rise(self, reading: FloatArray, flow: FloatArray, scale: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The products a·s, and s: one Newton step for s, whose equation is a quadratic for each row."""
        row_flow, row_power = flow @ self._ones, (flow * reading) @ self._ones
        power = self._s1 * scale * row_power
        scale = (self._s0 - scale * power) / (1 + self._s1 * row_flow - 2 * power)
        return scale / (1 - scale * row_flow * self._low_ohm), scale


def _diagonal(square: FloatArray) -> FloatArray:
    """A view of the diagonals of a stack of square matrices, shape (n, columns)."""
    frames, columns, _ = square.shape
    return square.reshape(frames, -1)[:, :: columns + 1]


def pin_current_a(
    conductance_s: FloatArray, reading: FloatArray, drivers: Drivers, supply_v: float
) -> tuple[FloatArray, FloatArray]:
    """Current through each row's pin while it is high, and the largest into it while it is low, A.

    Parameters
    ----------
    conductance_s, reading : ndarray, shape (n, rows, columns)

    Returns
    -------
    high, low : ndarray, shape (n, rows)
    """
    rows = conductance_s.shape[1]
    each = np.eye(rows)
    into = np.einsum("nkc,nrc->nrk", conductance_s, reading)
    high, low = 1 / drivers.high_ohm, 1 / drivers.low_ohm
    driver = np.where(each > 0, high, low)
    volts = (each * high + into) / (driver + conductance_s.sum(2)[:, None, :])
    current = supply_v * driver * (each - volts)
    high_current = np.einsum("nrr->nr", current)
    sunk = np.where(each > 0, 0.0, -current)
    return high_current, sunk.max(1)
