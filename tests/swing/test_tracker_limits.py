"""The live form at its limits: just short of one, and just past it."""

import math

import numpy as np
import pytest

from groundtone.swing.events import Phase
from groundtone.swing.tracker import SwingTracker

NAN = math.nan
# Setup at 0.53; takeaway at 2.0 s, turn at 2.7, across by 3.0.
SHARE = ((0, 0.53), (2.0, 0.53), (2.7, 0.25), (3.0, 0.80), (3.5, 0.90), (7.0, 0.90))
FORCE = ((0, 1.0), (2.5, 1.0), (2.75, 0.9), (2.97, 1.3), (3.2, 1.0), (7.0, 1.0))
LEVEL = ((0, 1.0), (9, 1.0))


def play(share=SHARE, force=None, strike_s=None, toes=NAN, until_s=None):
    """Every step's tracker state: (t, phase, sure), and the swings that ended."""
    tracker, seen, ended = SwingTracker(), [], []
    for t in np.round(np.arange(0, (until_s or share[-1][0]) + 1e-9, 0.01), 3).tolist():
        weights = NAN if force is None else float(np.interp(t, *zip(*force, strict=True)))
        struck = strike_s if strike_s is not None and abs(t - strike_s) < 0.005 else None
        step = tracker.step(
            t, float(np.interp(t, *zip(*share, strict=True))), strike_s=struck, weights=weights, toes=toes
        )
        seen.append((t, step.phase, tracker.sure))
        if step.ended:
            ended.append(step.ended)
    return tracker, seen, ended


def phases(seen):
    return {phase for _, phase, _ in seen}


def first(seen, phase):
    return next(t for t, now, _ in seen if now is phase)


@pytest.mark.parametrize(("low", "left"), [(0.465, False), (0.455, True)])
def test_a_backswing_begins_seven_hundredths_below_the_setup(low, left):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.2, low), (3.0, low)))
    assert (Phase.BACKSWING in phases(seen)) == left


@pytest.mark.parametrize(("low", "turned"), [(0.415, False), (0.405, True)])
def test_a_turn_is_twelve_hundredths_back_at_least(low, turned):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.5, low), (2.7, 0.485), (2.9, 0.485)))
    assert (Phase.DOWNSWING in phases(seen)) == turned


@pytest.mark.parametrize(("rise", "turned"), [(0.035, False), (0.045, True)])
def test_a_turn_is_seen_four_hundredths_above_its_lowest(rise, turned):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.7, 0.25), (2.8, 0.25 + rise), (3.2, 0.25 + rise)))
    assert (Phase.DOWNSWING in phases(seen)) == turned


def test_a_small_one_is_over_three_hundredths_below_the_setup():
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.5, 0.43), (2.7, 0.495), (2.9, 0.495)))
    assert seen[-1][1] is Phase.BACKSWING
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.5, 0.43), (2.7, 0.505), (2.9, 0.505)))
    assert seen[-1][1] is Phase.STANDING


@pytest.mark.parametrize(("low", "air_s", "walks"), [(0.035, 0.85, False), (0.0, 0.6, False), (0.0, 0.85, True)])
def test_a_lead_foot_is_off_below_three_hundredths_and_for_longer_than_a_step_somebody_walks(low, air_s, walks):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.5, low), (2.5 + air_s, low)))
    assert (seen[-1][1] is Phase.STANDING) == walks


@pytest.mark.parametrize(("low", "rests_s"), [(0.39, 2.0), (0.37, 3.1)])
def test_who_stands_still_in_the_backswing_has_settled_and_further_back_it_takes_longer(low, rests_s):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.7, low), (7.0, low)))
    since_s = 2.7 - 0.7 * 0.03 / (0.53 - low)  # within 0.03 of where it rests
    over_s = next(t for t, now, _ in seen if t > 3 and now is not Phase.BACKSWING)
    assert over_s == pytest.approx(since_s + rests_s, abs=0.03)


@pytest.mark.parametrize(("over_s", "left"), [(6.0, False), (2.0, True)])
def test_a_setup_goes_with_a_share_of_two_hundredths_a_second_and_is_left_by_one_of_six(over_s, left):
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.0 + over_s, 0.41), (2.5 + over_s, 0.41)))
    assert (Phase.BACKSWING in phases(seen)) == left


