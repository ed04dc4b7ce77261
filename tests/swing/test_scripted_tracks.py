"""What the review form takes for a swing, at its limits: tracks drawn by hand, a share, a force, the feet's toes."""

import numpy as np
import pytest

from groundtone.swing.events import Kind
from groundtone.swing.phases import _in_stand
from groundtone.swing.track import GRID_S, Track

# Takeaway at 3.0 s, turn at 3.7, impact about 4.0, finish held on the lead foot.
SHARE = ((0, 0.53), (3.0, 0.53), (3.7, 0.25), (4.0, 0.80), (4.5, 0.90), (9.0, 0.90))
FORCE = ((0, 1.0), (3.5, 1.0), (3.75, 0.9), (3.97, 1.3), (4.2, 1.0), (9.0, 1.0))


def drawn(knots, t):
    return np.interp(t, *zip(*knots, strict=True))


def track_of(share=SHARE, force=FORCE, toes=((0, 0.0), (9, 0.0)), until_s=9.0):
    t = np.arange(0, until_s, GRID_S)
    position = np.column_stack([np.full(t.size, 0.5), 0.5 + drawn(toes, t)])
    return Track(t, drawn(share, t), drawn(force, t), position, 0.001, np.zeros((0, 2)))


def swings(strikes=(), **script):
    return _in_stand(track_of(**script), strikes)


def test_a_swing_at_full_speed_is_told_by_its_force():
    (swing,) = swings()
    assert swing.kind is Kind.SWING
    assert (swing.impact.source, swing.impact.t_s) == ("pressure", pytest.approx(3.97 + 0.03, abs=0.01))
    assert swing.turn.t_s == pytest.approx(3.7, abs=0.01)
    assert swing.takeaway.t_s == pytest.approx(3.0, abs=0.08)  # fitted as a movement that begins slowly
    assert swing.setup_share == pytest.approx(0.53, abs=0.002)
    assert swing.slow == 1.0


@pytest.mark.parametrize(("rise", "found"), [(0.145, 0), (0.155, 1)])
def test_the_force_rises_by_fifteen_hundredths_of_the_weight(rise, found):
    force = ((0, 1.0), (3.5, 1.0), (3.75, 0.9), (3.97, 0.9 + rise), (4.2, 0.95), (9.0, 1.0))
    assert len(swings(force=force)) == found


@pytest.mark.parametrize(("dip_s", "found"), [(3.485, 0), (3.515, 1)])
def test_the_least_force_is_looked_for_from_a_fifth_of_a_second_before_the_turn(dip_s, found):
    dip = ((dip_s - 0.01, 0.95), (dip_s, 0.80), (dip_s + 0.01, 0.95))
    force = ((0, 0.95), *dip, (3.75, 0.95), (3.97, 1.06), (4.2, 0.95), (9.0, 0.95))
    assert len(swings(force=force)) == found


@pytest.mark.parametrize(("peak_s", "found"), [(3.78, 0), (3.82, 1), (4.63, 1), (4.67, 0)])
def test_the_force_peaks_from_a_tenth_to_95_hundredths_after_the_turn(peak_s, found):
    force = ((0, 1.0), (peak_s - 0.04, 0.9), (peak_s, 1.3), (peak_s + 0.015, 0.9), (9.0, 0.9))
    got = swings(force=force)
    assert sum(abs(s.impact.t_s - peak_s - 0.03) < 0.012 for s in got) == found


def test_a_strike_makes_a_swing_of_one_without_force_and_its_moment_exact():
    (swing,) = swings([(4.02, 0.5)], force=((0, 1.0), (9, 1.0)))
    assert (swing.impact.source, swing.impact.t_s) == ("strike sensor", 4.02)


@pytest.mark.parametrize(("after_s", "heard"), [(0.07, False), (0.09, True), (1.19, True), (1.21, False)])
def test_a_strike_counts_from_eighty_milliseconds_to_twelve_tenths_after_the_turn(after_s, heard):
    (swing,) = swings([(3.7 + after_s, 0.5)])
    assert (swing.impact.source == "strike sensor") == heard


def test_the_strongest_strike_is_the_golfers():
    (swing,) = swings([(3.95, 0.2), (4.01, 0.6), (4.1, 0.3)])
    assert swing.impact.t_s == 4.01


# At the turn the share stays within 0.02 of its lowest for 0.05 s in and 0.01 s out, and as long as it rests.
@pytest.mark.parametrize(("rests_s", "found"), [(0.0, 1), (0.47, 1), (0.52, 0), (0.70, 0)])
def test_who_rests_at_the_turn_for_longer_than_55_hundredths_shifts_about(rests_s, found):
    late = rests_s
    share = (*SHARE[:3], (3.7 + late, 0.25), *((t + late, v) for t, v in SHARE[3:5]), (9.0, 0.9))
    force = tuple((t + late if 3.6 < t < 9 else t, v) for t, v in FORCE)
    assert len([s for s in swings(share=share, force=force) if s.kind is Kind.SWING]) == found


