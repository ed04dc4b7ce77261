"""The series of a recording against the frame-by-frame functions, and stands and footprints against the twin."""

import math

import numpy as np
import pytest

from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance, feet_of, least_force_n, overall_centre
from groundtone.pressure.series import joined, rows_of, series_from_rows
from groundtone.pressure.stands import stand_spans
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import Doing, GolferSpec, MatSpec, Session, SwingSpec
from groundtone.twin.truth import truth

LAYOUT = layout_of("reference-16x4")


def forces_of(session, zero_n=0.0):
    loads = GolferLoads(MatSpec.reference(seed=1), session)
    force = loads.film_forces(0, loads.steps)[::2]
    return loads, loads.curves.t_s[::2], force + zero_n + np.random.default_rng(1).normal(0, 0.2, force.shape)


def known_of(session):
    from groundtone.twin.scenario import Scenario

    return truth(Scenario(MatSpec.reference(seed=1), session))


@pytest.fixture(scope="module")
def visits():
    """A left-hander hits three balls and leaves the mat after each; the second time without a new rock."""
    golfer = GolferSpec("left", 70.0, 280.0, flare_deg=(20.0, 5.0), stance_mm=380.0)
    doings = (Doing("walk", 2.0, 1), Doing("walk", 2.0, 2, rock=True))
    session = Session(golfer, (SwingSpec(), SwingSpec(), SwingSpec("slide")), seed=11, doings=doings)
    return session, *forces_of(session)


@pytest.fixture(scope="module")
def series(visits):
    session, _, t, force = visits
    return series_from_rows(rows_of(t, force, LAYOUT), LAYOUT, Stance(RIGHT, 380.0, flare_deg=session.golfer.flare_deg))


def test_every_frame_is_what_the_live_functions_say(visits, series):
    session, _, t, force = visits
    stance = Stance(RIGHT, 380.0, flare_deg=session.golfer.flare_deg)
    for i in range(0, t.size, 97):
        least = least_force_n(0.0 if math.isnan(series.weight_n[i]) else series.weight_n[i])
        feet = feet_of(force[i], LAYOUT, least)
        assert series.force_n[i] == pytest.approx(feet.force_n, abs=0.8)  # the zero is taken out here
        for got, want in ((series.u_mm[i], feet.u_mm), (series.v_mm[i], feet.v_mm)):
            assert got == pytest.approx(want, abs=1.0, nan_ok=True)
        if feet.total_n > 200:
            assert series.share[i] == pytest.approx(feet.force_n[RIGHT] / feet.total_n, abs=0.003)
            assert series.centre_mm[i] == pytest.approx(overall_centre(feet, stance, LAYOUT), abs=2.0)


def test_positions_agree_with_the_truth_in_every_stand(visits, series):
    session, _, t, _ = visits
    known = known_of(session)
    assert len(series.stands) == 3
    sources = [{s.source for s in stand.settled} for stand in series.stands]
    assert sources[0] == sources[2] == {"rock"}
    assert sources[1] <= {"rock", "length taken over"}
    index = np.searchsorted(known.t_s, t - 1e-9)
    for stand in series.stands:
        assert stand.weight_n == pytest.approx(70 * 9.80665, rel=0.03)
        cut = slice(stand.begin + 300, stand.end - 300)
        error = series.position[cut] - known.heel_toe[index[cut]]
        assert np.nanmax(np.abs(error)) < 0.06
        assert np.nanmean(np.abs(error)) < 0.02
        share = series.share[cut] - known.lead_share[index[cut]]
        assert np.nanmax(np.abs(share)) < 0.02


def test_zero_is_taken_anew(visits):
    """A mat that reads 1 N a cell more than there is (64 N a foot) still gives the shares and the weight."""
    session, _, t, force = visits
    shifted = series_from_rows(rows_of(t, force + 0.2, LAYOUT), LAYOUT, Stance(RIGHT, 380.0))
    plain = series_from_rows(rows_of(t, force, LAYOUT), LAYOUT, Stance(RIGHT, 380.0))
    assert [s.weight_n for s in shifted.stands] == pytest.approx([s.weight_n for s in plain.stands], rel=1e-3)
    assert session.golfer.hand == "left"


def test_lost_frames_are_nan_and_break_nothing(visits):
    _, _, t, force = visits
    holed = force.copy()
    holed[2000:2010] = np.nan
    holed[:, 3, 2] = np.nan  # a cell without a curve counts as nothing
    got = series_from_rows(rows_of(t, holed, LAYOUT), LAYOUT, Stance(RIGHT))
    assert np.isnan(got.share[2000:2010]).all()
    assert np.isnan(got.position[2000:2010]).all()
    assert np.isfinite(got.share[1990:2000]).all()
    assert not np.isfinite(got.share[2005])
    assert len(got.stands) == 3


