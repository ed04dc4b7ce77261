"""What the live form decides, each decision alone: phases, bursts and odds are told it, and nothing is played."""

import math

import pytest

from groundtone.swing import tracker as tracker_module
from groundtone.swing.bursts import Seen
from groundtone.swing.events import Kind, Moment, Phase, Swing, Tracked
from groundtone.swing.evidence import Evidence
from groundtone.swing.tracker import SwingTracker

NAN = math.nan


def seen_with(**changed):
    given = {
        "values": {"speed": 0.2}, "still_s": -1.5, "setup_share": 0.53, "fall": 0.2, "over": 0.0, "least_s": -0.3,
        "peak_s": 0.0, "push": 0.3, "fastest_s": 0.0, "walked": False,
    }  # fmt: skip
    return Evidence(**{**given, **changed})


def swing_at(impact_s, source="pressure", **changed):
    takeaway, impact = Moment(impact_s - 1.0, "pressure", 0.04), Moment(impact_s, source, 0.04)
    return Swing(0, 0.5, takeaway, Moment(impact_s - 0.3, "pressure", 0.02), None, impact, **changed)


class Phases:
    """What the phases tell, by hand."""

    def __init__(self):
        self.swing, self.phase, self.sure = None, Phase.SETUP, False
        self.slow, self.done, self.setup_share = 1.0, 0, 0.5
        self.next = Tracked(Phase.SETUP)
        self.given_up = []

    def step(self, *_, **__):
        told, self.next = self.next, Tracked(self.phase)
        return told

    def give_up(self, told):
        self.given_up.append(told)
        self.swing = None


class Bursts:
    """What has been seen, by hand."""

    def __init__(self):
        self.next = None
        self.there = None
        self.forgotten = 0

    def add(self, *_):
        seen, self.next = self.next, None
        return seen

    def around(self, at_s):
        return self.there(at_s) if callable(self.there) else self.there

    def forget(self):
        self.forgotten += 1


@pytest.fixture
def following(monkeypatch):
    """A tracker and the odds that it is told of any evidence; the odds may be set."""
    tracker, odds = SwingTracker(), {"of": 1.0}
    tracker._phases, tracker._bursts = Phases(), Bursts()
    monkeypatch.setattr(tracker_module, "odds", lambda _: odds["of"])
    return tracker, odds


def step(tracker, t_s, share=0.5, weights=1.0, **more):
    return tracker.step(t_s, share, weights=weights, **more)


@pytest.mark.parametrize(
    ("known", "peak", "own"),
    [((), 0.39, False), ((), 0.40, True), ((), NAN, True), ((0.9, 0.9), 0.40, True), ((0.4, 0.5, 0.9), 0.29, False),
     ((0.4, 0.5, 0.9), 0.31, True)],
)  # fmt: skip
def test_six_tenths_of_the_usual_loudness_is_the_golfers_own(known, peak, own):
    tracker = SwingTracker()
    tracker._own_peaks.extend(known)
    assert tracker._own(peak) == own


def test_a_strikes_weight_goes_by_its_loudness():
    tracker = SwingTracker()
    tracker._strikes.extend([(1.0, 0.5), (2.0, 0.1)])
    assert [tracker._odds_of(at) for at in (1.0, 2.0, 3.0)] == [7.0, 4.5, 7.0]


def test_a_second_person_has_stood_there_for_six_tenths():
    tracker = SwingTracker()
    for t_s, weights, crowd_s in ((1.0, 1.30, -math.inf), (1.5, 1.31, -math.inf), (1.61, 1.31, 1.61)):
        tracker._crowd(t_s, weights)
        assert tracker._crowd_s == crowd_s


