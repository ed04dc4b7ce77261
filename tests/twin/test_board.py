"""The board: scan states, the row tap, and what a digital read gives when rows are joined, loaded or left alone."""

import numpy as np
import pytest

from groundtone.twin.board import SUPPLY, TAP, build_board, probe_voltages, table_voltages
from groundtone.twin.scenario import MatSpec

EXACT = {"pin_spread": 0.0, "resistor_tolerance": 0.0}
EMPTY = np.full((16, 8), 3e-7)


def random_grid(seed=1):
    return 10.0 ** np.random.default_rng(seed).uniform(-6.0, -3.3, (16, 8))


def pins(default, **special):
    states = [default] * 16
    for name, state in special.items():
        states[int(name[1:])] = state
    return bytes(states)


@pytest.mark.parametrize("changes", [{}, {"side_ohm": 2e4}, {"damp": 0.1}, {"joined_rows": ((2, 5),)}])
def test_tables_are_what_probes_of_the_same_pins_give(changes):
    board = build_board(MatSpec.reference(seed=4, **changes))
    g = random_grid()
    table = table_voltages(g[None], board)[0]
    for row in (0, 1, 7, 15):
        volts, _ = probe_voltages(g, board, pins(2, **{f"r{row}": 3}), 0)
        np.testing.assert_allclose(volts, table[row], rtol=1e-8, atol=1e-15)
    np.testing.assert_allclose(probe_voltages(g, board, pins(2, r0=3), 2)[0], table[16], rtol=1e-9)
    np.testing.assert_allclose(probe_voltages(g, board, pins(2, r1=3), 3)[0], table[17], rtol=1e-9)


def test_tap_by_hand_on_an_open_mat():
    # No film: row 0's line hangs between its driver (275 high, 250 low) and 1 kΩ to REF's pin (30 low, 55 high).
    table = table_voltages(np.zeros((1, 16, 8)), build_board(MatSpec.reference(**EXACT)))[0]
    assert abs(table[16, TAP] - 1030.0 / 1305.0) < 1e-12
    assert abs(table[17, TAP] - 250.0 / (250.0 + 1055.0)) < 1e-12
    assert abs(table[0, TAP] - 1.0) < 1e-12
    assert np.all(table[1:16, TAP] == 0.0)
    assert np.all(table[:, SUPPLY] == 0.5)
    assert np.all(table[:, [8, 11, 12, 13, 14, 15]] == 0.0)


def test_parts_stay_inside_their_tolerance_and_differ():
    board = build_board(MatSpec.reference(seed=2))
    assert np.abs(board.rs_ohm / 1000.0 - 1.0).max() <= 0.01
    assert np.abs(board.series_ohm / 220.0 - 1.0).max() <= 0.01
    assert len({*board.rs_ohm, *board.series_ohm}) == 24
    assert abs(board.pin_high_ohm.mean() - 55.0) < 1.5
    assert abs(board.pin_low_ohm.mean() - 30.0) < 1.0


def test_a_starter_mat_leaves_the_spare_inputs_at_zero():
    board = build_board(MatSpec.reference(rows=10, columns_per_panel=3))
    table = table_voltages(np.full((1, 10, 6), 1e-5), board)
    assert table.shape == (1, 12, 16)
    assert np.all(table[0, :10, :6] > 0.0)
    assert np.all(table[:, :, 6:8] == 0.0)


def test_an_empty_mat_is_proven_apart():
    board = build_board(MatSpec.reference())
    assert probe_voltages(EMPTY, board, pins(1), 0)[1][:16].all()
    for row in range(1, 16):
        levels = probe_voltages(EMPTY, board, pins(1, **{f"r{row}": 2}), 0)[1]
        assert [k for k in range(16) if not levels[k]] == [row]


def test_joined_rows_show_when_one_is_held_low():
    board = build_board(MatSpec.reference(joined_rows=((3, 9),), joined_ohm=500.0))
    assert probe_voltages(EMPTY, board, pins(1), 0)[1][:16].all()
    levels = probe_voltages(EMPTY, board, pins(1, r3=2), 0)[1]
    assert [k for k in range(16) if not levels[k]] == [3, 9]


def test_a_loaded_row_is_pulled_down():
    loaded = EMPTY.copy()
    loaded[6, 2] = 2e-4  # 5 kΩ and Rs of 1 kΩ against a pull-up of 60 kΩ: 0.09 of the supply
    volts, levels = probe_voltages(loaded, build_board(MatSpec.reference(**EXACT)), pins(1), 0)
    assert [k for k in range(16) if not levels[k]] == [6]
    assert 0.01 < volts[2] < 0.03


def test_damp_rows_do_not_pass_as_apart():
    board = build_board(MatSpec.reference(damp=1.0))
    levels = probe_voltages(EMPTY, board, pins(1, r5=2), 0)[1]
    assert not levels[4]
    assert not levels[6]


def test_a_slightly_damp_mat_joins_neighbours_only():
    # 2 µS a pair of rows and cell leaks of 0.5 µS against a pull-up of 16.7 µS: high alone, low beside a low row.
    board = build_board(MatSpec.reference(damp=0.1))
    assert probe_voltages(EMPTY, board, pins(1), 0)[1][:16].all()
    levels = probe_voltages(EMPTY, board, pins(1, r5=2), 0)[1]
    assert [k for k in range(16) if not levels[k]] == [4, 5, 6]


def test_damp_leaks_through_every_cell():
    table = table_voltages(np.zeros((1, 16, 8)), build_board(MatSpec.reference(damp=1.0, **EXACT)))[0]
    # 5 µS each into a column of 1 kΩ; what a driven row loses through 5 kΩ to its neighbours, they gain.
    ideal = 5e-6 / (1e-3 + 16 * 5e-6)
    assert np.all(np.abs(table[1:15, :8] / ideal - 1.0) < 0.02)


def test_pull_down_and_float():
    board = build_board(MatSpec.reference(**EXACT))
    levels = probe_voltages(np.zeros((16, 8)), board, pins(4, r2=0, r3=3), 1)[1]
    # Row 0 lies between its own pull-down and, through 1 kΩ, REF's pull-up: the line sits just over the middle at REF.
    assert levels[3]
    assert not levels[1]
    assert not levels[2]
    volts, _ = probe_voltages(np.zeros((16, 8)), board, pins(4), 1)
    assert abs(volts[TAP] - (1 / 61000.0) / (1 / 61000.0 + 1 / 60220.0)) < 1e-9


def test_wrong_states_are_refused():
    with pytest.raises(ValueError, match="16 row states"):
        probe_voltages(EMPTY, build_board(MatSpec.reference()), bytes(15), 0)
    with pytest.raises(ValueError, match="0 to 4"):
        probe_voltages(EMPTY, build_board(MatSpec.reference()), bytes(16), 5)
