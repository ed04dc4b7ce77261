"""Hand over: a preview that follows what is chosen, the page on the disk, and a folder that cannot be written."""

import pytest
from odd_names import PUPIL
from PyQt5.QtWidgets import QApplication

from groundtone.app.window.places.pupil import Pupil


@pytest.fixture
def place(window, twin, lesson_home, qtbot):
    shell = window(twin())
    shell.common.take(Pupil(PUPIL))
    shell.go("hand over")
    place = shell.places["hand over"]
    qtbot.waitUntil(lambda: not place.sheets[0].empty)
    return shell, place


def test_the_page_of_the_newest_lesson_is_shown(place):
    _, hand_over = place
    assert PUPIL in hand_over.lessons.currentText()
    assert not hand_over.card_view.empty
    assert "simulated" in hand_over.words.texts[0]
    # Front and back of the sheet itself, A4 upright.
    for view in hand_over.sheets:
        assert view.pixmap.height() / view.pixmap.width() == pytest.approx(297 / 210, abs=0.01)


def test_what_is_chosen_is_shown(place, press, qtbot):
    shell, hand_over = place
    before = hand_over.sheets[0].pixmap.toImage()
    qtbot.keyClicks(hand_over.saw, "You hung back <b>& froze</b>.")
    hand_over.parts["card"].click()
    qtbot.waitUntil(lambda: hand_over.card_view.empty and hand_over.sheets[0].pixmap.toImage() != before)
    english = hand_over.sheets[0].pixmap.toImage()
    hand_over.language.setCurrentIndex(hand_over._languages.index("de"))
    hand_over.setFocus()
    press(shell, "P")
    qtbot.waitUntil(lambda: hand_over.sheets[0].pixmap.toImage() != english)


def test_another_pupil_leaves_no_page_that_could_be_saved(place, press, qtbot):
    shell, hand_over = place
    shell.common.take(Pupil("somebody else"))
    assert hand_over.lesson is None
    assert hand_over.sheets[0].empty
    press(shell, "S")
    assert shell.line.text() == "!  There is no lesson to make a page of."
    shell.go("check")
    shell.go("hand over")
    qtbot.waitUntil(lambda: hand_over.title.text() == "No lesson of somebody else yet")
    shell.common.take(Pupil(PUPIL))
    shell.go("check")
    shell.go("hand over")
    qtbot.waitUntil(lambda: not hand_over.sheets[0].empty)


def test_the_coach_is_remembered_and_the_card_copied(place, press, qtbot, tmp_path, window):
    shell, hand_over = place
    hand_over.coach.setText("K. Example")
    hand_over.folder = tmp_path / "out"
    hand_over.setFocus()
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    press(shell, "C")
    assert not QApplication.clipboard().pixmap().isNull()
    from groundtone.app.window.places.hand_over import HandOverPlace

    assert HandOverPlace(shell.common).coach.text() == "K. Example"


def test_the_page_is_saved(place, press, qtbot, tmp_path):
    shell, hand_over = place
    hand_over.folder = tmp_path / "out"
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    assert sorted(path.suffix for path in hand_over.folder.iterdir()) == [".html", ".pdf", ".png"]
    assert shell.line.text().startswith(f"Saved in {hand_over.folder}: page-")


def test_a_folder_that_cannot_be_written(place, press, qtbot, tmp_path):
    shell, hand_over = place
    (tmp_path / "file").write_text("")
    hand_over.folder = tmp_path / "file"
    press(shell, "S")
    qtbot.waitUntil(lambda: "cannot be written" in shell.line.text())
    assert "choose another folder." in shell.line.text()
    hand_over.folder = tmp_path / "fine"
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))


def test_nothing_recorded_gives_no_page(window, home, press, qtbot):
    shell = window()
    shell.go("hand over")
    hand_over = shell.places["hand over"]
    qtbot.waitUntil(lambda: hand_over.title.text() == "Nothing has been recorded yet")
    press(shell, "S")
    assert shell.line.text() == "!  There is no lesson to make a page of."
