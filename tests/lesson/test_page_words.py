"""What a page says: the three sentences, the table and the strikes, for lessons with gaps in every place."""

import math
from dataclasses import replace

import pytest

from groundtone.errors import GroundtoneError
from groundtone.lesson.compare import compare
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.outside import Outside
from groundtone.lesson.report.choice import PageChoice, Units, shown, units_of
from groundtone.lesson.report.content import content_of, shown_name
from groundtone.lesson.report.data import PageData
from groundtone.lesson.report.example import example
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.wording import words
from groundtone.record.session import Golfer
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import BlockRows, Fault, SwingRow

TOES = LessonMeasure("overall_most_down", "furthest to the toes", "%", (-math.inf, 0.67), 0.02)
TOES_NAME = "furthest to the toes, downswing"
METRIC, IMPERIAL = Units(), Units("yd", "lb")


def block(values, role="", **said):
    """A block in which each swing has one measure; strikes as told."""
    strikes = said.pop("strikes", [Strike()] * len(values))
    rows = tuple(
        SwingRow(i + 1, {TOES.name: value}, strike=strike)
        for i, (value, strike) in enumerate(zip(values, strikes, strict=True))
    )
    return BlockRows(role or "1", rows, role, **{"club": "7 iron", "lie": "turf", **said})


BEFORE = block([0.74, 0.75, 0.76, 0.73, 0.74, 0.75, 0.76, 0.73], "baseline")
AFTER = block([0.61, 0.62, 0.63, 0.60, 0.61, 0.62, 0.63, 0.60], "test")
DRILL = block([0.62] * 5, "drill", cues=True)


def lesson(before=BEFORE, after=AFTER, drill=DRILL, only=None, **more):
    both = before is not None and after is not None
    seen = (Outside("toes", len(before.swings), len(before.swings)),) if before is not None else ()
    told = {"comparison": compare(before, after, [TOES]) if both else None, "looked": (TOES,), "seen": seen, **more}
    return PageData(Golfer("Ann"), "2026-03-14T10:00:00+01:00", before, after, drill, only, **told)


def said(data, **choice):
    return [text.replace("\u00a0", " ") for _, text in content_of(data, PageChoice(**choice)).said]


def test_what_we_saw_changed_and_what_to_do():
    saw, changed, todo = said(lesson())
    assert saw == "In 8 of 8 swings your pressure ran to the toes in the downswing."
    assert changed == (
        "You practised 5 swings with the tone. The furthest your pressure went towards the toes: 74 % before, "
        "61 % after. These two blocks differ; whether it stays, more blocks would tell. It was chosen because it stood "
        "out, so a part of the way back comes by itself. Per cent are of the foot’s length, from the heel."
    )
    assert todo == "Practise “Lead heel heavy”: 3 sets of 10 balls, 3 days a week. On the mat, silence is right."


def test_the_same_in_german_with_its_comma_and_its_date():
    data = lesson()
    saw, changed, todo = said(data, language="de")
    assert saw == "In 8 von 8 Schwüngen lief dein Druck im Abschwung auf die Zehen."
    assert "74 % vorher, 61 % nachher. Diese zwei Blöcke unterscheiden sich; ob es bleibt" in changed
    assert todo.startswith("Übe „Vordere Ferse schwer“: 3 Mal 10 Bälle, an 3 Tagen")
    assert content_of(data, PageChoice(language="de")).sub == "Stunde vom 14. März 2026"
    assert Notation(words("de"), METRIC).number(-1.25, 1) == "\u22121,2"


def test_the_table_has_the_change_with_its_interval_and_a_verdict():
    content = content_of(lesson(), PageChoice())
    (row,) = content.rows
    change = lesson().comparison.changes[0]
    low, high = (f"\u2212{abs(round(100 * value))}" for value in (change.effect.low, change.effect.high))
    assert row[:3] == ("furthest to the toes, downswing", "74\u00a0%", "61\u00a0%")
    assert row[3] == f"\u221213 ({low} to {high})"
    assert row[4:] == ("up to 67\u00a0%", "blocks differ")
    assert content.strong == (True,)


def test_a_measure_without_values_has_an_empty_row_and_no_numbers():
    tempo = LessonMeasure("tempo", "tempo")
    data = lesson(comparison=None, looked=(TOES, tempo))
    data = replace(data, comparison=compare(BEFORE, AFTER, [TOES, tempo]))
    content = content_of(data, PageChoice())
    assert content.rows[1] == ("tempo", "-", "-", "-", "-", "too few swings to say")
    assert not any(figure.name.startswith("tempo") for figure in content.figures)