def test_near_a_told_or_accepted_swing_there_is_no_other():
    tracker = SwingTracker()
    tracker._told_s, tracker._accepted = 5.0, swing_at(9.0)
    assert [tracker._just_told(at) for at in (4.3, 4.5, 5.5, 5.7, 8.5, 9.5, 9.7)] == [
        False, True, True, False, True, True, False,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("slow", "apart_s", "followed"), [(1.0, 0.59, 1), (1.0, 0.61, 0), (2.0, 1.19, 1), (2.0, 1.21, 0)]
)
def test_what_the_phases_followed_through_a_moment(slow, apart_s, followed):
    tracker = SwingTracker()
    waits = swing_at(10.0, slow=slow)
    for sign in (-1, 1):
        tracker._waiting, tracker._phases.swing = (11.0, waits), None
        assert (tracker._followed(10.0 + sign * apart_s) is waits) == followed
        tracker._waiting, tracker._phases.swing = None, waits
        assert (tracker._followed(10.0 + sign * apart_s) is waits) == followed
    tracker._phases.swing = Swing(0, 0.5, waits.takeaway)
    assert tracker._followed(10.0) is None


@pytest.mark.parametrize(
    ("likely", "strike_s", "told"), [(0.0, None, 0), (0.01, None, 1), (-7.0, 10.0, 0), (-6.9, 10.0, 1)]
)
def test_more_likely_than_not_is_a_swing_and_a_strike_counts_for_seven(following, likely, strike_s, told):
    tracker, odds = following
    odds["of"] = likely
    swing = tracker._judge(11.3, Seen(10.0, seen_with()), strike_s)
    assert (swing is not None) == told
    if told:
        assert (swing.number, swing.end_s, tracker._phases.done) == (1, 11.3, 1)
        assert swing.impact.t_s == (10.0 if strike_s else pytest.approx(10.03))


def test_who_walked_has_not_swung_unless_the_ball_was_struck(following):
    tracker, _ = following
    walked = Seen(10.0, seen_with(walked=True))
    assert tracker._judge(11.3, walked) is None
    assert tracker._judge(11.3, walked, 10.0) is not None


@pytest.mark.parametrize(("ago_s", "told"), [(1.49, 0), (1.51, 1)])
def test_near_a_second_person_there_is_no_swing(following, ago_s, told):
    tracker, _ = following
    tracker._crowd_s = 10.0 - ago_s
    assert (tracker._judge(11.3, Seen(10.0, seen_with())) is not None) == told


@pytest.mark.parametrize(
    ("impact_s", "source", "more", "taken"),
    [
        (10.02, "pressure", {}, False),  # both say the same: as the phases followed it
        (10.14, "pressure", {}, True),  # they are apart: as the evidence tells it
        (9.92, "pressure", {}, True),
        (10.14, "pressure", {"slow": 3.0}, False),
        (10.14, "pressure", {"kind": Kind.REHEARSAL}, False),
    ],
)
def test_a_turn_that_was_none_is_taken_from_the_evidence(following, impact_s, source, more, taken):
    tracker, _ = following
    swing = swing_at(impact_s, source, **more)
    tracker._waiting = (10.5, swing)
    assert tracker._judge(11.3, Seen(10.0, seen_with())) is swing
    assert swing.impact.t_s == pytest.approx(10.03 if taken else impact_s)
    assert swing.setup_share == (0.53 if taken else 0.5)
    assert swing.takeaway.t_s == pytest.approx(8.5 if taken else impact_s - 1.0)
    assert swing.turn.t_s == pytest.approx(9.7 if taken else impact_s - 0.3)
    assert (swing.top is not None) == taken


def test_a_strike_sets_impact_and_makes_a_rehearsal_a_swing(following):
    tracker, _ = following
    swing = swing_at(10.02, kind=Kind.REHEARSAL)
    tracker._waiting = (10.5, swing)
    assert tracker._judge(11.3, Seen(10.0, seen_with()), 10.05) is swing
    assert (swing.impact.t_s, swing.impact.source, swing.kind) == (10.05, "strike sensor", Kind.SWING)
    assert (swing.setup_share, swing.top is not None) == (0.5, True)


