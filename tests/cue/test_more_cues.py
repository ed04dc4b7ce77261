"""Heels, slide and a finish that is not held: off by default, heard when switched on. And slow rehearsals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scripted import HANG, IMPACT, TAKEAWAY, TURN, Golfer, changed, curve

from groundtone.cue.heard_cues import HeardCues
from groundtone.cue.rulefile import cue_names, default_rules
from groundtone.cue.rules import EDGE_MM
from groundtone.swing.events import Moment, Phase, Swing
from groundtone.swing.tracker import SwingTracker

ALL = default_rules().switched(heels=True, slide=True, finish=True)
SLIDES = {
    "share": ((0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.18), (IMPACT - 0.1, 0.90), (6.5, 0.91), (7.5, 0.5)),
    "lead": ((0, 0.53), (TAKEAWAY, 0.53), (TURN, 0.50), (6.5, 0.51), (7.5, 0.5)),
}
FALLS_BACK = {
    "share": (*Golfer().share[:5], (4.65, 0.88), (4.95, 0.62), (6.5, 0.62), (7.5, 0.5)),
}
BACK = ((0, 0.53), (TAKEAWAY, 0.53), (TURN, 0.45), (IMPACT, 0.22), (4.6, 0.22), (5.0, 0.45), (7.5, 0.5))
HEELS = {"lead": BACK, "trail": BACK}


EDGE = ((0, 50.0), (TURN, 45.0), (IMPACT, 50.0 + EDGE_MM + 4), (7.5, 50.0))


def play(golfer, book, rate_hz=100, slow=1.0, edge=EDGE):
    """Sizes by name (n, 5) and times of a golfer, all so many times slower, through tracker and hearing."""
    tracker, hearing = SwingTracker(), HeardCues(book)
    t_s, out, swings = [], [], []
    for i in range(round(golfer.share[-1][0] * slow * rate_hz) + 1):
        t = i / rate_hz
        share, lead, back = (curve(knots, t / slow) for knots in (golfer.share, golfer.lead, golfer.trail))
        struck = next((s * slow for s in golfer.strikes if t - 1 / rate_hz < s * slow <= t), None)
        tracked = tracker.step(t, share, strike_s=struck if slow == 1.0 else None)
        overall = share * lead + (1 - share) * back
        sizes = hearing.sizes(
            t, tracked.phase, tracker.swing, share=share, overall=overall, lead_foot=lead, sure=tracker.sure,
            slow=tracker.slow, lead_out_mm=curve(edge, t / slow),
        )  # fmt: skip
        t_s.append(t)
        out.append([sizes.get(name, 0.0) for name in cue_names()])
        swings += [tracked.ended] if tracked.ended else []
    return np.array(t_s), np.array(out), swings


def heard(golfer, book, **more):
    names = [rule.name for rule in book.rules]
    return tuple(name for name, sizes in zip(names, play(golfer, book, **more)[1].T, strict=True) if (sizes > 0).any())


@pytest.mark.parametrize(
    ("knots", "cues"),
    [({}, ()), (SLIDES, ("slide",)), (FALLS_BACK, ("finish",)), (HEELS, ("heels",))],
    ids=["a good swing", "slides", "falls back in the finish", "onto the heels"],
)
def test_the_other_cues_tell_what_they_are_for_and_only_when_they_are_on(knots, cues):
    golfer = changed(**knots)
    assert heard(golfer, ALL) == cues
    assert heard(golfer, default_rules()) == ()


def test_slide_sounds_when_the_heel_has_had_its_time():
    t_s, sizes, _ = play(changed(**SLIDES), ALL)
    slide = sizes[:, 3]
    assert t_s[np.argmax(slide > 0)] == pytest.approx(IMPACT + 0.30, abs=0.03)
    # 0.18 to 0.90 is a shift of 0.72, 0.06 beyond its band; full at 0.15.
    assert slide.max() == pytest.approx(0.06 / 0.15, abs=0.03)
    # The lead heel takes over late: it stops.
    late = changed(share=SLIDES["share"], lead=(*SLIDES["lead"][:3], (4.4, 0.50), (4.6, 0.44), (7.5, 0.44)))
    t_s, sizes, _ = play(late, ALL)
    on = t_s[sizes[:, 3] > 0]
    assert on.max() == pytest.approx(4.4 + 0.2 * 0.04 / 0.06, abs=0.03)


@pytest.mark.parametrize("edge", [((0, 50.0), (7.5, 50.0)), ((0, math.nan), (7.5, math.nan))])
def test_across_on_the_whole_sole_is_no_slide(edge):
    assert not play(changed(**SLIDES), ALL, edge=edge)[1][:, 3].any()


def test_a_share_from_a_fifth_to_85_hundredths_is_no_slide():
    share = ((0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.20), (IMPACT - 0.1, 0.85), (6.5, 0.85), (7.5, 0.5))
    assert heard(changed(share=share, lead=SLIDES["lead"]), ALL) == ()


def test_finish_sounds_when_the_share_has_left_its_level():
    t_s, sizes, _ = play(changed(**FALLS_BACK), ALL)
    # From 0.88 at 4.65 s down by 0.26 in 0.3 s: 0.10 below its level (about 0.883) at 4.76 s, then the dwell.
    assert t_s[np.argmax(sizes[:, 4] > 0)] == pytest.approx(4.76 + 0.05, abs=0.03)


def test_a_finish_on_the_lead_foot_alone_is_held():
    foot = changed(share=(*Golfer().share[:4], (4.4, 0.97), (6.5, 0.98), (7.5, 0.5)))
    assert heard(foot, ALL) == ()


@pytest.mark.parametrize("slow", [1.0, 2.0, 3.0])
def test_slow_rehearsals_are_judged_by_their_own_time(slow):
    golfer = changed(strikes=())
    assert heard(golfer, ALL, slow=slow) == ()
    t_s, sizes, swings = play(replace(golfer, share=HANG), ALL, slow=slow)
    begin = t_s[np.argmax(sizes[:, 1] > 0)]
    # 0.36 s after the turn at full speed.
    assert begin == pytest.approx(slow * (TURN + 0.36), rel=0.03)
    assert [round(swing.slow) for swing in swings] == [round(slow)]


def test_without_the_stretching_a_slow_good_swing_would_sound():
    """What the tempo is worth: the same rehearsal, taken for one at full speed."""
    tracker, hearing = SwingTracker(), HeardCues()
    loud = 0
    for i in range(2500):
        share = curve(Golfer().share, i / 100 / 3.0)
        tracked = tracker.step(i / 100, share)
        sizes = hearing.sizes(
            i / 100, tracked.phase, tracker.swing, share=share, overall=0.5, lead_foot=0.5, sure=tracker.sure, slow=1.0
        )
        loud += "trail side" in sizes
    assert loud > 0


def test_what_is_not_known_is_silent():
    hearing = HeardCues(ALL)
    tracker = SwingTracker()
    for i in range(750):
        share = curve(Golfer().share, i / 100)
        tracked = tracker.step(i / 100, share)
        sizes = hearing.sizes(
            i / 100, tracked.phase, tracker.swing, share=math.nan, overall=math.nan, lead_foot=math.nan, sure=True,
            slow=1.0,
        )  # fmt: skip
        assert not sizes


def test_a_tone_of_the_setup_that_ends_with_the_takeaway_is_the_swings():
    """The setup's limit is left before the backswing is seen: the tone has ended, and was heard of this swing."""
    hearing = HeardCues()
    swing = Swing(1, 0.52, Moment(5.95, "pressure", 0.04))
    for i in range(620):
        phase = Phase.SETUP if i < 605 else Phase.BACKSWING
        under_way = swing if phase is Phase.BACKSWING else None
        sizes = hearing.sizes(
            i / 100, phase, under_way, share=0.5, overall=0.80 if i < 600 else 0.60, lead_foot=0.5, sure=True,
            slow=1.0, weights=1.0,
        )  # fmt: skip
        hearing.log(i / 100, sizes, under_way, over=False)
    assert [(name, round(end, 2)) for name, _, end in swing.heard] == [("toes", 6.0)]
    assert hearing.out == {"toes"}
