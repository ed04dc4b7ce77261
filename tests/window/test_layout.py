"""Every place at eight sizes, light and dark, English and German: no text is clipped, none lies over another."""

import pytest
from drawn_texts import Spy, faults
from place_states import STATES, build, review
from PyQt5.QtCore import QEvent, QPoint
from PyQt5.QtGui import QHelpEvent
from PyQt5.QtWidgets import QApplication, QPushButton, QToolTip

from groundtone.app.window.keys import PLACES
from groundtone.app.window.theme import THEMES

# What is left of usual screens: with a title bar, maximised, and at scales of 1.25, 1.5 and 2.
SIZES = (
    (960, 540), (1280, 680), (1280, 720), (1366, 705), (1536, 824), (1920, 1017), (2560, 1440), (3840, 2160),
)  # fmt: skip


@pytest.fixture
def shell(shell_in):
    return shell_in("en")


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


def test_it_sees_a_button_that_is_too_small_for_its_word(shell, qtbot, monkeypatch):
    build(shell, qtbot)
    # One of its own: the window lays out its own buttons whenever something comes.
    button = QPushButton("a word that does not fit", shell)
    button.setGeometry(400, 200, 20, 30)
    button.show()
    assert any(f"the button {button.text()!r} is cut" in text for text in faults(shell, Spy(monkeypatch)))


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_place_is_right_when_it_is_first_opened(shell_in, qtbot, monkeypatch, language):
    """No size has changed since it was made."""
    shell, spy, wrong = shell_in(language), Spy(monkeypatch), {}
    shell.resize(1280, 720)
    for name in PLACES:
        shell.go(name)
        qtbot.waitUntil(lambda: shell.desk.waiting == 0)
        for _ in range(3):
            QApplication.processEvents()
        wrong[name] = faults(shell, spy)
    assert {name: found for name, found in wrong.items() if found} == {}


def test_a_choice_that_is_too_long_ends_in_dots_and_is_whole_under_the_pointer(shell, qtbot, monkeypatch):
    shell.go("practise")
    review(shell, qtbot)
    box, seen = shell.places["review"].sessions, []
    box.setFixedWidth(120)
    assert box.shown().endswith("…")
    monkeypatch.setattr(QToolTip, "showText", lambda at, text, widget: seen.append(text))
    QApplication.sendEvent(box, QHelpEvent(QEvent.Type.ToolTip, QPoint(5, 5), QPoint(5, 5)))
    assert seen == [box.currentText()]
