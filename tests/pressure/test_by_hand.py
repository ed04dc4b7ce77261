"""Feet, stance and footprint: values by hand."""

import math

import numpy as np
import pytest

from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Feet, Stance, centres, feet_of, lead_share, least_force_n, overall_centre
from groundtone.pressure.footprint import Footprint, FootprintFinder, edges

LAYOUT = layout_of("reference-16x4")
MIDDLE = (160.0, 70.0)


def test_panels_lie_left_and_right_and_x_runs_to_the_lead_foot():
    right_handed, left_handed = Stance(LEFT, 400.0), Stance(RIGHT, 400.0)
    assert right_handed.to_stance(LEFT, *MIDDLE, LAYOUT) == pytest.approx((200, 0))
    assert right_handed.to_stance(RIGHT, *MIDDLE, LAYOUT) == pytest.approx((-200, 0))
    assert left_handed.to_stance(RIGHT, *MIDDLE, LAYOUT) == pytest.approx((200, 0))
    # 10 mm to the golfer's right of the right panel's middle: away from the lead foot, or further out on it.
    assert right_handed.to_stance(RIGHT, 160, 80, LAYOUT) == pytest.approx((-210, 0))
    assert left_handed.to_stance(RIGHT, 160, 80, LAYOUT) == pytest.approx((210, 0))


def test_flare_turns_the_toes_outwards():
    stance = Stance(LEFT, 400.0, 0.0, (30.0, 30.0))
    toes = stance.to_stance(LEFT, 260, 70, LAYOUT)
    assert toes == pytest.approx((200 + 100 * math.sin(math.radians(30)), 100 * math.cos(math.radians(30))))
    toes = stance.to_stance(RIGHT, 260, 70, LAYOUT)
    assert toes == pytest.approx((-200 - 50, 86.6025404))


def test_force_centre_and_threshold():
    cells = np.zeros((16, 8))
    cells[4, 0], cells[5, 0] = 30.0, 90.0  # left: u = (90·30 + 110·90)/120, v of the first column
    cells[0, 4] = 29.0  # right: too little for a centre
    force, u_mm, v_mm = centres(cells, LAYOUT, 30.0)
    assert force == pytest.approx([120, 29])
    assert u_mm[0] == pytest.approx(105)
    assert v_mm[0] == pytest.approx(17.5)
    assert np.isnan(u_mm[1])
    assert np.isnan(v_mm[1])


@pytest.mark.parametrize(("weight_n", "least"), [(0, 30), (600, 30), (1000, 50)])
def test_least_force(weight_n, least):
    assert least_force_n(weight_n) == pytest.approx(least)


def test_lead_share_and_overall_centre():
    feet = Feet((300.0, 100.0), (160.0, 200.0), (70.0, 70.0))
    assert lead_share(feet, LEFT, 60) == pytest.approx(0.75)
    assert lead_share(feet, RIGHT, 60) == pytest.approx(0.25)
    assert math.isnan(lead_share(Feet((20.0, 20.0), (1.0, 1.0), (1.0, 1.0)), LEFT, 60))
    assert overall_centre(feet, Stance(LEFT, 400.0), LAYOUT) == pytest.approx((100, 10))


def test_nobody_has_no_centre():
    feet = feet_of(np.zeros((16, 8)), LAYOUT, 30.0)
    assert all(math.isnan(v) for v in overall_centre(feet, Stance(), LAYOUT))


def test_edges_of_an_even_print():
    envelope = np.zeros(16)
    envelope[2:14] = 100.0  # 40 to 280 mm, 5 N a millimetre; the outside fortieth of 400 N is 10 N, 2 mm
    assert edges(envelope, LAYOUT) == Footprint(pytest.approx(42), pytest.approx(278))
    assert edges(envelope, LAYOUT, shoe_mm=250) == Footprint(pytest.approx(35), pytest.approx(285))


def test_too_little_is_no_print():
    envelope = np.zeros(16)
    envelope[3:5] = 100.0
    assert edges(envelope, LAYOUT) is None
    assert edges(np.zeros(16), LAYOUT) is None


def rock(finder, places):
    found = []
    for u in places:
        cells = np.zeros((16, 8))
        rows = np.exp(-(((LAYOUT.u_mm - u) / 40) ** 2)) * (np.abs(LAYOUT.u_mm - 160) < 125)
        cells[:, (1, 5)] = 100 * rows[:, None]
        found.append(finder.add(cells, (u, u)))
    return found


def test_a_rock_completes_the_prints_once_and_standing_on_the_heels_never():
    finder = FootprintFinder(LAYOUT)
    assert not any(rock(finder, [80.0] * 200))
    assert finder.prints is None
    found = rock(finder, [*np.linspace(80, 250, 50), *np.linspace(250, 120, 50)])
    assert sum(found) == 1
    left, right = finder.prints
    assert left == right
    assert (left.heel_mm, left.toe_mm) == (pytest.approx(40, abs=12), pytest.approx(280, abs=12))
    finder.forget()
    assert finder.prints is None


def test_position():
    assert Footprint(40, 280).position(100) == pytest.approx(0.25)
    assert math.isnan(Footprint(40, 280).position(math.nan))
