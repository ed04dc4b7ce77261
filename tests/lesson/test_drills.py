"""Drills: a set for every finding, complete in every language, with bands that ask no less than the finding."""

import copy
import math
import tomllib
from dataclasses import replace
from importlib.resources import files

import pytest

from groundtone.cue.rulefile import default_rules
from groundtone.lesson.drills import (
    DrillsError,
    all_drills,
    drill_of,
    drills_for,
    drills_from,
    rules_in_drill,
    words_of,
)
from groundtone.lesson.wording import languages, words
from groundtone.swing.bands import default_bands

TABLE = tomllib.loads((files("groundtone.lesson") / "drills.toml").read_text("utf-8"))


def changed(name, **more):
    table = copy.deepcopy(TABLE)
    table["drill"][name].update(more)
    return table


@pytest.mark.parametrize("finding", [band.name for band in default_bands().findings])
def test_each_finding_has_two_drills_and_the_named_one_comes_first(finding):
    fitting = drills_for(finding)
    assert len(fitting) >= 2
    assert fitting[0].name == default_bands().band(finding).drill


@pytest.mark.parametrize("language", languages())
def test_each_drill_can_be_done_from_its_words_alone(language):
    titles = set()
    for drill in all_drills().values():
        told = words_of(drill, words(language))
        assert len(told.steps) == 3
        assert all(text.endswith((".", "!")) for text in (*told.steps, told.aim, told.feel, told.stop, told.care))
        titles.add(told.title)
    assert len(titles) == len(all_drills())


def test_who_hangs_back_is_not_told_to_wait_on_the_trail_heel():
    assert "trail" not in drill_of("pause-at-turn").findings
    for drill in drills_for("trail"):
        told = words_of(drill, words("en"))
        for text in (*told.steps, told.feel):
            assert not ("trail heel" in text.lower() and ("wait" in text.lower() or "stop" in text.lower()))


@pytest.mark.parametrize("language", languages())
def test_each_drill_has_its_own_care(language):
    say = words(language)
    own = {name: say(f"drills.{name}.care") for name in all_drills()}
    walls = {own[name] for name in ("back-pocket", "heel-first")}
    held = {own[name] for name in ("rock-and-settle", "side-rocks")}
    assert len(set(own.values())) == len(own) - 2
    assert len(walls) == len(held) == 1
    for name in ("step-through", "step-in"):
        assert {"en": "ramp", "de": "Rampe"}[language] in own[name]
    assert {"en": "firm", "de": "festem"}[language] in own["feet-together"]
    assert {"en": "Juniors", "de": "Kinder"}[language] in words_of(drill_of("hold-it"), say).care


@pytest.mark.parametrize(
    ("language", "inner", "flared", "setup"),
    [("en", "inner edge", "20 to 30 degrees", "setup"), ("de", "Innenkante", "20 bis 30 Grad", "Ansprechen")],
)
def test_no_drill_stands_on_the_outer_edge_and_the_lean_belongs_to_the_setup(language, inner, flared, setup):
    say = words(language)
    turn, flat, ball = (words_of(drill_of(name), say) for name in ("turn-into-heel", "flat-finish", "ball-of-foot"))
    assert inner in turn.feel
    assert flared in turn.care
    assert flared in flat.steps[0]
    assert inner in flat.steps[-1]
    assert setup in ball.steps[0]
    assert {"en": "lean", "de": "lehn"}[language] not in ball.steps[-1].lower()


def test_cues_and_findings_of_one_measure_have_one_limit():
    """The setup's cue begins a little beyond its finding: standing over the balls of the feet is right."""
    rules, found = default_rules(), default_bands()
    for cue, finding in (("toes_after", "toes"), ("heels_after", "heels"), ("trail", "trail"), ("slide", "slide")):
        assert (rules.band(cue).low, rules.band(cue).high) == (found.band(finding).low, found.band(finding).high)
        assert found.band(finding).measure in rules.band(cue).learn
    assert (found.band("setup_heel_toe").high, rules.band("toes_setup").high) == (0.70, 0.72)
    # What is described sounds only where it is chosen.
    assert [found.band(name).fault for name in ("slide", "early_lead")] == [False, False]
    assert not rules.rule("slide").on


