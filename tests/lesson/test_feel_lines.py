"""Feel in words, English and German: numbers as they are, too few said so, and what was kept over lessons."""

import io
import re
from dataclasses import replace

import pypdf
import pytest

from groundtone.feel.guess import Guess
from groundtone.feel.plan import Plan
from groundtone.feel.purpose import Try
from groundtone.lesson.proposed import models
from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.example import example
from groundtone.lesson.report.feel_lines import feel_lines, kept_between, kept_lines, model_lines, plan_lines
from groundtone.lesson.report.page import build_page
from groundtone.lesson.wording import words
from groundtone.review.feel_log import FeelLesson
from groundtone.review.swings import BlockRows, Lesson, SwingRow

EN, DE = words("en"), words("de")
DONE = [("heels", 0.45), ("middle", 0.54), ("toes", 0.63), ("heels", 0.46), ("middle", 0.53), ("toes", 0.62)] * 3
TRIES = tuple(Try(place, "setup", value, 0.52) for place, value in DONE)
GUESSES = tuple(Guess("toes", value, 0.75) for value in (0.50, 0.52, 0.60, 0.62, 0.55, 0.51, 0.58, 0.49, 0.61))


def lesson(name, tries=(), guesses=()):
    return FeelLesson(name, f"{name}T10:00:00", tuple(tries), tuple(guesses))


def numbers(text):
    return [float(n.replace("\u2212", "-").replace(",", ".")) for n in re.findall(r"[\u2212+-]?\d+(?:[.,]\d+)?", text)]


@pytest.mark.parametrize("say", [EN, DE])
def test_range_and_feel_are_told_with_their_numbers(say):
    ranged, felt = feel_lines([lesson("2026-03-14", TRIES, GUESSES)], say)
    low, _, _, high = numbers(ranged)[:4]
    assert (low, high) == pytest.approx((45.5, 62.5), abs=1.1)
    right, of, chance = numbers(felt)[:3]
    assert (right, of, chance) == (4, 9, 3.0)


def test_nothing_and_too_few_are_said():
    assert feel_lines([], EN) == [EN("feel.nothing")]
    few = feel_lines([lesson("a", TRIES[:4], GUESSES[:3])], EN)
    assert few == [
        "On purpose, heel to toe at setup: 4 tries are too few to say something; 8 are needed.",
        "Feel, heel to toe: 1 of 3 guesses were right, 1.0 would be at random; too few to say more, 8 are needed.",
    ]


def test_a_later_lesson_with_a_ball_or_two_does_not_hide_what_is_known():
    known = feel_lines([lesson("a", TRIES)], EN)
    assert feel_lines([lesson("a", TRIES), lesson("b", TRIES[:2])], EN) == known


@pytest.mark.parametrize("say", [EN, DE])
def test_low_and_high_on_the_face_are_told_with_their_counts(say):
    came = [("low", "low")] * 4 + [("low", "middle")] * 2 + [("high", "high")] * 3 + [("high", "low")]
    tries = [Try(place, "impact", 0.5, 0.75, row) for place, row in came]
    (line,) = feel_lines([lesson("a", tries)], say)
    assert numbers(line)[:5] == [4, 6, 3, 4, pytest.approx(3.3, abs=0.05)]
    assert numbers(line)[5] == pytest.approx(68, abs=2)
    (few,) = feel_lines([lesson("a", tries[:5])], say)
    assert numbers(few) == [5, 8]


def test_growth_is_told_from_the_first_lesson():
    wider = tuple(replace(each, position=0.54 + 1.5 * (each.position - 0.54)) for each in TRIES)
    (line,) = feel_lines([lesson("a", TRIES), lesson("b", wider)], EN)
    assert "Since the first lesson the range has grown by +8" in line


def rows(values):
    return tuple(SwingRow(i, {"overall_most_down": value}) for i, value in enumerate(values))


def told(name, **roles):
    blocks = tuple(BlockRows(role, rows(values), role) for role, values in roles.items())
    return Lesson(name, f"{name}T10:00:00", blocks)


def test_what_was_kept_is_told_from_lesson_to_lesson():
    scatter = [0.0, 0.01, -0.01, 0.005, -0.005, 0.0, 0.01]
    lessons = [
        told("a", baseline=[0.66 + s for s in scatter], test=[0.60] * 2),
        told("b", test=[0.56 + s for s in scatter]),
        told("c", retention=[0.60 + s for s in scatter]),
    ]
    found = kept_between(lessons, "overall_most_down")
    assert found.n == (7, 7, 7)
    assert found.part.value == pytest.approx(0.6, abs=0.02)
    (line,) = kept_lines(lessons, "overall_most_down", EN)
    assert line.startswith("What stayed, furthest to the toes, downswing: by the test at the end it had changed by")
    assert len(numbers(line)) == 9
    assert kept_lines(lessons[:2], "overall_most_down", EN) == []
    assert kept_lines(lessons[2:], "overall_most_down", EN) == []
    few = [lessons[0], lessons[1], told("c", retention=[0.6] * 3)]
    assert kept_lines(few, "overall_most_down", EN)[0].endswith("a test had too few swings; 6 in each are needed.")


def test_a_plan_as_the_page_prints_it():
    plan = Plan("P7", ("7 iron",), "heels-down", 16, 1, made="2026-03-14")
    first, later = plan_lines(plan, EN)
    assert first.startswith("Your plan: 5 × 7 iron (tone), 1 × 7 iron (no tone), 1 × 7 iron (tone)")
    assert sum(int(n) for n in re.findall(r"(\d+) ×", first)) == 16
    assert later.startswith("7 days after the last of them")
    hit = replace(plan, done=16, practised="2026-03-20")
    assert plan_lines(hit, EN) == ["Your retention test, ten balls without a tone: 27 March 2026."]
    assert "27. März 2026" in plan_lines(hit, DE)[0]
    assert plan_lines(replace(hit, kept="2026-03-27"), EN) == []


def test_the_longest_plan_and_all_lines_still_fit_on_the_sheet():
    """A page that is full of feel is made, with the end of a long plan left to the command."""
    plan = Plan("P7", ("driver", "5 wood", "7 iron", "9 iron", "wedge"), "heels-down", 200, 3, made="2026-03-14")
    (line, _) = plan_lines(plan, EN)
    assert line.endswith(", ….")
    assert line.count("×") == 24
    both = tuple(replace(each, moment="impact") for each in TRIES)
    felt = (lesson("a", TRIES + both, GUESSES), lesson("b", TRIES + both, GUESSES))
    page = build_page(replace(example("en"), plan=plan, feel=felt), PageChoice())
    assert line in page.html
    assert len(pypdf.PdfReader(io.BytesIO(page.pdf)).pages) == 2


def test_good_strikes_by_class_and_a_club_without_one():
    few = ([(0.5, 0.78, 3.0)] * 5, [True] * 5)
    assert model_lines(models({"": few}), EN) == [
        "Good strikes, no club told: 5 balls, 5 well struck, are too few to say something; 12 are needed, three of "
        "either kind."
    ]
    many = ([(0.5 + 0.01 * (i % 7 - 3), 0.78, 3.0) for i in range(60)], [i % 4 > 0 for i in range(60)])
    lines = model_lines(models({"iron": many}), EN)
    assert lines[0].startswith("Good strikes, iron (60 balls): of ten swings with the usual pressure")
    low, high = numbers(lines[0])[1:3]
    assert low <= 7 <= high
    assert len(lines) == 3
