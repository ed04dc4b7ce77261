"""Findings: from measures made by hand, and from swings of the twin with a fault of a given size."""

import math

import pytest

from groundtone.swing.bands import BandsError, bands_from, default_bands
from groundtone.swing.doubts import Measure
from groundtone.swing.findings import findings, probability_outside, style_of, together
from groundtone.swing.measures import measures
from groundtone.swing.phases import find_swings

USUAL = {
    "overall_most_down": 0.52, "share_impact": 0.78, "side_shift": 0.5,
    "lead_heel_work": 0.08, "share_setup": 0.525, "overall_setup": 0.55, "trail_turn": 0.46, "turn_early": 0.38,
    "held_s": 2.5, "lead_finish": 0.42, "share_most_down": 0.79, "stepped_s": math.nan,
    "share_change_back": -0.25, "overall_least_late": 0.46, "lead_outer_down_mm": 2.0, "share_over_back": 0.0,
    "trail_outer_back_mm": 2.0, "lead_outer_after_mm": 4.0, "force_most_s": -0.04, "lead_most_back": 0.52,
}  # fmt: skip


SLIDE = {"side_shift": 0.70, "lead_heel_work": 0.01, "lead_outer_down_mm": 12.0}


def seen(u=0.01, **values):
    return {n: Measure(n, v, u, "1", "" if math.isfinite(v) else "not known") for n, v in (USUAL | values).items()}


def test_a_usual_swing_has_none():
    assert findings(seen()) == []


def test_probability_by_hand():
    """One standard uncertainty beyond the limit: 0.8413 (normal distribution)."""
    (one,) = findings(seen(overall_most_down=0.68))
    assert one.probability == pytest.approx(0.8413, abs=1e-4)
    assert (one.name, one.side, one.high) == ("toes", "high", 0.67)
    assert one.size == pytest.approx(0.01 / 0.15)
    assert one.strike.startswith("heel strikes")
    assert one.drill_text
    assert probability_outside(Measure("x", math.nan, math.nan, "1", "why"), 0, 1)[0] != 0


@pytest.mark.parametrize(
    ("values", "name", "side", "words"),
    [
        ({"overall_least_late": 0.25}, "heels", "low", "to the heels"),
        ({"share_setup": 0.41}, "setup_side", "low", "trail side"),
        ({"share_setup": 0.64}, "setup_side", "high", "lead side"),
        ({"overall_setup": 0.40}, "setup_heel_toe", "low", "heels"),
        ({"overall_setup": 0.75}, "setup_heel_toe", "high", "toes"),
        ({"held_s": 0.5}, "finish", "low", "did not hold"),
        ({"held_s": 0.5, "stepped_s": 0.7}, "finish", "low", "stepped out"),
    ],
)
def test_each_fault_is_named_with_its_side(values, name, side, words):
    (one,) = findings(seen(**values))
    assert (one.name, one.side, one.concern) == (name, side, True)
    assert words in one.sentence


@pytest.mark.parametrize(
    ("values", "name", "words"),
    [
        (SLIDE, "slide", "Your pressure went"),
        ({"turn_early": 0.75, "share_change_back": -0.05}, "early_lead", "lead side"),
    ],
)
def test_slide_and_early_lead_are_described_until_the_coach_calls_them_faults(values, name, words):
    (one,) = findings(seen(**values))
    assert (one.name, one.concern) == (name, False)
    assert words in one.sentence
    assert not one.sentence.startswith("You went")
    assert (one.drill, one.drill_text) == ("", "")
    (called,) = findings(seen(**values), coach={name})
    assert called.concern
    assert called.drill_text


def test_an_early_turn_alone_is_no_early_lead():
    """Skilled players turn early: it also takes a share that hardly went to the trail side."""
    assert findings(seen(turn_early=0.75)) == []
    assert findings(seen(turn_early=0.66, share_change_back=-0.05)) == []


@pytest.mark.parametrize(
    ("share", "words"), [(0.45, "still on the trail side"), (0.54, "less of your pressure than usual")]
)
def test_most_of_the_pressure_is_said_only_below_a_half(share, words):
    (one,) = findings(seen(share_impact=share, share_most_down=share + 0.01))
    assert words in one.sentence


def test_standing_over_the_balls_of_the_feet_is_a_setup():
    """It measures 0.65 to 0.70 (from memory)."""
    assert findings(seen(overall_setup=0.69)) == []
    (one,) = findings(seen(overall_setup=0.75))
    assert "between the laces and the balls of the feet" in one.sentence
    assert "either end of the face" in one.strike


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"share_over_back": 0.09}, "to_lead"),
        ({"trail_outer_back_mm": 12.0}, "trail_edge"),
        ({"lead_outer_after_mm": 16.0}, "lead_edge"),
        ({"force_most_s": 0.05}, "late_push"),
        ({"lead_most_back": 0.78}, "lead_heel"),
    ],
)
def test_the_newer_findings_are_described_until_the_coach_calls_them_faults(values, name):
    (one,) = findings(seen(**values))
    assert (one.name, one.concern, one.drill_text) == (name, False, "")
    (called,) = findings(seen(**values), coach={name})
    assert called.concern
    assert called.drill_text
    assert findings(seen(**values), club="putter") == []