@pytest.mark.parametrize(("low", "found"), [(0.53 - 0.115, 0), (0.53 - 0.125, 1)])
def test_a_backswing_goes_twelve_hundredths_back(low, found):
    assert len(swings(share=(*SHARE[:2], (3.7, low), *SHARE[3:]))) == found


@pytest.mark.parametrize(("lifted_s", "found"), [(0.08, 1), (0.13, 0)])
def test_who_lifts_the_lead_foot_walks(lifted_s, found):
    share = (
        (0, 0.53), (3.0, 0.53), (3.6, 0.04), (3.605, 0.02), (3.6 + lifted_s, 0.0), (3.605 + lifted_s, 0.04),
        (4.0, 0.8), (4.5, 0.9), (9, 0.9),
    )  # fmt: skip
    assert len(swings(share=share)) == found


@pytest.mark.parametrize(("total", "for_s", "found"), [(1.25, 2.0, 1), (1.36, 0.4, 1), (1.36, 1.0, 0)])
def test_a_second_person_on_the_mat_makes_no_swing(total, for_s, found):
    begin = 4.4
    heavy = ((4.39, 1.0), (begin, total), (begin + for_s, total), (begin + for_s + 0.01, 1.0))
    assert len(swings(force=(*FORCE[:5], *heavy, (9.0, 1.0)))) == found


# A slow rehearsal: 2 s back, 1.6 s forth, no force, finished on the lead foot with the trail foot on its toes.
SLOW = ((0, 0.53), (3.0, 0.53), (5.0, 0.25), (6.6, 0.85), (9.0, 0.85))
STILL = ((0, 1.0), (9, 1.0))
ON_TOES = ((0, 0.0), (5.0, 0.0), (6.4, 0.3), (9, 0.3))


def test_a_slow_rehearsal_is_told_by_its_finish():
    (swing,) = swings(share=SLOW, force=STILL, toes=ON_TOES)
    assert (swing.kind, swing.impact.source) == (Kind.REHEARSAL, "estimate")
    # When 85 % of the way to the lead side has been made: 5 s and 0.85 of 1.6 s.
    assert swing.impact.t_s == pytest.approx(5.0 + 0.85 * 1.6, abs=0.02)
    assert swing.impact.doubt_s == pytest.approx(0.2 * 0.85 * 1.6, abs=0.01)
    assert swing.slow == pytest.approx(swing.impact.t_s - swing.takeaway.t_s, abs=0.001)


@pytest.mark.parametrize(
    ("what", "share", "toes"),
    [
        ("flat feet", SLOW, ((0, 0.0), (9, 0.0))),
        ("not far enough on its toes", SLOW, ((0, 0.0), (5.0, 0.0), (6.4, 0.19), (9, 0.19))),
        ("ends in the middle", (*SLOW[:3], (6.6, 0.60), (9.0, 0.60)), ON_TOES),
        ("goes back at once", (*SLOW[:4], (7.0, 0.5), (9.0, 0.5)), ON_TOES),
        ("rests on the trail side, then goes quickly", (*SLOW[:3], (5.3, 0.85), (9.0, 0.85)), ON_TOES),
        ("forth much slower than back", ((0, 0.53), (3.0, 0.53), (4.3, 0.25), (7.4, 0.85), (9.0, 0.85)), ON_TOES),
    ],
)
def test_what_is_no_rehearsal(what, share, toes):
    assert swings(share=share, force=STILL, toes=toes) == []


def test_the_finish_is_reached_and_over_when_the_golfer_moves_on():
    share = (*SHARE[:5], (6.5, 0.90), (6.8, 0.5), (9.0, 0.5))
    (swing,) = swings(share=share)
    # Within 0.03 of the held 0.90: on the way from 0.80 at 4.0 s to 0.90 at 4.5 s.
    assert swing.finish.t_s == pytest.approx(4.0 + 0.5 * (0.87 - 0.80) / 0.10, abs=0.02)
    # 0.08 away from it: on the way from 0.90 at 6.5 s to 0.50 at 6.8 s.
    assert swing.end_s == pytest.approx(6.5 + 0.3 * 0.08 / 0.4, abs=0.02)
    (held,) = swings()
    assert held.end_s == pytest.approx(9.0, abs=0.01)


def test_two_swings_are_apart_by_nine_tenths():
    again = [(t + 6.0, v) for t, v in SHARE]
    pair = (*SHARE[:5], (5.0, 0.53), *again)
    force = (*FORCE[:5], *((t + 6.0, v) for t, v in FORCE))
    both = swings(share=pair, force=force, until_s=14.0)
    assert [s.turn.t_s for s in both] == pytest.approx([3.7, 9.7], abs=0.02)
