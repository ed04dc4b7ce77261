"""The two cues by value: when they sound, how large, and when never."""

import math

import pytest

from groundtone.cue.bands import Bands
from groundtone.cue.rulefile import default_rules
from groundtone.cue.rules import CueRules
from groundtone.swing.events import Phase

NAN = math.nan


def step(rules, t_s, phase, *, share=0.53, overall=0.5, lead_foot=0.5, since=NAN, sure=False, after=False):
    return rules.sizes_out(
        t_s, phase, share=share, overall=overall, lead_foot=lead_foot, since_turn_s=since, sure=sure, after_impact=after
    )


def test_toes_at_setup_sound_after_the_dwell():
    rules = CueRules()
    sizes = [step(rules, i / 100, Phase.SETUP, overall=0.77).get("toes", 0.0) for i in range(40)]
    first = next(i for i, size in enumerate(sizes) if size > 0)
    assert first == 25
    assert sizes[first] == pytest.approx((0.77 - 0.72) / 0.20)


@pytest.mark.parametrize(("stood", "after"), [(10, 15), (20, 5), (25, 0), (60, 0)])
def test_what_was_outside_before_the_setup_was_seen_counts_for_the_dwell(stood, after):
    rules = CueRules()
    phases = [Phase.STANDING] * stood + [Phase.SETUP] * 30
    sizes = [step(rules, i / 100, phase, overall=0.77).get("toes", 0.0) for i, phase in enumerate(phases)]
    assert not any(sizes[:stood])
    assert next(i for i, size in enumerate(sizes) if size > 0) == stood + after


def test_what_came_back_inside_while_standing_counts_anew():
    rules = CueRules()
    for i in range(40):
        step(rules, i / 100, Phase.STANDING, overall=0.6 if i == 38 else 0.77)
    sizes = [step(rules, 0.4 + i / 100, Phase.SETUP, overall=0.77).get("toes", 0.0) for i in range(30)]
    # It crossed half-way, by what it was outside before and after, between 0.38 and 0.39 s.
    assert next(i for i, size in enumerate(sizes) if size > 0) == 24


def test_a_tone_ends_with_the_setup_and_comes_back_with_it():
    rules = CueRules()
    phases = [Phase.SETUP] * 30 + [Phase.STANDING] * 5 + [Phase.SETUP] * 2
    sizes = [step(rules, i / 100, phase, overall=0.77).get("toes", 0.0) for i, phase in enumerate(phases)]
    assert sizes[29] > 0
    assert not any(sizes[30:35])
    assert sizes[35] > 0


@pytest.mark.parametrize("phase", [Phase.AWAY, Phase.STANDING])
def test_nothing_sounds_of_who_only_stands(phase):
    rules = CueRules()
    assert not any(step(rules, i / 100, phase, overall=0.9, share=0.5).get("toes", 0.0) for i in range(300))


def test_toes_stop_only_well_inside_the_band():
    rules = CueRules()
    for i in range(40):
        step(rules, i / 100, Phase.SETUP, overall=0.77)
    assert step(rules, 0.41, Phase.SETUP, overall=0.70).get("toes", 0.0) == pytest.approx(0.15)
    assert step(rules, 0.42, Phase.SETUP, overall=0.689).get("toes", 0.0) == 0
    assert step(rules, 0.43, Phase.SETUP, overall=0.70).get("toes", 0.0) == 0


def test_between_laces_and_balls_is_right_at_setup_and_too_far_in_the_backswing():
    rules = CueRules()
    assert not any(step(rules, i / 100, Phase.SETUP, overall=0.70) for i in range(100))
    sizes = [step(rules, 1 + i / 100, Phase.BACKSWING, overall=0.70).get("toes", 0.0) for i in range(40)]
    # Outside since the backswing was seen, between the two frames; and its dwell.
    assert next(i for i, size in enumerate(sizes) if size > 0) in (24, 25)


