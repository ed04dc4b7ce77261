"""What is found in a recording, at its limits: a share, a force and the feet's toes drawn by hand, at 200 Hz."""

import numpy as np
import pytest

from groundtone.pressure.series import Series
from groundtone.pressure.stands import Stand
from groundtone.swing.events import Kind
from groundtone.swing.phases import find_swings, follow

# Takeaway at 3.0 s, turn at 3.7, impact about 4.0, finish held on the lead foot.
SHARE = ((0, 0.53), (3.0, 0.53), (3.7, 0.25), (4.0, 0.80), (4.5, 0.90), (9.0, 0.90))
FORCE = ((0, 1.0), (3.5, 1.0), (3.75, 0.9), (3.97, 1.3), (4.2, 1.0), (9.0, 1.0))
TOES = ((0, 0.0), (3.9, 0.0), (4.4, 0.35), (9.0, 0.35))
WEIGHT_N = 785.0


def drawn(knots, t):
    return np.interp(t, *zip(*knots, strict=True))


def series_of(share=SHARE, force=FORCE, toes=TOES, until_s=9.0, strikes=()):
    t = np.arange(0, until_s, 0.005)
    total, lead = WEIGHT_N * drawn(force, t), drawn(share, t)
    feet = np.column_stack([total * lead, total * (1 - lead)])
    position = np.column_stack([np.full(t.size, 0.5), 0.5 + drawn(toes, t)])
    place = np.full((t.size, 2), 70.0)
    stand = Stand(0.0, float(t[-1]), (None, None), WEIGHT_N, 0, t.size, ())
    return Series(
        t, feet, 300 * position, place, position, np.zeros((t.size, 2)), lead, position.mean(axis=1), place,
        np.full(t.size, WEIGHT_N), 0, 400.0, (stand,), tuple(sorted(strikes)),
    )  # fmt: skip


def swings(strikes=(), **script):
    return find_swings(series_of(strikes=strikes, **script))


def test_a_swing_at_full_speed_is_told_by_its_force():
    (swing,) = swings()
    assert swing.kind is Kind.SWING
    assert (swing.impact.source, swing.impact.t_s) == ("pressure", pytest.approx(3.97 + 0.03, abs=0.01))
    assert swing.turn.t_s == pytest.approx(3.7, abs=0.01)
    assert swing.takeaway.t_s == pytest.approx(3.0, abs=0.08)  # fitted as a movement that begins slowly
    assert swing.setup_share == pytest.approx(0.53, abs=0.002)
    assert swing.slow == 1.0


@pytest.mark.parametrize(("push", "found"), [(0.0, 0), (0.35, 1)])
def test_without_a_strike_some_force_has_to_be_pushed_with(push, found):
    force = ((0, 1.0), (3.5, 1.0), (3.75, 1.0 - push / 3), (3.97, 1.0 + 2 * push / 3), (4.2, 1.0), (9.0, 1.0))
    assert len(swings(force=force, toes=((0, 0.0), (9, 0.0)))) == found


def test_a_strike_makes_a_swing_of_one_without_force_and_its_moment_exact():
    (swing,) = swings([(4.02, 0.5)], force=((0, 1.0), (9, 1.0)))
    assert (swing.impact.source, swing.impact.t_s) == ("strike sensor", 4.02)


@pytest.mark.parametrize(("off_s", "heard"), [(-0.25, False), (-0.14, True), (0.14, True), (0.25, False)])
def test_a_strike_counts_within_seventeen_hundredths_of_where_impact_would_be(off_s, heard):
    (swing,) = swings([(4.0 + off_s, 0.5)])
    assert (swing.impact.source == "strike sensor") == heard


def test_the_strongest_strike_is_the_golfers():
    (swing,) = swings([(3.95, 0.2), (4.01, 0.6), (4.1, 0.3)])
    assert swing.impact.t_s == 4.01


