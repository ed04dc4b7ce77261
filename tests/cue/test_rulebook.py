"""Rules as data: the program's own, what may be changed, and what cannot be."""

import copy
import json
import math
import tomllib
from importlib.resources import files

import pytest
import tomli_w

from groundtone.cue.bands import Bands
from groundtone.cue.rulebook import Rule, with_bands
from groundtone.cue.rulefile import cue_names, default_rules, read_rules, rules_from, rules_table
from groundtone.cue.rules import EDGE_MM, HEEL_WORK, CueRules
from groundtone.errors import RulesError
from groundtone.swing.bands import default_bands
from groundtone.swing.events import Phase

OWN = tomllib.loads((files("groundtone.cue") / "rules.toml").read_text("utf-8"))


def test_the_programs_own_rules_are_the_two_cues_of_the_design():
    book = default_rules()
    assert book.as_bands() == Bands()
    assert [rule.name for rule in book.rules] == list(cue_names())
    assert [rule.name for rule in book.rules if rule.on] == ["toes", "trail side"]
    assert (book.sound, book.tighten.on, book.fade.on, book.together) == ("at once", False, False, 2)


def test_slide_is_that_of_the_review():
    finding = default_bands().band("slide")
    assert default_rules().band("slide").high == finding.high
    assert [(also.measure, also.low, also.high) for also in finding.also] == [
        ("lead_heel_work", HEEL_WORK, math.inf), ("lead_outer_down_mm", -math.inf, EDGE_MM),
    ]  # fmt: skip


def test_bands_in_the_short_form_change_the_two_cues_and_come_back():
    bands = Bands(0.6, 0.9, 0.5, 0.35, False, 0.01, 0.1, 0.2, 0.5, 0.3, 0.4, 0.63)
    book = with_bands(default_rules(), bands)
    assert book.as_bands() == bands
    assert book.rule("heels") == default_rules().rule("heels")


def test_rules_go_into_tables_and_back():
    book = default_rules().switched(heels=True, trail_side=False).with_limits({"toes_after": 0.61})
    table = rules_table(book)
    assert rules_from(json.loads(json.dumps(table))) == book
    assert rules_from(tomllib.loads(tomli_w.dumps(table))) == book
    assert book.rule("heels").on
    assert not book.rule("trail side").on
    assert book.band("toes_after").high == 0.61


def test_a_file_of_ones_own(tmp_path):
    path = tmp_path / "rules.toml"
    path.write_text(tomli_w.dumps(rules_table(default_rules())), "utf-8")
    assert read_rules(path) == default_rules()
    path.write_text("rule = [", "utf-8")
    with pytest.raises(RulesError, match="are not TOML"):
        read_rules(path)
    with pytest.raises(RulesError, match="cannot be read"):
        read_rules(tmp_path / "none.toml")


def toes(**changes):
    return {"rule": {"toes": {"band": {"toes_after": changes}}}}


WRONG = {
    "a reversed band": (toes(low=0.7, high=0.6, tightest=math.nan), "reversed, its low limit 0.7 is not below 0.6"),
    "an unknown measure": (toes(measure="weight"), "watches 'weight', which is not measured"),
    "NaN for a limit": (toes(high=math.nan), "high limit that is not a number"),
    "a limit in per cent": (toes(high=67.0), "limit of 67: give one between 0 and 1"),
    "no end": (toes(high=math.inf), "limit without end: leave it out"),
    "a word for a number": (toes(high="much"), "high = 'much' is of the wrong kind, give a number"),
    "an unknown key": (toes(hihg=0.7), "does not know 'hihg'"),
    "an absurd dwell": (toes(dwell_s=60.0), "waits 60 s"),
    "a dwell of NaN": (toes(dwell_s=math.nan), "dwell_s that is not a number"),
    "a negative time": (toes(from_turn_s=-1.0), "waits -1 s"),
    "an unknown phase": (toes(when=["lunch"]), "holds lunch: say when"),
    "never": (toes(when=[]), "holds at no time"),
    "a word for a list": (toes(when="setup"), "is a list of names"),
    "room that leaves the limit out": (toes(tightest=0.7), "does not lie between"),
    "an unknown cue": ({"rule": {"elbows": OWN["rule"]["toes"]}}, "the rule elbows is none that sounds"),
    "no band": ({"rule": {"toes": {"band": None}}}, "is no table"),
    "ease of NaN": ({"rule": {"toes": {"ease": math.nan}}}, "ease is not a number"),
    "no full size": ({"rule": {"toes": {"full": 0.0}}}, "full must lie above 0"),
    "priority one half": ({"rule": {"toes": {"priority": 0.5}}}, "give a whole number"),
    "a switch of 1": ({"rule": {"toes": {"on": 1}}}, "give true or false"),
    "another sound": ({"sound": "later"}, "cues cannot sound 'later'"),
    "no cue at all": ({"together": 0}, "0 cues at the same time"),
    "a step of NaN": ({"tighten": {"step": math.nan}}, "cannot tighten by nan"),
    "more than all": ({"tighten": {"inside": 11}}, "cannot be counted"),
    "both at once": ({"tighten": {"inside": 3, "outside": 6}}, "would tighten a band and ease it"),
    "fading upwards": ({"fade": {"steps": [[6, 0.5], [8, 0.7]]}}, "less with each step"),
    "fading in words": ({"fade": {"steps": ["half"]}}, "are pairs of swings and a part"),
    "a lock on nothing": ({"locked": ["elbow"]}, "there is no band 'elbow'"),
    "a band twice": (
        {"rule": {"heels": {"band": {"trail": OWN["rule"]["trail side"]["band"]["trail"]}}}}, "is there twice"
    ),
    "no rules": ({"rule": None}, "there is no"),
}  # fmt: skip


def merged(table, changes):
    out = copy.copy(table)
    for key, value in changes.items():
        out[key] = merged(out.get(key, {}), value) if isinstance(value, dict) else value
    return out


@pytest.mark.parametrize("what", WRONG)
def test_what_cannot_be_is_refused_with_a_sentence(what):
    changes, says = WRONG[what]
    with pytest.raises(RulesError, match=says):
        rules_from(merged(OWN, changes))


def test_a_band_may_hold_always_and_have_two_limits():
    table = merged(OWN, toes(when="always", low=0.3, tightest=math.nan))
    del table["rule"]["toes"]["band"]["toes_after"]["tightest"]
    rules = CueRules(rules_from(table))
    where = {"share": 0.8, "lead_foot": 0.5, "since_turn_s": math.nan, "sure": False, "after_impact": False}
    for at, sizes in ((0.25, 0.25), (0.5, 0.0), (0.72, 0.25)):
        out = [rules.sizes_out(at + i / 100, Phase.SETUP, overall=at, **where) for i in range(30)]
        assert out[-1].get("toes", 0.0) == pytest.approx(sizes)


def test_limits_move_by_steps_inside_their_room():
    band = default_rules().band("toes_after")
    assert band.moved(0.01).high == 0.66
    assert band.moved(0.5).high == band.tightest == 0.56
    assert band.moved(-0.5).high == band.widest == 0.80
    trail = default_rules().band("trail")
    assert trail.moved(0.02).low == 0.60
    assert trail.moved(9).low == trail.tightest == 0.75
    # Set by hand beyond its room, the room follows.
    assert (trail.put(0.35).low, trail.put(0.35).widest) == (0.35, 0.35)


def test_a_rule_needs_a_band():
    with pytest.raises(RulesError, match="has no band"):
        Rule("toes", ())
