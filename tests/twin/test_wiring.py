"""Wiring faults on the twin's board against node matrices written out by hand; hands that do what they are told."""

import numpy as np
import pytest

from groundtone.twin.board import SUPPLY, TAP, build_board, probe_voltages, table_voltages
from groundtone.twin.film import Film
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Empty, Hands, MatSpec, Scenario
from groundtone.twin.wiring import make_wiring, parse_fault
from groundtone.twin.world import World

ROWS, HALF = 5, 2
SPEC = {"rows": ROWS, "columns_per_panel": HALF, "seed": 3}


def cells(seed=0, n=1):
    rng = np.random.default_rng(seed)
    return np.exp(rng.uniform(np.log(1e-6), np.log(5e-4), (n, ROWS, 2 * HALF)))


def board(*faults):
    return build_board(MatSpec.reference(**SPEC, wiring=faults))


def by_hand(g, made, row_line, column_line, open_rows=(), open_columns=(), bridges=()):
    """Column readings while each row is high: every strip a node of its own, wires of 10 µΩ where they are whole."""
    n = ROWS + 2 * HALF + 2 * ROWS + 2 * HALF
    base = np.zeros((n, n))

    def join(a, b, siemens):
        base[a, a] += siemens
        base[b, b] += siemens
        base[a, b] -= siemens
        base[b, a] -= siemens

    row_strips = ROWS + 2 * HALF
    column_strips = row_strips + 2 * ROWS
    for panel in (0, 1):
        for k in range(ROWS):
            if (panel, k) not in open_rows:
                join(row_strips + panel * ROWS + k, row_line[panel][k], 1e5)
            for j in range(HALF):
                join(row_strips + panel * ROWS + k, column_strips + panel * HALF + j, g[k, panel * HALF + j])
    for j in range(2 * HALF):
        if j not in open_columns:
            join(column_strips + j, ROWS + column_line[j], 1e5)
    for a, b, siemens in bridges:
        join(a, b, siemens)
    # A strip that hangs on nothing leaks through 100 MΩ.
    for i in [row_strips + p * ROWS + k for p, k in open_rows] + [column_strips + j for j in open_columns]:
        base[i, i] += 1e-8
    for c in range(2 * HALF):
        base[ROWS + c, ROWS + c] += 1 / made.rs_ohm[c]
    out = np.zeros((ROWS, 2 * HALF))
    for r in range(ROWS):
        matrix, right = base.copy(), np.zeros(n)
        for k in range(ROWS):
            ohm = made.r_high_ohm[k] if k == r else made.r_low_ohm[k]
            matrix[k, k] += 1 / ohm
            right[k] = 1 / ohm if k == r else 0.0
        out[r] = np.linalg.solve(matrix, right)[ROWS : ROWS + 2 * HALF]
    return out


PLAIN = [list(range(ROWS))] * 2, list(range(2 * HALF))


@pytest.mark.parametrize(
    ("faults", "hand"),
    [
        (("open-row:3",), {"open_rows": [(0, 3), (1, 3)]}),
        (("open-row:3,right",), {"open_rows": [(1, 3)]}),
        (("open-column:2",), {"open_columns": [2]}),
        (("open-column:2", "open-row:1,right"), {"open_columns": [2], "open_rows": [(1, 1)]}),
        (("short-rows:1,4",), {"bridges": [(1, 4, 2.0)]}),
        (("short-columns:0,3",), {"bridges": [(ROWS, ROWS + 3, 2.0)]}),
        (("short-row-column:2,1",), {"bridges": [(2, ROWS + 1, 2.0)]}),
        (("swap-rows:0,2,left",), {"row_line": [[2, 1, 0, 3, 4], [0, 1, 2, 3, 4]]}),
        (("reverse-rows", "swap-rows:0,1"), {"row_line": [[3, 4, 2, 1, 0]] * 2}),
        (("swap-columns:0,2", "reverse-columns:right"), {"column_line": [2, 1, 3, 0]}),
        (("swap-panels",), {"column_line": [2, 3, 0, 1]}),
        (("pulldown:1,10", "series:4,0.1"), {}),
    ],
)
def test_the_columns_read_what_a_node_matrix_with_every_strip_gives(faults, hand):
    g = cells(4)
    made = board(*faults)
    row_line, column_line = hand.pop("row_line", PLAIN[0]), hand.pop("column_line", PLAIN[1])
    expected = by_hand(g[0], made, row_line, column_line, **hand)
    got = table_voltages(g, made)[0, :ROWS, : 2 * HALF]
    # Ten microohms in every wire are all that differs.
    assert np.abs(got - expected).max() < 1e-7


