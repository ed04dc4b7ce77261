"""Two lessons a week apart by the command line: on purpose, guess first, plan, practice at home, retention, page."""

import functools
import re
from dataclasses import replace

import pytest

from groundtone.app.live import practice_setup
from groundtone.feel import plan as plans
from groundtone.feel.lines import HEEL_TOE
from groundtone.feel.plan import read_plan
from groundtone.record.library import Library
from groundtone.record.session import About
from groundtone.review.feel_log import feel_lessons
from groundtone.twin.learner import Learner, LearnerSpec
from groundtone.twin.scenario import Doing, GolferSpec, Scenario, Session, SwingSpec

# What is planted: done on purpose, felt, and where the pressure runs in the downswing before, after and a week later.
PLANTED = LearnerSpec(middle=0.50, gain=0.7, offset=0.02, spread=0.005, memory=0.0, feel_bias=0.09, feel_spread=0.02)
BEFORE, LEARNT, KEPT = 0.66, 0.54, 0.58
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
    """Practises on the twin with these swings: practise(places, options…)."""

    def run(places, *options, doings=(), setup_s=2.0):
        swings = tuple(SwingSpec("good", down_heel_toe=place, impact_share=0.78) for place in places)
        act = Session(GOLFER, swings, seed=11, rocks=1, rock_s=3.0, setup_s=setup_s, doings=tuple(doings))
        path = home / "act.json"
        path.write_text(Scenario(act=act).to_json(), "utf-8")
        said = groundtone("practise", "--twin", path, "--fast", "--golfer", "Jo", *options)
        assert said.code == 0, said.err
        return said.out

    return run


def percents(text):
    return [
        float(number.replace("\u2212", "-"))
        for number in re.findall(r"[\u2212+-]?\d+(?:\.\d+)?(?=\s*(?:%|points))", text)
    ]


def test_two_lessons_a_week_apart(groundtone, practise, home, days):
    days.be("2026-03-14", 10)
    learner = Learner(PLANTED, 5)
    asked = [HEEL_TOE.goal(place, "impact") for place in ("heels",) * 3 + ("middle",) * 3 + ("toes",) * 3]
    practise(
        [learner.does(goal) for goal in asked],
        "--block", "purpose", "--at", "impact", "--order", "blocked", "--times", 3, "--club", "7 iron", setup_s=3.5,
    )  # fmt: skip
    days.be("2026-03-14", 11)
    places = [0.50, 0.40, 0.60, 0.44, 0.52, 0.38, 0.62, 0.47]
    taps = []
    for number, place in enumerate(places, start=1):
        said = HEEL_TOE.place(learner.feels(place), "impact")
        # Both feet for the middle, the lead foot's toe or heel.
        for tap in {"toes": ["lead toe"], "heels": ["lead heel"], "middle": ["lead toe", "trail toe"]}[said]:
            taps.append(Doing("tap", 0.3, number, place=tap))
    practise(places, "--block", "guess", "--club", "7 iron", doings=taps)
    days.be("2026-03-14", 12)
    practise([BEFORE] * 6, "--block", "baseline", "--club", "7 iron")
    made = groundtone(
        "plan", "--golfer", "Jo", "--new", "--clubs", "7 iron", "--drill", "heels-down", "--balls", 24, "--seed", 4
    )
    assert "24 of 24 balls are left." in made.out
    days.be("2026-03-14", 13)
    goals = {ball.asked: HEEL_TOE.goal(ball.asked, "impact") for ball in read_plan("Jo").all_balls() if ball.asked}
    balls = read_plan("Jo").all_balls()[:12]
    out = practise([learner.does(goals[ball.asked]) if ball.asked else 0.60 for ball in balls], "--plan")
    assert "Next: on purpose to the" in out
    assert read_plan("Jo").done == 12

    # At home, by sound alone: the rest of the plan with its silent test.
    days.be("2026-03-15")
    balls = read_plan("Jo").all_balls()[12:18]
    rest = [learner.does(goals[ball.asked]) if ball.asked else 0.56 for ball in balls]
    out = practise(rest + [LEARNT] * 6, "--plan")
    assert "Next: a silent test." in out
    assert "All balls of today's plan are hit" in out
    plan = read_plan("Jo")
    assert (plan.done, plan.practised, plan.due) == (24, "2026-03-15", "2026-03-22")
    early = groundtone("practise", "--twin", home / "act.json", "--fast", "--golfer", "Jo", "--plan")
    assert (early.code, "the retention test is on 2026-03-22" in early.err) == (2, True)

    days.be("2026-03-22")
    assert "What has stayed? 10 balls without a tone." in groundtone("plan", "--golfer", "Jo").out
    practise([KEPT] * 10, "--plan")
    assert read_plan("Jo").kept == "2026-03-22"
    with Library(home / "home") as library:
        first, home_alone = feel_lessons(library, "Jo")
    # One ball of the plan has a place to go to in either session.
    assert (len(first.tries), len(first.guesses), len(home_alone.tries)) == (9 + 1, 8, 1)

    page = groundtone("page", "--golfer", "Jo", "--drill", "heels-down", "--out", home / "page")
    assert page.code == 0, page.err
    text = next((home / "page").glob("*.html")).read_text("utf-8")
    lines = re.findall(r"<li>(.*?)</li>", text)
    reach = percents(next(line for line in lines if line.startswith("On purpose, heel to toe at impact")))
    assert reach[0] == pytest.approx(100 * (0.52 - 0.7 * 0.13), abs=4)
    assert reach[3] == pytest.approx(100 * (0.52 + 0.7 * 0.13), abs=4)
    felt = next(line for line in lines if line.startswith("Feel, heel to toe"))
    bias = percents(felt)
    assert bias[1] < 100 * PLANTED.feel_bias < bias[2]
    assert bias[1] > 0
    stayed = next(line for line in lines if line.startswith("What stayed"))
    numbers = percents(stayed)
    assert numbers[1] < 100 * (LEARNT - BEFORE) < numbers[2] or numbers[0] == pytest.approx(-12, abs=3)
    assert numbers[3] == pytest.approx(100 * (KEPT - BEFORE), abs=3)
    assert numbers[6] == pytest.approx(100 * (KEPT - BEFORE) / (LEARNT - BEFORE), abs=15)


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
