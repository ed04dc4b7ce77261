"""Blocks that ask, frame by frame: what is asked, when it counts, what is recorded, and whoever does not play along."""

import math
from types import SimpleNamespace

import pytest

from groundtone.engine.feel_block import GUESS_S, NOT_TOLD, OTHER_FOOT_S, Asker, FeelWish, Guesser
from groundtone.engine.feel_kinds import feel_block
from groundtone.errors import GroundtoneError
from groundtone.review.strikes import Contact, Strike
from groundtone.swing.events import Phase


class Golfer:
    """Frames at 100 Hz from a golfer who stands somewhere."""

    def __init__(self, block):
        self.block, self.t_s = block, 0.0
        self.overall, self.share, self.phase, self.answer = 0.52, 0.52, Phase.STANDING, None
        self.signals, self.entries, self.said, self.shown = [], [], [], 0

    def frame(self, swing=None, answer=None, strike=NOT_TOLD):
        live = SimpleNamespace(t_s=self.t_s, overall=self.overall, share=self.share, phase=self.phase, answer=answer)
        step = self.block.take(live, swing, strike)
        self.signals += step.signals
        self.entries += [step.entry] if step.entry else []
        self.said += step.said
        self.shown += step.shows
        self.t_s += 0.01

    def stands(self, seconds):
        for _ in range(round(seconds * 100)):
            self.frame()

    def moves(self, seconds=0.5, **to):
        n = round(seconds * 100)
        begin = {name: getattr(self, name) for name in to}
        for i in range(n):
            for name, value in to.items():
                setattr(self, name, begin[name] + (value - begin[name]) * (i + 1) / n)
            self.frame()


def swing(position=0.5, share=0.75, number=1):
    return SimpleNamespace(number=number, position_impact=position, share_impact=share, impact=SimpleNamespace(t_s=3.0))


def asker(*places, **more):
    return Golfer(Asker(FeelWish(places=places, **more)))


def test_asks_waits_for_the_hold_and_says_how_near():
    golfer = asker("toes", "heels")
    golfer.stands(0.5)
    assert golfer.signals == ["ask toes", "say toes"]
    golfer.moves(overall=0.66)
    assert golfer.entries == []
    golfer.stands(1.2)
    (entry,) = golfer.entries
    assert (entry["what"], entry["place"], entry["moment"]) == ("purpose", "toes", "setup")
    assert entry["position"] == pytest.approx(0.66, abs=0.001)
    assert entry["share"] == pytest.approx(0.52)
    assert golfer.signals[2:] == ["near"]
    assert not golfer.block.over
    golfer.moves(overall=0.52)
    golfer.stands(2.5)
    golfer.moves(overall=0.50)
    golfer.stands(7)
    assert golfer.signals[3:] == ["ask heels", "say heels", "nearly", "change", "say done"]
    assert golfer.block.over
    golfer.stands(5)
    assert len(golfer.entries) == 2


def test_who_stands_still_is_listening_for_a_while():
    golfer = asker("middle")
    golfer.stands(5.9)
    assert golfer.entries == []
    golfer.stands(0.3)
    assert golfer.signals[-3:] == ["near", "change", "say done"]


def test_who_wavers_is_waited_for():
    golfer = asker("toes")
    golfer.stands(0.2)
    for _ in range(6):
        golfer.moves(0.4, overall=0.70)
        golfer.moves(0.4, overall=0.60)
    assert golfer.entries == []


def test_stepping_off_in_the_middle_records_nothing_and_asks_again():
    golfer = asker("toes")
    golfer.stands(0.5)
    golfer.phase, golfer.share, golfer.overall = Phase.AWAY, math.nan, math.nan
    golfer.stands(3)
    golfer.phase, golfer.share, golfer.overall = Phase.STANDING, 0.52, 0.52
    golfer.stands(2.7)
    assert golfer.signals == ["ask toes", "say toes"] * 2
    assert golfer.entries == []


def test_a_swing_in_place_of_a_hold_counts_for_nothing():
    golfer = asker("toes")
    golfer.stands(0.5)
    golfer.phase = Phase.BACKSWING
    golfer.stands(1.5)
    golfer.phase = Phase.STANDING
    golfer.frame(swing(0.63))
    golfer.stands(2.6)
    assert golfer.entries == []
    assert golfer.signals == ["ask toes", "say toes"] * 2


def test_at_impact_the_swing_counts_and_standing_does_not():
    golfer = asker("heels", moment="impact")
    golfer.stands(9)
    assert golfer.entries == []
    golfer.frame(swing(0.36, 0.8))
    assert golfer.entries[0]["position"] == 0.36
    assert golfer.signals[2] == "near"