def test_wiring_that_was_exchanged_twice_is_wiring_that_is_right():
    g = cells(1, 3)
    twice = board("swap-rows:1,2", "swap-rows:1,2", "address:0,3", "address:0,3")
    assert np.allclose(table_voltages(g, twice), table_voltages(g, board()), rtol=0, atol=1e-14)


def test_a_column_without_its_pull_down_shares_the_supply_among_its_cells():
    v = table_voltages(0.05 * cells(2), board("no-pulldown:1"))[0, :ROWS, 1]
    assert v.sum() == pytest.approx(1.0, abs=0.01)


def test_parts_are_wrong_by_the_factor_that_is_named():
    right, wrong = board(), board("pulldown:1,10", "series:3,0.1", "reference:10")
    assert wrong.rs_ohm[1] / right.rs_ohm[1] == pytest.approx(10)
    assert wrong.series_ohm[3] / right.series_ohm[3] == pytest.approx(0.1)
    assert wrong.reference_ohm / right.reference_ohm == pytest.approx(10)
    assert table_voltages(cells(), board("divider:10"))[0, 0, SUPPLY] == pytest.approx(1 / 11)


def test_exchanged_address_lines_read_the_input_with_those_bits_exchanged():
    g = cells(5)
    plain, moved = table_voltages(g, board()), table_voltages(g, board("address:0,1"))
    # 1 (0001) and 2 (0010), 9 (1001) and 10 (1010) change places; 0, 3, 8 stay.
    for address, source in ((1, 2), (2, 1), (SUPPLY, TAP), (TAP, SUPPLY), (0, 0), (3, 3), (8, 8)):
        assert np.allclose(moved[:, :, address], plain[:, :, source], rtol=0, atol=1e-12)


def test_a_row_on_a_column_is_held_low_through_its_pull_down():
    states = bytes([1] * ROWS)
    volts, levels = probe_voltages(cells()[0] * 1e-3, board("short-row-column:2,1"), states, 0)
    assert levels[:ROWS].tolist() == [True, True, False, True, True]
    # 60 kΩ of pull-up, 100 Ω and half an ohm over 1 kΩ.
    assert volts[1] == pytest.approx(1000 / 61100, rel=0.02)


def test_an_open_tap_reads_no_row():
    v = table_voltages(cells(0, 4), board("no-tap"))[:, :, TAP]
    assert 0.1 < v.min() < v.max() < 0.4


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("broken:3", "not known"), ("open-row", "needs 1"), ("open-row:x", "needs 1"), ("open-row:5", "0 to 4"),
        ("swap-rows:1,1", "twice"), ("dead-cell:1,4", "0 to 3"), ("pulldown:0,0", "above 0"), ("address:0,4", "0 to 3"),
        ("open-column:1.5", "0 to 3"), ("no-tap:1", "needs 0"),
    ],
)  # fmt: skip
def test_faults_that_are_not_understood_are_refused_with_a_sentence(words, says):
    with pytest.raises(ValueError, match=says):
        MatSpec.reference(**SPEC, wiring=(words,))


def test_a_panel_may_be_named_where_it_makes_sense():
    assert parse_fault("open-row:3,left").panel == 0
    assert make_wiring(("open-row:3,left",), ROWS, HALF).row_open.tolist() == [[0, 0, 0, 1, 0], [0] * 5]
    with pytest.raises(ValueError, match="needs 1"):
        parse_fault("open-column:3,left")


