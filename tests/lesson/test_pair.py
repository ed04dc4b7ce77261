"""The pair: one clean and one poor swing, an example; what goes with poor strikes only where all swings say so."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.pair import the_pair
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import BlockRows, Fault, SwingRow

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
    assert pair.looked is None
    assert pair.sentence == (
        "Swing 1 (centre, clean) and swing 2 (centre, fat), side by side: an example and no evidence."
    )


def test_what_a_tone_can_tell_apart_is_for_the_drill_and_no_cause():
    drill = LessonMeasure("overall_down", "furthest towards the toes", "%", (-math.inf, 0.67), 0.02)
    pair = the_pair([row(1, 0.78, 0.55), row(2, 0.77, 0.80, FAT)], (SHARE, drill))
    assert (pair.looked, pair.apart) == (None, drill)
    pair = the_pair([row(1, 0.70, 0.55, doubt=0.02), row(2, 0.68, 0.56, FAT, doubt=0.02)], LOOKED)
    assert pair.apart is None


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


def session(rng, share_of_poor, swings=32, blocks=4):
    """Fat where a coin says so; then the share is another one by so much."""
    rows = []
    for i in range(swings):
        fat = bool(rng.random() < 0.4)
        share = 0.75 + 0.03 * rng.standard_normal() + share_of_poor * fat
        rows.append(row(i + 1, share, 0.6 + 0.03 * rng.standard_normal(), FAT if fat else CLEAN))
    each = swings // blocks
    cut = [BlockRows(str(b), tuple(rows[b * each : (b + 1) * each]), number=b + 1) for b in range(blocks)]
    return [one for block in cut for one in block.swings]


def test_a_cause_is_named_where_the_groups_differ_over_all_swings():
    pair = the_pair(session(np.random.default_rng(1), -0.12), LOOKED)
    assert pair.looked is SHARE
    assert pair.means[0] - pair.means[1] == pytest.approx(0.12, abs=0.03)
    assert "Over all swings lead share at impact was" in pair.sentence
    assert "need not be the cause" in pair.sentence


def test_without_a_link_no_cause_is_named_however_far_two_swings_lie_apart():
    rng = np.random.default_rng(2)
    named = sum(the_pair(session(rng, 0.0), LOOKED).looked is not None for _ in range(60))
    assert named <= 1


def test_a_trend_over_the_session_is_no_cause():
    """Who tires hits more fat balls and hangs back: both go with the order, not with each other."""
    rng = np.random.default_rng(3)
    named = 0
    for _ in range(40):
        rows = session(rng, 0.0)
        fat = rng.random(32) < np.linspace(0.1, 0.9, 32)
        named += the_pair(
            [
                replace(each, values={**each.values, "share_impact": each.values["share_impact"] - 0.004 * i},
                        strike=FAT if fat[i] else CLEAN)
                for i, each in enumerate(rows)
            ],
            LOOKED,
        ).looked is not None  # fmt: skip
    assert named <= 2
