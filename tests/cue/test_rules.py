"""What is heard of each scripted golfer, when it begins and ends, and how large it is."""

import dataclasses
import math

import pytest
from scripted import GOLFERS, HANG, IMPACT, LATE, TOES_AT_IMPACT, TURN, Golfer, changed, listen, set_up

from groundtone.cue.bands import Bands
from groundtone.cue.rules import SILENT, CueRules
from groundtone.swing.definition import FINISH_S, STEADY_S
from groundtone.swing.events import Phase

BANDS = Bands()
FRAME = 0.0101
NAN = math.nan


@pytest.mark.parametrize("name", GOLFERS)
def test_heard_is_exactly_what_must_be_heard(name):
    golfer = GOLFERS[name]
    heard = listen(golfer)
    assert heard.names == golfer.heard
    # One tick for each swing found, in step with the swings.
    assert len(heard.swings) == golfer.swings
    assert heard.toes.max() <= 1
    assert heard.trail.max() <= 1


def test_toes_at_setup_sound_from_when_it_is_seen_to_the_swing():
    heard = listen(changed(**set_up(0.76)))
    ((begin, end),) = heard.spans("toes")
    # Setup is known once it was steady for 0.6 s: longer than the dwell. Overall comes back inside in the backswing.
    assert begin == pytest.approx(STEADY_S, abs=FRAME)
    assert 3.0 < end < TURN
    # 0.04 outside of 0.20 at most: a fifth.
    assert heard.toes[150] == pytest.approx(0.04 / 0.20)


def test_a_short_lean_at_setup_is_not_heard():
    for seconds, names in ((0.2, ()), (0.4, ("toes",))):
        lean = ((0, 0.53), (1.5, 0.53), (1.51, 0.75), (1.51 + seconds, 0.75), (1.52 + seconds, 0.53), (7.5, 0.5))
        assert listen(changed(lead=lean, trail=lean)).names == names


def test_two_short_leans_do_not_add_up():
    knots = [(0, 0.53), (1.5, 0.53)]
    for begin in (1.51, 1.9, 2.3):
        knots += [(begin, 0.75), (begin + 0.18, 0.75), (begin + 0.19, 0.53), (begin + 0.3, 0.53)]
    lean = (*knots, (7.5, 0.53))
    assert listen(changed(lead=lean, trail=lean)).names == ()


def test_toes_in_the_downswing_sound_from_crossing_to_return():
    # The trail foot keeps to its heel, so that the lead foot alone decides.
    heard = listen(changed(lead=TOES_AT_IMPACT, trail=((0, 0.53), (3.0, 0.53), (TURN, 0.40), (7.5, 0.40))))
    ((begin, end),) = heard.spans("toes")
    # The lead foot passes 0.70 on its way from 0.50 to 0.82, and 0.67 (the band less its ease) on its way back.
    crossing = TURN + (0.70 - 0.50) / 0.32 * (IMPACT - TURN)
    assert begin == pytest.approx(crossing + BANDS.dwell_swing_s, abs=2 * FRAME)
    back = 4.4 + (0.82 - 0.67) / 0.40 * 0.5
    assert end == pytest.approx(back, abs=2 * FRAME)
    assert heard.toes.max() == pytest.approx(0.12 / 0.20)


@pytest.mark.parametrize("strikes", [(IMPACT,), ()])
def test_the_trail_side_sounds_from_its_dwell_to_the_swings_end(strikes):
    heard = listen(changed(share=HANG, strikes=strikes))
    ((begin, end),) = heard.spans("trail side")
    assert begin == pytest.approx(TURN + BANDS.dwell_trail_s, abs=2 * FRAME)
    impact = IMPACT if strikes else TURN + 0.36
    assert end == pytest.approx(impact + FINISH_S, abs=2 * FRAME)
    # Share 0.50 in the finish: 0.08 below the band of 0.58, of 0.30.
    assert heard.trail[500] == pytest.approx(0.08 / 0.30, rel=1e-6)


def test_the_trail_side_stops_when_the_golfer_comes_across():
    heard = listen(changed(share=LATE))
    ((begin, end),) = heard.spans("trail side")
    assert begin == pytest.approx(TURN + BANDS.dwell_trail_s, abs=2 * FRAME)
    # Past the band and its ease: 0.61, on the way from 0.50 at 4.2 to 0.80 at 4.6 s.
    assert end == pytest.approx(4.2 + (0.61 - 0.50) / 0.30 * 0.4, abs=2 * FRAME)


def test_a_good_swing_needs_less_than_the_dwell():
    # The latest a swing may come across: 0.58 just at the dwell's end.
    late = ((0, 0.52), (3.0, 0.52), (TURN, 0.26), (TURN + 0.35, 0.585), (4.4, 0.89), (7.5, 0.88))
    assert listen(changed(share=late)).names == ()
    later = ((0, 0.52), (3.0, 0.52), (TURN, 0.26), (TURN + 0.41, 0.585), (4.4, 0.89), (7.5, 0.88))
    assert listen(changed(share=later)).names == ("trail side",)