def test_a_backswing_takes_nine_seconds_at_most():
    _, seen, _ = play(((0, 0.53), (2.0, 0.53), (2.3, 0.45), (14.0, 0.20)))
    takeaway = 2.06 - 0.5 * (2.27 - 2.06)
    assert next(t for t, now, _ in seen if t > 3 and now is Phase.STANDING) == pytest.approx(takeaway + 9.0, abs=0.03)


def test_when_a_movement_began():
    tracker, _, _ = play(((0, 0.53), (2.0, 0.53), (2.7, 0.25)))
    assert tracker.swing.takeaway.t_s == pytest.approx(2.03 - 0.5 * (2.18 - 2.03), abs=0.011)
    assert tracker.swing.takeaway.doubt_s == 0.04
    # Nothing is known from before the first frame.
    tracker = SwingTracker()
    tracker._phases.phase, tracker._phases.setup_share = Phase.SETUP, 0.53
    tracker.step(0.0, 0.45)
    assert tracker.swing.takeaway.t_s == 0.0


@pytest.mark.parametrize(("level", "steady"), [(0.34, False), (0.36, True), (0.69, True), (0.71, False)])
def test_a_setup_stands_on_both_feet(level, steady):
    _, seen, _ = play(((0, level), (2.0, level)))
    assert (Phase.SETUP in phases(seen)) == steady


@pytest.mark.parametrize(("spread", "steady"), [(0.055, True), (0.065, False)])
def test_a_setup_keeps_within_six_hundredths(spread, steady):
    sway = tuple((0.2 * k, 0.5 + spread * (k % 2)) for k in range(15))
    assert (Phase.SETUP in phases(play(sway)[1])) == steady


def test_a_setup_holds_while_the_share_is_within_fourteen_hundredths():
    assert play(((0, 0.5), (1.0, 0.5), (1.1, 0.63), (1.12, 0.63)))[1][-1][1] is Phase.SETUP
    assert play(((0, 0.5), (1.0, 0.5), (1.1, 0.65), (1.12, 0.65)))[1][-1][1] is Phase.STANDING


@pytest.mark.parametrize(("after_s", "counts"), [(0.07, False), (0.09, True), (1.19, True), (1.21, False)])
def test_a_strike_counts_from_eighty_milliseconds_to_twelve_tenths_after_the_turn(after_s, counts):
    tracker, _, _ = play(strike_s=round(2.7 + after_s, 2), until_s=3.95)
    assert (tracker.swing.impact.source == "strike sensor") == counts
    if counts:
        assert tracker.swing.top.t_s == pytest.approx(max(2.7, 2.7 + after_s - 0.25))
        assert (tracker.swing.top.doubt_s, tracker.swing.impact.doubt_s) == (0.03, 0.002)
        assert tracker.sure


@pytest.mark.parametrize(("rise", "swung"), [(0.095, False), (0.105, True)])
def test_what_rises_less_than_a_tenth_within_six_tenths_was_no_swing(rise, swung):
    share = (*SHARE[:3], (2.9, 0.25 + rise), (7.0, 0.25 + rise))
    _, seen, ended = play(share)
    assert len(ended) == swung
    if not swung:
        # Its backswing took 0.7 s, which is full speed: 0.6 s after the turn.
        dropped = next(t for t, now, _ in seen if t > 2.9 and now is Phase.STANDING)
        assert dropped == pytest.approx(3.3, abs=0.02)


@pytest.mark.parametrize(("back", "dropped"), [(0.285, False), (0.275, True)])
def test_a_share_that_is_within_three_hundredths_of_its_lowest_again_has_fallen_back(back, dropped):
    _, seen, _ = play((*SHARE[:3], (2.85, 0.36), (2.95, back), (3.0, back)))
    assert (seen[-1][1] is Phase.STANDING) == dropped


