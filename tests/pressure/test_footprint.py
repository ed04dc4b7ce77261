"""The footprint: edges by hand, on soles made here and on the twin's, and when it must not be believed."""

import math

import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.pressure.feet import centres
from groundtone.pressure.footprint import Footprint, FootprintFinder, edges
from groundtone.twin.loads import make_loads
from groundtone.twin.scenario import SOLES, GolferSpec, MatSpec, Scenario, Session

LAYOUT = layout_of("reference-16x4")
PITCH = 20.0


def both(mark):
    """Heel and toe edge."""
    return mark.heel_mm, mark.toe_mm


def test_position_by_hand():
    mark = Footprint(20.0, 300.0)
    assert [mark.position(u) for u in (20.0, 160.0, 300.0, 6.0)] == pytest.approx([0.0, 0.5, 1.0, -0.05])
    assert math.isnan(mark.position(math.nan))


def test_edges_of_an_even_print_by_hand():
    # Rows 2 to 13 (40 to 280 mm) carry 10 N each. The heel's load lies in 40 to 120 mm: 40 N; a fortieth of it is 1 N,
    # a tenth of a row: 2 mm inside. The same at the toes.
    even = np.zeros(16)
    even[2:14] = 10.0
    assert both(edges(even, LAYOUT)) == pytest.approx((42.0, 278.0))


def test_edges_with_a_light_first_row_by_hand():
    # Row 1 carries 1 N, rows 2 to 5 8 N each. Rows 1 to 4 make 25 N, a fortieth is 0.625 N: 12.5 mm into row 1.
    envelope = np.zeros(16)
    envelope[1] = 1.0
    envelope[2:14] = 8.0
    # Below a hundredth of the strongest row a row begins no print, but its load lies outside the edge all the same:
    # 0.025 · (4 · 8 + 0.05) = 0.80125 N, of which 0.05 are in row 14 and 0.75125 in row 13, 1.878 mm of it.
    envelope[14] = 0.05
    print_ = edges(envelope, LAYOUT)
    assert print_.heel_mm == pytest.approx(32.5)
    assert print_.toe_mm == pytest.approx(280.0 - 0.75125 / 8.0 * 20.0)


def test_a_known_shoe_keeps_the_middle():
    even = np.zeros(16)
    even[2:14] = 10.0
    even[13] = 20.0
    middle = sum(both(edges(even, LAYOUT))) / 2
    assert both(edges(even, LAYOUT, 260.0)) == pytest.approx((middle - 130.0, middle + 130.0))


@pytest.mark.parametrize("rows", [(), (5,), (5, 6)])
def test_too_little_to_tell(rows):
    envelope = np.zeros(16)
    envelope[list(rows)] = 50.0
    assert edges(envelope, LAYOUT) is None


def test_no_shoe_is_so_short_or_so_long():
    short = np.zeros(16)
    short[4:10] = 10.0  # 120 mm
    assert edges(short, LAYOUT) is None
    assert edges(short, LAYOUT, 120.0) is None
    assert edges(short, LAYOUT, 250.0) is not None
    assert edges(short, LAYOUT, 400.0) is None


def sole_rows(heel_mm, length_mm, at):
    """Loads of the rows under an invented sole: heel and ball as half-ellipses of pressure, and a thin waist.

    `at` shares the load between heel (0) and ball (1).
    """
    u = np.arange(0.25, 320.0, 0.5)
    x = (u - heel_mm) / length_mm

    def lump(middle, half):
        return np.sqrt(np.maximum(1 - ((x - middle) / half) ** 2, 0.0))

    waist = 0.05 * ((x > 0) & (x < 1))
    pressure = (1 - at) * lump(0.14, 0.14) + at * lump(0.78, 0.22) + waist
    rows = pressure.reshape(16, -1).sum(1)
    return 400.0 * rows / rows.sum()


@pytest.mark.parametrize("length", [200, 230, 260, 290])
def test_edges_of_soles_made_here(length):
    for heel in np.arange(5.0, 315.0 - length, 3.7):
        envelope = np.max([sole_rows(heel, length, at) for at in np.linspace(0.02, 0.98, 20)], axis=0)
        mark = edges(envelope, LAYOUT)
        # Half a row at the most.
        assert mark.heel_mm == pytest.approx(heel, abs=10.0)
        assert mark.toe_mm == pytest.approx(heel + length, abs=10.0)


