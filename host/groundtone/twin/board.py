"""The board around the film: drivers, resistors and multiplexer inputs, for every pin setting the firmware makes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.network import FloatArray, column_matrix, column_voltages, driven, node_voltages
from groundtone.twin.scenario import MatSpec
from groundtone.twin.wiring import ABSENT_OHM, Wiring, behind_address, floating_level, line_matrix, make_wiring

INPUTS = 16
ZERO, SUPPLY, TAP = 8, 9, 10
FLOAT, PULL_UP, LOW, HIGH, PULL_DOWN = 0, 1, 2, 3, 4

PULL_OHM = 60e3  # a pin's weak pull, typical for the RP2040 (from memory)
LEAK_S = 1e-12  # what still holds a floating pin
DIGITAL_THRESHOLD = 0.5  # of the supply; a pin's real thresholds lie on both sides of it
DAMP_CELL_S = 5e-6  # invented: a wet mat's leak through each cell and between neighbouring rows at damp = 1
DAMP_ROW_S = 200e-6
SHORT_S = 0.02


@dataclass(frozen=True)
class Board:
    """A board as it was soldered: every part with its own deviation.

    Attributes
    ----------
    rs_ohm : (C,) array
        Column resistors.
    series_ohm : (R,) array
        In each row, between its pin and its line.
    pin_high_ohm, pin_low_ohm : (R + 1,) array
        Resistance of each row's pin, and last that of the pin REF, when high and when low.
    reference_ohm : float
        Between row 0's line and the pin REF.
    side : (C-1,) array or None
        Film between neighbouring columns, S; 0 between the panels.
    row_links : (R, R) array or None
        Joined and damp rows, S.
    cell_leak_s : float
        Added to every cell by damp and by what else leaks, S.
    level : float
        The rows' supply as a fraction of the ADC's reference.
    wiring : Wiring or None
        What is wired wrong; None where all is right.
    """

    rs_ohm: FloatArray
    series_ohm: FloatArray
    pin_high_ohm: FloatArray
    pin_low_ohm: FloatArray
    reference_ohm: float
    side: FloatArray | None
    row_links: FloatArray | None
    cell_leak_s: float
    level: float
    wiring: Wiring | None = None

    @property
    def r_high_ohm(self) -> FloatArray:
        """(R,) driver resistance of a row that is high, series resistor included."""
        out: FloatArray = self.pin_high_ohm[:-1] + self.series_ohm
        return out

    @property
    def r_low_ohm(self) -> FloatArray:
        """(R,) driver resistance of a row that is low, series resistor included."""
        out: FloatArray = self.pin_low_ohm[:-1] + self.series_ohm
        return out


def build_board(mat: MatSpec) -> Board:
    """Draw a board's parts from the mat's seed.

    Resistors deviate with a normal spread of a third of their tolerance, cut at the tolerance.
    """
    rng = np.random.default_rng([mat.seed, 11])
    rows, columns = mat.rows, mat.columns

    def parts(count: int) -> FloatArray:
        return 1.0 + mat.resistor_tolerance * np.clip(rng.standard_normal(count) / 3.0, -1.0, 1.0)

    pins = 1.0 + mat.pin_spread * np.clip(rng.standard_normal((2, rows + 1)), -3.0, 3.0)
    side = None
    if mat.side_ohm is not None:
        side = np.full(columns - 1, 1.0 / mat.side_ohm)
        side[mat.columns_per_panel - 1] = 0.0
    links = None
    if mat.joined_rows or mat.damp > 0.0:
        links = np.zeros((rows, rows))
        for a, b in mat.joined_rows:
            links[a, b] = links[b, a] = 1.0 / mat.joined_ohm
        i = np.arange(rows - 1)
        links[i, i + 1] += mat.damp * DAMP_ROW_S
        links[i + 1, i] += mat.damp * DAMP_ROW_S
    wiring = make_wiring(mat.wiring, rows, mat.columns_per_panel) if mat.wiring else None
    wrong = wiring or make_wiring((), rows, mat.columns_per_panel)
    return Board(
        rs_ohm=np.minimum(mat.rs_ohm * parts(columns) * wrong.pulldown, ABSENT_OHM),
        series_ohm=mat.series_ohm * parts(rows) * wrong.series,
        pin_high_ohm=mat.pin_high_ohm * pins[0],
        pin_low_ohm=mat.pin_low_ohm * pins[1],
        reference_ohm=float(mat.reference_ohm * parts(1)[0]) * wrong.reference,
        side=side,
        row_links=links,
        cell_leak_s=mat.damp * DAMP_CELL_S + mat.leak_s,
        level=mat.supply_v / mat.adc_reference_v,
        wiring=wiring,
    )


def table_voltages(conductance: FloatArray, board: Board) -> FloatArray:
    """Every multiplexer input in every state of a scan.

    Parameters
    ----------
    conductance : (n, R, C) array
        Film conductances, S.
    board : Board

    Returns
    -------
    (n, R + 2, 16) array
        Fractions of the supply. State r: row r high, others low, REF an input. State R: row 0 high, others low, REF
        low. State R + 1: row 1 high, others low, REF high.
    """
    g = conductance + board.cell_leak_s
    n, rows, columns = g.shape
    out = np.zeros((n, rows + 2, INPUTS))
    out[:, :, SUPPLY] = 0.5
    if board.wiring is not None:
        return _wired_table(g, board, board.wiring)
    if board.row_links is not None:
        drive, source = _scan_drives(board, rows)
        nodes = node_voltages(g, board.rs_ohm, drive, source, board.side, board.row_links)
        out[:, :, :columns] = nodes[:, :, rows:]
        out[:, :, TAP] = nodes[:, :, 0]
        return out
    v = column_voltages(g, board.rs_ohm, board.r_high_ohm, board.r_low_ohm, board.side)
    out[:, :rows, :columns] = v
    low, high = 1.0 / board.r_low_ohm, 1.0 / board.r_high_ohm
    into_tap = np.einsum("nc,nrc->nr", g[:, 0], v)
    total = g.sum(axis=2)
    out[:, 1:rows, TAP] = into_tap[:, 1:] / (low[0] + total[:, :1])
    out[:, 0, TAP] = (into_tap[:, 0] + high[0]) / (high[0] + total[:, 0])
    drive, source = _scan_drives(board, rows)
    for state in (rows, rows + 1):
        at_rows = total + drive[state]
        schur = column_matrix(g, board.rs_ohm, at_rows, board.side)
        right = ((source[state] / at_rows)[:, None, :] @ g).transpose(0, 2, 1)
        columns_v = np.linalg.solve(schur, right)[..., 0]
        out[:, state, :columns] = columns_v
        out[:, state, TAP] = (np.einsum("nc,nc->n", g[:, 0], columns_v) + source[state, 0]) / at_rows[:, 0]
    return out


def _wired_table(g: FloatArray, board: Board, wiring: Wiring) -> FloatArray:
    """`table_voltages` of a board that is wired wrong."""
    drive, source = _scan_drives(board, board.series_ohm.size)
    return _inputs(driven(_base(g, board, wiring), drive, source), board, wiring)


def _base(g: FloatArray, board: Board, wiring: Wiring) -> FloatArray:
    """Node matrix of the lines with the pull-downs, without the pins, (n, R + C, R + C)."""
    base = line_matrix(g, wiring, board.side, board.row_links)
    rows, nodes = board.series_ohm.size, base.shape[1]
    c = np.arange(rows, nodes)
    base[:, c, c] += 1.0 / board.rs_ohm
    return base


def _inputs(nodes: FloatArray, board: Board, wiring: Wiring) -> FloatArray:
    """What is read at the multiplexer's 16 addresses, (n, S, 16), from the lines' voltages, (n, S, R + C)."""
    n, states, lines = nodes.shape
    rows = board.series_ohm.size
    out = np.zeros((n, states, INPUTS))
    out[:, :, : lines - rows] = nodes[:, :, rows:]
    out[:, :, SUPPLY] = wiring.divider_level
    out[:, :, TAP] = nodes[:, :, 0]
    open_input = np.array([floating_level(i) for i in range(n * states)]).reshape(n, states)
    if not wiring.tap:
        out[:, :, TAP] = open_input
    if not wiring.zero:
        out[:, :, ZERO] = open_input
    if not wiring.multiplexer:
        out[:] = open_input[:, :, None]
    return behind_address(out, wiring)


def _scan_drives(board: Board, rows: int) -> tuple[FloatArray, FloatArray]:
    """Drive conductances and source currents of the R + 2 states of a scan, (R + 2, R) each."""
    drive = np.tile(1.0 / board.r_low_ohm, (rows + 2, 1))
    source = np.zeros((rows + 2, rows))
    for state, row in [*((r, r) for r in range(rows)), (rows, 0), (rows + 1, 1)]:
        drive[state, row] = source[state, row] = 1.0 / board.r_high_ohm[row]
    drive[rows, 0] += 1.0 / (board.reference_ohm + board.pin_low_ohm[-1])
    from_ref = 1.0 / (board.reference_ohm + board.pin_high_ohm[-1])
    drive[rows + 1, 0] += from_ref
    source[rows + 1, 0] += from_ref
    return drive, source


def probe_voltages(
    conductance: FloatArray, board: Board, row_states: bytes, ref_state: int
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Multiplexer inputs and digital levels for any pin setting.

    Parameters
    ----------
    conductance : (R, C) array
        Film conductances, S.
    board : Board
    row_states : bytes
        R pin states: 0 input, 1 input with pull-up, 2 output low, 3 output high, 4 input with pull-down.
    ref_state : int
        State of the pin REF, same codes.

    Returns
    -------
    voltages : (16,) array
        Multiplexer inputs as fractions of the supply.
    levels : (R + 1,) array of bool
        What a digital read of each row's pin, and last of REF, gives.
    """
    rows, columns = conductance.shape
    states = np.frombuffer(row_states + bytes([ref_state]), dtype=np.uint8)
    if states.size != rows + 1 or states.max() > PULL_DOWN:
        raise ValueError(f"a probe needs {rows} row states and one of REF, each 0 to 4")
    pin_ohm = np.select(
        [states == LOW, states == HIGH, states == FLOAT],
        [board.pin_low_ohm, board.pin_high_ohm, 1.0 / LEAK_S],
        PULL_OHM,
    )
    behind = np.isin(states, (HIGH, PULL_UP)).astype(np.float64)
    in_line = np.append(board.series_ohm, board.reference_ohm)
    through = 1.0 / (pin_ohm + in_line)
    drive = through[:rows].copy()
    source = (through * behind)[:rows]
    drive[0] += through[rows]
    source[0] += through[rows] * behind[rows]
    g = conductance[None] + board.cell_leak_s
    if board.wiring is None:
        nodes = node_voltages(g, board.rs_ohm, drive[None], source[None], board.side, board.row_links)[0, 0]
        out = np.zeros(INPUTS)
        out[:columns] = nodes[rows:]
        out[SUPPLY] = 0.5
        out[TAP] = nodes[0]
    else:
        voltages = driven(_base(g, board, board.wiring), drive[None], source[None])
        nodes, out = voltages[0, 0], _inputs(voltages, board, board.wiring)[0, 0]
    line = np.append(nodes[:rows], nodes[0])
    at_pin = behind - (behind - line) * through * pin_ohm
    return out, at_pin > DIGITAL_THRESHOLD
