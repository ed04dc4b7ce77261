"""What is let through to the ear: fading, only after impact, and no more than two at once."""

from dataclasses import replace

import pytest

from groundtone.cue.gate import TELL_S, CueGate, Fading, part_that_sounds, sounds_in
from groundtone.cue.rulebook import Fade
from groundtone.cue.rulefile import default_rules
from groundtone.cue.rules import SILENT
from groundtone.swing.events import Phase

BOOK = default_rules()
FADE = Fade(on=True)
BACK, DOWN, FINISH, SETUP = Phase.BACKSWING, Phase.DOWNSWING, Phase.FINISH, Phase.SETUP


def playing(fade=FADE, inside=0, **changes):
    fading = Fading(fade)
    for _ in range(inside):
        fading.swing(inside=True)
    return CueGate(replace(BOOK, fade=fade, **changes), fading)


@pytest.mark.parametrize(
    ("inside", "part"), [(0, 1.0), (5, 1.0), (6, 0.67), (7, 0.67), (8, 0.5), (9, 0.34), (10, 0.34)]
)
def test_the_part_that_sounds_falls_with_success(inside, part):
    assert part_that_sounds(FADE, inside) == part
    assert part_that_sounds(Fade(on=False), inside) == 1.0


@pytest.mark.parametrize(("part", "of_12"), [(1.0, 12), (0.67, 9), (0.5, 6), (1 / 3, 4), (0.34, 5)])
def test_which_swings_sound_follows_from_their_number(part, of_12):
    which = [sounds_in(number, part) for number in range(1, 13)]
    assert sum(which) == of_12
    # Spread evenly: no two silences in a row where two thirds sound.
    if part > 0.6:
        assert all(a or b for a, b in zip(which, which[1:], strict=False))


def test_misses_bring_the_tones_back():
    fading = Fading(FADE)
    for _ in range(10):
        fading.swing(inside=True)
    assert fading.part == 0.34
    for _ in range(5):
        fading.swing(inside=False)
    assert fading.part == 1.0


def test_a_silent_swing_is_silent_but_for_what_is_far_out():
    deaf = playing(inside=8)
    assert not sounds_in(2, 0.5)
    assert deaf.let_through(0.0, BACK, 2, SILENT, after_impact=False) == SILENT
    assert deaf.silent
    assert deaf.let_through(0.1, DOWN, 2, {"toes": 0.7, "trail side": 0.3}, after_impact=False) == SILENT
    far = deaf.let_through(0.2, DOWN, 2, {"toes": 0.8, "trail side": 0.3}, after_impact=False)
    assert far == {"toes": 0.8}
    # Once far out, it is heard to its end; the other cue is not.
    assert deaf.let_through(0.3, FINISH, 2, {"toes": 0.2, "trail side": 0.3}, after_impact=True) == {"toes": 0.2}
    deaf.let_through(2.0, Phase.STANDING, 0, SILENT, after_impact=False)
    assert deaf.let_through(3.0, BACK, 3, {"toes": 0.2}, after_impact=False) == {"toes": 0.2}


def test_setup_never_fades():
    deaf = playing(inside=10)
    assert deaf.let_through(0.0, SETUP, 0, {"toes": 0.2}, after_impact=False) == {"toes": 0.2}


def test_after_impact_what_was_out_before_sounds_once():
    late = playing(Fade(), sound="after impact")
    assert late.let_through(0.0, SETUP, 0, {"toes": 0.3}, after_impact=False) == {"toes": 0.3}
    assert late.let_through(0.5, BACK, 1, {"toes": 0.3}, after_impact=False) == SILENT
    assert late.let_through(0.9, DOWN, 1, {"toes": 0.6}, after_impact=False) == SILENT
    assert late.let_through(0.95, DOWN, 1, SILENT, after_impact=False) == SILENT
    heard = [late.let_through(1.0 + i / 100, FINISH, 1, SILENT, after_impact=True).get("toes", 0.0) for i in range(100)]
    assert heard[:60] == [0.6] * round(TELL_S * 100)
    assert heard[61:] == [0.0] * 39
    # What is out after impact sounds as it is.
    assert late.let_through(2.0, FINISH, 1, {"trail side": 0.4}, after_impact=True) == {"trail side": 0.4}
    late.let_through(3.0, Phase.STANDING, 0, SILENT, after_impact=False)
    late.let_through(4.0, BACK, 2, SILENT, after_impact=False)
    assert late.let_through(5.0, FINISH, 2, SILENT, after_impact=True) == SILENT


def test_of_many_the_two_of_the_highest_priority_sound():
    both = playing(Fade())
    everything = {"toes": 0.2, "trail side": 0.3, "heels": 0.4, "slide": 0.5, "finish": 0.6}
    assert both.let_through(0.0, FINISH, 1, everything, after_impact=True) == {"toes": 0.2, "trail side": 0.3}
    del everything["toes"]
    assert both.let_through(0.1, FINISH, 1, everything, after_impact=True) == {"trail side": 0.3, "heels": 0.4}
    alone = playing(Fade(), together=1)
    assert alone.let_through(0.0, FINISH, 1, {"toes": 0.2, "trail side": 0.9}, after_impact=True) == {"toes": 0.2}
    assert alone.let_through(0.0, SETUP, 1, {"toes": 0.2, "trail side": 0.9}, after_impact=False) == {"toes": 0.2}
