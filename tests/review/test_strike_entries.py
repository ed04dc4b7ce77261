"""Strikes into a recording and back."""

import math

import pytest

from groundtone.review.strikes import Contact, Line, Strike, StrikeError, strike_of, strikes_of_swings, table_of

FAT = Strike(field=4, contact=Contact.FAT, line=Line.LEFT, distance_m=80.0)


def test_a_strike_survives_its_entry():
    for strike in (FAT, Strike(place_mm=(-3.0, 4.5)), Strike()):
        assert strike_of(table_of(strike, 12.0)) == strike
    assert table_of(Strike(), 12.0)["undone"]
    assert not table_of(FAT, 12.0)["undone"]


@pytest.mark.parametrize(
    "wrong", [{"field": 12}, {"contact": "brilliant"}, {"place_mm": [1]}, {"distance_m": "far"}, {"line": 3}]
)
def test_an_entry_that_makes_no_sense_is_said(wrong):
    with pytest.raises(StrikeError):
        strike_of(wrong)


def test_each_strike_goes_to_the_swing_whose_impact_is_nearest():
    entries = [table_of(FAT, 30.4, "a"), table_of(Strike(field=6), 9.9, "b"), table_of(Strike(field=5), 50.0, "c")]
    assert strikes_of_swings(entries, [10.0, math.nan, 30.0]) == [
        (Strike(field=6), "b"),
        (Strike(), None),
        (FAT, "a"),
    ]


def test_of_two_entries_the_later_counts():
    entries = [table_of(FAT, 10.0, "a"), table_of(Strike(field=6), 10.1, "b")]
    assert strikes_of_swings(entries, [10.0]) == [(Strike(field=6), "b")]
