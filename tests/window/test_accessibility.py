"""Every part that can be reached tells a screen reader what it is and its state, asked by Qt's own interface."""

import sys

import pytest
import qt_accessible
from odd_names import PUPIL
from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QAbstractButton, QAbstractItemView, QComboBox, QLineEdit, QProgressBar, QWidget

from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.widgets.call import Call
from groundtone.app.window.widgets.cue_card import CueCard
from groundtone.app.window.widgets.strike_pad import StrikePad

# Roles of qaccessible.h: check box, radio button, push button, choice, text to be typed, slider, number.
_ACTED_ON = {0x2C, 0x2D, 0x2B, 0x2E, 0x2A, 0x33, 0x34}
PLACES = ("pupils", "build", "check", "practise", "review", "hand over")
KINDS = (QAbstractButton, QComboBox, QLineEdit, QProgressBar, QAbstractItemView, StrikePad, CueCard, Call)

# Qt's interface is asked by its place in memory.
ASKED = pytest.mark.skipif(sys.platform != "linux" or not qt_accessible.KNOWN, reason="where it lies is known of Linux")


def read(widget):
    """Name and description as a screen reader gets them; where the interface cannot be asked, what it is made of."""
    if qt_accessible.KNOWN:
        told = qt_accessible.told(qt_accessible.interface(widget))
        # Of a choice Qt names the chosen one on Linux; what it is a choice of is its description there.
        choice = isinstance(widget, QComboBox)
        return told.description if choice else told.name, told.description
    text = widget.text() if isinstance(widget, QAbstractButton) else ""
    return widget.accessibleName() or text, widget.accessibleDescription()


@pytest.fixture(params=PLACES)
def opened(window, twin, lesson_home, qtbot, request):
    """A window with a lesson, at a place: it, and the place's name."""
    shell = window(twin())
    shell.common.take(Pupil(PUPIL))
    shell.go(request.param)
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    return shell, request.param


def test_everything_that_can_be_reached_says_what_it_is(opened):
    shell, name = opened
    nameless = []
    for widget in shell.findChildren(QWidget):
        inner = isinstance(widget.parent(), QComboBox | QAbstractItemView) or widget.objectName().startswith("qt_")
        reached = isinstance(widget, KINDS) or widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        if not widget.isVisible() or inner or not reached or widget is shell.places[name]:
            continue
        if not read(widget)[0].strip():
            nameless.append(f"{type(widget).__name__} {widget.objectName()}")
        if isinstance(widget, StrikePad | CueCard):
            assert read(widget)[1]
    assert nameless == []


@ASKED
def test_nothing_that_a_screen_reader_comes_to_is_silent(opened):
    """The whole tree of a place as Qt hands it out: parts of tables and lists too."""
    shell, _ = opened
    parts = list(qt_accessible.everything(qt_accessible.interface(shell)))
    reached = [part for part in parts if part.focusable and not part.invisible]
    assert len(reached) > 10
    assert all(part.role != qt_accessible.NO_ROLE for part in reached)
    assert [part for part in reached if part.role in _ACTED_ON and not (part.name or part.description)] == []


@ASKED
def test_a_button_that_cannot_be_pressed_and_one_that_is_chosen_say_so(window, twin):
    shell = window(twin())
    shell.go("practise")
    place = shell.places["practise"]
    assert _told_of(place.end_button).disabled
    chosen = [name for name, button in shell.rail.items() if _told_of(button).checked]
    assert chosen == ["practise"]


def _told_of(widget):
    return qt_accessible.told(qt_accessible.interface(widget))


def test_the_pad_speaks_its_value_and_the_cues_their_state(window, twin):
    from groundtone.review.strikes import Strike

    shell = window(twin())
    shell.go("practise")
    place = shell.places["practise"]
    assert read(place.strike.pad) == ("where the ball met the face", "not told")
    place.strike.show_swing(3, Strike(6), "right")
    assert read(place.strike.pad)[1] == "toe"
    assert place.strike.pad.focusPolicy() & Qt.FocusPolicy.TabFocus
    place.toes.show_size(0.5, silent=False)
    assert read(place.toes) == ("cue toes", "sounds")
    place.toes.show_size(0.5, silent=True)
    assert read(place.toes)[1] == "out, silent for the pupil"


def test_a_row_is_read_with_all_that_is_drawn_in_it(window, twin, lesson_home, qtbot):
    shell = window(twin())
    shell.common.take(Pupil(PUPIL))
    shell.go("review")
    place = shell.places["review"]
    qtbot.waitUntil(lambda: place.swings.rowCount() == 6)
    role = int(Qt.ItemDataRole.AccessibleTextRole)
    said = [place.swings.item(row, k).data(role) for row in range(6) for k in range(4) if place.swings.item(row, k)]
    assert "toe strike, clean" in said
    assert "swing 4, test" in said