def test_a_deep_trail_heel_at_the_turn_is_no_fault():
    """The whole downswing's least counts no more: only its last two thirds."""
    assert findings(seen(overall_least_down=0.25)) == []


def test_travel_alone_is_no_slide_and_a_slide_never_hangs():
    assert findings(seen(side_shift=0.70)) == []
    assert findings(seen(lead_heel_work=0.0)) == []
    # On the whole sole, and from 0.20 to 0.85, it is none.
    assert findings(seen(**SLIDE | {"lead_outer_down_mm": 2.0})) == []
    assert findings(seen(**SLIDE | {"side_shift": 0.65})) == []
    both = findings(seen(**SLIDE, share_impact=0.45))
    assert [f.name for f in both] == ["trail"]


def test_what_never_goes_with_another_is_as_much_less_likely_as_that_is_likely():
    """Half a standard uncertainty inside the trail side's limit: that is likely by 0.3085, and no slide by so much."""
    limit = default_bands().band("trail").low
    values = SLIDE | {"share_impact": limit + 0.005}
    found = {f.name: f.probability for f in findings(seen(**values), least=0.0)}
    alone = {f.name: f.probability for f in findings(seen(**values | {"share_impact": 0.95}), least=0.0)}
    assert found["trail"] == pytest.approx(0.3085, abs=1e-4)
    # Both rest on the share and err together: the least likely of "slides" and "no trail side" counts.
    assert found["slide"] == pytest.approx(min(alone["slide"], 1 - found["trail"]))


def test_trail_side_is_described_until_strikes_or_the_coach_say_otherwise():
    hanging = seen(share_impact=0.45, share_most_down=0.46)
    assert [f.concern for f in findings(hanging)] == [False]
    assert [f.concern for f in findings(hanging, contacts=["clean"] * 9 + ["fat"])] == [False]
    assert [f.concern for f in findings(hanging, contacts=["clean"] * 6 + ["fat", "topped"])] == [True]
    assert [f.concern for f in findings(hanging, contacts=["clean"] * 7 + ["fat", "topped"])] == [False]
    assert [f.concern for f in findings(hanging, coach={"trail"})] == [True]
    (reverse,) = findings(seen(share_impact=0.45, share_most_down=0.66))
    assert "no error in itself" in reverse.sentence


def test_what_one_school_teaches_is_off_as_a_fault():
    values = seen(trail_turn=0.60, lead_finish=0.56)
    assert {f.name: f.concern for f in findings(values)} == {"trail_heel": False, "lead_toes": False}
    told = findings(values, coach={"lead_toes"})
    assert [(f.name, f.concern) for f in told] == [("lead_toes", True), ("trail_heel", False)]


def test_clubs_have_their_own_bands():
    assert [f.name for f in findings(seen(share_setup=0.44))] == ["setup_side"]
    assert findings(seen(share_setup=0.44), club="driver") == []
    assert [f.name for f in findings(seen(share_setup=0.47), club="wedge")] == ["setup_side"]


def test_what_is_not_known_is_not_judged():
    unknown = {
        name: measure for name, measure in seen(overall_most_down=math.nan, share_impact=math.nan).items()
        if name in ("overall_most_down", "overall_least_late", "share_impact", "share_setup", "overall_setup",
                    "trail_turn", "turn_early", "share_change_back", "lead_finish", "share_most_down")
    }  # fmt: skip
    assert {f.name for f in findings(unknown, least=0.0)} == {
        "heels", "setup_side", "setup_heel_toe", "trail_heel", "early_lead", "lead_toes",
    }  # fmt: skip
    assert style_of(unknown)[0] == ""


def test_styles_of_the_twin(of_styles):
    styles, series, _, _ = of_styles
    said, style, came = {}, {}, math.nan
    for name, swing in zip(styles, find_swings(series), strict=True):
        values = measures(swing, series)
        said[name] = {f.name for f in findings(values) if f.concern or f.name in ("trail", "slide")}
        style[name] = style_of(values)[0]
        came = values["share_most_down"].value if name == "reverse" else came
    assert said == {
        "good": set(), "toe_drift": {"toes"}, "trail_hang": {"trail"}, "slide": {"slide"}, "reverse": {"trail"},
        "lost_balance": {"finish"},
    }  # fmt: skip
    # The twin's reverse style comes across to 0.58 to 0.64: only from 0.60 on is a style claimed.
    assert style == dict.fromkeys(styles, "front foot") | {
        "reverse": "reverse" if came >= 0.60 else "",
        "trail_hang": "",
    }
    assert style_of(seen(share_most_down=0.64, share_impact=0.45))[0] == "reverse"
    assert style_of(seen(share_most_down=0.58, share_impact=0.45))[0] == ""


