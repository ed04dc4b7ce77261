"""A plan by the command line: followed by sound alone, tested on its day; erased and renamed with its golfer."""

import functools
from dataclasses import replace

import pytest

from groundtone.app.live import practice_setup
from groundtone.feel import plan as plans
from groundtone.feel.plan import read_plan
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.session import About, Golfer
from groundtone.review.session_review import review
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec

GOLFER = GolferSpec(mass_kg=78.0)


class Days:
    """The calendar of the program."""

    def __init__(self, monkeypatch):
        self._monkeypatch = monkeypatch

    def be(self, day, hour=10):
        started = f"{day}T{hour:02}:00:00+00:00"
        self._monkeypatch.setattr(plans, "today", lambda: day)
        self._monkeypatch.setattr(practice_setup, "About", functools.partial(About, started=started))


@pytest.fixture
def days(monkeypatch):
    return Days(monkeypatch)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path


@pytest.fixture
def practise(groundtone, home):
    """Practises on the twin with these swings, each `ball_each`th of them a ball: practise(places, options…)."""

    def run(places, *options, ball_each=1):
        swings = tuple(
            SwingSpec("good", down_heel_toe=place, impact_share=0.78, strike=i % ball_each == 0)
            for i, place in enumerate(places)
        )
        act = Session(GOLFER, swings, seed=11, rocks=1, rock_s=3.0, setup_s=2.0)
        path = home / "act.json"
        path.write_text(Scenario(MatSpec.reference(), act).to_json(), "utf-8")
        said = groundtone("practise", "--twin", path, "--fast", "--golfer", "Jo", *options)
        assert said.code == 0, said.err
        return said.out

    return run


@pytest.mark.long
def test_a_plan_is_followed_by_sound_alone_and_tested_on_its_day(groundtone, practise, home, days, monkeypatch):
    """Each ball in a block as planned; the rest another time; the later test not before its day, then once."""
    monkeypatch.setattr(plans, "RETENTION_BALLS", 3)  # ten in truth; what is made of them is the same
    days.be("2026-03-14")
    with Library(home / "home") as library:
        library.add(Golfer("Jo"))
    made = groundtone(
        "plan",
        "--golfer",
        "Jo",
        "--new",
        "--clubs",
        "7 iron,wedge",
        "--drill",
        "heels-down",
        "--balls",
        16,
        "--seed",
        4,
    )
    assert "16 of 16 balls are left." in made.out
    balls = read_plan("Jo").all_balls()
    out = practise([0.5] * 10, "--plan")
    assert "Next: 7 iron." in out
    assert "Next: wedge." in out
    assert read_plan("Jo").done == 10
    days.be("2026-03-15")
    out = practise([0.5] * 6, "--plan")
    assert "Next: a silent test" in out
    assert "All balls of today's plan are hit" in out
    plan = read_plan("Jo")
    assert (plan.done, plan.practised, plan.due) == (16, "2026-03-15", "2026-03-22")
    played = []
    for path in sorted((home / "home" / "recordings").glob("*.mcap")):
        seen = review(open_recording(path))
        played += [(each.block.kind, each.block.club, each.block.cues) for each in seen.swings]
    assert played == [(ball.kind, ball.club, ball.tone) for ball in balls]
    early = groundtone("practise", "--twin", home / "act.json", "--fast", "--golfer", "Jo", "--plan")
    assert (early.code, "the retention test is on 2026-03-22" in early.err) == (2, True)
    days.be("2026-03-22")
    assert "What has stayed? 3 balls without a tone." in groundtone("plan", "--golfer", "Jo").out
    practise([0.5] * 3, "--plan")
    assert read_plan("Jo").kept == "2026-03-22"
    assert "make a new one" in groundtone("plan", "--golfer", "Jo").out