def test_a_strike_is_told_where_nothing_moved_unless_it_is_as_faint_as_the_next_bays():
    still = {"share": ((0, 0.53), (9, 0.53)), "force": ((0, 1.0), (9, 1.0)), "toes": ((0, 0.0), (9, 0.0))}
    assert follow(series_of(strikes=[(4.0, 0.6)], **still)) == ([], [4.0])
    assert follow(series_of(strikes=[(4.0, 0.25)], **still)) == ([], [])


def test_an_own_chip_is_as_loud_as_the_others_were():
    """Three balls of 0.25 are this golfer's; a fourth strike of 0.2 without a movement is told."""
    share = tuple((t + 7.0 * k, v) for k in range(3) for t, v in (*SHARE[:5], (6.0, 0.90), (6.5, 0.53)))
    force = tuple((t + 7.0 * k, v) for k in range(3) for t, v in FORCE[:5])
    toes = tuple((t + 7.0 * k, v) for k in range(3) for t, v in (*TOES[:3], (6.0, 0.35), (6.5, 0.0)))
    strikes = [(4.0, 0.25), (11.0, 0.25), (18.0, 0.25), (26.0, 0.2)]
    ends = {"share": (*share, (30, 0.53)), "force": (*force, (30, 1.0)), "toes": (*toes, (30, 0.0))}
    found, unseen = follow(series_of(strikes=strikes, until_s=30.0, **ends))
    assert [s.impact.t_s for s in found] == [4.0, 11.0, 18.0]
    assert unseen == [26.0]


@pytest.mark.parametrize("rests_s", [0.0, 0.5, 1.0, 1.5])
def test_a_pause_at_the_turn_belongs_to_the_swing(rests_s):
    share = (*SHARE[:3], (3.7 + rests_s, 0.25), *((t + rests_s, v) for t, v in SHARE[3:5]), (12.0, 0.9))
    force = (*((t + rests_s if t > 3.6 else t, v) for t, v in FORCE[:5]), (12.0, 1.0))
    toes = (*((t + rests_s if t > 3.0 else t, v) for t, v in TOES[:3]), (12.0, 0.35))
    (swing,) = swings(share=share, force=force, toes=toes, until_s=12.0)
    assert swing.kind is Kind.SWING
    assert swing.impact.t_s == pytest.approx(4.0 + rests_s, abs=0.03)
    assert swing.turn.t_s == pytest.approx(3.7 + rests_s, abs=0.1)
    assert swing.takeaway.t_s == pytest.approx(3.0, abs=0.15)


@pytest.mark.parametrize(
    ("low", "turns"), [(0.53 - 0.03, False), (0.53 - 0.07, True), (0.53 + 0.06, False), (0.53 + 0.12, False)]
)
def test_pressure_may_hardly_go_back_or_go_to_the_lead_side(low, turns):
    """A centred player, and one whose share rises on the way back: seen in both forms, and a turn where one is."""
    script = {"share": (*SHARE[:2], (3.7, low), *SHARE[3:])}
    (swing,) = swings(**script)
    assert (swing.turn is not None) == turns
    assert swing.impact.t_s == pytest.approx(4.0, abs=0.02)
    assert len(follow(series_of(**script))[0]) == 1


@pytest.mark.parametrize("setup", [0.62, 0.74, 0.80])
def test_a_pitch_is_played_from_the_lead_side(setup):
    share = ((0, setup), (3.0, setup), (3.5, setup - 0.06), (3.9, setup + 0.08), (9.0, setup + 0.08))
    force = ((0, 1.0), (3.4, 1.0), (3.6, 0.95), (3.87, 1.13), (4.1, 1.0), (9.0, 1.0))
    (swing,) = swings(share=share, force=force, toes=((0, 0.0), (3.8, 0.0), (4.3, 0.2), (9.0, 0.2)))
    assert swing.setup_share == pytest.approx(setup, abs=0.005)
    assert swing.impact.t_s == pytest.approx(3.9, abs=0.02)