def test_a_swing_without_an_impact_is_asked_for_once_more():
    golfer = asker("heels", moment="impact")
    golfer.stands(0.1)
    golfer.frame(swing(math.nan))
    golfer.stands(3)
    assert golfer.said == ["Impact of that swing is not known: once more."]
    assert golfer.signals == ["ask heels", "say heels"] * 2


def test_of_both_lines_the_middle_is_as_near_as_the_farther_one():
    golfer = asker("middle", lines="both")
    golfer.moves(0.5, share=0.66, overall=0.54)
    golfer.stands(7)
    assert golfer.signals[2] == "far"


def test_low_and_high_are_told_by_the_strike_and_a_second_key_corrects_it():
    golfer = Golfer(feel_block("purpose", FeelWish("height", order="blocked", times=1)))
    golfer.stands(0.1)
    assert golfer.signals == ["ask low", "say low"]
    assert golfer.block.words == "low on the face"
    golfer.frame(swing())
    assert golfer.block.words == "where on the face?"
    for field, seconds in ((8, 1.0), (2, 2.1)):
        for _ in range(round(seconds * 100)):
            golfer.frame(strike=Strike(field=field))
    (entry,) = golfer.entries
    assert (entry["place"], entry["row"], entry["moment"], entry["share"]) == ("low", "low", "impact", 0.75)
    assert golfer.said[-1] == "Low was asked for; it was low."
    golfer.stands(2.6)
    golfer.frame(swing())
    for _ in range(210):
        golfer.frame(strike=Strike(contact=Contact.THIN))
    assert golfer.entries[1]["row"] == "low"
    assert golfer.signals[2:] == ["near", "ask high", "say high", "far", "change", "say done"]
    assert golfer.block.over


def test_a_ball_whose_strike_nobody_tells_or_that_says_nothing_of_height_counts_for_nothing():
    golfer = Golfer(feel_block("purpose", FeelWish("height", places=("high",))))
    golfer.stands(0.1)
    golfer.frame(swing())
    golfer.stands(20)
    golfer.phase = Phase.AWAY
    for _ in range(300):
        golfer.frame(strike=Strike(contact=Contact.FAT))
    assert golfer.entries == []
    golfer.phase = Phase.STANDING
    golfer.frame(swing(number=2))
    for _ in range(210):
        golfer.frame(strike=Strike(field=9))
    assert [entry["row"] for entry in golfer.entries] == ["high"]


def test_who_steps_off_before_the_ball_is_asked_for_height_again():
    golfer = Golfer(feel_block("purpose", FeelWish("height", places=("high",))))
    golfer.stands(0.1)
    golfer.phase, golfer.share = Phase.AWAY, math.nan
    golfer.stands(1)
    golfer.phase, golfer.share = Phase.STANDING, 0.52
    golfer.stands(2.6)
    assert golfer.signals == ["ask high", "say high"] * 2


def guesser(**more):
    golfer = Golfer(Guesser(FeelWish(**more)))
    golfer.stands(0.5)
    return golfer


@pytest.mark.parametrize(
    ("lines", "taps", "place"),
    [
        ("heel-toe", ["toe"], "toes"), ("heel-toe", ["heel"], "heels"), ("heel-toe", ["fat"], "trail"),
        ("heel-toe", ["thin"], "trail"), ("heel-toe", ["toe", "undo"], "middle"), ("side", ["toe"], "lead"),
        ("side", ["heel", "undo"], "middle"), ("side", ["fat"], "trail"),
    ],
)  # fmt: skip
def test_taps_are_guesses(lines, taps, place):
    golfer = guesser(lines=lines)
    golfer.frame(swing(0.62, 0.75))
    assert golfer.signals == ["ask feel", "say where"]
    assert golfer.block.hides
    for answer in taps:
        golfer.stands(3.0)
        golfer.frame(answer=answer)
    golfer.stands(OTHER_FOOT_S + 0.1)
    (entry,) = golfer.entries
    assert (entry["what"], entry["place"], entry["how"], entry["impact_s"]) == ("guess", place, "foot", 3.0)
    assert entry["line"] == ("side" if lines == "side" or place in ("trail", "lead") else "heel-toe")
    assert (entry["position"], entry["share"]) == (0.62, 0.75)
    assert not golfer.block.hides
    assert golfer.shown == 1


def test_the_answer_is_given_after_the_guess():
    golfer = guesser()
    golfer.frame(swing(0.62))
    golfer.stands(1)
    assert golfer.block.press(golfer.t_s, "4")
    golfer.stands(2.6)
    assert golfer.signals[2:] == ["far", "ask toes", "say toes"]
    assert golfer.said == ["You said heels; it was toes."]
    golfer.frame(swing(0.62))
    golfer.block.press(golfer.t_s, "6")
    golfer.stands(2.6)
    assert golfer.signals[7:] == ["near", "ask toes", "say toes"]


