"""A golfer's own bands: learnt, set, locked, kept and forgotten."""

import math
from dataclasses import replace

import numpy as np
import pytest
import tomli_w

from groundtone.cue.learning import NEEDED, learn, limit_of
from groundtone.cue.personal import (
    Own,
    Personal,
    bands_for,
    called_faults,
    forget_personal,
    hand_on,
    keep_tightened,
    path_of,
    read_personal,
    write_personal,
)
from groundtone.cue.rulefile import default_rules, rules_from, rules_table
from groundtone.errors import RulesError

NAMES = ("P7", 'Ünï "x" \\ 🏌', "a/../b", "\x7f\t", "x" * 100)


def swing(down, **more):
    return {
        "overall_most_down": down,
        "overall_most_after": down - 0.05,
        "share_impact": 0.7,
        "share_finish": 0.9,
        **more,
    }


def test_without_a_file_the_programs_rules_hold(tmp_path):
    assert bands_for("P7", tmp_path) == default_rules()
    assert bands_for("", tmp_path) == default_rules()


@pytest.mark.parametrize("name", NAMES)
def test_what_is_kept_comes_back_whatever_the_name(tmp_path, name):
    personal = Personal(
        name, "for the 7", "after impact", True, False, {"heels": True, "trail side": False},
        {"toes_after": Own(0.61, "learnt", 9, 0.55, 0.021, 0.63), "trail": Own(0.66, "coach")}, frozenset({"trail"}),
    )  # fmt: skip
    write_personal(personal, tmp_path)
    back = read_personal(name, tmp_path)
    assert back.rules() == personal.rules()
    assert back.own["toes_after"] == personal.own["toes_after"]
    assert math.isnan(back.own["trail"].base)
    book = bands_for(name, tmp_path)
    assert (book.sound, book.label, book.tighten.on, book.fade.on) == ("after impact", "for the 7", True, False)
    assert (book.rule("heels").on, book.rule("trail side").on) == (True, False)
    assert (book.band("toes_after").high, book.band("toes_after").start) == (0.61, 0.63)
    assert book.locked == {"trail"}
    assert path_of(name, tmp_path).parent == tmp_path / "bands"
    assert forget_personal(name, tmp_path)
    assert not forget_personal(name, tmp_path)
    assert bands_for(name, tmp_path) == default_rules()


def test_names_do_not_meet():
    assert len({path_of(name).name for name in NAMES}) == len(NAMES)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("limit = [", "make no sense"),
        ("elbow = 1", "'elbow' is not known there"),
        ('[band.toes_after]\nlimit = 1.4\nsource = "coach"', "give one between 0 and 1"),
        ('[band.toes_after]\nlimit = nan\nsource = "coach"', "needs a limit"),
        ('[band.toes_after]\nlimit = 0.6\nsource = "moon"', "where it came from"),
        ('[band.elbow]\nlimit = 0.6\nsource = "coach"', "there is no band 'elbow'"),
        ("[on]\nheels = 1", "true or false"),
        ('sound = "never"', "sound is one of"),
        ("band = 3", "make no sense"),
    ],
)
def test_a_damaged_file_is_one_sentence(tmp_path, text, says):
    path = path_of("P7", tmp_path)
    path.parent.mkdir()
    path.write_text(text, "utf-8")
    with pytest.raises(RulesError, match=says) as told:
        bands_for("P7", tmp_path)
    assert "groundtone bands forget" in str(told.value)


def test_a_limit_by_hand():
    """Median 0.56; deviations 0.01 0 0.01 0.02 0.02, their median 0.01: spread 0.0148, room at least 0.03."""
    band = default_rules().band("toes_after")
    swings = [swing(down) for down in (0.55, 0.56, 0.57, 0.58, 0.54)]
    own = limit_of(band, swings)
    assert own == Own(0.59, "learnt", 5, 0.56, 0.0148)
    # Twice the spread where that is more: deviations 0.03 0 0.03 0.06 0.06.
    own = limit_of(band, [swing(down) for down in (0.53, 0.56, 0.59, 0.62, 0.50)])
    assert own.limit == pytest.approx(0.56 + 2 * 1.4826 * 0.03, abs=1e-3)


