"""Answers with the foot, from scripted loads: what each tap says, and what is none."""

import numpy as np
import pytest

from groundtone.engine.answers import SURE_S, UNDO_S, WINDOW_S, AnswerReader
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.footprint import Footprint

LAYOUT = layout_of("reference-16x4")
PRINT = Footprint(20.0, 300.0)
BODY_N = 700.0
RATE_HZ = 100
TOE, HEEL, MIDDLE = 0.85, 0.18, 0.45


def frame(feet):
    """Forces of a frame: for each foot a list of (N, position), each on the two rows about its place."""
    rows = np.zeros((2, LAYOUT.rows))
    for foot, loads in enumerate(feet):
        for force, position in loads:
            at = (PRINT.heel_mm + position * (PRINT.toe_mm - PRINT.heel_mm)) / LAYOUT.row_pitch_mm - 0.5
            low = int(np.floor(at))
            rows[foot, low] += force * (1 - (at - low))
            rows[foot, low + 1] += force * (at - low)
    force_n = np.zeros((LAYOUT.rows, LAYOUT.columns))
    width = LAYOUT.columns_per_panel
    for foot in (0, 1):
        force_n[:, foot * width : (foot + 1) * width] = rows[foot][:, None] / width
    return force_n


def tap(foot, place, *, force=0.1, seconds=0.15, rest=0.0, rest_at=MIDDLE, air=0.4, after=0.4, body=1.0):
    """Frames of a tap: both feet, then this one in the air (or resting), the touch, in the air, both feet again."""
    even = [[(BODY_N / 2, 0.45)], [(BODY_N / 2, 0.45)]]

    def alone(touch):
        feet = [[], []]
        feet[foot] = [(rest * BODY_N, rest_at), (touch * BODY_N, place)]
        feet[1 - foot] = [((body - rest - touch) * BODY_N, 0.45)]
        return feet

    ramp = max(1, round(0.03 * RATE_HZ))
    held = max(1, round(seconds * RATE_HZ) - 2 * ramp)
    up = [alone(force * (k + 1) / ramp) for k in range(ramp)]
    parts = [*[even] * 30, *[alone(0.0)] * round(air * RATE_HZ), *up, *[alone(force)] * held, *up[::-1]]
    return [*parts, *[alone(0.0)] * round(after * RATE_HZ), *[even] * 40]


def read(frames, lead=LEFT, begin=0.0, reader=None):
    """All answers, with their times."""
    if reader is None:
        reader = AnswerReader(LAYOUT, lead)
        reader.open(begin, (PRINT, PRINT), BODY_N)
    out = []
    for i, feet in enumerate(frames):
        answer = reader.look(begin + i / RATE_HZ, frame(feet))
        out += [(round(begin + i / RATE_HZ, 2), answer)] if answer else []
    return out


def told(frames, **more):
    return [answer for _, answer in read(frames, **more)]


@pytest.mark.parametrize("lead", [LEFT, RIGHT])
@pytest.mark.parametrize("force", [0.03, 0.1, 0.3])
@pytest.mark.parametrize(
    ("side", "place", "answer"),
    [("lead", TOE, "toe"), ("lead", HEEL, "heel"), ("trail", HEEL, "fat"), ("trail", MIDDLE, "fat"),
     ("trail", TOE, "thin")],
)  # fmt: skip
def test_what_each_tap_says(lead, force, side, place, answer):
    foot = lead if side == "lead" else 1 - lead
    assert told(tap(foot, place, force=force), lead=lead) == [answer]
    assert told(tap(foot, place, force=force, seconds=0.3), lead=lead) == [answer]


@pytest.mark.parametrize(("place", "rest_at", "answer"), [(TOE, HEEL, "toe"), (HEEL, TOE, "heel")])
def test_the_other_end_may_rest_on_the_mat(place, rest_at, answer):
    assert told(tap(LEFT, place, rest=0.15, rest_at=rest_at, force=0.06)) == [answer]


def test_it_is_told_a_moment_after_the_touch():
    ((at, _),) = read(tap(LEFT, TOE, seconds=0.15))
    # 0.30 s on both feet, 0.40 in the air, 0.15 of touch.
    assert at == pytest.approx(0.85 + SURE_S, abs=0.03)


NONE = {
    "the lead foot whole: neither toe nor heel": tap(LEFT, MIDDLE),
    "set down and left there": [*tap(LEFT, TOE)[:73], *[[[(BODY_N / 2, 0.45)]] * 2] * 100],
    "a touch that lasts": tap(LEFT, TOE, seconds=0.8),
    "a graze": tap(LEFT, TOE, force=0.008),
    "a stamp with the whole weight": tap(LEFT, TOE, force=0.8),
    "the trail toe wavers in the finish": tap(RIGHT, TOE, rest=0.1, rest_at=TOE, force=0.04),
    "with half the weight still on the foot": tap(LEFT, TOE, rest=0.4, rest_at=HEEL),
    "somebody else holds the golfer": tap(LEFT, TOE, body=0.6),
    "it leaves the mat at once, and so does the golfer": [*tap(LEFT, TOE)[:85], *[[[], []]] * 50],
    "no foot at all": [[[], []]] * 100,
}


