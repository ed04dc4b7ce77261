"""Strikes told while the session runs: by key, by foot and by a remote's two buttons."""

import pytest

from groundtone.lesson.answering import Answering
from groundtone.review.strikes import Contact, Line, Strike, strike_of


@pytest.fixture
def answering():
    made = Answering()
    made.swing(20.0)
    return made


def test_without_a_swing_nothing_is_told():
    empty = Answering()
    assert empty.key(1.0, "6") is None
    assert empty.foot("toe") is None
    assert empty.set(Strike(field=5)) is None
    assert empty.words() == ""


def test_keys_tell_the_last_swing_and_one_entry_grows(answering):
    first, signal = answering.key(21.0, "6")
    assert signal == "taken"
    assert first["impact_s"] == 20.0
    second, _ = answering.key(22.0, "t")
    assert first["id"] == second["id"]
    assert strike_of(second) == Strike(field=6, contact=Contact.THIN)
    assert answering.words() == "toe, thin"
    undone, signal = answering.key(23.0, "u")
    assert (undone["undone"], undone["id"], signal) == (True, first["id"], "undone")
    assert answering.key(24.0, "u") is None
    assert answering.key(24.0, "x") is None
    answering.swing(40.0)
    assert answering.key(41.0, "5")[0]["id"] != first["id"]
    assert answering.strikes == [Strike(), Strike(field=5)]


@pytest.mark.parametrize(
    ("answer", "strike"),
    [
        ("toe", Strike(field=6)),
        ("heel", Strike(field=4)),
        ("fat", Strike(contact=Contact.FAT)),
        ("thin", Strike(contact=Contact.THIN)),
        ("good", Strike(field=5)),
    ],
)
def test_the_foot_tells_and_takes_back(answering, answer, strike):
    assert answering.foot("undo") is None
    entry, signal = answering.foot(answer)
    assert (strike_of(entry), signal) == (strike, "taken")
    assert answering.foot(answer)[1] == "taken"  # a foot does not toggle
    assert answering.last == strike
    entry, signal = answering.foot("undo")
    assert (entry["undone"], signal) == (True, "undone")
    assert answering.foot("nothing known") is None


def test_a_foot_adds_the_contact_to_a_place(answering):
    answering.foot("toe")
    answering.foot("fat")
    assert answering.last == Strike(field=6, contact=Contact.FAT)


def test_a_remote_steps_on_while_it_is_pressed_soon_again(answering):
    told = []
    for t_s, button in ((1.0, "next"), (2.0, "next"), (3.0, "next"), (4.0, "next"), (9.0, "next"), (10.0, "back"),
                        (11.0, "back"), (12.0, "back")):  # fmt: skip
        answering.key(t_s, button)
        told.append(answering.words())
    assert told == ["centre", "toe", "heel", "centre", "centre", "fat", "thin", "fat"]
    answering.swing(60.0)
    answering.key(12.5, "next")
    assert answering.words() == "centre"


def test_counts_are_of_all_swings(answering):
    answering.key(21.0, "5")
    answering.swing(40.0)
    answering.swing(60.0)
    answering.foot("heel")
    assert (answering.counts().placed, answering.counts().inside) == (2, 1)


def test_a_good_strike_corrects_what_a_first_tap_seemed_to_say(answering):
    answering.foot("toe")
    answering.key(21.0, "l")
    answering.foot("good")
    assert answering.last == Strike(field=5, line=Line.LEFT)
    assert answering.last.well_struck


def test_a_distance_is_typed_and_places_are_places_before_and_after(answering):
    assert answering.key(21.0, "6") is not None
    assert answering.key(21.5, "d") is None
    assert answering.typing
    for k, digit in enumerate("140"):
        assert answering.key(22.0 + 0.3 * k, digit)[1] == "taken"
    assert answering.last == Strike(field=6, distance_m=140.0)
    # A fourth digit would be too far; Enter ends it; then digits are places again.
    assert answering.key(22.9, "5") is None
    assert answering.key(23.0, "enter") is None
    assert not answering.typing
    answering.key(23.2, "5")
    assert answering.last == Strike(field=5, distance_m=140.0)
    # And so they are after a pause, with the next swing, and where no digit came.
    answering.key(30.0, "d")
    answering.key(34.0, "4")
    assert answering.last == Strike(field=4, distance_m=140.0)
    answering.key(40.0, "d")
    answering.swing(60.0)
    answering.key(41.0, "4")
    assert answering.last == Strike(field=4)
    for key in "dr95":
        answering.key(50.0, key)
    assert answering.last == Strike(field=5, line=Line.RIGHT)


def test_where_the_ball_started_is_told_by_key(answering):
    assert [answering.key(21.0, key)[1] for key in "lm"] == ["taken", "taken"]
    assert answering.last == Strike(line=Line.STRAIGHT)