def test_without_a_clear_change_none_is_claimed():
    same = block([0.74, 0.76, 0.75, 0.73, 0.74, 0.75, 0.77, 0.73], "test")
    data = lesson(after=same)
    assert "74 % before, 75 % after. These swings cannot tell whether that is a change." in said(data)[1]
    blocks = data.comparison.changes[0].need[0]
    assert f"About {blocks} blocks of each kind, 8 swings a block, taken in turn, would tell." in said(data)[1]
    content = content_of(data, PageChoice())
    assert content.rows[0][-1] == "cannot tell"
    assert content.strong == (False,)


def in_turn(first, second):
    """Three silent blocks and three with the tone, to and fro, in one recording."""
    sides = []
    for k, values in enumerate((first, second)):
        blocks = [block(values, ("baseline", "drill")[k], cues=bool(k), number=2 * b + k + 1) for b in range(3)]
        for b, each in enumerate(blocks):
            moved = [replace(row, number=row.number + 8 * (2 * b + k)) for row in each.swings]
            blocks[b] = replace(each, swings=tuple(moved))
        sides.append(replace(blocks[0], swings=tuple(row for each in blocks for row in each.swings)))
    return lesson(*sides, drill=None, in_turn=True, seen=(Outside("toes", 8, 8),))


HIGH, LOW = ([row.values[TOES.name] for row in side.swings] for side in (BEFORE, AFTER))


def test_blocks_in_turn_say_better_and_worse_as_plainly():
    content = content_of(in_turn(HIGH, LOW), PageChoice())
    told = content.said[1][1].replace("\u00a0", " ")
    assert "74 % without the tone, 61 % with the tone. That is better." in told
    assert content.header[1:3] == ("without the tone", "with the tone")
    assert any("what the tone does while it sounds, not what stays" in line for line in content.condition_lines)
    assert not any("nothing be better" in line for line in content.limit_lines)
    assert "That is worse." in said(in_turn(LOW, HIGH))[1]
    assert "mit Ton. Das ist besser." in said(in_turn(HIGH, LOW), language="de")[1]


def test_one_block_a_side_is_said_to_prove_little():
    assert any("nothing be better" in line for line in content_of(lesson(), PageChoice()).limit_lines)


def test_few_swings_say_nothing():
    few = block([0.6, 0.6], "test")
    assert "too few swings to say" in said(lesson(after=few))[1]


@pytest.mark.parametrize(
    ("gaps", "sentence"),
    [
        ({"before": None}, "No swings from before the practice were recorded"),
        ({"after": None}, "No swings from after the practice were recorded"),
        ({"after": None, "drill": None}, "Nothing was practised yet"),
        ({"before": None, "after": None, "drill": None, "only": BEFORE}, "Nothing was practised yet"),
        ({"before": None, "after": None}, "You practised 5 swings with the tone."),
    ],
)
def test_what_was_not_recorded_is_said_and_the_page_is_made_all_the_same(gaps, sentence):
    content = content_of(lesson(**gaps), PageChoice())
    assert sentence in content.said[1][1]
    assert content.header == () or len(content.header) == 4
    assert len(content.limit_lines) >= 2


def test_where_there_is_one_block_the_table_has_levels_with_intervals():
    content = content_of(lesson(after=None), PageChoice())
    assert content.header == ("measure", "before", "95 % interval", "band")
    assert content.rows == ((TOES_NAME, "74\u00a0%", "72\u00a0% to 76\u00a0%", "up to 67\u00a0%"),)


def test_nothing_that_stands_out_needs_no_drill():
    data = lesson(seen=(Outside("toes", 1, 8),))
    saw, _, todo = said(data)
    assert saw.startswith("In 8 swings nothing lay outside the bands often enough")
    assert todo == "Keep what you do; nothing needs a drill now."
    assert content_of(data, PageChoice()).drill is None


def test_counts_stand_beside_the_measure():
    toes = Fault("toes in the downswing", 0.9, code="toes")

    def with_faults(rows, n):
        return replace(rows, swings=tuple(replace(s, faults=(toes,) * (i < n)) for i, s in enumerate(rows.swings)))

    changed = said(lesson(before=with_faults(BEFORE, 6), after=with_faults(AFTER, 1)))[1]
    assert "Outside in 6 of 8 swings before, 1 of 8 after." in changed


@pytest.mark.parametrize(("n", "words"), [(1, "1 swing is too few"), (3, "3 swings are too few")])
def test_few_swings_are_said_to_be_few(n, words):
    few = replace(BEFORE, swings=BEFORE.swings[:n])
    saw, _, todo = said(lesson(before=few, after=None, seen=()))
    assert saw == f"{words} to say what stands out."
    assert todo.startswith("Hit at least four balls in silence next time")


