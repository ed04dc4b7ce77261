"""Hand over: a preview that follows what is chosen, the page on the disk, and a folder that cannot be written."""

import pytest
from odd_names import PUPIL


@pytest.fixture
def place(window, twin, lesson_home, qtbot):
    shell = window(twin())
    shell.go("hand over")
    place = shell.places["hand over"]
    qtbot.waitUntil(lambda: place.title.text() == "The page to take home" and not place.picture_view.empty)
    return shell, place


def words(place):
    return " ".join(place.words.texts)


def test_the_page_of_the_newest_lesson_is_shown(place):
    _, hand_over = place
    assert PUPIL in hand_over.lessons.currentText()
    assert not hand_over.card_view.empty
    assert "What we saw:" in words(hand_over)
    assert "simulated" in hand_over.words.texts[0]


def test_what_is_chosen_is_shown(place, press, qtbot):
    shell, hand_over = place
    qtbot.keyClicks(hand_over.saw, "You hung back <b>& froze</b>.")
    hand_over.parts["card"].click()
    qtbot.waitUntil(lambda: "You hung back <b>& froze</b>." in words(hand_over))
    assert hand_over.card_view.empty
    hand_over.language.setCurrentIndex(hand_over._languages.index("de"))
    hand_over.setFocus()
    press(shell, "P")
    qtbot.waitUntil(lambda: "What we saw:" not in words(hand_over))


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