def test_a_plan_of_a_golfer_who_was_erased_is_gone(groundtone, practise, days):
    days.be("2026-03-14")
    practise([0.5], "--club", "7 iron")
    assert groundtone("plan", "--golfer", "Jo", "--new", "--balls", 16).code == 0
    assert groundtone("library", "erase", "Jo", "--yes").code == 0
    assert read_plan("Jo") is None
    gone = groundtone("plan", "--golfer", "Jo")
    assert (gone.code, "no golfer 'Jo'" in gone.err) == (2, True)
    gone = groundtone("practise", "--twin", "--fast", "--golfer", "Jo", "--plan")
    assert (gone.code, "no golfer 'Jo'" in gone.err) == (2, True)


def test_a_plan_follows_a_new_name(groundtone, practise, days):
    days.be("2026-03-14")
    practise([0.5], "--club", "7 iron")
    groundtone("plan", "--golfer", "Jo", "--new", "--balls", 16, "--seed", 9)
    assert groundtone("library", "rename", "Jo", "Jo B").code == 0
    assert replace(read_plan("Jo B"), golfer="Jo").seed == 9
    assert read_plan("Jo") is None


def test_what_a_plan_cannot_be(groundtone, practise, days):
    days.be("2026-03-14")
    practise([0.5])
    for options, said in (
        (("practise", "--twin", "--fast", "--plan"), "A plan is a golfer's"),
        (("practise", "--twin", "--fast", "--golfer", "Jo", "--plan"), "There is no plan for 'Jo' yet"),
        (("practise", "--twin", "--fast", "--golfer", "Jo", "--plan", "--club", "x"), "leave --block, --drill"),
        (("plan", "--golfer", "Jo", "--new", "--clubs", ""), "1 to 5 clubs"),
        (("plan", "--golfer", "Jo", "--new", "--drill", "levitate"), "There is no drill 'levitate'"),
    ):  # fmt: skip
        answer = groundtone(*options)
        assert (answer.code, said in answer.err) == (2, True), answer.err


def test_feel_says_what_there_is(groundtone, practise, days):
    days.be("2026-03-14")
    practise([0.5])
    said = groundtone("feel", "--golfer", "Jo")
    assert "Nothing was asked or guessed yet" in said.out
    assert groundtone("feel", "--golfer", "Nobody").code == 2


def test_blocks_in_turn_are_laid_out_recorded_and_found_by_the_comparison(
    groundtone, practise, home, days, monkeypatch
):
    """One ball a block, so that the twin hits six: too few to say anything of, and laid out all the same."""
    monkeypatch.setattr(plans, "TURN_BALLS", 1)
    days.be("2026-03-14")
    said = practise([0.55] * 6, "--turns", "3")
    assert "Blocks in turn: 3 without the tone and 3 with it, 1 balls each." in said
    assert "Next: a block with the tone." in said
    assert "All blocks are hit" in said
    with Library(home / "home") as library:
        path = library.here(library.recordings_of("Jo")[0])
    blocks = [b for b in review(open_recording(path)).blocks() if b.swings]
    assert [(b.role, b.cues, len(b.swings)) for b in blocks] == [("baseline", False, 1), ("drill", True, 1)] * 3
    told = groundtone("compare", path)
    assert "too few swings to say" in told.out
    assert "Cues sounded only after" in told.out
    refused = groundtone("practise", "--twin", "--fast", "--turns", "3", "--block", "test")
    assert "leave --plan and --block out" in refused.err


def test_a_practice_swing_is_no_ball_of_a_block(practise, home, days, monkeypatch):
    monkeypatch.setattr(plans, "TURN_BALLS", 1)
    days.be("2026-03-14")
    said = practise([0.55] * 7, "--turns", "3", ball_each=2)
    assert "All blocks are hit" not in said
    with Library(home / "home") as library:
        path = library.here(library.recordings_of("Jo")[0])
    seen = review(open_recording(path))
    struck = [[row.kind == "swing" for row in block.swings].count(True) for block in seen.blocks() if block.swings]
    assert struck == [1, 1, 1, 1]


def test_the_command_prints_and_draws_what_a_lesson_can_tell(groundtone, tmp_path):
    said = groundtone("compare", "--layouts", tmp_path / "evidence.png")
    assert said.code == 0
    assert "two blocks differ" in said.out
    assert (tmp_path / "evidence.png").read_bytes().startswith(b"\x89PNG")
    assert "say --layouts" in groundtone("compare").err
