"""Check on the simulated mat: led step by step, a verdict with reasons, kept, and shown again as history."""

import re

import pytest
from PyQt5.QtWidgets import QLabel

from groundtone.calibration.checking.check_log import read_checks
from groundtone.calibration.own_profile import checks_path
from groundtone.twin.scenario import Check, Empty, GolferSpec

GOLFER = GolferSpec(mass_kg=78.4)


@pytest.fixture
def check(window, twin, profile):
    def make(act, **changed):
        shell = window(twin({"check": act}, **changed))
        shell.go("check")
        return shell, shell.places["check"]

    return make


def test_a_good_mat_is_ready_and_the_check_is_kept(check, press, qtbot, profile):
    shell, place = check(Check(GOLFER, seed=7))
    words = []
    shell.worker.told.connect(lambda what: words.append(getattr(what, "words", "")))
    place.hand.setCurrentText("left")
    place.mass.setText("78,4")
    place.setFocus()
    press(shell, "Space")
    qtbot.waitUntil(lambda: place.call.word == "ready")
    qtbot.waitUntil(lambda: "ready" in words)  # told to the place first
    led = [w for i, w in enumerate(words) if w and w not in words[:i]]
    assert led == ["keep off", "stand still", "rock slowly", "left foot up", "right foot up", "done", "ready"]
    assert "the lead share is known within ±0.0" in place.worth.toolTip()
    texts = [label.text() for label in place.worth.findChildren(QLabel)]
    assert texts[0] == "Lead share"
    assert re.fullmatch(r"good to \d points?", texts[1])
    assert (shell.common.pupil.checked.words, shell.common.pupil.checked.value) == ("ready", 0)
    assert shell.strip.verdict.text() == "Mat ready for a pupil"
    assert shell.strip.rests_on.text() == "simulated, checked just now"
    (kept,) = read_checks(checks_path(profile))
    assert (kept.verdict, kept.hand) == ("ready", "left")
    qtbot.waitUntil(lambda: place.history.points == 1)
    assert place.history_words.text().startswith("1 check of this mat, the newest: ready.")


def test_an_aged_mat_is_ready_with_correction(check, click, qtbot):
    _shell, place = check(Check(GOLFER, seed=7), aged_common=-0.15)
    place.mass.setText("78.4")
    click(place, "check start")
    qtbot.waitUntil(lambda: place.call.word == "ready with correction")
    assert any("The film reads 1" in text for text in place.reasons.texts)


def test_a_mass_that_cannot_be_is_asked_for_again(check, press):
    shell, place = check(Check(GOLFER, seed=7))
    place.mass.setText("eighty")
    place.setFocus()
    press(shell, "R")
    assert shell.line.text() == "!  The mass 'eighty' is no number from 20 to 160 kg: mend or clear it."
    assert shell.state.state == "none"


def test_nobody_on_the_mat_gives_no_verdict(check, press, qtbot, profile):
    shell, place = check(Empty(duration_s=20.0))
    press(shell, "Space")
    qtbot.waitUntil(lambda: place.call.word == "no verdict")
    assert place.reasons.texts == ("The check was ended before it was done: nothing was kept.",)
    assert not checks_path(profile).exists()


def test_a_mat_without_a_profile_says_what_to_do(window, twin, press, qtbot):
    shell = window(twin())
    shell.go("check")
    press(shell, "Space")
    qtbot.waitUntil(lambda: "has no profile: calibrate it once" in shell.line.text())
