"""Bands that follow success, step by step, and what is said of it."""

from dataclasses import replace

import pytest

from groundtone.cue.rulebook import Tighten
from groundtone.cue.rulefile import default_rules
from groundtone.cue.tighten import Tightener

ON = replace(default_rules(), tighten=Tighten(on=True))


def swings(tightener, pattern, cue="toes"):
    """Plays swings: "." inside, "x" out; gives the changes with the swing's number, from 1."""
    out = []
    for number, mark in enumerate(pattern, start=1):
        # The other cue is always out, as often as not: it must not matter here.
        out += [(number, change) for change in tightener.swing({cue: mark == "x", "trail side": number % 2 == 0})
                if change.band.startswith(cue)]  # fmt: skip
    return out


def test_it_is_off_by_default():
    assert swings(Tightener(default_rules()), "." * 30) == []


@pytest.mark.parametrize(
    ("pattern", "at"), [("........", 8), ("x.......x.", 10), ("x.x.x.......", 11), ("xxx.....", None)]
)
def test_eight_of_the_last_ten_tighten_by_a_step(pattern, at):
    tightener = Tightener(ON)
    found = swings(tightener, pattern)
    assert {number for number, _ in found} == ({at} if at else set())
    if at:
        assert [change.band for _, change in found] == ["toes_setup", "toes_before", "toes_after", "toes_lead"]
        assert [change.after for _, change in found] == pytest.approx([0.71, 0.66, 0.66, 0.69])
        assert tightener.book.band("toes_after").high == 0.66


def test_after_a_step_the_count_begins_anew_and_it_ends_at_the_floor():
    tightener = Tightener(ON)
    found = swings(tightener, "." * 200)
    numbers = sorted({number for number, _ in found})
    assert numbers[:3] == [8, 16, 24]
    book = tightener.book
    assert [book.band(name).high for name in ("toes_before", "toes_after", "toes_lead")] == [0.58, 0.56, 0.56]


def test_misses_ease_it_back_but_never_beyond_where_it_began():
    tightener = Tightener(ON)
    found = swings(tightener, "........" + "xxxxxx" + "x" * 30)
    changes = [(number, change.after) for number, change in found if change.band == "toes_after"]
    assert changes == [(8, 0.66), (14, 0.67)]
    assert [change.tighter for _, change in found] == [True] * 4 + [False] * 4
    # Begun in an earlier session from wider: it may go back to there.
    earlier = Tightener(ON.begun_at({"toes_after": 0.69}))
    changes = [change.after for _, change in swings(earlier, "x" * 30) if change.band == "toes_after"]
    assert changes == [0.68, 0.69]


def test_a_low_limit_rises():
    tightener = Tightener(ON)
    for _ in range(8):
        changes = tightener.swing({"toes": True})
    (trail,) = [change for change in changes if change.band == "trail"]
    assert (trail.before, trail.after) == (0.58, 0.59)
    assert trail.sentence == (
        "Band tightened: trail side, at least 59 % now, 58 % before; 8 of the last 8 swings kept to it."
    )


def test_a_locked_band_stays_and_a_rule_that_is_off_is_not_counted():
    tightener = Tightener(replace(ON, locked=frozenset({"toes_after"})).switched(trail_side=False))
    moved = {change.band for _ in range(40) for change in tightener.swing({})}
    assert moved == {"toes_setup", "toes_before", "toes_lead"}