def test_a_swing_under_way_is_told_when_its_finish_is_over(following):
    tracker, _ = following
    swing = tracker._phases.swing = swing_at(10.0)
    assert tracker._judge(11.3, Seen(10.0, seen_with())) is None
    assert tracker._accepted is swing
    assert step(tracker, 11.4).ended is None
    tracker._phases.swing = None
    assert step(tracker, 11.5).ended is swing
    assert (swing.end_s, tracker._accepted) == (11.5, None)


@pytest.mark.parametrize(
    ("strikes", "push", "struck"),
    [
        ([(9.95, 0.2), (10.05, 0.6), (10.1, 0.3)], 0.3, 10.05),  # the loudest
        ([(9.95, 0.5), (10.05, 0.5)], 0.3, 10.05),  # as loud: the one nearest to 10.03 s
        ([(9.95, 0.2), (10.05, NAN)], 0.3, 9.95),  # not known is no louder
        ([(9.87, 0.5)], 0.3, 9.87), ([(9.85, 0.5)], 0.3, None),
        ([(10.19, 0.5)], 0.3, 10.19), ([(10.21, 0.5)], 0.3, None),
        ([(9.85, 0.5), (10.01, 0.6)], 0.05, 10.01), ([(9.85, 0.5), (10.03, 0.6)], 0.05, 9.85),  # near the first alone
        ([], 0.3, None),
    ],
)  # fmt: skip
def test_which_strike_was_the_impact(strikes, push, struck):
    tracker = SwingTracker()
    tracker._strikes.extend(strikes)
    first_s = 10.0 if push >= 0.06 else 9.85
    assert tracker._struck(first_s, seen_with(push=push)) == struck


@pytest.mark.parametrize(("told_s", "belongs"), [(9.01, True), (10.99, True), (8.99, False), (11.01, False)])
def test_a_strike_within_a_second_of_a_told_swing_is_its_own(following, told_s, belongs):
    tracker, _ = following
    tracker._told_s = told_s
    tracker._strikes.append((10.0, 0.5))
    assert tracker._judge_strike(11.4) == (None, None if belongs else 10.0)
    assert not tracker._strikes


@pytest.mark.parametrize(
    ("peak", "likely", "faint"), [(0.5, -9.0, False), (0.1, -9.0, True), (0.1, -5.6, True), (0.1, -5.4, False)]
)
def test_a_faint_strike_is_told_of_where_it_was_nearly_a_swing(following, peak, likely, faint):
    tracker, odds = following
    odds["of"], tracker._bursts.there = likely, seen_with()
    tracker._strikes.append((10.0, peak))
    assert tracker._judge_strike(11.4) == (None, 10.0)
    assert tracker._faint == faint


def test_a_strike_of_which_nothing_was_seen_is_faint_by_its_loudness(following):
    tracker, _ = following
    for peak, faint in ((0.5, False), (0.1, True)):
        tracker._strikes.append((10.0, peak))
        assert tracker._judge_strike(11.4) == (None, 10.0)
        assert tracker._faint == faint


def test_with_a_putter_a_strike_over_which_nobody_moved_is_a_putt(following):
    tracker, _ = following
    still = seen_with(push=0.02, fall=0.01, values={"speed": 0.01})
    tracker._bursts.there, tracker.putting = still, True
    tracker._strikes.append((10.0, 0.5))
    putt, unseen_s = tracker._judge_strike(11.4)
    assert (putt.kind, putt.impact.t_s, putt.number, unseen_s) == (Kind.PUTT, 10.0, 1, None)
    # None so near to another, and none without the putter.
    tracker._told_s, tracker._accepted = -math.inf, swing_at(20.5)
    tracker._strikes.append((20.0, 0.5))
    assert tracker._judge_strike(21.4) == (None, None)
    tracker._accepted, tracker.putting = None, False
    tracker._strikes.append((30.0, 0.5))
    assert getattr(tracker._judge_strike(31.4)[0], "kind", None) is not Kind.PUTT


