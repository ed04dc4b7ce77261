"""Commissioning's arithmetic by hand: orders, walks, touches of the test resistor, references, words."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.build.asking import Ask, gather
from groundtone.build.commission_steps import placed
from groundtone.build.diagnosis import diagnose, finding_faults
from groundtone.build.evidence import Evidence, Idle, Reading, Touch, from_json, stroke_of, to_json
from groundtone.build.faults import Kind, Namer
from groundtone.build.permutation import column_faults, filled, row_faults, walked_order
from groundtone.build.places import joined_columns, place_map
from groundtone.build.soldered import Observed, as_planned, column_addresses, source_of
from groundtone.build.suspects import board_of, differences
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


# The board's parts, from the empty mat and the test resistor: Rs / (Rs + 1 kΩ + 50 Ω of pin + 220 Ω of row)

MISSED = np.zeros((16, 8))


def touch(row, column, rs=1000.0, row_ohm=220.0, pin=50.0, also=()):
    rise = np.zeros((16, 8))
    rise[row, [column, *also]] = LEVEL * rs / (rs + 1000.0 + pin + row_ohm)
    return Touch(row, column, rise)


LEVEL = 1.009  # the rows' 3.30 V against the converter's 3.27 V


def idle(zero=0.0, supply=0.5, high=0.7905, low=0.1923, cells=None):
    mean = np.full((16, 8), 0.0003) if cells is None else cells
    refs = (min(1.0, LEVEL * level) for level in (zero, supply, high, low))
    return Idle(mean, np.full((16, 8), 2e-4), *refs)


def ohms(**wrong):
    """The self-test's figures of the columns: 1 kΩ but for those named, as in c3=10e3."""
    return tuple(Finding(20, c, 0, int(min(65535, wrong.get(f"c{c}", 1000)))) for c in range(8))


def found(touches, empty=None, findings=None):
    observed = Observed(Evidence(ohms() if findings is None else findings, empty or idle(), touches), empty or idle(),
                        REFERENCE)  # fmt: skip
    plan = as_planned(REFERENCE)
    return [(part, value) for part, value in differences(board_of(observed, plan)[0], plan)]


def touches(**wrong):
    """One touch a row, the columns in turn; a row's or a column's Ω by its name, as in r5=1e3."""
    return [touch(k, k % 8, wrong.get(f"c{k % 8}", 1000.0), wrong.get(f"r{k}", 220.0)) for k in range(16)]


@pytest.mark.parametrize("pin", [20.0, 80.0])
def test_right_resistors_are_right_whatever_the_pins_have(pin):
    assert found([touch(k, k % 8, pin=pin) for k in range(16)]) == []


@pytest.mark.parametrize("ohm", [10.0, 820.0, 1e3, 1e4, 1e5, 1e6])
def test_a_wrong_resistor_of_the_bag_is_named_in_a_row(ohm):
    assert found(touches(r5=ohm)) == [(("series", 5), ohm)]


@pytest.mark.parametrize("ohm", [100.0, 820.0, 1e4])
def test_a_wrong_resistor_of_the_bag_is_named_at_a_column(ohm):
    assert found(touches(c3=ohm), findings=ohms(c3=ohm)) == [(("pulldown", 3), ohm)]
    # Where the reference resistor is wrong the self-test gives no such figures: two touches are enough.
    assert found(touches(c3=ohm), findings=()) == [(("pulldown", 3), ohm)]


def test_two_wrong_resistors_in_one_way_are_both_named():
    assert found(touches(c3=1e4, r3=1e3), findings=ohms(c3=1e4)) == [(("series", 3), 1e3), (("pulldown", 3), 1e4)]


def test_a_value_that_no_bag_holds_is_named_by_the_next_one_in_shops():
    assert found(touches(r7=470.0)) == [(("series", 7), 470.0)]


def test_of_two_joined_columns_one_wrong_pull_down_is_told_as_one_of_the_two():
    # 1 kΩ and 100 Ω side by side are 90.9 Ω.
    some = [touch(k, k % 8) for k in range(16) if k % 8 not in (2, 3)]
    some += [touch(k, k % 8, rs=1000 / 11, also=({2: 3, 3: 2}[k % 8],)) for k in (2, 3, 10, 11)]
    got = diagnose(Evidence(ohms(c2=91, c3=91), idle(), some), REFERENCE).faults
    assert kinds(got) == [(Kind.PULLDOWN, (2,), None), (Kind.COLUMNS_JOINED, (2, 3), None)]
    assert got[0].sentence == (
        "The pull-down of column 2 (left panel) is about 100 Ω instead of 1 kΩ, or the pull-down of column 3 (left "
        "panel) is about 100 Ω instead of 1 kΩ."
    )


def test_touches_that_were_missed_twice_name_the_row_once_they_do_not():
    once = [t if t.row != 4 else replace(t, rise=MISSED) for t in touches()]
    assert found(once) == []
    twice = [*once, Touch(4, 6, MISSED)]
    assert found(twice) == [(("series", 4), math.inf)]
    # It was the person: the second try was felt.
    assert found([*once, touch(4, 6)]) == []