def test_one_swing_gone_wrong_moves_little():
    band = default_rules().band("toes_after")
    usual = [swing(0.55 + 0.002 * k) for k in range(10)]
    with_one = limit_of(band, [*usual, swing(0.85)])
    assert with_one.limit == pytest.approx(limit_of(band, usual).limit, abs=0.006)


def test_the_worst_of_its_measures_counts_and_the_side_is_right():
    trail = default_rules().band("trail")
    swings = [{"share_impact": 0.70 + 0.01 * k, "share_finish": 0.9} for k in range(5)]
    assert limit_of(trail, swings).limit == pytest.approx(0.72 - 0.03, abs=1e-3)
    after = [swing(0.5, overall_most_after=0.6)] * 5
    assert limit_of(default_rules().band("toes_after"), after).limit == pytest.approx(0.63)


def test_learning_stays_inside_the_room_of_the_band():
    band = default_rules().band("toes_after")
    assert limit_of(band, [swing(0.30)] * 5).limit == 0.56
    assert limit_of(band, [swing(0.95)] * 5).limit == 0.80


def test_learning_needs_five_and_says_how_many_are_missing():
    with pytest.raises(RulesError, match="3 well-struck swings are in the library and 5 are needed: hit 2 more"):
        learn(Personal("P7"), [swing(0.5)] * 3)
    personal, found = learn(Personal("P7"), [swing(0.55)] * NEEDED)
    why = {each.band: each.why for each in found}
    assert personal.own["toes_after"].limit == pytest.approx(0.58)
    assert why["toes_before"] == "fewer than 5 of the swings have what it needs"
    assert "finish" not in why
    # NaN is no measure.
    assert limit_of(default_rules().band("trail"), [swing(0.5, share_impact=math.nan)] * 9) is None


def test_a_locked_band_is_neither_learnt_nor_tightened(tmp_path):
    own = {"toes_after": Own(0.64, "coach")}
    before = Personal("P7", own=own, locked=frozenset({"toes_after"}))
    after, found = learn(before, [swing(0.5)] * 6)
    assert after.own["toes_after"] == own["toes_after"]
    assert next(each.why for each in found if each.band == "toes_after") == "locked"
    write_personal(before, tmp_path)
    tightened = before.rules().with_limits({"toes_after": 0.60, "trail": 0.61})
    assert keep_tightened("P7", tightened, tmp_path)
    kept = read_personal("P7", tmp_path)
    assert kept.own["toes_after"].limit == 0.64
    assert (kept.own["trail"].limit, kept.own["trail"].source, kept.own["trail"].base) == (0.61, "tightened", 0.58)


def test_tightening_is_kept_over_sessions_and_remembers_where_it_began(tmp_path):
    assert not keep_tightened("P7", default_rules(), tmp_path)
    for limit in (0.65, 0.62):
        keep_tightened("P7", bands_for("P7", tmp_path).with_limits({"toes_after": limit}), tmp_path)
    band = bands_for("P7", tmp_path).band("toes_after")
    assert (band.high, band.start) == (0.62, 0.67)


def test_bands_are_handed_on(tmp_path):
    write_personal(Personal("old", own={"trail": Own(0.5, "coach")}), tmp_path)
    hand_on("old", "new", tmp_path)
    assert bands_for("old", tmp_path) == default_rules()
    assert bands_for("new", tmp_path).band("trail").low == 0.5
    write_personal(Personal("third", own={"trail": Own(0.45, "coach")}), tmp_path)
    hand_on("third", "new", tmp_path)
    assert bands_for("new", tmp_path).band("trail").low == 0.5
    assert not path_of("third", tmp_path).exists()