def test_who_steps_in_with_the_lead_foot_has_swung():
    share = ((0, 0.50), (3.0, 0.50), (3.4, 0.0), (3.85, 0.0), (4.1, 0.8), (4.5, 0.9), (9.0, 0.9))
    force = ((0, 1.0), (3.7, 1.0), (3.85, 0.9), (4.07, 1.4), (4.3, 1.0), (9.0, 1.0))
    (swing,) = swings(share=share, force=force, toes=((0, 0.0), (4.0, 0.0), (4.5, 0.35), (9.0, 0.35)))
    assert swing.impact.t_s == pytest.approx(4.1, abs=0.02)


def test_a_slow_settle_to_the_trail_side_is_no_backswing_for_ever():
    """0.14 lower within two seconds, there for three, then the ball: the swing is seen, from where it was begun."""
    share = ((0, 0.53), (2.0, 0.53), (4.0, 0.39), (7.0, 0.39), (7.7, 0.20), (8.0, 0.75), (8.5, 0.9), (13.0, 0.9))
    force = ((0, 1.0), (7.5, 1.0), (7.75, 0.9), (7.97, 1.3), (8.2, 1.0), (13.0, 1.0))
    (swing,) = swings(share=share, force=force, toes=((0, 0), (7.9, 0), (8.4, 0.35), (13, 0.35)), until_s=13.0)
    assert swing.takeaway.t_s == pytest.approx(7.0, abs=0.15)
    assert swing.setup_share == pytest.approx(0.39, abs=0.01)


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
    assert [s for s in swings(share=share, force=STILL, toes=toes) if s.kind is Kind.REHEARSAL] == []


@pytest.mark.parametrize(("back_s", "rests_s", "found"), [(2.0, 0.9, 1), (0.6, 2.0, 0)])
def test_who_goes_back_at_once_and_stands_there_for_long_has_not_rehearsed(back_s, rests_s, found):
    turn_s = 3.0 + back_s + rests_s
    share = (*SLOW[:2], (3.0 + back_s, 0.255), (turn_s, 0.25), (turn_s + 1.6, 0.85), (13.0, 0.85))
    toes = ((0, 0.0), (turn_s, 0.0), (turn_s + 1.4, 0.3), (13.0, 0.3))
    assert len(swings(share=share, force=((0, 1.0), (13, 1.0)), toes=toes, until_s=13.0)) == found


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


def test_what_else_is_known_of_a_swing_and_how_surely():
    (swing,) = swings()
    assert (swing.number, swing.kind, swing.impact.doubt_s) == (1, Kind.SWING, 0.038)
    assert (swing.setup.source, swing.setup.doubt_s, swing.finish.doubt_s) == ("pressure", 0.15, 0.08)
    assert (swing.step_off.t_s, swing.step_off.doubt_s) == (pytest.approx(8.995), 0.02)


@pytest.mark.parametrize(
    ("putts_s", "found"), [(((0.0, 9.0),), 1), (((0.0, 5.0),), 0), (((5.0, 9.0),), 1), (((0.0, 1.0), (5.0, 9.0)), 1)]
)
def test_a_putt_is_one_while_a_putter_is_in_hand(putts_s, found):
    """Struck at 4.0 s over nobody who moved; judged 1.3 s later."""
    still = series_of(((0, 0.53), (9, 0.53)), ((0, 1.0), (9, 1.0)), ((0, 0.0), (9, 0.0)), strikes=[(4.0, 0.6)])
    putts = find_swings(still, putts_s)
    assert len(putts) == found
    for putt in putts:
        assert (putt.kind, putt.impact.t_s, putt.impact.source) == (Kind.PUTT, 4.0, "strike sensor")
        assert (putt.takeaway.t_s, putt.top.t_s, putt.turn) == (pytest.approx(3.05), pytest.approx(3.7), None)
        assert putt.setup.t_s < 3.05
        assert putt.finish.t_s == pytest.approx(4.08, abs=0.006)
        assert putt.end_s == pytest.approx(8.99, abs=0.006)