def test_the_coach_may_choose_the_drill_and_the_words():
    content = content_of(
        lesson(), PageChoice(drill_name="hold-it", saw="You stood well.", todo="Come back.", coach="C")
    )
    assert content.drill.title == "Hold it"
    assert [text for _, text in content.said][::2] == ["You stood well.", "Come back."]
    assert content.sub == "Lesson of 14 March 2026 · with C"


def test_a_drill_that_is_not_there_is_refused():
    with pytest.raises(GroundtoneError, match="no drill 'juggle'"):
        content_of(lesson(), PageChoice(drill_name="juggle"))


def test_strikes_are_counted_on_both_sides():
    at = [Strike(field=4, contact=Contact.THIN)] * 16
    mid = [Strike(field=5, contact=Contact.CLEAN, distance_m=126.0)] * 16
    before = block([0.74] * 16, "baseline", strikes=at, usual_m=140.0)
    after = block([0.61] * 16, "test", strikes=mid, usual_m=140.0)
    content = content_of(lesson(before, after), PageChoice(units=IMPERIAL))
    assert content.sides == (("before", "0 of 16 inside the circle"), ("after", "16 of 16 inside the circle"))
    text = " ".join(content.strike_lines).replace("\u00a0", " ")
    assert "Inside the circle: these two blocks differ, +" in text
    assert "Contact before: 16 thin." in text
    assert "Distance kept after: 90 % of the usual 153 yd, playable." in text
    assert "More of your strikes" not in content.said[1][1]  # that would say that it is better
    figures = {figure.name: figure for figure in content.figures}
    assert (figures["kept.after"].value, figures["kept.after"].text) == (0.9, "90\u00a0%")
    assert figures["usual_m"].text == "153\u00a0yd"


def test_without_a_place_told_there_is_no_map():
    content = content_of(lesson(), PageChoice())
    assert content.sides == ()
    assert content.strike_lines == ("No places on the face were told.",)


def test_a_shank_is_counted_outside_though_its_place_was_not_told():
    shanked = block([0.7] * 5, "baseline", strikes=[Strike(contact=Contact.SHANK)] * 5)
    content = content_of(lesson(after=None, before=shanked), PageChoice())
    assert content.sides == (("before", "0 of 5 inside the circle"),)
    assert "Contact before: 5 shank." in content.strike_lines


def test_different_clubs_lies_and_tones_are_said():
    after = replace(AFTER, club="driver", lie="tee", cues=True)
    lines = content_of(lesson(after=after), PageChoice()).condition_lines
    assert "Before: 7 iron, after: driver. What changed may come from the club alone." in lines
    assert "The ball lay differently before and after: what changed may come from that alone." in lines
    assert "Tones sounded only after: compare blocks in silence to see what stayed." in lines


def test_weight_is_said_only_when_asked_for_in_the_unit_asked_for():
    data = lesson()
    data = replace(data, golfer=replace(data.golfer, mass_kg=80.0))
    assert not any("Weight" in line for line in content_of(data, PageChoice()).condition_lines)
    asked = content_of(data, PageChoice(weight=True, units=IMPERIAL)).condition_lines
    assert "Weight: 176\u00a0lb." in asked


def test_parts_that_are_left_out_leave_no_numbers_behind():
    content = content_of(example(), PageChoice(**shown(("strikes", "measures", "drill", "picture"))))
    assert (content.sides, content.strike_lines, content.rows, content.drill, content.picture) == ((), (), (), None, "")
    assert [figure.name for figure in content.figures] == ["usual_m"]


def test_doubts_about_the_recording_are_on_the_page():
    lines = content_of(lesson(guessed=True, damaged=True, simulated=True), PageChoice())
    assert lines.limit_lines[:2] == (
        "The mat was not calibrated: all figures are a guess.",
        "A part of the recording is missing; the rest was used.",
    )
    assert lines.banner.startswith("Recorded on the simulated mat")


@pytest.mark.parametrize("text", ["feet", "yards,metres", "kg,lb"])
def test_units_that_make_no_sense(text):
    with pytest.raises(GroundtoneError, match="unit"):
        units_of(text)


def test_a_part_that_is_not_there():
    with pytest.raises(GroundtoneError, match="no part 'moon': choose from picture"):
        shown(("moon",))


def test_names_lose_what_has_no_shape_and_nothing_else():
    assert shown_name(" A\nn\tn\x00 ") == "A n n"
    assert shown_name("Åse 李 🏌") == "Åse 李 🏌"
