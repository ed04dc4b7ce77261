"""Before and after, told honestly: what blocks in turn prove, and what two blocks cannot."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.lesson.compare import CLAIMS, compare
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.review.strikes import Strike
from groundtone.review.swings import BlockRows, Fault, Lesson, SwingRow

SHARE = LessonMeasure("share_impact", "lead share at impact", "%", (0.65, math.inf), 0.03)
TEMPO = LessonMeasure("tempo", "tempo")
INSIDE = LessonMeasure("overall setup", "heel-toe position at setup", "%", (0.4, 0.7), 0.02)


def block(values, name="before", field=5, session="", **said):
    rows = tuple(SwingRow(i, dict(v), strike=Strike(field=field)) for i, v in enumerate(values))
    return BlockRows(name, rows, session=session, **said)


def shares(rng, mean, n=12, spread=0.03):
    return [{"share_impact": v} for v in mean + spread * rng.standard_normal(n)]


def in_turn(rng, before, after, blocks=4, each=6, name="share_impact", spread=0.03, field=(5, 5), **said):
    """Two sides of one recording, block after block to and fro."""
    sides, number = ([], []), 0
    for k in range(2 * blocks):
        rows = []
        for _ in range(each):
            number += 1
            value = (before, after)[k % 2] + spread * rng.standard_normal()
            rows.append(SwingRow(number, {name: value}, strike=Strike(field=field[k % 2]), t_s=20.0 * number))
        sides[k % 2].append(BlockRows(str(k), tuple(rows), ("baseline", "drill")[k % 2], number=k + 1, session="one"))
    return [replace(side[0], swings=tuple(row for b in side for row in b.swings), **said) for side in sides]


def verdict(sides, looked=SHARE):
    return compare(*sides, [looked]).changes[0].verdict


def test_blocks_in_turn_find_a_real_change_with_its_size():
    said = compare(*in_turn(np.random.default_rng(1), 0.50, 0.70), [SHARE])
    change = said.changes[0]
    assert said.in_turn
    assert change.verdict == "better"
    assert change.effect.low < 0.20 < change.effect.high
    assert change.after - change.before == pytest.approx(change.effect.size)
    assert change.sentence.startswith("lead share at impact: better (")
    assert "points" in change.sentence


def test_the_other_way_round_it_is_worse():
    assert verdict(in_turn(np.random.default_rng(1), 0.70, 0.50)) == "worse"


def test_a_move_inside_the_band_is_neither():
    sides = in_turn(np.random.default_rng(1), 0.5, 0.6, name="overall setup", spread=0.01)
    assert verdict(sides, INSIDE) == "changed"


def test_one_block_a_side_differs_at_most():
    rng = np.random.default_rng(1)
    said = compare(block(shares(rng, 0.50, 20)), block(shares(rng, 0.70, 20)), [SHARE])
    assert said.changes[0].verdict == "these two blocks differ"
    assert "three blocks a side or more, in turn" in said.conditions[0]


def test_what_is_known_in_one_block_a_side_is_no_lesson_in_turn():
    before, after = in_turn(np.random.default_rng(1), 0.50, 0.70)

    def with_tempo(row, side):
        return replace(row, values=row.values | {"tempo": 3.0 + side + 0.01 * row.number}) if row.number <= 12 else row

    rows = [[with_tempo(row, side) for row in block.swings] for side, block in enumerate((before, after))]
    sides = [replace(block, swings=tuple(some)) for block, some in zip((before, after), rows, strict=True)]
    tempo = LessonMeasure("tempo", "tempo", "", (3.5, math.inf), 0.1)
    share, told = compare(*sides, [SHARE, tempo]).changes
    assert share.verdict == "better"
    assert told.verdict == "these two blocks differ"


def test_strikes_told_in_one_block_a_side_are_two_blocks_that_differ():
    before, after = in_turn(np.random.default_rng(1), 0.5, 0.5, each=14, field=(1, 5))
    untold = Strike()
    sides = [
        replace(block, swings=tuple(row if row.number <= 28 else replace(row, strike=untold) for row in block.swings))
        for block in (before, after)
    ]
    assert compare(before, after, [SHARE]).inside_verdict == "better"
    assert compare(*sides, [SHARE]).inside_verdict == "these two blocks differ"


def test_three_blocks_a_side_one_side_after_the_other_are_not_in_turn():
    before, after = in_turn(np.random.default_rng(1), 0.50, 0.70)
    late = replace(after, swings=tuple(replace(row, number=row.number + 100) for row in after.swings))
    assert not compare(before, late, [SHARE]).in_turn


@pytest.mark.parametrize(("moved", "told"), [(0.0, "no change that matters"), (0.018, "cannot tell"), (0.03, "better")])
def test_a_claim_needs_the_whole_interval_beyond_what_matters(moved, told):
    looked = replace(SHARE, step=0.02)
    change = compare(*in_turn(np.random.default_rng(2), 0.5, 0.5 + moved, spread=0.004), [looked]).changes[0]
    assert change.verdict == told
    inside = change.effect.low > -0.02 and change.effect.high < 0.02
    assert inside == (told == "no change that matters")
    assert (change.effect.low > 0.02) == (told == "better")


def test_what_cannot_be_told_says_how_many_blocks_would():
    change = compare(*in_turn(np.random.default_rng(3), 0.60, 0.64, spread=0.04), [SHARE]).changes[0]
    assert change.verdict == "cannot tell"
    blocks, each = change.need
    assert each == 6
    assert f"About {blocks} blocks a side of 6 swings, in turn, would tell." in change.sentence
    wide = compare(*in_turn(np.random.default_rng(3), 0.60, 0.64, spread=0.2), [SHARE]).changes[0]
    assert wide.sentence.endswith("More than twelve blocks a side would have to tell.")


def test_so_many_blocks_as_were_named_do_tell():
    """Told for a change of the size seen: half of such lessons and more, since half lie beyond it."""
    few = compare(*in_turn(np.random.default_rng(6), 0.60, 0.70, blocks=3, spread=0.06), [SHARE]).changes[0]
    blocks, each = few.need
    assert few.verdict == "cannot tell"
    told = [
        verdict(in_turn(np.random.default_rng(seed), 0.5, 0.5 + few.effect.size, blocks=blocks, each=each, spread=0.06))
        for seed in range(20, 32)
    ]
    assert told.count("better") >= 4


def test_too_few_swings():
    rng = np.random.default_rng(2)
    said = compare(block(shares(rng, 0.5, 3)), block(shares(rng, 0.7)), [SHARE])
    assert said.changes[0].sentence == "lead share at impact: too few swings to say."


def test_an_empty_block_is_too_few_and_nothing_breaks():
    said = compare(block([]), block([]), [SHARE, TEMPO])
    assert {change.verdict for change in said.changes} == {"too few swings to say"}
    assert said.sentences[-1] == "Strikes inside the centre circle: too few told to say; 10 a side are the least."


def test_blocks_of_one_swing_say_nothing():
    sides = in_turn(np.random.default_rng(1), 0.5, 0.7, blocks=10, each=1)
    assert verdict(sides) == "too few swings to say"


@pytest.mark.parametrize("follows", [0.0, 0.6])
def test_without_a_change_none_is_claimed_however_swings_hang_together(follows):
    rng = np.random.default_rng(3)
    looked = [LessonMeasure(f"m{k}", f"m{k}", step=0.05) for k in range(8)]

    def lesson():
        values = rng.standard_normal((48, 8))
        for i in range(1, 48):
            values[i] = follows * values[i - 1] + math.sqrt(1 - follows**2) * values[i]
        values += np.linspace(-0.5, 0.5, 48)[:, None]
        rows = [SwingRow(i, {f"m{k}": v for k, v in enumerate(row)}) for i, row in enumerate(values)]
        blocks = [BlockRows(str(b), tuple(rows[8 * b : 8 * b + 8]), number=b + 1) for b in range(6)]
        return [replace(blocks[s], swings=tuple(r for b in blocks[s::2] for r in b.swings)) for s in (0, 1)]

    claims = [any(c.verdict in CLAIMS for c in compare(*lesson(), looked).changes) for _ in range(20)]
    assert sum(claims) <= 3  # 5 %, and two standard deviations of 20 lessons


def test_another_recording_brings_its_stands_offset():
    rng = np.random.default_rng(5)
    values = [shares(rng, mean, 20) for mean in (0.60, 0.68)]

    def one(k, session):
        whole = block(values[k], session=session)
        return replace(whole, swings=tuple(replace(r, doubts={"share_impact": 0.05}) for r in whole.swings))

    sure = compare(one(0, "a"), one(1, "a"), [SHARE])
    unsure = compare(one(0, "a"), one(1, "b"), [SHARE])
    assert unsure.conditions[0].startswith("Feet and zero were found anew")
    widths = [c.effect.high - c.effect.low for c in (sure.changes[0], unsure.changes[0])]
    assert widths[1] > 2 * 1.96 * math.hypot(0.05, 0.05) > widths[0]
    assert unsure.changes[0].verdict == "cannot tell"


def test_earlier_lessons_tell_how_this_golfers_swings_hang_together():
    rng = np.random.default_rng(8)

    def lesson(k, follows):
        values = rng.standard_normal(40)
        for i in range(1, 40):
            values[i] = follows * values[i - 1] + math.sqrt(1 - follows**2) * values[i]
        rows = tuple(SwingRow(i, {"share_impact": 0.6 + 0.03 * v}) for i, v in enumerate(values))
        return Lesson(str(k), "2026-05-01", (BlockRows("b", rows, session=f"s{k}", number=1),))

    sides = block(shares(rng, 0.6), session="x"), block(shares(rng, 0.6), session="x", name="after")
    widths = [
        (c.effect.high - c.effect.low)
        for earlier in ([lesson(k, 0.0) for k in range(5)], [lesson(k, 0.8) for k in range(5)])
        for c in compare(*sides, [SHARE], earlier=earlier).changes
    ]
    assert widths[0] < 0.8 * widths[1]


def test_what_was_chosen_from_the_same_swings_warns():
    fault = (Fault("hanging back", 0.9, code="trail"),)
    before, after = in_turn(np.random.default_rng(1), 0.50, 0.70)
    poor = replace(before, swings=tuple(replace(row, faults=fault) for row in before.swings))
    assert any("comes by itself" in text for text in compare(poor, after, [SHARE]).conditions)
    assert not any("comes by itself" in text for text in compare(before, after, [SHARE]).conditions)


def test_an_hours_pause_is_said():
    before, after = in_turn(np.random.default_rng(1), 0.50, 0.70)
    late = replace(after, swings=tuple(replace(r, t_s=r.t_s + 5000 * (r.number > 20)) for r in after.swings))
    assert any("More than an hour" in text for text in compare(before, late, [SHARE]).conditions)


def test_another_club_or_lie_is_said_first_and_nothing_is_better():
    before, after = in_turn(np.random.default_rng(6), 0.5, 0.7)
    said = compare(replace(before, club="7 iron", lie="mat"), replace(after, club="driver", lie="tee"), [SHARE])
    assert said.sentences[0].startswith("Different clubs (7 iron before, driver after)")
    assert said.sentences[1].startswith("Different lies")
    assert "hides fat strikes" in said.sentences[2]
    assert said.changes[0].verdict == "these two blocks differ"


def test_two_clubs_of_one_class_are_compared_as_that():
    rng = np.random.default_rng(6)
    said = compare(block(shares(rng, 0.6), club="7 iron"), block(shares(rng, 0.6), club="Eisen 8"), [SHARE])
    assert said.sentences[0] == "Two clubs of one class (7 iron before, Eisen 8 after): compared as irons."


def test_cues_on_one_side_only_are_said():
    rng = np.random.default_rng(6)
    said = compare(block(shares(rng, 0.6)), block(shares(rng, 0.6), cues=True), [SHARE])
    assert said.conditions[0] == "Cues sounded only after: compare blocks in silence to see what stayed."


def test_strikes_inside_the_circle():
    said = compare(*in_turn(np.random.default_rng(7), 0.7, 0.7, field=(6, 5), blocks=4), [SHARE])
    assert said.inside[0] == 1.0
    assert said.inside[1] > 0.1
    assert said.sentences[-1].startswith("Strikes inside the centre circle: better (0 of 24 before, 24 of 24 after")


def test_all_strikes_alike_are_no_change_and_nothing_is_claimed():
    said = compare(*in_turn(np.random.default_rng(7), 0.7, 0.7, blocks=3), [SHARE])
    assert said.inside[0] == 0.0
    assert said.inside_verdict == "cannot tell"


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
