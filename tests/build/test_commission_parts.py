"""Commissioning's arithmetic by hand: orders, walks, touches of the test resistor, references, words."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.build.asking import Ask, gather
from groundtone.build.diagnosis import diagnose
from groundtone.build.evidence import Evidence, Idle, Reading, Touch, from_json, stroke_of, to_json
from groundtone.build.faults import Kind, Namer
from groundtone.build.findings import finding_faults
from groundtone.build.permutation import column_faults, filled, row_faults, walked_order
from groundtone.build.places import joined_columns, place_map
from groundtone.build.references_check import column_addresses, explain, source_of
from groundtone.build.touches import parts_of
from groundtone.build.walk import placed
from groundtone.mat.layout import Layout, layout_from, layout_of, layout_text
from groundtone.wire.messages import Finding

NAMER = Namer(4)
EVERY = np.ones(8, dtype=bool)
REFERENCE = layout_of("reference-16x4")


def kinds(faults):
    return [(f.kind, f.lines, f.panel) for f in faults]


# Orders


@pytest.mark.parametrize(
    ("left", "right", "expected"),
    [
        ((0, 1, 2, 3, 4, 5), (0, 1, 2, 3, 4, 5), []),
        ((0, 2, 1, 3, 4, 5), (0, 2, 1, 3, 4, 5), [(Kind.ROWS_SWAPPED, (1, 2), None)]),
        ((0, 2, 1, 3, 4, 5), (0, 1, 2, 3, 4, 5), [(Kind.ROWS_SWAPPED, (1, 2), 0)]),
        ((0, 1, 2, 3, 4, 5), (5, 4, 3, 2, 1, 0), [(Kind.ROWS_REVERSED, (5, 4, 3, 2, 1, 0), 1)]),
        (
            (0, 2, 1, 3, 4, 5),
            (5, 4, 3, 2, 1, 0),
            [(Kind.ROWS_REVERSED, (5, 4, 3, 2, 1, 0), 1), (Kind.ROWS_SWAPPED, (1, 2), 0)],
        ),
        ((1, 2, 3, 4, 5, 0), (0, 1, 2, 3, 4, 5), None),
    ],
)
def test_orders_of_rows_are_told_as_the_fewest_mistakes(left, right, expected):
    got = kinds(row_faults(left, right, NAMER))
    if expected is None:
        # A cycle of six is five exchanges: it is told as it is.
        assert got == [(Kind.ROWS_MIXED, left, 0)]
    else:
        assert sorted(got, key=str) == sorted(expected, key=str)


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ((0, 1, 2, 3, 4, 5, 6, 7), []),
        ((0, 6, 2, 3, 4, 5, 1, 7), [(Kind.COLUMNS_SWAPPED, (1, 6), None)]),
        ((3, 2, 1, 0, 4, 5, 6, 7), [(Kind.COLUMNS_REVERSED, (3, 2, 1, 0, 4, 5, 6, 7), 0)]),
        ((0, 1, 2, 3, 7, 6, 5, 4), [(Kind.COLUMNS_REVERSED, (0, 1, 2, 3, 7, 6, 5, 4), 1)]),
        ((4, 5, 6, 7, 0, 1, 2, 3), [(Kind.PANELS_SWAPPED, (4, 5, 6, 7, 0, 1, 2, 3), None)]),
    ],
)
def test_orders_of_columns_are_told_as_the_fewest_mistakes(order, expected):
    assert kinds(column_faults(order, NAMER)) == expected


def test_two_mistakes_in_the_columns_give_back_their_order():
    faults = column_faults((3, 2, 1, 0, 4, 6, 5, 7), NAMER)
    assert sorted(f.kind for f in faults) == sorted([Kind.COLUMNS_REVERSED, Kind.COLUMNS_SWAPPED])


def test_gaps_hold_what_the_other_panel_says_then_their_own_line_then_what_is_left():
    assert filled((1, None, 2, 3), [(1, 0, 2, 3)]) == (1, 0, 2, 3)
    assert filled((0, None, 2, None), [(None, 3, None, None)]) == (0, 3, 2, 1)
    assert filled((None, None, 0, 1), []) == (2, 3, 0, 1)


@pytest.mark.parametrize("seed", range(5))
def test_a_walk_to_and_fro_gives_the_order_of_lines_that_were_mixed_up(seed):
    rng = np.random.default_rng(seed)
    line_of = rng.permutation(16)
    places = np.concatenate([np.arange(16), np.arange(16)[::-1], rng.integers(0, 15, 6).repeat(2).cumsum() % 16])
    # From place to place the finger moves by one; here it also rests and turns.
    path = [0]
    for target in places:
        while path[-1] != target:
            path.append(path[-1] + int(np.sign(target - path[-1])))
        path += [path[-1]] * int(rng.integers(0, 3))
    assert walked_order(line_of[np.array(path)], 16, int(line_of[0])) == line_of.tolist()


def test_a_walk_over_a_silent_line_leaves_its_place_free():
    lines = np.array([0, 1, 2, 4, 5, 4, 2, 1, 0, 1, 2, 4, 5])
    order = walked_order(lines, 6, 0)
    assert order == [0, 1, 2, 4, 5]
    assert placed(order, 6, range(6)) == [0, 1, 2, None, 4, 5]
    assert placed(order[::-1], 6, range(6)) == [5, 4, None, 2, 1, 0]


# The test resistor: Rs / (Rs + 1 kΩ + 40 Ω of pin + 100 Ω of row)


def touch(row, column, rs=1000.0, row_ohm=100.0, pin=40.0, also=()):
    rise = np.zeros((16, 8))
    rise[row, [column, *also]] = rs / (rs + 1000.0 + pin + row_ohm)
    return Touch(row, column, rise)


def parts(touches, floating=(), joined=()):
    return parts_of(touches, REFERENCE, 1.0, EVERY, frozenset(floating), joined)


def test_right_resistors_are_right_whatever_the_pins_have():
    for pin in (20.0, 60.0):
        got = parts([touch(k, k % 8, pin=pin) for k in range(16)])
        assert set(got.pulldown.values()) == set(got.series.values()) == {1.0}


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_resistor_that_is_wrong_by_a_decade_is_the_rows_or_the_columns(factor):
    rows = [touch(k, k % 8, row_ohm=100.0 * (factor if k == 5 else 1.0)) for k in range(16)]
    assert {r: f for r, f in parts(rows).series.items() if f != 1.0} == {5: factor}
    columns = [touch(k, k % 8, rs=1000.0 * (factor if k % 8 == 3 else 1.0)) for k in range(16)]
    got = parts(columns)
    assert {c: f for c, f in got.pulldown.items() if f != 1.0} == {3: factor}
    assert set(got.series.values()) == {1.0}


def test_of_two_joined_columns_one_wrong_pull_down_is_told_as_one_of_the_two():
    # 1 kΩ and 100 Ω side by side are 90.9 Ω.
    touches = [touch(k, k % 8) for k in range(16) if k % 8 not in (2, 3)]
    touches += [touch(k, k % 8, rs=1000 / 11, also=(2, 3)) for k in (2, 3, 10, 11)]
    got = parts(touches, joined=[(2, 3)])
    assert got.pulldown[2] == pytest.approx(0.1)
    assert got.doubt == {2: (3,)}


def test_a_column_without_pull_down_says_nothing_of_its_rows():
    touches = [touch(k, k % 8, rs=1e9 if k % 8 == 1 else 1000.0) for k in range(16)]
    got = parts(touches, floating=[1])
    assert math.isinf(got.pulldown[1])
    assert 1 not in got.series
    assert 9 not in got.series


# References


def idle(zero=0.0, supply=0.5, high=0.8693, low=0.1099, cells=None):
    mean = np.full((16, 8), 0.0003) if cells is None else cells
    return Idle(mean, np.full((16, 8), 2e-4), zero, supply, high, low)


def test_the_inputs_behind_exchanged_address_lines_are_those_with_the_bits_exchanged():
    assert [source_of((0, 2))[a] for a in (1, 4, 3, 6, 9, 10, 8)] == [4, 1, 6, 3, 12, 10, 8]
    at, usable = column_addresses((0, 3), 8)
    assert usable.tolist() == [True, False, True, False, True, False, True, False]
    assert column_addresses((1, 2), 8)[0].tolist() == [0, 1, 4, 5, 2, 3, 6, 7]
    assert at[0] == 0


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (idle(), (None, 0.5, 1.0, 1.0, True)),
        # 10 kΩ: (10030) / (10030 + 155) and 130 / (130 + 10055)
        (idle(high=0.9848, low=0.0128), (None, 0.5, 10.0, 1.0, True)),
        (idle(high=0.4561, low=0.4561), (None, 0.5, 0.1, 1.0, True)),
        (idle(high=1.0, low=0.0), (None, 0.5, math.inf, 1.0, True)),
        (idle(high=0.4940, low=0.4940), (None, 0.5, 1.0, 10.0, True)),
        (idle(high=0.9406, low=0.0365), (None, 0.5, 1.0, 0.1, True)),
        (idle(supply=0.0909), (None, 1 / 11, 1.0, 1.0, True)),
        (idle(high=0.24, low=0.19), (None, 0.5, 1.0, 1.0, False)),
        (idle(supply=0.1099, high=0.5, low=0.5), ((0, 1), 0.5, 1.0, 1.0, True)),
        (idle(supply=0.0), ((0, 2), 0.5, 1.0, 1.0, True)),
        (idle(high=0.0, low=0.0), ((1, 2), 0.5, 1.0, 1.0, True)),
    ],
)
def test_the_references_of_an_empty_mat_name_the_part_that_is_wrong(readings, expected):
    best = explain(readings, REFERENCE, level=1.0)[0]
    assert (best.address, best.divider, best.reference, best.series, best.tap) == expected


def test_a_column_that_shows_the_tap_gives_the_exchange_away():
    cells = np.full((16, 8), 0.0003)
    cells[0, 3] = 1.0
    got = diagnose(Evidence(idle=idle(high=0.0, low=0.0, cells=cells)), REFERENCE)
    assert kinds(got.faults) == [(Kind.ADDRESS, (0, 3), None)]
    assert len(got.untested) == 4


# Strokes


def stroked(panel, row, line, columns, rise=0.1, dt=0.04):
    """A stroke of 0.4 s a cell over these column lines of one row line; a pair is two columns that are one."""
    t = np.arange(0, 0.5 * len(columns) + 0.4, dt)
    out = np.zeros((t.size, 16, 8))
    for i, c in enumerate(columns):
        on = (t >= 0.5 * i) & (t < 0.5 * i + 0.4)
        for each in np.atleast_1d(c):
            if each >= 0:
                out[on, line, each] = rise
    return stroke_of(panel, row, t, out)


def whole_mat(left=range(4), right=range(4, 8), row_line=lambda k: k, silent=()):
    out = []
    for panel, columns in ((0, left), (1, right)):
        out += [stroked(panel, k, row_line(k), list(columns)) for k in range(16) if k not in silent]
    return out


def test_strokes_over_a_mat_that_is_right_find_nothing():
    found = place_map(whole_mat(), NAMER, EVERY)
    assert found.faults == []
    assert found.answer == pytest.approx(np.full((16, 8), 0.1))


def test_strokes_name_opens_and_dead_cells_by_place():
    strokes = whole_mat(silent=(3,))
    strokes[0] = stroked(0, 0, 0, [0, -1, 2, 3])
    got = place_map(strokes, NAMER, EVERY)
    assert kinds(got.faults) == [(Kind.ROW_OPEN, (3,), None), (Kind.CELL_DEAD, (0, 1), None)]
    open_column = place_map(whole_mat(left=[0, 1, -1, 3]), NAMER, EVERY)
    assert kinds(open_column.faults) == [(Kind.COLUMN_OPEN, (2,), None)]


def test_a_column_that_is_open_on_a_reversed_panel_is_found_by_the_gap_in_time():
    got = place_map(whole_mat(left=[3, -1, 1, 0]), NAMER, EVERY)
    assert kinds(got.faults)[0] == (Kind.COLUMN_OPEN, (1,), None)
    assert got.columns[:4] == (3, 2, 1, 0)


def test_columns_that_are_one_keep_their_places():
    strokes = whole_mat(left=[0, (1, 2), (1, 2), 3])
    assert joined_columns(strokes, EVERY) == [(1, 2)]
    assert kinds(place_map(strokes, NAMER, EVERY).faults) == [(Kind.COLUMNS_JOINED, (1, 2), None)]


def test_evidence_survives_its_file():
    evidence = Evidence((Finding(2, 3, 0, 0),), idle(), [touch(1, 1)], [stroked(0, 2, 2, [0, 1, 2, 3])])
    again = from_json(__import__("json").loads(__import__("json").dumps(to_json(evidence))))
    assert again.findings == evidence.findings
    assert np.array_equal(again.idle.mean, np.round(evidence.idle.mean, 5))
    assert np.allclose(again.touches[0].rise, evidence.touches[0].rise, atol=1e-5)
    assert np.array_equal(np.isnan(again.strokes[0].again_s), np.isnan(evidence.strokes[0].again_s))


# Words


def test_findings_say_nothing_where_the_fault_is_known_already():
    missing = Finding(8, 5, 0, 65535)
    assert kinds(finding_faults([missing], [], NAMER)) == [(Kind.OTHER, (5,), None)]
    assert finding_faults([missing], [NAMER.no_pulldown(5)], NAMER) == []
    (film,) = finding_faults([Finding(7, 1, 0, 200)], [], NAMER)
    assert film.sentence == "The film of the right panel conducts sideways, about 20.0 kΩ between columns."


def test_a_fault_is_named_in_the_builders_words():
    assert NAMER.pulldown(5, 0.1, 1000.0).sentence == (
        "The pull-down of column 5 (right panel) is about 100 Ω instead of 1 kΩ."
    )
    assert NAMER.series(3, 10.0, 100.0).sentence == "The resistor in row 3 is about 1 kΩ instead of 100 Ω."
    assert NAMER.row_open(3, 0).sentence == "Row 3 of the left panel does not answer: it is open."


# Gathering


def readings(values, dt=0.04):
    """Readings in which one cell follows `values`."""
    for i, v in enumerate(values):
        cells = np.zeros((16, 8))
        cells[3, 5] = v
        yield Reading(i * dt, cells, {}, None)


def drive(listener, source):
    asked = [next(listener)]
    for reading in source:
        try:
            asked.append(listener.send(reading))
        except StopIteration as end:
            return asked, end.value
    raise AssertionError("it never ended")


def test_an_ask_without_an_answer_is_made_twice_and_given_up():
    ask = Ask("stroke 0 3", "press")
    asked, got = drive(gather(ask, ~EVERY, patience_s=2.0), readings([0.0] * 200))
    assert got is None
    assert [a.again for a in asked if a is not None] == [False, True]


def test_what_is_pressed_is_gathered_until_it_is_calm():
    values = [0.001] * 20 + [0.1] * 10 + [0.001] * 60
    _, got = drive(gather(Ask("", ""), ~EVERY, quiet_s=0.5), readings(values))
    assert got.rise.max() == pytest.approx(0.099)
    # It begins before the press, and ends half a second and a look back after it.
    assert got.rise[0].max() < 0.001
    assert got.t_s[-1] == pytest.approx(30 * 0.04 + 0.3 + 0.5, abs=0.1)


# The layout that is written


def test_a_layout_with_an_order_puts_cells_where_they_lie_and_comes_back_from_its_file():
    import tomllib

    built = Layout("t-3x2", 3, 2, 20.0, 35.0, 1000.0, 100.0, 1000.0, 40.0)
    layout = replace(built, rows_left=(2, 1, 0), columns_order=(1, 0, 2, 3))
    electrical = np.arange(12).reshape(3, 4)
    # Left panel: rows from below, columns 1 and 0; right panel as it is.
    assert layout.to_places(electrical).tolist() == [[9, 8, 2, 3], [5, 4, 6, 7], [1, 0, 10, 11]]
    assert layout_from(tomllib.loads(layout_text(layout)), "here") == layout
    assert layout_from(tomllib.loads(layout_text(built)), "here") == built
    assert built.to_places(electrical) is electrical


def test_an_order_leaves_the_digest_of_plain_layouts_alone():
    # From before there were orders: profiles made then still belong to their mats.
    assert REFERENCE.digest == "46001edd"
    assert replace(REFERENCE, rows_left=tuple(range(15, -1, -1))).digest != REFERENCE.digest


def test_an_order_that_names_a_line_twice_is_refused():
    with pytest.raises(Exception, match="each of 0 to 15 once"):
        replace(REFERENCE, rows_right=(0,) * 16)