def play(scenario, finder, until_s=12.0, step=4):
    """Feeds the twin's true cell forces to a finder; the time at which the prints were found."""
    loads = make_loads(scenario)
    force = loads.film_forces(0, min(loads.steps, round(until_s / 0.0025)))
    _, u, _ = centres(force, LAYOUT, 30.0)
    for i in range(0, len(force), step):
        if finder.add(force[i], (u[i, 0], u[i, 1])):
            return loads, i * 0.0025
    return loads, None


@pytest.mark.parametrize("shoe", [200, 230, 260, 290, 320])
def test_prints_of_the_twins_golfers(shoe):
    """Reached over soles and seeds: each edge within 12 mm, the length within 12 mm, the mean within 5 mm."""
    heel_errors, toe_errors = [], []
    for seed, sole in enumerate(SOLES, start=shoe):
        finder = FootprintFinder(LAYOUT)
        golfer = GolferSpec(shoe_mm=shoe, sole=sole)
        loads, found_s = play(Scenario(MatSpec.reference(seed=seed), Session(golfer=golfer, seed=seed)), finder)
        # Stepping on takes 1.9 s from 1.5 s on; the rock's toes come at 0.52 of its 5 s.
        assert 3.4 + 0.52 * 5 < found_s < 3.4 + 5.0
        for foot in (0, 1):
            middle = loads.stands[foot][0].centre_mm[0]
            heel_errors.append(finder.prints[foot].heel_mm - (middle - shoe / 2))
            toe_errors.append(finder.prints[foot].toe_mm - (middle + shoe / 2))
    heel, toe = np.array(heel_errors), np.array(toe_errors)
    assert np.abs(heel).max() < 12.0
    assert np.abs(toe).max() < 12.0
    assert np.abs(toe - heel).max() < 12.0
    assert abs(np.mean((toe + heel) / 2)) < 5.0


def rock(finder, shares, heel=20.0, length=290.0):
    """Both feet of the invented sole, one frame a share; whether each frame completed the prints."""
    out = []
    for at in shares:
        rows = sole_rows(heel, length, at)
        panel = np.outer(rows, [0.2, 0.3, 0.3, 0.2])
        u = float(rows @ LAYOUT.u_mm / rows.sum())
        out.append(finder.add(np.concatenate([panel, panel], axis=1), (u, u)))
    return out


HEELS = [0.05 + 0.05 * math.sin(i / 5) for i in range(500)]
FULL = [*np.linspace(0.5, 0.0, 50), *np.linspace(0.0, 1.0, 100), *np.linspace(1.0, 0.5, 50)]


def test_a_rock_completes_once():
    finder = FootprintFinder(LAYOUT)
    done = rock(finder, FULL)
    assert done.count(True) == 1
    # On the way back from the toes, not before.
    assert done.index(True) > 150
    left, right = finder.prints
    assert left == right
    assert left.heel_mm == pytest.approx(20.0, abs=10.0)
    assert left.toe_mm == pytest.approx(310.0, abs=10.0)
    # Found is found: more frames change nothing.
    assert not any(rock(finder, FULL, heel=60.0, length=240.0))
    assert finder.prints == (left, right)


def test_standing_on_the_heels_never_completes():
    finder = FootprintFinder(LAYOUT)
    assert not any(rock(finder, HEELS))
    assert finder.prints is None
    # Half a rock is not enough either; the whole one then is.
    assert not any(rock(finder, [0.1, 0.3, 0.4, 0.3, 0.1] * 20))
    assert any(rock(finder, FULL))


def test_one_foot_alone_never_completes():
    finder = FootprintFinder(LAYOUT)
    for at in FULL:
        force = np.zeros((16, 8))
        rows = sole_rows(20.0, 290.0, at)
        force[:, :4] = np.outer(rows, [0.2, 0.3, 0.3, 0.2])
        assert not finder.add(force, (float(rows @ LAYOUT.u_mm / rows.sum()), math.nan))
    assert finder.prints is None


def test_forgotten_after_a_step_off():
    finder = FootprintFinder(LAYOUT)
    assert any(rock(finder, FULL))
    finder.forget()
    assert finder.prints is None
    # The next golfer's shorter feet are found as they are: nothing of the first is left.
    assert not any(rock(finder, HEELS, heel=50.0, length=230.0))
    assert any(rock(finder, FULL, heel=50.0, length=230.0))
    assert finder.prints[0].heel_mm == pytest.approx(50.0, abs=10.0)
    assert finder.prints[0].toe_mm == pytest.approx(280.0, abs=10.0)