@pytest.mark.parametrize(("overall", "lead_foot", "heard"), [(0.6, 0.8, True), (0.8, NAN, True), (0.6, 0.6, False)])
def test_after_the_turn_overall_and_lead_foot_count(overall, lead_foot, heard):
    rules = CueRules()
    for i in range(10):
        sizes = step(rules, i / 100, Phase.DOWNSWING, overall=overall, lead_foot=lead_foot, since=i / 100)
    assert ("toes" in sizes) is heard


def test_trail_side_never_sounds_before_the_turn_or_before_its_time():
    rules = CueRules()
    assert step(rules, 0, Phase.BACKSWING, share=0.2).get("trail side", 0.0) == 0
    assert step(rules, 1, Phase.DOWNSWING, share=0.2, since=0.35, sure=True).get("trail side", 0.0) == 0
    assert step(rules, 1.01, Phase.DOWNSWING, share=0.2, since=0.36, sure=False).get("trail side", 0.0) == 0
    assert step(rules, 1.01, Phase.DOWNSWING, share=0.28, since=0.36, sure=True).get(
        "trail side", 0.0
    ) == pytest.approx(1.0)


def test_trail_side_sounds_until_the_weight_has_come_across():
    rules = CueRules()
    sizes = [
        step(rules, i, Phase.FINISH, share=s, since=0.5 + i, sure=True).get("trail side", 0.0)
        for i, s in enumerate((0.43, 0.6, 0.62))
    ]
    assert sizes == pytest.approx([0.5, 0.15, 0.0])


@pytest.mark.parametrize(("most", "heard"), [(0.59, True), (0.61, False)])
def test_trail_side_does_not_begin_once_the_share_was_across_and_went_back(most, heard):
    rules = CueRules()
    shares = (0.30, 0.45, most, 0.55, 0.50, 0.45)
    sizes = [
        step(rules, i / 10, Phase.DOWNSWING, share=s, since=0.05 + 0.07 * i, sure=True).get("trail side", 0.0)
        for i, s in enumerate(shares)
    ]
    assert (sizes[-1] > 0) is heard
    # The next swing is another.
    step(rules, 5.0, Phase.SETUP)
    assert step(rules, 6.0, Phase.DOWNSWING, share=0.45, since=0.4, sure=True).get("trail side", 0.0) > 0


def test_what_began_before_it_came_across_goes_on():
    rules = CueRules()
    sizes = [
        step(rules, i / 10, Phase.DOWNSWING, share=s, since=0.4 + i / 10, sure=True).get("trail side", 0.0)
        for i, s in enumerate((0.45, 0.605, 0.50))
    ]
    assert sizes[0] > 0
    assert sizes[2] > 0


@pytest.mark.parametrize(("since", "heard"), [(0.14, False), (0.17, True)])
def test_heels_begin_a_third_of_the_way_to_impact(since, heard):
    """A deep trail heel at the turn is no fault. A third of 0.36 s, and the dwell."""
    rules = CueRules(default_rules().switched(heels=True))
    for i in range(6):
        sizes = step(rules, i / 100, Phase.DOWNSWING, overall=0.25, since=since - 0.05 + i / 100, sure=True)
    assert ("heels" in sizes) is heard


def test_trail_side_may_end_at_impact():
    rules = CueRules(Bands(trail_after_impact=False))
    assert step(rules, 0, Phase.DOWNSWING, share=0.4, since=0.5, sure=True).get("trail side", 0.0) > 0
    assert step(rules, 1, Phase.FINISH, share=0.4, since=0.6, sure=True, after=True).get("trail side", 0.0) == 0


def test_nothing_known_is_silent():
    rules = CueRules()
    for i in range(100):
        sizes = step(rules, i, Phase.FINISH, share=NAN, overall=NAN, lead_foot=NAN, since=1.0, sure=True)
        assert not sizes


@pytest.mark.parametrize("wrong", [{"trail": 1.2}, {"toes_lead": NAN}, {"ease": -0.1}, {"full_toes": 0.0}])
def test_senseless_bands_are_refused(wrong):
    with pytest.raises(ValueError, match=r"band|ease"):
        Bands(**wrong)
