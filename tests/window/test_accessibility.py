"""Every part that can be reached has a name and a state for a screen reader, by Qt's own properties."""

import pytest
from odd_names import PUPIL
from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QAbstractButton, QAbstractItemView, QComboBox, QLineEdit, QProgressBar, QWidget

from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.widgets.call import Call
from groundtone.app.window.widgets.cue_card import CueCard
from groundtone.app.window.widgets.strike_pad import StrikePad

PLACES = ("pupils", "build", "check", "practise", "review", "hand over")
KINDS = (QAbstractButton, QComboBox, QLineEdit, QProgressBar, QAbstractItemView, StrikePad, CueCard, Call)


def read(widget):
    """Name and description as a screen reader gets them (PyQt5 does not wrap QAccessible: its properties are read)."""
    text = widget.text() if isinstance(widget, QAbstractButton) else ""
    return widget.accessibleName() or text, widget.accessibleDescription()


@pytest.mark.parametrize("name", PLACES)
def test_everything_that_can_be_reached_says_what_it_is(window, twin, lesson_home, qtbot, name):
    shell = window(twin())
    shell.common.take(Pupil(PUPIL))
    shell.go(name)
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
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
