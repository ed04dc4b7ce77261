"""What the ADC reads while its pin has a weak pull-up or pull-down: the self-test's way to measure the columns."""

import numpy as np

from groundtone.twin.board import FLOAT, HIGH, LOW, PULL_OHM, PULL_UP, SUPPLY, TAP, ZERO, Board
from groundtone.twin.network import FloatArray
from groundtone.twin.wiring import line_matrix, make_wiring

MULTIPLEXER_OHM = 70.0  # of a selected input (74HC4067 at 3.3 V, from memory)
INPUT_OHM = 1000.0 + 220.0  # before each input of the multiplexer, and at its output
DIVIDER_OHM = 10e3  # each of the two resistors between the supply and 0 V (invented)
OPEN_S = 1e-12  # what still holds a floating pin
UP, DOWN = 1, 2


def pulled_level(
    conductance: FloatArray, board: Board, row_states: bytes, ref_state: int, pull: int, address: int
) -> float:
    """Voltage at the ADC's pin.

    Parameters
    ----------
    conductance : (R, C) array
        Film conductances, S.
    board : Board
    row_states : bytes
        R pin states, as for `groundtone.twin.board.probe_voltages`.
    ref_state : int
        State of the pin REF.
    pull : int
        1 to the supply, 2 to 0 V.
    address : int
        Of the multiplexer, 0 to 15.

    Returns
    -------
    float
        Fraction of the supply.
    """
    if pull not in (UP, DOWN):
        raise ValueError(f"a pull is 1 (up) or 2 (down), not {pull}")
    rows, columns = conductance.shape
    wiring = board.wiring or make_wiring((), rows, columns // 2)
    level = 1.0 if pull == UP else 0.0
    node = int(wiring.address[address])
    if not wiring.multiplexer or (node == ZERO and not wiring.zero):
        return level  # nothing else holds an open input
    if node in (ZERO, SUPPLY):
        own = ohm = 0.0
        if node == SUPPLY:
            own, ohm = wiring.divider_level, DIVIDER_OHM * wiring.divider * wiring.divider_level
        ohm += MULTIPLEXER_OHM + INPUT_OHM
        return (own * PULL_OHM + level * ohm) / (PULL_OHM + ohm)
    if node >= columns and not (node == TAP and wiring.tap):
        return level
    matrix = line_matrix((conductance + board.cell_leak_s)[None], wiring, board.side, board.row_links)[0]
    lines = rows + columns
    full = np.zeros((lines + 1, lines + 1))
    full[:lines, :lines] = matrix
    k, c = np.arange(rows), np.arange(rows, lines)
    full[c, c] += 1.0 / board.rs_ohm
    drive, source = _drives(board, row_states, ref_state)
    full[k, k] += drive
    # The ADC's pin is one more node, between the multiplexer's switch and the pull.
    joined = 0 if node == TAP else rows + node
    switch = 1.0 / (MULTIPLEXER_OHM + INPUT_OHM)
    full[joined, joined] += switch
    full[lines, lines] = switch + 1.0 / PULL_OHM
    full[joined, lines] = full[lines, joined] = -switch
    right = np.zeros(lines + 1)
    right[:rows] = source
    right[lines] = level / PULL_OHM
    return float(np.linalg.solve(full, right)[lines])


def _drives(board: Board, row_states: bytes, ref_state: int) -> tuple[FloatArray, FloatArray]:
    """What the row pins and REF do to each row line: conductance and current at 0 V, S."""
    states = np.frombuffer(row_states + bytes([ref_state]), dtype=np.uint8)
    ohm = np.select(
        [states == LOW, states == HIGH, states == FLOAT],
        [board.pin_low_ohm, board.pin_high_ohm, 1.0 / OPEN_S],
        PULL_OHM,
    )
    through = 1.0 / (ohm + np.append(board.series_ohm, board.reference_ohm))
    source = through * np.isin(states, (HIGH, PULL_UP))
    drive, current = through[:-1].copy(), source[:-1].copy()
    drive[0] += through[-1]
    current[0] += source[-1]
    return drive, current
