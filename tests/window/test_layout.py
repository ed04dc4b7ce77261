"""Every place at eight sizes, light and dark, English and German: no text is clipped, none lies over another."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_texts import Spy, faults
from odd_names import PUPIL
from PyQt5.QtWidgets import QApplication

from groundtone.app.window.places.pupil import Checked
from groundtone.app.window.theme import THEMES
from groundtone.app.window.views import LiveSwing, MatState, Moment, PractiseView, Verdict, Wanted
from groundtone.feel.plan import Plan, write_plan
from groundtone.lesson.outside import Outside
from groundtone.review.strikes import Contact, Strike

# What is left of usual screens: with a title bar, maximised, and at scales of 1.25, 1.5 and 2.
SIZES = (
    (960, 540), (1280, 680), (1280, 720), (1366, 705), (1536, 824), (1920, 1017), (2560, 1440), (3840, 2160),
)  # fmt: skip


@pytest.fixture
def shell(shell_in):
    return shell_in("en")


def pupils(shell, qtbot):
    shell.go("pupils")
    place = shell.places["pupils"]
    qtbot.waitUntil(lambda: len(place.lines) == 1)
    place.table.choose(0)
    place._show_card()
    place.erase()


def build(shell, _):
    shell.go("build")


def check(shell, _):
    shell.go("check")
    place = shell.places["check"]
    place.began("check")
    steps = ("keep off", "stand still", "rock slowly", "left foot up", "right foot up")
    place.told(Wanted("right foot up", "Stand on the left foot for four seconds.", 0.8, steps, 4))


def checked(shell, _):
    shell.go("check")
    shell.common.pupil.checked = Checked("ready with correction", 1, shell.common.clock())
    place = shell.places["check"]
    place.began("")
    worth = (
        ("Lead share", "good to 2 points", "3 points or more: a change."),
        ("Heel to toe", "good to 12 mm", "13 mm or more: a change."),
        ("Force of a foot", "good to 30 %", "Compare no newtons."),
    )
    text = (
        "Right heel, outer edge: the right panel's row 1, column 3 is dead under about 20 N: its neighbours stand in "
    )
    text += "until you mend it"
    place.told(Verdict("ready with correction", 1, "", ((text, True),), worth))


def practise(shell, _):
    shell.go("practise")
    shell._told(MatState("running", "", "simulated mat", simulated=True, mode="practise"))
    t = np.linspace(0, 4.5, 300)
    rows = tuple(
        LiveSwing(n, ("baseline", "drill")[n > 8], Strike(n % 9 + 1, contact=Contact.FAT if n % 3 else None), ("toes",))
        for n in range(1, 14)
    )
    for when, word in ((1.0, "takeaway"), (1.9, "turn of pressure"), (2.2, "impact"), (4.0, "tick")):
        shell.places["practise"].told(Moment(when, word))
    view = PractiseView(
        t, 0.5 + 0 * t, 0.5 + 0 * t, 0 * t, 0 * t, "toes", "Hit a ball; the tick ends every swing.", "play",
        {"toes": 0.5, "trail side": 0.2}, "drill", (13, 5, 12, 3), "", Strike(5), 13, (0.58, 0.67),
        "Drill: Lead heel heavy", 5, Outside("", 2, 5), rows,
        (("baseline", Outside("", 6, 8)), ("drill", Outside("", 2, 5))), False,
    )  # fmt: skip
    shell.courier_free = True
    shell._picture(view)
    return view


def guessing(shell, _):
    shell._picture(replace(practise(shell, _), guessing=True, words="where was it?", block="guess", sizes={}))


def review(shell, qtbot):
    shell._told(MatState("there", "", "simulated mat", simulated=True))
    shell.places["practise"].running = shell.common.practising = False
    shell.go("review")
    place = shell.places["review"]
    qtbot.waitUntil(lambda: len(place.lanes) == 4 and shell.desk.waiting == 0)


def pair(shell, qtbot):
    shell.places["review"].pair()
    qtbot.waitUntil(lambda: shell.places["review"]._pair is not None)


def compare(shell, qtbot):
    place = shell.places["review"]
    place.compare()
    qtbot.waitUntil(lambda: len(place.compare_pane.sentences.texts) > 3)


def progress(shell, qtbot):
    place = shell.places["review"]
    place.progress()
    qtbot.waitUntil(lambda: place.progress_pane.which.count() > 3)


def feel(shell, qtbot):
    write_plan(Plan(PUPIL, ("7 iron",), "heels-down", 40, 1, made="2026-03-14"))
    place = shell.places["review"]
    place.feel()
    qtbot.waitUntil(lambda: place.feel_pane.balls.rowCount() > 10)


def hand_over(shell, qtbot):
    shell.go("hand over")
    place = shell.places["hand over"]
    qtbot.waitUntil(lambda: not place.sheets[0].empty)


STATES = (pupils, build, check, checked, practise, guessing, review, pair, compare, progress, feel, hand_over)


def wrong_in(shell, qtbot, spy, looks):
    """What is clipped or lies over another, of every place at these sizes and themes."""
    found = {}
    for state in STATES:
        state(shell, qtbot)
        shell.say("Saved. baseline: 8 swings; 6 of 8 outside, in silence; 2 of 8 strikes inside the centre circle.")
        shell.undo.add("strike of swing 13", lambda: None)
        shell._show_undo()
        for size, theme in looks:
            shell.resize(*size)
            shell.look.theme = THEMES[theme]
            shell._style()
            for _ in range(3):
                QApplication.processEvents()
            wrong = faults(shell, spy)
            if wrong:
                found[f"{state.__name__} {size} {theme}"] = wrong
    return "\n".join([f"{where}: {text}" for where, texts in found.items() for text in texts][:60])


def test_no_text_is_clipped_or_lies_over_another(shell, qtbot, monkeypatch):
    # Colours move no text: the second theme is looked at on the smallest and the largest.
    looks = [(size, "light") for size in SIZES] + [(size, "dark") for size in (SIZES[0], SIZES[-1])]
    assert wrong_in(shell, qtbot, Spy(monkeypatch), looks) == ""


def test_neither_in_german(shell_in, qtbot, monkeypatch):
    """The smallest, the usual one and a scale of two; `make long` takes all sizes, light and dark."""
    looks = [(size, "light") for size in ((960, 540), (1920, 1017), (3840, 2160))]
    assert wrong_in(shell_in("de"), qtbot, Spy(monkeypatch), looks) == ""


@pytest.mark.long
@pytest.mark.parametrize("language", ["en", "de"])
def test_neither_at_any_size_light_or_dark(shell_in, qtbot, monkeypatch, language):
    looks = [(size, theme) for size in SIZES for theme in THEMES]
    assert wrong_in(shell_in(language), qtbot, Spy(monkeypatch), looks) == ""


def test_the_test_itself_sees_what_is_cut(shell, qtbot, monkeypatch):
    from PyQt5.QtWidgets import QLabel

    build(shell, qtbot)
    spy = Spy(monkeypatch)
    label = QLabel("words that do not fit", shell)
    label.setGeometry(400, 200, 40, 20)
    label.show()
    assert any("is cut" in text for text in faults(shell, spy))
    label.setGeometry(*shell.places["build"].words.geometry().getRect())
    label.move(shell.places["build"].words.mapTo(shell, shell.places["build"].words.rect().topLeft()))
    assert any("lie over each other" in text for text in faults(shell, spy))
