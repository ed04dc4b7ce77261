"""Progress: medians by lesson, days between, what was kept, and what must not be counted."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from matplotlib import image

from groundtone.errors import GroundtoneError
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.progress import club_of, progress, progress_of_club
from groundtone.lesson.progress_picture import club_line, draw_progress, lessons_line
from groundtone.lesson.report.choice import Units
from groundtone.lesson.report.example import example_lessons
from groundtone.lesson.report.notation import Notation
from groundtone.lesson.report.paper import CORRIDOR, EDGE, FAINT, INK, INSIDE, LINE, PAPER
from groundtone.lesson.wording import words
from groundtone.review.strikes import Strike
from groundtone.review.swings import BlockRows, Lesson, SwingRow

TOES = LessonMeasure("overall_most_down", "furthest to the toes", "%", (-math.inf, 0.67), 0.02)


def block(middle, role="baseline", n=8, u=0.005, field=5, **said):
    """Swings evenly within one point of a middle; their median is the middle."""
    values = middle + 0.01 * np.linspace(-1, 1, n)
    rows = tuple(SwingRow(i, {TOES.name: v}, {TOES.name: u}, strike=Strike(field=field)) for i, v in enumerate(values))
    return BlockRows(role, rows, role, **{"club": "7 iron", "cues": role == "drill", **said})


def lesson(day, *blocks):
    return Lesson(day, f"{day}T10:00:00+01:00", blocks)


def test_each_lesson_has_its_median_and_interval_and_the_days_between():
    found = progress([lesson("2026-01-10", block(0.74)), lesson("2026-03-01", block(0.64))], [TOES])
    first, second = found.points[TOES.name]
    assert (first.value, second.value) == (pytest.approx(0.74, abs=0.002), pytest.approx(0.64, abs=0.002))
    assert first.low < 0.74 < first.high
    assert first.n == 8
    assert found.days == (50,)
    assert found.since.changes[0].verdict == "these two blocks differ"


def test_what_was_lost_between_lessons_is_told_from_the_last_block_to_the_first_of_the_next():
    lessons = [
        lesson("2026-01-10", block(0.76), block(0.62, "drill"), block(0.63, "test")),
        lesson("2026-01-24", block(0.70), block(0.61, "test")),
        lesson("2026-02-07", block(0.61), block(0.60, "test")),
    ]
    lost, kept = progress(lessons, [TOES]).kept_of(TOES.name)
    assert (lost.before, lost.after) == (pytest.approx(0.63, abs=0.01), pytest.approx(0.70, abs=0.01))
    assert lost.verdict == "these two blocks differ"
    assert (kept.before, kept.after) == (pytest.approx(0.61, abs=0.01), pytest.approx(0.61, abs=0.01))
    assert kept.verdict == "cannot tell"


def test_swings_with_the_tone_do_not_count_where_there_are_silent_ones():
    both = lesson("2026-01-10", block(0.74), block(0.60, "drill"))
    assert progress([both], [TOES]).points[TOES.name][0].n == 8
    alone = lesson("2026-01-10", block(0.60, "drill"))
    assert progress([alone], [TOES]).points[TOES.name][0].n == 8


def test_a_mat_s_change_between_two_calibrations_can_take_a_claim_back():
    def verdict(u):
        return progress(
            [
                lesson("2026-01-10", block(0.74, u=u, session="a")),
                lesson("2026-01-24", block(0.64, u=u, session="b")),
            ],
            [TOES],
        ).since.changes[0].verdict  # fmt: skip

    assert verdict(0.002) == "these two blocks differ"
    assert verdict(0.03) == "cannot tell"


def test_swings_with_another_club_are_left_out_and_counted():
    lessons = [lesson("2026-01-10", block(0.74), block(0.60, club="driver", n=5)), lesson("2026-01-24", block(0.70))]
    found = progress(lessons, [TOES], club="7 iron")
    assert found.left_out == 5
    assert [p.n for p in found.points[TOES.name]] == [8, 8]
    assert club_of(lessons) == "7 iron"
    assert club_of([lesson("2026-01-10", block(0.6, club="wedge")), lesson("2026-01-11")]) == "wedge"
    assert progress(lessons, [TOES]).points[TOES.name][0].n == 13


def test_clubs_of_one_class_count_together_and_too_few_of_it_fall_back_to_all():
    irons, mixed = (
        [lesson("2026-01-10", block(0.74, club=first)), lesson("2026-01-24", block(0.70, club=second))]
        for first, second in (("7 iron", "Eisen 8"), ("7 iron", "driver"))
    )
    found = progress_of_club(irons, "Eisen 7")
    assert (len(found.lessons), found.left_out, found.few) == (2, 0, "")
    found = progress_of_club(mixed, "driver")
    assert (len(found.lessons), found.club, found.few) == (2, None, "driver")
    for language, text in (("en", "Too few swings with drivers: all clubs together"),
                           ("de", "Zu wenige Schwünge mit Drivern: alle Schläger zusammen")):  # fmt: skip
        assert club_line(found, Notation(words(language), Units())).startswith(text)


def test_strikes_inside_the_circle_by_lesson():
    found = progress([lesson("2026-01-10", block(0.7, field=4)), lesson("2026-01-24", block(0.7))], [TOES])
    assert [(c.inside, c.placed) for c in found.strikes] == [(0, 8), (8, 8)]


def test_few_swings_have_no_interval_and_rehearsals_do_not_count():
    few = block(0.7, n=3)
    rehearsed = replace(few, swings=tuple(replace(row, kind="rehearsal") for row in few.swings))
    found = progress([lesson("2026-01-10", few), lesson("2026-01-11", rehearsed)], [TOES])
    assert len(found.lessons) == 1
    assert math.isnan(found.points[TOES.name][0].low)
    assert found.since is None
    assert found.kept == ()


@pytest.mark.parametrize("lessons", [[], [lesson("2026-01-10")], [lesson("2026-01-10", block(0.7, club="driver"))]])
def test_without_a_swing_there_is_no_progress(lessons):
    with pytest.raises(GroundtoneError, match=r"no swing at a ball with '7 iron' has been recorded"):
        progress(lessons, [TOES], club="7 iron")


def test_a_measure_that_no_swing_has_leaves_a_gap():
    tempo = LessonMeasure("tempo", "tempo")
    found = progress([lesson("2026-01-10", block(0.7)), lesson("2026-01-24", block(0.7))], [TOES, tempo])
    assert [p.n for p in found.points["tempo"]] == [0, 0]
    assert draw_progress(found, "Ann").startswith(b"\x89PNG")


def test_the_days_are_told_in_both_languages():
    found = progress([lesson(f"2026-01-{day}", block(0.7)) for day in (10, 11, 21)], [TOES])
    assert (
        lessons_line(found, Notation(words("en"), Units())) == "3 lessons: 10 January 2026, 1 day later, 10 days later."
    )
    assert (
        lessons_line(found, Notation(words("de"), Units()))
        == "3 Stunden: 10. Januar 2026, 1 Tag später, 10 Tage später."
    )


def channels(colour):
    return np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])


def test_the_picture_has_one_hue_and_no_other():
    looked = [TOES, LessonMeasure("tempo", "tempo")]
    drawn = draw_progress(progress(example_lessons(), looked), "李 <Ann>", invented=True)
    dots = image.imread(io.BytesIO(drawn))[..., :3].reshape(-1, 3)
    palette = np.array([channels(colour) for colour in (CORRIDOR, EDGE, FAINT, INK, INSIDE, LINE, PAPER)])
    # Blends of two of the palette's colours (soft edges) have red below green below blue, as all of the palette.
    assert np.all(palette[:, 0] <= palette[:, 1] + 1e-9)
    assert np.all(dots[:, 0] <= dots[:, 1] + 0.02)
    assert np.all(dots[:, 1] <= dots[:, 2] + 0.02)
    for colour in (INSIDE, CORRIDOR):
        assert (np.abs(dots - channels(colour)).max(axis=1) < 0.01).sum() > 200