def test_of_two_guesses_the_second_stands_and_a_third_comes_too_late():
    golfer = guesser()
    golfer.frame(swing(0.62))
    golfer.block.press(golfer.t_s, "4")
    golfer.stands(1)
    golfer.block.press(golfer.t_s, "6")
    golfer.stands(2.1)
    assert [entry["place"] for entry in golfer.entries] == ["toes"]
    assert not golfer.block.press(golfer.t_s, "5")
    golfer.frame(answer="heel")
    golfer.stands(5)
    assert len(golfer.entries) == 1


def test_its_time_ends_and_the_next_swing_ends_it():
    golfer = guesser()
    golfer.frame(swing(0.62))
    golfer.stands(GUESS_S - 0.1)
    assert golfer.block.hides
    golfer.stands(0.2)
    assert not golfer.block.hides
    assert (golfer.entries, golfer.shown) == ([], 1)
    golfer.frame(swing(0.40))
    golfer.block.press(golfer.t_s, "4")
    golfer.frame(swing(0.62))  # what was said of the ball before counts
    golfer.stands(GUESS_S + 0.1)
    assert [(entry["place"], entry["position"]) for entry in golfer.entries] == [("heels", 0.40)]


def test_a_guess_without_a_swing_is_none():
    golfer = guesser()
    assert not golfer.block.press(0.0, "6")
    assert not golfer.block.say("toes")
    golfer.frame(answer="toe")
    golfer.stands(5)
    assert golfer.entries == []


def test_a_swing_whose_impact_is_not_known_is_not_asked_about():
    golfer = guesser()
    golfer.frame(swing(math.nan))
    assert golfer.signals == []
    assert not golfer.block.hides
    assert golfer.shown == 1


def test_a_remote_steps_and_the_coach_clicks():
    golfer = guesser()
    golfer.frame(swing(0.62))
    for _ in range(2):
        golfer.block.press(golfer.t_s, "next")
    golfer.stands(2.6)
    golfer.frame(swing(0.62))
    golfer.block.press(golfer.t_s, "back")
    golfer.stands(2.6)
    golfer.frame(swing(0.62))
    assert not golfer.block.say("somewhere")
    assert golfer.block.say("lead")
    golfer.stands(2.6)
    assert [(e["place"], e["how"]) for e in golfer.entries] == [("toes", "key"), ("trail", "key"), ("lead", "click")]


class Stance(Golfer):
    """A golfer whose centre and trail foot are given over time."""

    def swings(self, x, trail, ended):
        for t_s in [i * 0.01 for i in range(200)]:
            live = SimpleNamespace(
                t_s=t_s, centre_mm=(x(t_s), 0.0), position=(0.5, trail(t_s)), ended=ended if t_s > 1.98 else None
            )
            step = self.block.take(live, None)
            self.signals += step.signals
            self.said += step.said


def moments(turn=0.8, impact=1.1):
    at = lambda t: None if t is None else SimpleNamespace(t_s=t)  # noqa: E731
    return SimpleNamespace(turn=at(turn), top=None, impact=at(impact))


@pytest.mark.parametrize(
    ("thing", "x", "trail", "ended", "signals", "said"),
    [
        ("middle", lambda t: 300 * (t - 1.0), lambda t: 0.5, moments(), ["near"],
         "The middle was passed 0.09 s before impact."),
        ("middle", lambda t: 300 * (t - 1.3), lambda t: 0.5, moments(), ["far"],
         "The middle was passed 0.21 s after impact."),
        ("middle", lambda t: -50.0, lambda t: 0.5, moments(), ["far"], "The middle was passed not at all."),
        ("trail heel", lambda t: 0.0, lambda t: 0.3 if t < 1.0 else 0.6, moments(), ["near"],
         "The trail heel was left 0.10 s before impact."),
        ("middle", lambda t: 300 * (t - 1.0), lambda t: 0.5, moments(turn=None), [], None),
        ("middle", lambda t: 300 * (t - 1.0), lambda t: 0.5, moments(impact=None), [], None),
    ],
)  # fmt: skip
def test_what_lies_on_the_ground_is_told_passed_or_not(thing, x, trail, ended, signals, said):
    golfer = Stance(feel_block("drill", FeelWish(), thing))
    golfer.swings(x, trail, ended)
    assert golfer.signals == signals
    assert golfer.said == ([said] if said else [])


def test_wishes_that_cannot_be_are_refused():
    for wrong, said in (({"lines": "up"}, "line"), ({"moment": "top"}, "moment"), ({"order": "odd"}, "order")):
        with pytest.raises(GroundtoneError, match=f"there is no {said}"):
            FeelWish(**wrong)
    with pytest.raises(GroundtoneError, match="1 to 30 times"):
        FeelWish(times=0)
    assert feel_block("drill", FeelWish()) is None