def test_what_cannot_be_is_not_written(tmp_path):
    with pytest.raises(RulesError, match="no band 'elbow'"):
        write_personal(Personal("P7", own={"elbow": Own(0.5, "coach")}), tmp_path)
    assert not path_of("P7", tmp_path).exists()
    (tmp_path / "bands").write_text("a file where the folder should be")
    with pytest.raises(RulesError, match="cannot be written"):
        write_personal(Personal("P7"), tmp_path)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_most_swings_like_those_learnt_from_lie_inside(seed):
    rng = np.random.default_rng(seed)
    band = replace(default_rules().band("toes_after"), tightest=0.3)
    drawn = 0.5 + 0.03 * rng.standard_normal(2000)
    limits = [limit_of(band, [swing(d) for d in drawn[k : k + 12]]).limit for k in range(0, 1200, 12)]
    inside = np.mean([np.mean(drawn[1200:] <= limit) for limit in limits])
    assert 0.90 < inside < 0.98


def test_a_whole_file_of_rules_is_the_houses(tmp_path):
    house = default_rules().with_limits({"trail": 0.62}).switched(heels=True)
    (tmp_path / "rules.toml").write_text(tomli_w.dumps(rules_table(house)), "utf-8")
    assert bands_for("", tmp_path) == house
    write_personal(Personal("P7", own={"toes_after": Own(0.61, "coach")}), tmp_path)
    book = bands_for("P7", tmp_path)
    assert (book.band("trail").low, book.band("toes_after").high, book.rule("heels").on) == (0.62, 0.61, True)
    for wrong, says in (("rule = 1", "will not do: there is no"), ("x = ", "are not TOML")):
        (tmp_path / "rules.toml").write_text(wrong, "utf-8")
        with pytest.raises(RulesError, match=says):
            bands_for("P7", tmp_path)
    table = rules_table(house)
    del table["rule"]["toes"]
    (tmp_path / "rules.toml").write_text(tomli_w.dumps(table), "utf-8")
    with pytest.raises(RulesError, match="will not do: there is no rule 'toes'"):
        bands_for("", tmp_path)


def test_a_class_of_clubs_has_limits_of_its_own_and_the_others_those_of_all_clubs(tmp_path):
    personal = Personal("P7", own={"trail": Own(0.60, "coach"), "toes_after": Own(0.64, "coach")})
    write_personal(personal.with_own({"trail": Own(0.52, "learnt", 6, 0.6, 0.02)}, "driver"), tmp_path)
    limits = {
        club: (book.band("trail").low, book.band("toes_after").high)
        for club in ("", "7 iron", "Driver", "1w", "PW")
        if (book := bands_for("P7", tmp_path, club=club))
    }
    assert limits == {"": (0.60, 0.64), "7 iron": (0.60, 0.64), "Driver": (0.52, 0.64), "1w": (0.52, 0.64),
                      "PW": (0.60, 0.64)}  # fmt: skip
    # What tightening moves stays with the class that has it of its own.
    moved = bands_for("P7", tmp_path, club="driver").with_limits({"trail": 0.54, "toes_after": 0.63})
    assert keep_tightened("P7", moved, tmp_path, club="driver")
    kept = read_personal("P7", tmp_path)
    assert (kept.clubs["driver"]["trail"].limit, kept.own["trail"].limit) == (0.54, 0.60)
    assert kept.own["toes_after"].limit == 0.63
    table = path_of("P7", tmp_path).read_text("utf-8").replace("[club.driver", "[club.brush")
    path_of("P7", tmp_path).write_text(table, "utf-8")
    with pytest.raises(RulesError, match="a class of clubs is one of driver"):
        read_personal("P7", tmp_path)


