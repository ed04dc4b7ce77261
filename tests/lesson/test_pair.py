"""The pair: one clean and one poor swing, and what tells them apart."""

import math

from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.pair import the_pair
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import Fault, SwingRow

SHARE = LessonMeasure("share_impact", "lead share at impact", "%", (0.65, math.inf))
TOES = LessonMeasure("overall_down", "furthest towards the toes", "%", (-math.inf, 0.67))
LOOKED = (SHARE, TOES)
CLEAN, FAT = Strike(field=5, contact=Contact.CLEAN), Strike(field=5, contact=Contact.FAT)


def row(number, share, toes, strike=CLEAN, doubt=0.01, faults=()):
    names = ("share_impact", "overall_down")
    return SwingRow(number, dict(zip(names, (share, toes), strict=True)), dict.fromkeys(names, doubt), faults, strike)


def test_two_swings_are_enough():
    pair = the_pair([row(1, 0.78, 0.55), row(2, 0.50, 0.56, FAT)], LOOKED)
    assert (pair.clean.number, pair.poor.number) == (1, 2)
    assert pair.looked is SHARE
    assert pair.sentence == (
        "Swing 1 (centre, clean) and swing 2 (centre, fat): lead share at impact was 78 % in the first and 50 % in the "
        "second."
    )


def test_the_clean_swing_is_one_that_was_well_struck():
    """Clean contact towards the toe is no model."""
    off = Strike(field=6, contact=Contact.CLEAN)
    pair = the_pair([row(1, 0.78, 0.55, off), row(2, 0.77, 0.56), row(3, 0.50, 0.56, FAT)], LOOKED)
    assert (pair.clean.number, pair.poor.number) == (2, 3)
    pair = the_pair([row(1, 0.78, 0.55, off), row(2, 0.57, 0.56)], LOOKED)
    assert (pair.clean.number, pair.poor.number) == (2, 1)


def test_of_many_clean_swings_the_middle_one_and_of_the_poor_ones_the_worst():
    rows = [row(1, 0.90, 0.50), row(2, 0.75, 0.55), row(3, 0.74, 0.56), row(4, 0.60, 0.70)]
    rows += [row(5, 0.6, 0.55, FAT), row(6, 0.5, 0.6, Strike(field=4, contact=Contact.SHANK))]
    pair = the_pair(rows, LOOKED)
    assert pair.clean.number in (2, 3)
    assert pair.poor.number == 6


def test_what_leaves_its_band_says_more_than_a_larger_difference_inside():
    pair = the_pair([row(1, 0.90, 0.60), row(2, 0.70, 0.72, FAT), row(3, 0.80, 0.62)], LOOKED)
    assert pair.looked is TOES


def test_without_strikes_the_findings_choose():
    hang = Fault("hanging on the trail side", 0.95)
    described = Fault("reverse style", 0.99, concern=False)
    pair = the_pair(
        [row(1, 0.78, 0.55, Strike(), faults=(described,)), row(2, 0.50, 0.56, Strike(), faults=(hang,))], LOOKED
    )
    assert not pair.by_strike
    assert pair.poor.number == 2
    assert "no contrast of strikes was told" in pair.sentence


def test_all_clean_and_no_findings_is_no_pair():
    assert the_pair([row(1, 0.78, 0.55), row(2, 0.77, 0.55)], LOOKED) is None
    assert the_pair([], LOOKED) is None


def test_differences_within_the_doubt_are_not_made_a_story():
    pair = the_pair([row(1, 0.70, 0.55, doubt=0.02), row(2, 0.68, 0.56, FAT, doubt=0.02)], LOOKED)
    assert pair.looked is None
    assert "do not differ" in pair.sentence