def test_without_force_impact_is_the_turn_and_a_usual_time():
    tracker, seen, (swing,) = play()
    assert first(seen, Phase.FINISH) == pytest.approx(2.7 + 0.36, abs=0.011)
    assert (swing.impact.t_s, swing.impact.doubt_s) == (pytest.approx(3.06), 0.08)
    assert (swing.top.t_s, swing.top.doubt_s) == (pytest.approx(2.81), 0.08)
    assert swing.end_s == pytest.approx(3.06 + 1.3, abs=0.011)
    assert tracker.swing is None


def test_a_force_tells_impact_when_it_has_fallen_by_four_hundredths():
    tracker, seen, _ = play(force=FORCE, until_s=3.3)
    # From 1.3 at 2.97 s by 0.3 in 0.23 s: 0.04 less after 31 ms.
    assert first(seen, Phase.FINISH) == pytest.approx(2.97 + 0.04 / 0.3 * 0.23 + 0.005, abs=0.011)
    assert (tracker.swing.impact.t_s, tracker.swing.impact.source) == (pytest.approx(3.0), "pressure")
    assert tracker.swing.top.t_s == pytest.approx(2.75)
    assert tracker.swing.top.doubt_s == 0.05


@pytest.mark.parametrize(("peak_s", "counts"), [(2.78, False), (2.84, True), (3.60, True), (3.66, False)])
def test_a_forces_peak_counts_from_a_tenth_to_95_hundredths_after_the_turn(peak_s, counts):
    force = ((0, 1.0), (2.7, 1.0), (peak_s, 1.4), (peak_s + 0.03, 1.2), (9, 1.2))
    tracker, _, _ = play(force=force, until_s=3.9)
    assert (tracker.swing.impact.source == "pressure") == counts


@pytest.mark.parametrize(("rise", "sure"), [(0.095, False), (0.105, True)])
def test_a_tone_may_tell_when_a_tenth_of_the_weight_has_come(rise, sure):
    force = ((0, 1.0), (2.8, 1.0), (2.86, 1.0 + rise), (9, 1.0 + rise))
    assert play(force=force, until_s=2.9)[1][-1][2] == sure


@pytest.mark.parametrize(("rise", "swung"), [(0.02, 0), (0.30, 1)])
def test_without_any_force_it_was_shifting_about(rise, swung):
    force = ((0, 1.0), (2.8, 1.0), (2.97, 1.0 + rise), (3.2, 1.0), (9, 1.0))
    share = (*SHARE[:3], (3.0, 0.60), (7.0, 0.60))  # and not across either
    assert len(play(share, force, toes=0.4)[2]) == swung


@pytest.mark.parametrize(
    ("high", "toes", "swung"), [(0.63, 0.21, 1), (0.61, 0.21, 0), (0.63, 0.19, 0)]
)  # fmt: skip
def test_a_slow_one_ends_across_with_the_trail_foot_on_its_toes(high, toes, swung):
    assert len(play((*SHARE[:3], (3.0, high), (7.0, high)), LEVEL, toes=toes)[2]) == swung


@pytest.mark.parametrize(("rests_s", "sure"), [(0.6, True), (1.4, False)])
def test_who_rests_for_45_hundredths_of_the_backswing_is_not_in_a_slow_one(rests_s, sure):
    share = ((0, 0.53), (2.0, 0.53), (3.6, 0.26), (3.6 + rests_s, 0.25), (4.0 + rests_s, 0.45), (6.5, 0.45))
    assert any(now for _, _, now in play(share, LEVEL)[1]) == sure


def test_a_strike_makes_a_swing_with_hardly_any_force_or_way_across():
    share = (*SHARE[:3], (3.0, 0.50), (7.0, 0.50))
    hardly = ((0, 1.0), (2.5, 1.0), (2.75, 0.983), (2.97, 1.033), (3.2, 1.0), (7.0, 1.0))
    assert play(share, hardly, toes=0.0)[2] == []
    (swing,) = play(share, hardly, toes=0.0, strike_s=3.0)[2]
    assert swing.impact.t_s == 3.0


def test_what_ends_is_numbered_and_what_was_none_is_not():
    none = ((0, 0.53), (2.0, 0.53), (2.5, 0.43), (2.7, 0.53), (4.0, 0.53))
    shifted = tuple((t + 4.0, v) for t, v in SHARE)
    (swing,) = play((*none, *shifted[1:]))[2]
    assert swing.number == 1