def test_blocks_give_the_same_as_the_whole(visits):
    _, _, t, force = visits
    blocks = joined((rows_of(t[i : i + 3000], force[i : i + 3000], LAYOUT) for i in range(0, t.size, 3000)), t.size)
    whole = series_from_rows(rows_of(t, force, LAYOUT), LAYOUT, Stance(LEFT))
    got = series_from_rows(blocks, LAYOUT, Stance(LEFT))
    assert np.array_equal(got.share, whole.share, equal_nan=True)
    assert got.stands == whole.stands


def test_times_that_do_not_rise_are_refused(visits):
    _, _, t, force = visits
    back = t.copy()
    back[500] = back[400]
    with pytest.raises(ValueError, match="must rise"):
        series_from_rows(rows_of(back, force, LAYOUT), LAYOUT, Stance())
    with pytest.raises(ValueError, match="one frame of forces for each time"):
        series_from_rows(rows_of(t[:-1], force, LAYOUT), LAYOUT, Stance())


def test_nobody_and_nothing():
    empty = series_from_rows(rows_of(np.arange(100) / 200, np.zeros((100, 16, 8)), LAYOUT), LAYOUT, Stance())
    assert empty.stands == ()
    assert np.isnan(empty.share).all()
    nothing = series_from_rows(rows_of(np.zeros(0), np.zeros((0, 16, 8)), LAYOUT), LAYOUT, Stance())
    assert nothing.t_s.size == 0


def test_stands_by_hand():
    t = np.arange(0, 40, 0.1)
    total = np.zeros(t.size)
    total[50:150] = 700.0  # 5 to 15 s
    total[100:102] = 0.0  # a hop of 0.2 s
    total[160:190] = 120.0  # a bag lies there: no golfer
    total[200:205] = 700.0  # half a second: no stand
    total[250:300] = 500.0
    total[260] = np.nan
    assert stand_spans(t, total) == [(50, 150), (250, 300)]
    gap = np.where(t > 28, t + 5, t)
    assert stand_spans(gap, total) == [(50, 150), (250, 281), (281, 300)]
    assert stand_spans(t, np.full(t.size, np.nan)) == []


def test_a_quarter_of_an_hour_is_told_stand_by_stand(visits):
    _, _, t, force = visits
    times = -(-50_000 // t.size)
    rows = rows_of(t, force, LAYOUT)
    many = joined((type(rows)(t + k * (t[-1] + 1), rows.row_n, rows.across_nmm) for k in range(times)), times * t.size)
    got = series_from_rows(many, LAYOUT, Stance(RIGHT))
    assert len(got.stands) == 3 * times


def standing(heel_mm, toe_mm, part):
    """Rows of one foot whose load lies evenly about heel (`1 - part` of it) and ball, 300 N in all."""
    u = LAYOUT.u_mm
    heel = np.where((u > heel_mm) & (u < heel_mm + 80), 1.0, 0.0)
    toe = np.where((u > toe_mm - 80) & (u < toe_mm), 1.0, 0.0)
    return 300 * ((1 - part) * heel / heel.sum() + part * toe / toe.sum())


def test_a_stand_without_a_rock_takes_the_length_over_and_keeps_its_own_heel():
    """First from 20 to 300 mm with a rock; then 40 mm further forward, standing quietly, the toes hardly loaded."""
    t = np.arange(0, 16, 0.01)
    rows = np.zeros((t.size, 2, LAYOUT.rows))
    for i, now in enumerate(t):
        if 2 <= now < 7:
            rows[i, :] = standing(20, 300, 0.5 + 0.45 * np.sin(2 * np.pi * (now - 2) / 5))
        elif 9 <= now < 14:
            rows[i, :] = standing(60, 340, 0.4)
    force = np.repeat(rows.transpose(0, 2, 1) / 4, 4, axis=2)
    got = series_from_rows(rows_of(t, force, LAYOUT), LAYOUT, Stance())
    first, second = got.stands
    assert {s.source for s in first.settled} == {"rock"}
    assert {s.source for s in second.settled} == {"length taken over"}
    for a, b in zip(first.footprints, second.footprints, strict=True):
        assert b.toe_mm - b.heel_mm == pytest.approx(a.toe_mm - a.heel_mm)
        assert b.heel_mm == pytest.approx(a.heel_mm + 40, abs=6)
    assert second.settled[0].edge_u_mm > first.settled[0].edge_u_mm
    # A golfer of another weight has other shoes: nothing is taken over from them.
    heavier = series_from_rows(rows_of(t, force * np.where(t > 8, 1.4, 1.0)[:, None, None], LAYOUT), LAYOUT, Stance())
    assert {s.source for s in heavier.stands[1].settled} == {"unsure"}
    # With the shoe's length known it is the shoe's.
    shoe = series_from_rows(rows_of(t, force, LAYOUT), LAYOUT, Stance(), shoe_mm=285.0)
    assert {s.source for s in shoe.stands[1].settled} == {"shoe"}
