"""Two lessons a week apart from the window: asked, guessed, drill, test, plan, at home by sound alone, what stayed."""

import datetime
import functools
import re
from pathlib import Path

import pytest

from groundtone.app.command import main
from groundtone.app.live import practice_setup
from groundtone.app.twin import mat_of
from groundtone.app.window.modes import practise as mode
from groundtone.app.window.places.pupil import Pupil
from groundtone.feel import plan as plans
from groundtone.feel.lines import HEEL_TOE, asks
from groundtone.feel.plan import Plan, read_plan, write_plan
from groundtone.record.session import About
from groundtone.twin.learner import Learner, LearnerSpec
from groundtone.twin.scenario import Doing, GolferSpec, Scenario, Session, SwingSpec

# Planted: done on purpose, felt, and where the pressure runs before the lesson, after it and a week later.
PLANTED = LearnerSpec(middle=0.50, gain=0.7, offset=0.02, spread=0.005, memory=0.0, feel_bias=0.09, feel_spread=0.02)
BEFORE, LEARNT, KEPT = 0.66, 0.54, 0.58
SEED = 5


def act(places, doings=(), setup_s=2.0):
    swings = tuple(SwingSpec("good", down_heel_toe=place, impact_share=0.78) for place in places)
    return Session(GolferSpec(mass_kg=78.4), swings, seed=3, rock_s=3.0, setup_s=setup_s, doings=tuple(doings))


@pytest.fixture
def practised(window, twin, profile, press, qtbot, monkeypatch):
    """Practises in a window of its own: practised(day, hour, key of the block, act) -> the shell, saved."""

    def run(day, hour, key, what):
        monkeypatch.setattr(plans, "today", lambda: day)
        monkeypatch.setattr(mode.secrets, "randbelow", lambda most: SEED)
        now = datetime.datetime.fromisoformat(f"{day}T{hour:02}:00:00")
        shell = window(twin({"practise": what}), clock=lambda: now)
        shell.common.take(Pupil("Jo", club="7 iron"))
        press(shell, "F3")
        practise = shell.places["practise"]
        press(shell, key)
        press(shell, "Space")
        qtbot.waitUntil(lambda: practise.call.word == "saved" and shell.desk.waiting == 0)
        return shell

    return run


@pytest.fixture
def at_home(home, monkeypatch):
    """Practises at home by sound alone, as the plan says: the command, with no key pressed: at_home(day, act)."""

    def run(day, what):
        monkeypatch.setattr(plans, "today", lambda: day)
        started = functools.partial(About, started=f"{day}T09:00:00+00:00")
        monkeypatch.setattr(practice_setup, "About", started)
        path = home / "act.json"
        path.write_text(Scenario(mat_of(7, "starter-10x3"), what).to_json(), "utf-8")
        with pytest.raises(SystemExit) as ended:
            main(["practise", "--twin", str(path), "--fast", "--golfer", "Jo", "--plan"])
        assert not ended.value.code
        monkeypatch.setattr(practice_setup, "About", About)

    return run


def lines_of(shell, press, qtbot):
    """What the page that is saved from the window says of feel."""
    press(shell, "F5")
    hand_over = shell.places["hand over"]
    qtbot.waitUntil(lambda: not hand_over.sheets[0].empty)
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    page = next(Path(file) for file in hand_over.saved if file.endswith(".html")).read_text("utf-8")
    return re.findall(r"<li>(.*?)</li>", page)


def percents(lines, begin):
    (line,) = (line for line in lines if line.startswith(begin))
    found = re.findall(r"[\u2212+-]?\d+(?:\.\d+)?(?=\s*(?:%|points))", line)
    return [float(number.replace("\u2212", "-")) for number in found]


def test_two_lessons_a_week_apart_from_the_window(practised, at_home, press, qtbot):
    learner = Learner(PLANTED, SEED)
    asked = asks([HEEL_TOE], "random", 5, SEED)[:9]
    done = [learner.does(HEEL_TOE.goal(place, "impact")) for place in asked]
    practised("2026-03-14", 9, "I", act(done, setup_s=3.5))
    places = [0.50, 0.40, 0.60, 0.44, 0.52, 0.38, 0.62, 0.47]
    taps = []
    for number, place in enumerate(places, start=1):
        said = HEEL_TOE.place(learner.feels(place), "impact")
        for tap in {"toes": ["lead toe"], "heels": ["lead heel"], "middle": ["lead toe", "trail toe"]}[said]:
            taps.append(Doing("tap", 0.2, number, place=tap))
    practised("2026-03-14", 10, "G", act(places, taps))
    practised("2026-03-14", 11, "B", act([BEFORE] * 6))
    practised("2026-03-14", 12, "D", act([BEFORE, 0.58, 0.56], setup_s=2.5))
    practised("2026-03-14", 13, "E", act([0.57] * 4))
    write_plan(Plan("Jo", ("7 iron",), "heels-down", 24, 4, made="2026-03-14", seen="2026-03-14"))
    balls = read_plan("Jo").all_balls()
    hit = [learner.does(HEEL_TOE.goal(b.asked, "impact")) if b.asked else 0.60 for b in balls[:18]]
    practised("2026-03-14", 14, "W", act(hit[:9]))
    assert read_plan("Jo").done == 9
    at_home("2026-03-15", act([*hit[9:], *[LEARNT] * 6]))
    assert read_plan("Jo").due == "2026-03-22"
    shell = practised("2026-03-22", 9, "W", act([KEPT] * 10))
    assert read_plan("Jo").kept == "2026-03-22"

    lines = lines_of(shell, press, qtbot)
    reach = percents(lines, "On purpose, heel to toe at impact")
    assert reach[0] == pytest.approx(100 * (0.52 - 0.7 * 0.13), abs=4)
    assert reach[3] == pytest.approx(100 * (0.52 + 0.7 * 0.13), abs=4)
    bias = percents(lines, "Feel, heel to toe")
    assert 0 < bias[1] < 100 * PLANTED.feel_bias < bias[2]
    stayed = percents(lines, "What stayed")
    assert stayed[0] == pytest.approx(100 * (LEARNT - BEFORE), abs=3)
    assert stayed[3] == pytest.approx(100 * (KEPT - BEFORE), abs=3)
    assert stayed[6] == pytest.approx(100 * (KEPT - BEFORE) / (LEARNT - BEFORE), abs=15)