def test_lost_frames_do_no_harm():
    finder = FootprintFinder(LAYOUT)
    nothing = np.full((16, 8), np.nan)
    assert not finder.add(nothing, (math.nan, math.nan))
    assert rock(finder, FULL[:120]).count(True) == 0
    assert not finder.add(nothing, (math.nan, math.nan))
    assert any(rock(finder, FULL[120:]))
    assert finder.prints[0].heel_mm == pytest.approx(20.0, abs=10.0)


@pytest.mark.parametrize(("shoe_mm", "foot"), [(129.0, False), (131.0, True), (359.0, True), (361.0, False)])
def test_shoes_from_130_to_360_mm(shoe_mm, foot):
    three = np.zeros(16)
    three[6:9] = 10.0  # three rows are enough to tell where it stands
    assert (edges(three, LAYOUT, shoe_mm) is not None) == foot


def rows_of(first, last, more=()):
    """10 N on each row from one to another, and what else is said, N."""
    out = np.zeros(16)
    out[first : last + 1] = 10.0
    for row, force in more:
        out[row] = force
    return out


def back_again(length_mm, envelope, panel=None):
    """A finder of somebody whose soles were so long, who steps on again with this envelope."""
    finder = FootprintFinder(LAYOUT, panel=panel)
    finder.prints = (Footprint(40.0, 40.0 + length_mm),) * 2
    finder.forget()
    finder._envelope[:] = envelope
    return finder


def test_soles_of_before_are_taken_over_from_where_the_heel_came_down():
    finder = back_again(236.0, rows_of(3, 11))
    assert finder.take_over()
    assert finder.taken_over
    assert [both(mark) for mark in finder.prints] == [pytest.approx((62.0, 298.0))] * 2
    assert not finder.take_over()  # they are found
    alone = back_again(236.0, rows_of(3, 11), panel=1)
    assert alone.take_over()
    assert alone.prints == (None, finder.prints[1])


def test_nothing_is_taken_over_of_nobody_or_by_a_foot_that_shows_too_little():
    assert not FootprintFinder(LAYOUT).take_over()
    assert not back_again(236.0, rows_of(3, 4)).take_over()
    finder = back_again(236.0, rows_of(3, 11))
    finder._before = (None, finder._before[1])
    assert not finder.take_over()
    assert not finder.taken_over


@pytest.mark.parametrize(
    ("length", "row", "force", "taken"),
    [(200.0, 14, 0.79, True), (200.0, 14, 0.81, False), (212.0, 13, 5.0, False), (214.0, 13, 5.0, True)],
)
def test_longer_soles_are_another_golfers(length, row, force, taken):
    """More than 0.08 of the strongest row, over 15 mm beyond the toes. The heel comes down at 62, then at 42 mm."""
    first = 3 if row == 14 else 2
    assert back_again(length, rows_of(first, first + 8, [(row, force)])).take_over() == taken


@pytest.mark.parametrize(
    ("high", "u_mm", "found"),
    [(194.5, 150.0, True), (194.3, 150.0, False), (194.5, 136.0, True), (194.5, 135.0, False), (194.5, 158.0, True),
     (194.5, 160.0, False)],
)  # fmt: skip
def test_a_rock_goes_over_four_tenths_of_the_print_and_has_left_its_end_by_15_hundredths(high, u_mm, found):
    """A print of 236 mm; the centre has been at 100 mm and at `high`."""
    finder = FootprintFinder(LAYOUT)
    finder._envelope[:] = rows_of(2, 13)
    finder._low, finder._high = [100.0, 100.0], [high, high]
    finder.taken_over = True
    finder.prints = (Footprint(0.0, 200.0),) * 2  # taken over: a rock still tells
    assert finder.add(np.zeros((16, 8)), (u_mm, u_mm)) == found
    assert finder.taken_over != found
    assert both(finder.prints[1]) == pytest.approx((42.0, 278.0) if found else (0.0, 200.0))


@pytest.mark.parametrize(("force", "counts"), [(0.09, False), (0.11, True)])
def test_a_row_carries_something_from_a_hundredth_of_the_strongest_on(force, counts):
    envelope = rows_of(6, 7, [(8, force)])
    assert (edges(envelope, LAYOUT, 200.0) is not None) == counts