def test_bands_are_complete_or_refused():
    from importlib.resources import files

    own = (files("groundtone.swing") / "bands.toml").read_text("utf-8")
    assert bands_from(own.replace("high = 0.67", "high = 0.60"), "own").band("toes").high == 0.60
    assert default_bands().band("toes").beyond(1.5) == pytest.approx(0.745)
    for broken, said in (
        (own.replace("high = 0.67", "high = 0.50"), "usual value must lie inside"),
        (own.replace("usual = 0.52\n", ""), "lack or misname"),
        (own.replace('drill = "heels-down"', 'drill = "jump"'), "no text for the drill"),
        (own.replace('never_with = "trail"', 'never_with = "tail"'), "which is not there"),
        (own.replace("setup_side.clubs.driver", "setup_side.clubs.brush"), "class of clubs"),
        (own.replace('not_for = ["putter"]', 'not_for = ["spoon"]', 1), "class of clubs"),
        (own.replace("high = 0.67", 'high = "much"'), "must be numbers|lack or misname"),
        ("= =", "not TOML"),
    ):
        with pytest.raises(BandsError, match=said):
            bands_from(broken, "own")
    # A file from before there could be more than one further condition.
    also = 'also_measure = "tempo"\nalso_usual = 3.0\nalso_high = 4.0'
    other = f'[finding.other]\ntitle = "x"\ndrill = "hold-it"\nmeasure = "held_s"\nusual = 3.0\nlow = 1.0\n{also}\n'
    old = own.replace("[drill]", f"{other}\n[drill]")
    assert [band.measure for band in bands_from(old, "own").band("other").also] == ["tempo"]
    with pytest.raises(BandsError, match="choose from"):
        default_bands().band("hook")


def test_measures_of_one_foot_err_together_and_of_two_apart():
    assert together([("lead_heel_work", 0.8), ("lead_outer_down_mm", 0.6)]) == 0.6
    assert together([("lead_heel_work", 0.8), ("trail_turn", 0.6)]) == pytest.approx(0.48)
    assert together([("share_impact", 0.7), ("side_shift", 0.9), ("lead_heel_work", 0.5)]) == pytest.approx(0.35)
    assert together([("turn_early", 0.7), ("share_change_back", 0.9)]) == pytest.approx(0.63)
    assert math.isnan(together([("share_impact", 0.7), ("side_shift", math.nan)]))
    # Whichever comes first.
    assert math.isnan(together([("lead_heel_work", math.nan), ("lead_outer_down_mm", 0.9)]))


@pytest.mark.parametrize(
    ("most", "u_most", "impact", "u_impact", "style"),
    [
        (0.62, 0.02, 0.53, 0.03, "reverse"), (0.62, 0.02, 0.59, 0.03, "front foot"), (0.58, 0.02, 0.57, 0.03, ""),
        (0.61, 0.001, 0.54, 0.001, "reverse"), (0.61, 0.001, 0.56, 0.001, "front foot"), (0.59, 0.001, 0.5, 0.01, ""),
    ],
)  # fmt: skip
def test_a_style_by_hand(most, u_most, impact, u_impact, style):
    """Each lies one standard uncertainty (a hundredth at the least) beyond 0.60, or from having come back by 0.06."""
    shares = {"share_most_down": (most, u_most), "share_impact": (impact, u_impact)}
    told = style_of({name: Measure(name, value, u, "1") for name, (value, u) in shares.items()})
    assert told == (style, pytest.approx(0.8413, abs=1e-4))


def test_a_style_needs_both_shares():
    nowhere, there = Measure("m", math.nan, math.nan, "1", "why"), Measure("i", 0.8, 0.01, "1")
    for most, impact in ((nowhere, there), (there, nowhere)):
        name, odds = style_of({"share_most_down": most, "share_impact": impact})
        assert name == ""
        assert math.isnan(odds)


def test_what_is_never_known_to_hold_together_is_not_known():
    assert math.isnan(together([("tempo", math.nan), ("share_turn", 0.5)]))
    # Times together, shares together, each foot for itself.
    assert together([("tempo", 0.8), ("held_s", 0.5), ("turn_early", 0.9)]) == 0.5
    assert together([("share_turn", 0.8), ("side_shift", 0.5)]) == 0.5
    assert together([("lead_turn", 0.8), ("trail_turn", 0.5), ("trail_top", 0.6)]) == pytest.approx(0.4)


def test_faults_come_first_and_then_the_likeliest():
    told = findings(seen(share_setup=0.64, overall_setup=0.75, lead_most_back=0.78))
    assert [one.concern for one in told] == [True, True, False]
    assert told[0].probability >= told[1].probability
