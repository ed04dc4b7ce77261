"""What the rules make of a few frames, worked out by hand: each limit in time and share from both sides."""

import math

import pytest

from groundtone.cue.rules import CueRules, SlideAndFinish
from groundtone.swing.events import Phase

NAN = math.nan


def after_a_turn(out_mm=56.0, foot=0.461):
    """Turned at 0.30 with the lead foot's pressure at 0.50, 50 mm out at setup."""
    follows = SlideAndFinish()
    follows.stand(50.0)
    follows.back(0.40, 0.9)
    follows.back(0.30, 0.7)
    follows.back(0.30, 0.50)
    follows.back(0.35, 0.8)
    follows.forth(10.0, 0.90, foot, out_mm, NAN, 1.0)
    return follows


@pytest.mark.parametrize(
    ("out_mm", "foot", "slides"), [(56.0, 0.461, True), (55.9, 0.461, False), (56.0, 0.459, False), (NAN, 0.461, False)]
)
def test_a_slide_goes_six_millimetres_out_before_the_heel_has_done_its_work(out_mm, foot, slides):
    """The lowest share's latest frame counts for the foot; four hundredths of the foot are the heel's work."""
    assert after_a_turn(out_mm, foot).slide == pytest.approx(0.60 if slides else NAN, nan_ok=True)


def test_the_foots_place_at_setup_follows_by_a_twentieth():
    follows = SlideAndFinish()
    for out_mm in (50.0, NAN, 70.0):
        follows.stand(out_mm)
    follows.back(0.30, 0.50)
    for out_mm, slides in ((56.9, False), (57.1, True), (40.0, True)):  # 51 and 6; the furthest counts
        follows.forth(10.0, 0.90, 0.50, out_mm, NAN, 1.0)
        assert math.isfinite(follows.slide) == slides


@pytest.mark.parametrize(
    ("since_s", "slow", "counts"),
    [(NAN, 1.0, True), (0.0, 1.0, True), (0.01, 1.0, False), (0.44, 1.0, False), (0.89, 2.0, True), (0.91, 2.0, False)],
)
def test_the_way_across_is_counted_until_impact_and_of_a_slow_one_until_the_finish(since_s, slow, counts):
    follows = after_a_turn()
    follows.forth(10.1, 0.95, 0.48, 56.0, since_s, slow)
    assert follows.slide == pytest.approx(0.65 if counts else 0.60)


def test_a_swing_is_begun_by_its_backswing_or_by_what_comes_after():
    follows = SlideAndFinish()
    assert not follows.begun
    follows.back(0.4, 0.5)
    assert follows.begun
    follows.forget()
    assert not follows.begun
    follows.forth(1.0, 0.6, 0.5, 50.0, NAN, 1.0)
    assert follows.begun


@pytest.mark.parametrize(
    ("at_s", "slow", "share", "comes"),
    [(0.12, 1.0, 0.531, True), (0.12, 1.0, 0.529, False), (0.125, 1.0, 0.531, False), (0.235, 2.0, 0.531, True),
     (0.245, 2.0, 0.531, False)],
)  # fmt: skip
def test_a_share_that_rose_by_three_hundredths_within_12_hundredths_of_a_second_still_comes(at_s, slow, share, comes):
    follows = SlideAndFinish()
    for t_s, value in ((0.0, 0.50), (0.06, 0.52), (at_s, share)):
        follows.forth(t_s, value, 0.5, 50.0, NAN, slow)
    assert follows.comes == comes


@pytest.mark.parametrize(("rise", "settles"), [(0.019, True), (0.021, False)])
def test_a_finish_settles_once_the_share_rises_by_less_than_two_hundredths(rise, settles):
    """The level is the middle of what comes within the next 0.15 s; it is told once and then stays."""
    follows = SlideAndFinish()
    follows.forth(10.40, 0.80, 0.5, 50.0, 0.40, 1.0)
    follows.forth(10.45, 0.80 + rise, 0.5, 50.0, 0.45, 1.0)
    for since_s, share in ((0.50, 0.80), (0.55, 0.81), (0.60, 0.805)):
        follows.forth(10.0 + since_s, share, 0.5, 50.0, since_s, 1.0)
    follows.forth(10.61, 0.70, 0.5, 50.0, 0.61, 1.0)
    # Of 0.819, 0.80, 0.81 and 0.805 the third from below; of the last three alone it would go on to 0.65 s.
    assert follows.unsteady == pytest.approx(0.11 if settles else NAN, nan_ok=True)
    follows.forth(10.70, 0.60, 0.5, 50.0, 0.70, 1.0)
    assert follows.unsteady == pytest.approx(0.21 if settles else abs(0.60 - 0.805))


def step(rules, t_s, phase, **changes):
    values = {"share": 0.7, "overall": 0.5, "lead_foot": 0.5, "since_turn_s": NAN, "sure": True, "after_impact": False}
    return rules.sizes_out(t_s, phase, **{**values, **changes})


@pytest.mark.parametrize(("gap_s", "slow", "begins_s"), [(0.04, 1.0, 0.27), (0.04, 3.0, 0.27), (0.05, 1.0, 0.30)])
def test_a_limit_is_crossed_between_two_frames_that_follow_each_other(gap_s, slow, begins_s):
    """From 0.02 inside to 0.02 outside in 40 ms: half-way. The dwell of the setup is 0.25 s, however slow a swing."""
    for wait_s, heard in ((-0.003, False), (0.003, True)):
        rules = CueRules()
        step(rules, 0.0, Phase.SETUP, overall=0.70)
        step(rules, gap_s, Phase.SETUP, overall=0.74, slow=slow)
        assert bool(step(rules, begins_s + wait_s, Phase.SETUP, overall=0.74, slow=slow)) == heard


@pytest.mark.parametrize(("most", "heard"), [(0.599, True), (0.60, False)])
def test_who_came_just_across_and_went_back_has_come_across(most, heard):
    rules = CueRules()
    step(rules, 0.0, Phase.DOWNSWING, share=most, since_turn_s=0.1)
    assert bool(step(rules, 0.4, Phase.DOWNSWING, share=0.45, since_turn_s=0.5)) == heard


@pytest.mark.parametrize(("patient", "slow", "heard"), [(False, 1.0, True), (True, 1.0, False), (False, 1.5, False)])
def test_the_trail_side_waits_for_a_share_that_still_comes_where_time_is_taken(patient, slow, heard):
    rules = CueRules()
    rules._extra.forth(0.0, 0.40, 0.5, NAN, NAN, slow)
    sizes = step(rules, 0.10, Phase.DOWNSWING, share=0.45, since_turn_s=0.7, patient=patient, slow=slow)
    assert bool(sizes) == heard
