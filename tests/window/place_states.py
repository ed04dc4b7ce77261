"""Every place of the window in each of its states, filled with long texts: what tests of layout and language walk."""

from dataclasses import replace

import numpy as np
from odd_names import PUPIL

from groundtone.app.window.places.pupil import Checked
from groundtone.app.window.views import LiveSwing, MatState, Moment, PractiseView, Verdict, Wanted
from groundtone.feel.plan import Plan, write_plan
from groundtone.lesson.outside import Outside
from groundtone.review.strikes import Contact, Strike


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
