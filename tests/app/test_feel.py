"""Practice that asks, on the twin: on purpose and guess first, from the asking sound to recording and library."""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit
from sqlalchemy import select
from test_practise import Heard

from groundtone.app.live.practice_setup import PracticeWish, begun
from groundtone.cue.personal import bands_for
from groundtone.engine.feel_block import FeelWish
from groundtone.feel.strike_model import USUAL
from groundtone.files import data_folder
from groundtone.link.twin_link import TwinLink
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.session import Block, Golfer
from groundtone.record.tables import feel
from groundtone.review.session_review import review
from groundtone.twin.scenario import Doing, GolferSpec, MatSpec, Scenario, Session, SwingSpec


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    return tmp_path


def played(act, wish, meanwhile=None):
    """A practice on the twin: the practice, what was heard, the recording's path, what was said."""
    said, output = [], Heard()
    link = TwinLink(Scenario(MatSpec.reference(), act), fast=True)
    link.start(100)
    output.start()
    with begun(link, output, wish, simulated=True, threaded=False, say=lambda s: said.append(s.text)) as under_way:
        for item in itertools.takewhile(lambda item: item is not None, link.frames()):
            under_way.practice.take_item(item)
            if meanwhile is not None:
                meanwhile(under_way.practice)
        under_way.practice.end()
    return under_way.practice, output, under_way.path, said


def wish(kind, feel, club="7 iron"):
    return PracticeWish(Golfer("P7"), Block(1, kind, club, cues=False), feel=feel)


def test_on_purpose_at_setup_is_heard_and_recorded_as_it_was_done(home):
    goals = {"heels": 0.41, "middle": 0.54, "toes": 0.67}
    places = ("toes", "heels", "middle", "heels")
    swings = tuple(SwingSpec("good", setup_heel_toe=goals[place], strike=False) for place in places)
    act = Session(GolferSpec(), swings, seed=4, setup_s=3.0, rock_s=4.0)
    practice, output, path, said = played(act, wish("purpose", FeelWish(places=places)))
    told = [entry.table for entry in open_recording(path).feel]
    assert [entry["place"] for entry in told] == list(places)
    for entry in told:
        assert entry["position"] == pytest.approx(goals[entry["place"]], abs=0.03)
        assert entry["device_us"] > 0
    asked = [name for name in output.said if name.startswith("ask ")]
    assert asked[:4] == [f"ask {place}" for place in places] or len(asked) > 4
    assert "All has been asked." in said
    assert output.cues == []
    assert not any(swing.heard for swing in practice.session.swings)
    with Library(data_folder()) as library:
        rows = library.rows(select(feel.c.detail).order_by(feel.c.number))
    assert [json.loads(row.detail)["id"] for row in rows] == [entry["id"] for entry in told]


def test_on_purpose_at_impact_counts_swings_and_slow_ones(home):
    places = ("toes", "heels", "toes")
    swings = tuple(
        SwingSpec(
            "good", down_heel_toe={"toes": 0.62, "heels": 0.38}[place], impact_share=0.75, slow=slow, strike=slow == 1.0
        )
        for place, slow in zip(places, (1.0, 1.0, 2.5), strict=True)
    )
    act = Session(GolferSpec(), swings, seed=6, setup_s=3.0, rock_s=4.0)
    practice, _, path, _ = played(act, wish("purpose", FeelWish(moment="impact", places=places)))
    recorded = open_recording(path)
    told = [entry.table for entry in recorded.feel]
    assert [entry["place"] for entry in told] == list(places)
    truth = [summary.position_impact for summary in practice.session.swings]
    assert [entry["position"] for entry in told] == pytest.approx(truth)
    assert told[0]["position"] > 0.57 > 0.43 > told[1]["position"]
    # What was done on purpose is no evidence of how this golfer swings.
    from groundtone.review.swings import balls

    assert balls([each.row() for each in review(recorded).swings]) == []


GUESSES = Session(
    GolferSpec(),
    (
        SwingSpec("good", down_heel_toe=0.62, impact_share=0.78),
        SwingSpec("good", down_heel_toe=0.50),
        SwingSpec("good"),
    ),
    seed=8,
    setup_s=12.0,
    rock_s=4.0,
    doings=(Doing("tap", 1.2, 1, place="lead toe"), Doing("tap", 1.2, 2, place="lead heel")),
)