def test_learning_for_a_class_takes_what_all_clubs_have_as_its_begin():
    general, _ = learn(Personal("P7"), [swing(0.55)] * NEEDED)
    own, found = learn(general, [swing(0.60)] * NEEDED, kind="wedge")
    assert own.own == general.own
    assert own.clubs["wedge"]["toes_after"].limit == pytest.approx(0.63)
    before = {each.band: each.before for each in found}
    assert before["toes_after"] == general.own["toes_after"].limit


def test_after_the_setup_nothing_sounds_of_a_putt():
    from groundtone.cue.rules import CueRules
    from groundtone.swing.events import Phase

    rules = CueRules(Personal("P7").rules(club="putter"))
    for i in range(60):
        at_setup = rules.sizes_out(
            i / 100, Phase.SETUP, share=0.5, overall=0.9, lead_foot=0.9, since_turn_s=math.nan, sure=True,
            after_impact=False,
        )  # fmt: skip
    assert "toes" in at_setup
    for i in range(60):
        after = rules.sizes_out(
            1 + i / 100, Phase.FINISH, share=0.2, overall=0.9, lead_foot=0.9, since_turn_s=0.5, sure=True,
            after_impact=True,
        )  # fmt: skip
    assert after == {}


def test_of_the_reverse_style_the_trail_side_ends_at_impact(tmp_path):
    assert bands_for("P7", tmp_path).rule("trail side").after_impact
    write_personal(Personal("P7", style="reverse", style_from="coach"), tmp_path)
    assert not bands_for("P7", tmp_path).rule("trail side").after_impact
    assert bands_for("P7", tmp_path).rule("toes").after_impact
    with pytest.raises(RulesError, match="a style is front foot or reverse"):
        write_personal(Personal("P7", style="sideways"), tmp_path)


def test_what_the_coach_says_of_a_pupil_is_kept(tmp_path):
    told = Personal("P7", faults=frozenset({"slide", "trail"}), stance_mm=355.0, flare_deg=(12.0, 25.0))
    write_personal(told, tmp_path)
    back = read_personal("P7", tmp_path)
    assert (back.faults, back.stance_mm, back.flare_deg) == (told.faults, 355.0, (12.0, 25.0))
    hand_on("P7", "P8", tmp_path)
    assert called_faults("P8", tmp_path) == {"slide", "trail"}
    assert called_faults("P7", tmp_path) == called_faults("", tmp_path) == frozenset()
    for wrong in ({"stance_mm": 20.0}, {"flare_deg": (80.0, 0.0)}, {"flare_deg": (math.nan, 0.0)}):
        with pytest.raises(RulesError, match="stance"):
            write_personal(Personal("P9", **wrong), tmp_path)


def test_a_file_from_before_the_setup_had_a_limit_of_its_own(tmp_path):
    path = path_of("P7", tmp_path)
    path.parent.mkdir()
    path.write_text(
        'golfer = "P7"\nlocked = ["toes_before"]\n[band.toes_before]\nlimit = 0.61\nsource = "coach"\n', "utf-8"
    )
    book = bands_for("P7", tmp_path)
    assert (book.band("toes_setup").high, book.band("toes_before").high) == (0.61, 0.61)
    assert book.locked == {"toes_setup", "toes_before"}
    # Set anew it is two limits.
    write_personal(Personal("P7", own={"toes_before": Own(0.61, "coach")}), tmp_path)
    assert bands_for("P7", tmp_path).band("toes_setup").high == 0.72


def test_a_file_of_rules_from_before_holds_its_one_limit_in_both():
    table = rules_table(default_rules())
    toes = table["rule"]["toes"]["band"]
    del toes["toes_setup"]
    toes["toes_before"] |= {
        "when": ["setup", "backswing"],
        "high": 0.63,
        "learn": ["overall_setup", "overall_most_back"],
    }
    book = rules_from(table)
    assert [(b.name, b.when, b.high, b.learn) for b in book.rule("toes").bands][:2] == [
        ("toes_setup", ("setup",), 0.63, ("overall_setup",)),
        ("toes_before", ("backswing",), 0.63, ("overall_setup", "overall_most_back")),
    ]