@pytest.mark.parametrize(("apart_s", "told"), [(0.59, True), (-0.59, True), (0.61, False), (-0.61, False)])
def test_a_burst_beside_a_strike_is_judged_after_it(following, apart_s, told):
    tracker, _ = following
    tracker._held = Seen(10.0 + apart_s, seen_with())
    tracker._strikes.append((10.0, 0.5))
    swing, unseen_s = tracker._judge_strike(11.9)
    assert (swing is not None, unseen_s) == (told, None if told else 10.0)
    assert tracker._held is None


def test_what_was_followed_waits_three_tenths_for_the_evidence(following):
    tracker, _ = following
    swing = swing_at(-1.0)
    tracker._phases.next = Tracked(Phase.STANDING, swing)
    assert step(tracker, 0.0).ended is None
    assert (tracker.phase, tracker.swing) == (Phase.FINISH, swing)
    step(tracker, 0.3)
    assert tracker.swing is swing
    step(tracker, 0.31)
    assert (tracker.phase, tracker.swing) == (Phase.SETUP, None)


def test_a_rehearsal_is_told_at_once_or_once_no_strike_is_left(following):
    tracker, _ = following
    first, second = (swing_at(at, kind=Kind.REHEARSAL) for at in (-1.0, 4.0))
    tracker._phases.next = Tracked(Phase.STANDING, first)
    assert step(tracker, 0.0).ended is first
    step(tracker, 5.0, strike_s=5.0, strike_peak=0.5)
    tracker._phases.next = Tracked(Phase.STANDING, second)
    assert step(tracker, 5.1).ended is None
    assert step(tracker, 5.5).ended is None
    assert tracker.swing is second
    assert step(tracker, 6.29).unseen_s is None
    told = step(tracker, 6.31)
    assert (told.ended, told.unseen_s) == (second, 5.0)


def test_a_burst_with_a_strike_beside_it_waits_for_that(following):
    tracker, _ = following
    step(tracker, 10.0, strike_s=10.0, strike_peak=0.5)
    tracker._bursts.next = Seen(9.5, seen_with())
    assert step(tracker, 10.77).ended is None
    told = step(tracker, 11.31)
    assert (told.ended.impact.t_s, told.unseen_s) == (pytest.approx(9.53), None)
    tracker._bursts.next = Seen(20.0, seen_with())
    assert step(tracker, 21.27).ended.number == 2


def test_who_steps_off_is_told_what_was_waiting_and_which_strike_was_unseen(following):
    tracker, _ = following
    swing = swing_at(9.0)
    tracker._waiting = (10.0, swing)
    told = step(tracker, 10.1, share=NAN, weights=NAN)
    assert (told.ended, told.unseen_s, tracker._bursts.forgotten) == (swing, None, 1)
    for peak, unseen_s in ((0.5, 20.0), (0.1, None)):
        tracker._strikes.append((20.0, peak))
        told = step(tracker, 20.1, share=NAN, weights=NAN)
        assert (told.ended, told.unseen_s, len(tracker._strikes)) == (None, unseen_s, 0)
    accepted = tracker._accepted = swing_at(30.0)
    tracker._waiting = (30.5, swing_at(29.0))
    assert step(tracker, 31.0, share=NAN, weights=NAN).ended is accepted
    assert tracker.swing is None


def test_without_forces_the_phases_alone_decide(following):
    tracker, _ = following
    swing = swing_at(9.0)
    tracker._phases.next = Tracked(Phase.STANDING, swing)
    assert step(tracker, 10.0, weights=NAN).ended is swing
    assert tracker._bursts.forgotten == 0


@pytest.mark.parametrize("was", [True, False])
def test_a_swing_that_waits_is_as_sure_as_it_was(following, was):
    tracker, _ = following
    tracker._phases.swing, tracker._phases.sure = swing_at(9.0), was
    assert tracker.sure == was
    step(tracker, 10.0)
    tracker._phases.next, tracker._phases.swing = Tracked(Phase.STANDING, tracker._phases.swing), None
    tracker._phases.sure = not was
    step(tracker, 10.1)
    assert tracker.sure == was
    tracker._waiting = None
    assert not tracker.sure