@pytest.mark.parametrize("what", NONE)
def test_what_is_no_answer(what):
    assert told(NONE[what]) == []


def test_a_bounce_is_one_touch():
    once = tap(LEFT, TOE, seconds=0.12)
    twice = [*once[:82], *[once[60]] * 4, *once[70:]]
    assert told(twice) == ["toe"]


def test_the_other_foot_takes_it_back_and_a_new_answer_counts():
    reader = AnswerReader(LAYOUT, LEFT)
    reader.open(0.0, (PRINT, PRINT), BODY_N)
    frames = [*tap(LEFT, TOE), *tap(RIGHT, MIDDLE), *tap(RIGHT, TOE), *tap(LEFT, HEEL)]
    assert told(frames, reader=reader) == ["toe", "undo", "thin", "undo"]


def twice(foot, place, *, gap=0.3, **more):
    """Two taps while the foot stays up, so many seconds of air between them."""
    once = tap(foot, place, **more)
    touch = once[30 + 40 : 30 + 40 + 15]
    return [*once[: 30 + 40 + 15], *[once[30]] * round(gap * RATE_HZ), *touch, *once[30 + 40 + 15 :]]


@pytest.mark.parametrize("lead", [LEFT, RIGHT])
@pytest.mark.parametrize(("place", "answers"), [(TOE, ["toe", "good"]), (HEEL, ["heel", "good"]), (MIDDLE, ["good"])])
def test_two_quick_taps_of_the_lead_foot_tell_a_good_strike(lead, place, answers):
    assert told(twice(lead, place), lead=lead) == answers
    # Then the other foot takes it back.
    reader = AnswerReader(LAYOUT, lead)
    reader.open(0.0, (PRINT, PRINT), BODY_N)
    assert told([*twice(lead, place), *tap(1 - lead, MIDDLE)], reader=reader) == [*answers, "undo"]


def test_two_taps_of_the_trail_foot_are_one_answer_and_slow_ones_are_no_pair():
    assert told(twice(RIGHT, MIDDLE)) == ["fat"]
    assert told(twice(LEFT, TOE, gap=1.3)) == ["toe"]


def test_a_third_tap_belongs_to_nothing():
    frames = twice(LEFT, TOE)
    third = frames[30 + 40 : 30 + 40 + 15]
    assert told([*frames[:-80], *third, *frames[-80:]]) == ["toe", "good"]


def test_a_second_tap_with_the_same_foot_changes_nothing():
    assert told([*tap(LEFT, TOE), *tap(LEFT, HEEL)]) == ["toe"]


def test_answers_have_their_time():
    reader = AnswerReader(LAYOUT, LEFT)
    assert told(tap(LEFT, TOE), reader=reader) == []
    reader.open(0.0, (PRINT, PRINT), BODY_N)
    assert told(tap(LEFT, TOE), begin=WINDOW_S + 0.5, reader=reader) == []
    assert not reader.waits
    reader.open(20.0, (PRINT, PRINT), BODY_N)
    assert told(tap(LEFT, TOE), begin=20.0, reader=reader) == ["toe"]
    assert told(tap(RIGHT, TOE), begin=21.5 + UNDO_S, reader=reader) == []
    reader.open(40.0, (PRINT, PRINT), BODY_N)
    reader.close()
    assert told(tap(LEFT, TOE), begin=40.0, reader=reader) == []


def test_without_footprints_or_weight_nothing_is_waited_for():
    reader = AnswerReader(LAYOUT, LEFT)
    for prints, weight in (((None, PRINT), BODY_N), ((PRINT, None), BODY_N), ((PRINT, PRINT), float("nan"))):
        reader.open(0.0, prints, weight)
        assert not reader.waits


def test_frames_without_forces_are_survived():
    reader = AnswerReader(LAYOUT, LEFT)
    reader.open(0.0, (PRINT, PRINT), BODY_N)
    assert reader.look(0.0, np.full((LAYOUT.rows, LAYOUT.columns), np.nan)) is None
    assert told(tap(LEFT, TOE), begin=0.1, reader=reader) == ["toe"]


def test_while_a_foot_taps_it_says_so():
    reader = AnswerReader(LAYOUT, LEFT)
    reader.open(0.0, (PRINT, PRINT), BODY_N)
    on = [reader.look(i / RATE_HZ, frame(feet)) or reader.tapping for i, feet in enumerate(tap(LEFT, TOE)[:120])]
    first, last = on.index(True), len(on) - 1 - on[::-1].index(True)
    assert first / RATE_HZ == pytest.approx(0.70, abs=0.02)
    assert last / RATE_HZ == pytest.approx(0.85 + SURE_S, abs=0.03)