def test_a_dead_cell_of_the_wiring_never_conducts():
    film = Film(MatSpec.reference(**SPEC, wiring=("dead-cell:1,2",)), 0.02)
    g = film.step(np.full((5, ROWS, 2 * HALF), 50.0))
    assert g[:, 1, 2].max() == 0.0
    assert g[-1, 0, 0] > 1e-5


def played(action, seconds=4.0):
    """Readings of a mat on which hands do one thing, (n, R, C), of the range."""
    mat = InProcessMat(
        Scenario(MatSpec.reference(**SPEC, row_pitch_mm=32.0, column_pitch_mm=46.0), Hands(duration_s=30))
    )
    frames = mat.frames(25)
    next(frames)
    mat.world.do(action)
    return np.array([next(frames).cells.reshape(ROWS, -1) / 2**14 for _ in range(int(seconds * 25))])


def test_a_finger_presses_the_cell_that_was_asked_for_and_lets_go():
    peak = played("press 2 1").max(axis=0)
    assert np.unravel_index(peak.argmax(), peak.shape) == (2, 1)
    assert np.sort(peak.ravel())[-2] < 0.1 * peak[2, 1]
    assert played("press 2 1")[-1].max() < 0.1 * peak[2, 1]


def test_a_stroke_presses_a_panels_cells_from_left_to_right():
    seen = played("stroke 1 3")
    first, last = seen[:, 3, 2].argmax(), seen[:, 3, 3].argmax()
    assert seen[:, 3, 2:].max(axis=0).min() > 0.02
    assert last - first == pytest.approx(0.52 * 25, abs=3)


def test_a_walk_passes_every_cell_of_its_panel_and_no_other():
    peak = played("walk 0", 12.0).max(axis=0)
    assert peak[:, :2].min() > 0.01
    assert peak[:, 2:].max() < 0.01


def test_the_test_resistor_makes_a_divider_of_known_parts():
    got = played("touch 3 1").max(axis=0)[3, 1]
    made = build_board(MatSpec.reference(**SPEC))
    # 1 kΩ of the test resistor; the ADC's reference is 3.27 V of 3.3.
    assert got == pytest.approx(made.rs_ohm[1] / (made.rs_ohm[1] + 1000 + made.r_high_ohm[3]) * 3.3 / 3.27, abs=0.004)


def test_a_tap_is_heard():
    world = World(Scenario(MatSpec.reference(**SPEC), Hands()))
    world.table(0)
    end_us = round(world.do("tap 0.4") * 1e6)
    assert world.strike(0, end_us)[0] == pytest.approx(0.4)


@pytest.mark.parametrize("words", ["dance", "press 1", "press 9 1", "press a b", "stroke 2 0", "press 1 1 40 1 1"])
def test_words_nobody_understands_are_refused(words):
    with pytest.raises(ValueError, match=r"."):
        World(Scenario(MatSpec.reference(**SPEC), Hands())).do(words)


def test_where_nobody_is_nobody_does_anything():
    with pytest.raises(ValueError, match="nobody"):
        World(Scenario(MatSpec.reference(**SPEC), Empty())).do("press 1 1")


def test_the_dividers_lower_resistor_and_inputs_that_nothing_holds():
    level = table_voltages(cells(), board("divider-lower:10"))[0, 0, SUPPLY]
    assert level == pytest.approx(10 / 11)
    assert table_voltages(cells(), board("divider:10", "divider-lower:10"))[0, 0, SUPPLY] == pytest.approx(0.5)
    nobody = table_voltages(cells(), board("no-multiplexer"))[0]
    assert np.ptp(nobody[:, 3]) > 0.01
    assert (nobody == nobody[:, :1]).all()
    zero = table_voltages(cells(), board("no-zero"))[0, :, 8]
    assert (zero > 0.1).all()