def test_what_holding_the_finish_counts_is_said():
    band = default_bands().band("finish")
    assert (band.usual, band.low) == (2.5, 1.5)
    assert "about 0.3 s after impact" in band.sentence_low
    for language, said in (("en", "0.3 s after impact"), ("de", "0,3 s nach dem Ball")):
        assert said in words(language)("measure.held_s")


def test_no_words_are_left_of_a_drill_that_is_not_there():
    for language in languages():
        table = tomllib.loads((files("groundtone.lesson") / "words" / f"{language}.toml").read_text("utf-8"))
        assert set(table["drills"]) == set(all_drills())


def test_heels_heavy_asks_a_little_more_than_the_finding():
    drill, band = drill_of("heels-down"), default_bands().band("toes")
    assert (drill.rule, drill.other, drill.low, drill.high) == ("toes", "heels", 0.44, 0.62)
    assert drill.measure == "overall_most_down"
    assert band.usual < drill.high < band.high


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"high": 0.70}, "give one between the usual value and the finding's limit, 0.52 to 0.67"),
        ({"high": math.nan}, "give one between"),
        ({"low": 0.6}, "give one between"),
        ({"other": ""}, "give one between"),
        ({"other": "finish"}, "the other 'finish'"),
        ({"rule": "shout"}, "the rule 'shout'"),
        ({"pace": "fast"}, "the pace 'fast'"),
        ({"source": "heard"}, "the source 'heard'"),
        ({"for": []}, "for no finding"),
        ({"for": ["toes", "elbows"]}, "there is no finding 'elbows'"),
        ({"measure": "tempo"}, "its band is about overall_most_down, not tempo"),
        ({"sets": 0}, "0 sets"),
        ({"swings": 2.5}, "2.5 swings"),
        ({"days": True}, "True days"),
        ({"colour": "blue"}, "lack or misname"),
    ],
)
def test_what_makes_no_sense_is_refused_with_the_drill_and_the_remedy(more, sentence):
    with pytest.raises(Exception, match=r"drill|finding") as refused:
        drills_from(changed("heels-down", **more), default_bands())
    assert sentence in str(refused.value)


def test_a_drill_that_a_finding_names_must_be_there():
    table = copy.deepcopy(TABLE)
    del table["drill"]["hold-it"]
    with pytest.raises(DrillsError, match="'hold-it' of the finding finish is not among"):
        drills_from(table, default_bands())


def test_a_drill_that_is_not_there():
    with pytest.raises(DrillsError, match="choose from heels-down"):
        drill_of("juggle")


def test_while_a_drill_is_practised_its_cue_is_on_and_its_limit_is_the_drill_s():
    book = default_rules()
    for drill in all_drills().values():
        rules = rules_in_drill(drill, book)
        if drill.rule:
            assert rules.rule(drill.rule).on
        else:
            assert rules == book
    assert rules_in_drill(drill_of("heels-down"), book).band("toes_after").high == 0.62
    assert rules_in_drill(drill_of("heels-down"), book).band("toes_before").high == 0.67
    heavy = rules_in_drill(drill_of("heels-down"), book)
    assert (heavy.rule("heels").on, heavy.band("heels_after").low) == (True, 0.44)
    rocks = rules_in_drill(drill_of("slow-rocks"), book)
    assert (rocks.band("toes_setup").high, rocks.band("toes_before").high) == (0.65, 0.67)
    assert rules_in_drill(drill_of("step-through"), book).band("trail").low == 0.65
    heels = rules_in_drill(drill_of("ball-of-foot"), book)
    assert (book.rule("heels").on, heels.rule("heels").on, heels.band("heels_after").low) == (False, True, 0.37)
    assert rules_in_drill(drill_of("turn-into-heel"), book).band("slide").high == 0.60
    assert rules_in_drill(drill_of("hold-it"), book).rule("finish").on


def test_a_limit_of_the_golfer_s_own_stays_in_a_drill():
    own = default_rules().with_limits({"toes_after": 0.71})
    assert rules_in_drill(drill_of("heels-down"), own).band("toes_after").high == 0.71
    locked = replace(default_rules(), locked=frozenset({"toes_after"}))
    assert rules_in_drill(drill_of("heels-down"), locked).band("toes_after").high == 0.67
