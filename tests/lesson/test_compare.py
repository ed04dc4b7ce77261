"""Before and after, told honestly."""

import math

import numpy as np
import pytest

from groundtone.lesson.compare import between_calibrations, compare
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.review.strikes import Strike
from groundtone.review.swings import BlockRows, SwingRow
from groundtone.swing.measures import Doubts

SHARE = LessonMeasure("share_impact", "lead share at impact", "%", (0.65, math.inf))
TEMPO = LessonMeasure("tempo", "tempo")
INSIDE = LessonMeasure("overall setup", "heel-toe position at setup", "%", (0.4, 0.7))


def block(values, name="before", field=5, **said):
    return BlockRows(
        name, tuple(SwingRow(i, dict(v), strike=Strike(field=field)) for i, v in enumerate(values)), **said
    )


def shares(rng, mean, n=12, spread=0.03):
    return [{"share_impact": v} for v in mean + spread * rng.standard_normal(n)]


def test_a_real_change_is_found_with_its_size():
    rng = np.random.default_rng(1)
    change = compare(block(shares(rng, 0.50)), block(shares(rng, 0.70)), [SHARE]).changes[0]
    assert change.verdict == "better"
    assert change.effect.low < 0.20 < change.effect.high
    assert change.sentence.startswith("lead share at impact: better (")
    assert "points" in change.sentence


def test_the_other_way_round_it_is_worse():
    rng = np.random.default_rng(1)
    assert compare(block(shares(rng, 0.70)), block(shares(rng, 0.50)), [SHARE]).changes[0].verdict == "worse"


def test_a_move_inside_the_band_is_neither():
    low, high = ([{"overall setup": v + k / 1000} for k in range(12)] for v in (0.5, 0.6))
    assert compare(block(low), block(high), [INSIDE]).changes[0].verdict == "changed"


@pytest.mark.parametrize(("moved", "verdict"), [(0.018, "no clear change"), (0.022, "better")])
def test_a_change_that_matters_to_nobody_is_none_however_sure(moved, verdict):
    looked = LessonMeasure("share_impact", "lead share at impact", "%", (0.65, math.inf), step=0.02)
    low, high = ([{"share_impact": v + k / 10_000} for k in range(12)] for v in (0.5, 0.5 + moved))
    change = compare(block(low), block(high), [looked]).changes[0]
    assert change.effect.p < 0.001
    assert change.verdict == verdict


def test_too_few_swings():
    rng = np.random.default_rng(2)
    said = compare(block(shares(rng, 0.5, 3)), block(shares(rng, 0.7)), [SHARE])
    assert said.changes[0].sentence == "lead share at impact: too few swings to say."


def test_an_empty_block_is_too_few_and_nothing_breaks():
    said = compare(block([]), block([]), [SHARE, TEMPO])
    assert {change.verdict for change in said.changes} == {"too few swings to say"}
    assert said.sentences[-1] == "Strikes inside the centre circle: too few told to say."


def test_without_a_change_none_is_claimed_however_many_measures_are_looked_at():
    rng = np.random.default_rng(3)
    looked = [LessonMeasure(f"m{k}", f"m{k}") for k in range(8)]

    def some():
        return block([{f"m{k}": v for k, v in enumerate(row)} for row in rng.standard_normal((10, 8))])

    claims = [any(c.verdict != "no clear change" for c in compare(some(), some(), looked).changes) for _ in range(40)]
    assert np.mean(claims) <= 0.125  # 5 %, and two standard deviations of 40 lessons


def test_the_interval_holds_the_truth_19_times_in_20():
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(200):
        effect = compare(block(shares(rng, 0.60, 10)), block(shares(rng, 0.66, 10)), [SHARE]).changes[0].effect
        held += effect.low <= 0.06 <= effect.high
    assert 0.91 <= held / 200 <= 0.995


def test_the_doubt_of_the_calibration_widens_the_interval_and_can_take_a_claim_back():
    rng = np.random.default_rng(5)
    before, after = block(shares(rng, 0.60)), block(shares(rng, 0.68))
    sure = compare(before, after, [SHARE]).changes[0]
    unsure = compare(before, after, [SHARE], doubts={"share_impact": 0.05}).changes[0]
    assert sure.verdict == "better"
    assert unsure.verdict == "no clear change"
    assert unsure.effect.high - unsure.effect.low > 2 * 1.96 * 0.05


def test_another_club_or_lie_is_said_first():
    rng = np.random.default_rng(6)
    said = compare(
        block(shares(rng, 0.6), club="7 iron", lie="mat"), block(shares(rng, 0.6), club="driver", lie="tee"), [SHARE]
    )
    assert said.sentences[0].startswith("Different clubs (7 iron before, driver after)")
    assert said.sentences[1].startswith("Different lies")
    assert "hides fat strikes" in said.sentences[2]


def test_two_clubs_of_one_class_are_compared_as_that():
    rng = np.random.default_rng(6)
    said = compare(block(shares(rng, 0.6), club="7 iron"), block(shares(rng, 0.6), club="Eisen 8"), [SHARE])
    assert said.sentences[0] == "Two clubs of one class (7 iron before, Eisen 8 after): compared as irons."


def test_cues_on_one_side_only_are_said():
    rng = np.random.default_rng(6)
    said = compare(block(shares(rng, 0.6)), block(shares(rng, 0.6), cues=True), [SHARE])
    assert said.conditions == ("Cues sounded only after: compare blocks in silence to see what stayed.",)


def test_strikes_inside_the_circle():
    values = [{"tempo": 3.0}] * 12
    said = compare(block(values, field=6), block(values), [TEMPO])
    assert said.inside[0] == 1.0
    assert said.inside[1] > 0.5
    assert said.sentences[-1].startswith("Strikes inside the centre circle: better (0 of 12 before, 12 of 12 after")


@pytest.mark.parametrize(
    ("looked", "value", "text"),
    [
        (SHARE, 0.656, "66 %"),
        (TEMPO, 2.951, "2.95"),
        (LessonMeasure("x", "x", "mm"), 12.4, "12 mm"),
        (TEMPO, math.nan, "-"),
    ],
)
def test_values_as_a_person_reads_them(looked, value, text):
    assert looked.told(value) == text


def test_two_calibrations_leave_their_doubt_of_shares_and_places():
    got = between_calibrations(Doubts(share=0.03, position=0.06), Doubts(share=0.04, position=0.08))
    assert got["share_impact"] == got["side_shift"] == pytest.approx(math.hypot(0.03, 0.04))
    assert got["overall_setup"] == pytest.approx(0.10)
    assert "tempo" not in got