def test_guess_first_by_foot_hides_the_swing_until_it_is_told(home):
    shown = []

    def meanwhile(practice):
        if practice.session.swings:
            now = practice.now()
            shown.append((len(practice.session.swings), now.last is not None, now.words))

    practice, output, path, said = played(GUESSES, replace(wish("guess", FeelWish()), echo=True), meanwhile)
    told = [entry.table for entry in open_recording(path).feel]
    assert [(entry["what"], entry["place"], entry["how"]) for entry in told] == [
        ("guess", "toes", "foot"), ("guess", "heels", "foot"),
    ]  # fmt: skip
    values = [summary.position_impact for summary in practice.session.swings]
    assert [entry["position"] for entry in told] == pytest.approx(values[:2])
    assert practice.answering.counts().placed == 0  # a guess is no strike
    first = [shows for number, shows, _ in shown if number == 1]
    assert first[0] is False
    assert first[-1] is True
    assert ("where was it?" in {words for _, _, words in shown}) is True
    assert len(output.echoes) >= 2
    # Each echo comes after the answer.
    assert said.index("You said toes; it was toes.") >= 0
    assert output.said.index("ask feel") < output.said.index("near")


def test_guess_first_by_key_then_the_strike(home):
    state = {"guess": False, "strike": False}

    def meanwhile(practice):
        if practice.feel.hides and not state["guess"]:
            state["guess"] = practice.key("6")
        elif state["guess"] and not practice.feel.hides and not state["strike"]:
            state["strike"] = practice.key("5")

    act = replace(GUESSES, swings=GUESSES.swings[:1], doings=())
    practice, _, path, _ = played(act, wish("guess", FeelWish()), meanwhile)
    recorded = open_recording(path)
    assert [entry.table["place"] for entry in recorded.feel] == ["toes"]
    assert practice.answering.strikes[0].field == 5


def test_a_guess_before_any_swing_says_what_is_missing(home):
    asked = []

    def meanwhile(practice):
        if not asked:
            asked.append(practice.key("6"))

    act = replace(GUESSES, swings=GUESSES.swings[:1], doings=())
    _, _, path, said = played(act, wish("guess", FeelWish()), meanwhile)
    assert asked == [False]
    assert "A guess belongs to a swing: hit a ball first." in said
    assert open_recording(path).feel == []


def test_the_command_asks(groundtone, home):
    said = groundtone("practise", "--twin", "--fast", "--block", "purpose", "--line", "heel-toe", "--times", "1")
    assert said.code == 0, said.err
    said = groundtone("practise", "--twin", "--fast", "--block", "purpose", "--line", "diagonal")
    assert said.code == 2
    assert "There is no line 'diagonal'" in said.err


def test_a_proposed_band_is_told_then_set_then_taken_back(groundtone, home, monkeypatch):
    rng = np.random.default_rng(1)
    where = rng.normal(USUAL, (0.06, 0.08, 0.3), (400, 3))
    good = rng.random(400) < expit(1.5 - (((where - USUAL - (0.06, 0, 0)) / (0.08, 0.15, 1.5)) ** 2).sum(1))
    balls = {"iron": ([tuple(row) for row in where], good.tolist())}
    monkeypatch.setattr("groundtone.review.feel_log.struck_balls", lambda library, golfer: balls)
    groundtone("library", "add", "P7")
    told = groundtone("feel", "--golfer", "P7")
    assert "Nothing is set by that" in told.out
    assert bands_for("P7", club="7 iron").band("toes_after").limit == 0.67
    done = groundtone("feel", "--golfer", "P7", "--set")
    assert "toes_after with irons" in done.out
    assert bands_for("P7", club="7 iron").band("toes_after").limit > 0.69
    assert "As before: toes_after" in groundtone("feel", "--golfer", "P7", "--undo").out
    assert bands_for("P7", club="7 iron").band("toes_after").limit == 0.67
    both = groundtone("feel", "--golfer", "P7", "--set", "--undo")
    assert (both.code, "give one of them" in both.err) == (2, True)
    nobody = groundtone("feel", "--golfer", "P8", "--undo")
    assert nobody.code == 2
