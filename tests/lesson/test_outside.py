"""How many were outside: the mat's own error is the same one in all of a session, and is counted once."""

import math

import pytest

from groundtone.lesson.outcome import clear_words
from groundtone.lesson.outside import Outside, could_be, count_words, outside
from groundtone.review.swings import Fault, SwingRow


def rows(values, doubt):
    out = []
    for i, value in enumerate(values):
        faults = (Fault("toes", 0.9, code="toes"),) if value > 0.67 else ()
        out.append(SwingRow(i + 1, {"overall_most_down": value}, {"overall_most_down": doubt}, faults))
    return out


NEAR = (0.66, 0.665, 0.675, 0.68, 0.70, 0.60)


def test_what_all_readings_have_in_common_moves_them_together():
    near = rows(NEAR, 0.01)
    found = outside(near, "toes")
    assert (found.n, found.of) == (3, 6)
    # 1.96 points to either side: down to 0.70 alone, up to all but 0.60.
    assert could_be(near, found) == (1, 5)
    assert count_words(near, found) == (
        "Toes in the downswing: outside in 3 of 6 readings; the mat's own error, one for all, allows 1 to 5."
    )


def test_a_sure_mat_allows_what_was_counted_alone():
    near = rows(NEAR, 0.001)
    assert could_be(near, outside(near, "toes")) == (3, 3)
    assert count_words(near, outside(near, "toes")) == "Toes in the downswing: outside in 3 of 6 readings."
    assert could_be(rows(NEAR, math.nan), outside(near, "toes")) == (3, 3)


def test_the_doubt_of_a_time_is_each_swings_own():
    short = [SwingRow(i, {"held_s": 0.6}, {"held_s": 0.3}, (Fault("held", 0.9, code="finish"),)) for i in (1, 2)]
    found = Outside("finish", 2, 2)
    assert could_be(short, found) == (2, 2)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ((6, 8), (1, 8), "too few swings to say; 10 in each block are the least."),
        ((8, 12), (5, 12), "cannot tell; 12 swings of one block each do not tell 8 of 12 from 5 of 12."),
        ((30, 30), (0, 30), "these two blocks differ, by"),
    ],
)
def test_counts_of_two_blocks_differ_at_most(before, after, words):
    told = clear_words(Outside("toes", *before), Outside("toes", *after))
    assert told.startswith(words)
    assert "better" not in told


def test_more_looks_make_a_count_less_sure():
    sides = Outside("toes", 18, 20), Outside("toes", 5, 20)
    assert clear_words(*sides, 1).startswith("these two blocks differ")
    assert clear_words(*sides, 200).startswith("cannot tell")