def test_readings_that_no_part_makes_are_refused_in_words():
    odd = touches()
    odd[6] = replace(odd[6], rise=np.where(odd[6].rise > 0, odd[6].rise, 0.21))
    got = diagnose(Evidence(ohms(), idle(), odd), REFERENCE).faults
    assert [f.kind for f in got] == [Kind.UNEXPLAINED]
    assert "the test resistor between row 6 and column 6" in got[0].sentence


# References


def test_the_inputs_behind_exchanged_address_lines_are_those_with_the_bits_exchanged():
    assert [source_of((0, 2))[a] for a in (1, 4, 3, 6, 9, 10, 8)] == [4, 1, 6, 3, 12, 10, 8]
    at, usable = column_addresses((0, 3), 8)
    assert usable.tolist() == [True, False, True, False, True, False, True, False]
    assert column_addresses((1, 2), 8)[0].tolist() == [0, 1, 4, 5, 2, 3, 6, 7]
    assert at[0] == 0


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (idle(), []),
        # 10 kΩ: 10035 / (10035 + 270) and 255 / (255 + 10050)
        (idle(high=0.9738, low=0.0247), [("reference", 1e4)]),
        (idle(high=0.7600, low=0.2267), [("reference", 820.0)]),
        (idle(high=1.0, low=0.0), [("reference", math.inf)]),
        (idle(high=0.24, low=0.19), [("tap", False)]),
        (idle(zero=0.3), [("zero", False)]),
    ],
)
def test_the_references_of_an_empty_mat_name_the_part_that_is_wrong(readings, expected):
    # Where the reference is right the self-test's figures of the columns go by it; where it is not it gives none.
    known = ohms(**{f"c{c}": 1217.0 for c in range(8)}) if expected == [("reference", 820.0)] else None
    known = () if expected[:1] in ([("reference", 1e4)], [("reference", math.inf)], [("tap", False)]) else known
    got = found(touches(), readings, known)
    assert [(part[0], value) for part, value in got] == expected


@pytest.mark.parametrize(
    ("supply", "part", "ohm"), [(1 / 11, "upper", 1e5), (10 / 11, "upper", 1e3), (0.45, "lower", 8.2e3)]
)
def test_a_wrong_divider_is_no_exchange_of_address_lines(supply, part, ohm):
    got = diagnose(Evidence(ohms(), idle(supply=supply), touches()), REFERENCE).faults
    assert [f.kind for f in got] == [Kind.DIVIDER]


def test_a_divider_without_a_level_is_a_divider_though_an_exchange_would_read_alike():
    # 1 MΩ above 10 kΩ: input 9 reads next to nothing, as it would with S0 and S2 exchanged.
    got = diagnose(Evidence(ohms(), idle(supply=0.0099), touches()), REFERENCE).faults
    assert [f.kind for f in got] == [Kind.DIVIDER]
    exchanged = diagnose(Evidence((*ohms(), Finding(12, 0, 2, 0)), idle(supply=0.0), touches()), REFERENCE).faults
    assert kinds(exchanged) == [(Kind.ADDRESS, (0, 2), None)]


def test_a_column_that_shows_the_tap_gives_the_exchange_away():
    cells = np.full((16, 8), 0.0003)
    cells[0, 3] = 1.0
    got = diagnose(Evidence(idle=idle(high=0.0, low=0.0, cells=cells)), REFERENCE)
    assert kinds(got.faults) == [(Kind.ADDRESS, (0, 3), None)]
    assert len(got.untested) == 4


def test_a_multiplexer_that_is_missing_is_named_and_nothing_else():
    empty = Idle(np.full((16, 8), 0.22), np.full((16, 8), 0.01), 0.24, 0.21, 0.24, 0.21)
    got = diagnose(Evidence((Finding(3, 0, 0, 3856), Finding(6, 0, 0, 3852)), empty), REFERENCE)
    assert kinds(got.faults) == [(Kind.MULTIPLEXER, (), None)]


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
    assert finding_faults([missing], [NAMER.pulldown(5, (math.inf, math.inf), 1e3)], NAMER) == []
    (film,) = finding_faults([Finding(7, 1, 0, 200)], [], NAMER)
    assert film.sentence == "The film of the right panel conducts sideways, about 20.0 kΩ between columns."


def test_a_fault_is_named_in_the_builders_words():
    assert NAMER.pulldown(5, (100.0, 100.0), 1000.0).sentence == (
        "The pull-down of column 5 (right panel) is about 100 Ω instead of 1 kΩ."
    )
    assert NAMER.series(3, (1e3, 1e3), 100.0).sentence == "The resistor in row 3 is about 1 kΩ instead of 100 Ω."
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
    assert replace(REFERENCE, series_ohm=100.0).digest == "46001edd"
    assert REFERENCE.as_in("46001edd") == replace(REFERENCE, series_ohm=100.0)
    assert REFERENCE.as_in(REFERENCE.digest) == REFERENCE
    assert REFERENCE.as_in("00000000") is None
    assert replace(REFERENCE, rows_left=tuple(range(15, -1, -1))).digest != REFERENCE.digest


def test_an_order_that_names_a_line_twice_is_refused():
    with pytest.raises(Exception, match="each of 0 to 15 once"):
        replace(REFERENCE, rows_right=(0,) * 16)