def test_stepping_off_stops_the_sound_at_once():
    heard = listen(GOLFERS["steps off while the trail side sounds"])
    ((_, end),) = heard.spans("trail side")
    assert end == pytest.approx(4.9, abs=2 * FRAME)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_chatter_at_the_bands_edge(seed):
    """Noise of 0.008 around the very edge, for 4 s: with the ease it sounds in one or two pieces, without in many."""
    edge = BANDS.toes_setup
    knots = ((0, 0.5), (1.5, 0.5), (2.0, edge + 0.005), (6.0, edge + 0.005), (6.5, 0.5), (8, 0.5))
    golfer = changed(share=((0, 0.52), (8, 0.52)), lead=knots, trail=knots, strikes=(), swings=0, noise=0.008)
    golfer = dataclasses.replace(golfer, bands=Bands(dwell_setup_s=0.0))
    assert len(listen(golfer, seed).spans("toes")) <= 3
    bare = dataclasses.replace(golfer, bands=Bands(dwell_setup_s=0.0, ease=0.0))
    assert len(listen(bare, seed).spans("toes")) > 20


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_chatter_of_the_trail_side(seed):
    edge = BANDS.trail
    share = ((0, 0.52), (3.0, 0.52), (TURN, 0.26), (IMPACT, edge - 0.01), (5.6, edge - 0.005), (6.0, 0.8), (7.5, 0.8))
    golfer = changed(share=share, noise=0.008)
    assert 1 <= len(listen(golfer, seed).spans("trail side")) <= 3
    bare = dataclasses.replace(golfer, bands=Bands(ease=0.0))
    assert len(listen(bare, seed).spans("trail side")) > 8


def step(rules, t, phase, **changes):
    values = {"share": 0.7, "overall": 0.5, "lead_foot": 0.45, "since_turn_s": 1.0, "sure": True, "after_impact": True}
    return rules.sizes_out(t, phase, **{**values, **changes})


@pytest.mark.parametrize("phase", list(Phase))
def test_what_is_not_known_is_silent(phase):
    rules = CueRules(Bands(dwell_setup_s=0.0, dwell_swing_s=0.0))
    for i in range(50):
        sizes = step(rules, i * 0.01, phase, share=NAN, overall=NAN, lead_foot=NAN, since_turn_s=NAN)
        assert sizes == SILENT


def test_what_becomes_unknown_falls_silent():
    rules = CueRules()
    for i in range(10):
        loud = step(rules, i * 0.01, Phase.FINISH, overall=0.9, share=0.3)
    assert loud.get("toes", 0.0) == 1.0
    assert loud.get("trail side", 0.0) == pytest.approx(0.28 / 0.30)
    assert step(rules, 0.11, Phase.FINISH, overall=NAN, lead_foot=NAN, share=NAN) == SILENT
    # One of the two places is enough to sound.
    for i in range(10):
        one = step(rules, 0.2 + i * 0.01, Phase.FINISH, overall=NAN, lead_foot=0.8)
    assert one.get("toes", 0.0) == pytest.approx(0.10 / 0.20)


@pytest.mark.parametrize("phase", [Phase.AWAY, Phase.STANDING, Phase.SETUP, Phase.BACKSWING])
def test_the_trail_side_never_sounds_before_the_turn(phase):
    rules = CueRules()
    assert all(step(rules, i * 0.01, phase, share=0.1).get("trail side", 0.0) == 0 for i in range(100))


@pytest.mark.parametrize("phase", [Phase.AWAY, Phase.STANDING])
def test_nothing_sounds_out_of_a_swing(phase):
    rules = CueRules()
    assert all(step(rules, i * 0.01, phase, overall=0.95, lead_foot=0.95, share=0.1) == SILENT for i in range(100))


def test_an_unsure_swing_has_no_trail_side():
    rules = CueRules()
    assert step(rules, 0.0, Phase.DOWNSWING, share=0.3, sure=False).get("trail side", 0.0) == 0
    assert step(rules, 0.01, Phase.DOWNSWING, share=0.3, since_turn_s=0.359).get("trail side", 0.0) == 0
    assert step(rules, 0.02, Phase.DOWNSWING, share=0.3, since_turn_s=0.361).get("trail side", 0.0) > 0


@pytest.mark.parametrize(
    ("overall", "size"), [(0.6701, 0.15), (0.70, 0.15), (0.71, 0.20), (0.77, 0.50), (0.87, 1.0), (0.99, 1.0)]
)
def test_sizes_by_hand(overall, size):
    rules = CueRules()
    for i in range(10):
        sizes = step(rules, i * 0.01, Phase.DOWNSWING, overall=overall)
    assert sizes == {"toes": pytest.approx(size)}


def test_the_lead_foot_counts_after_the_turn_only():
    rules = CueRules()
    assert all(step(rules, i * 0.01, Phase.SETUP, lead_foot=0.95).get("toes", 0.0) == 0 for i in range(100))
    assert any(step(rules, 1 + i * 0.01, Phase.DOWNSWING, lead_foot=0.95).get("toes", 0.0) > 0 for i in range(10))


def test_wider_bands_are_quieter():
    golfer = changed(**set_up(0.74))
    assert listen(golfer).names == ("toes",)
    assert listen(dataclasses.replace(golfer, bands=Bands(toes_setup=0.78, toes_before=0.75))).names == ()
    assert listen(dataclasses.replace(Golfer(), bands=Bands(toes_setup=0.5))).names == ("toes",)
    assert listen(changed(share=HANG, bands=Bands(trail=0.40))).names == ()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"toes_before": 0.0}, "toes_before = 0.0"),
        ({"toes_after": 1.0}, "toes_after = 1.0"),
        ({"toes_lead": -0.1}, "toes_lead = -0.1"),
        ({"trail": 58}, "trail = 58"),
        ({"trail": NAN}, "trail is not a number"),
        ({"ease": math.inf}, "ease is not a number"),
        ({"ease": -0.01}, "ease must not"),
        ({"full_toes": 0.0}, "full_toes"),
        ({"full_trail": -1.0}, "full_trail"),
        ({"dwell_trail_s": NAN}, "dwell_trail_s is not a number"),
        ({"dwell_setup_s": -0.1}, "dwell"),
    ],
)
def test_bands_that_cannot_be_are_refused(wrong, says):
    with pytest.raises(ValueError, match=says):
        Bands(**wrong)
