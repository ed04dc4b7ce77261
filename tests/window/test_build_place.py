"""Build on the simulated mat: cells that answer, ill ones named, the self-test, a wiring mistake found by pressing."""

import pytest

from groundtone.app.window.mats import MatChoice
from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.views import CellsView
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, Press, Scenario


@pytest.fixture
def build(window, twin, qtbot):
    def make(act, **changed):
        shell = window(twin({"watch": act}, **changed))
        shell.go("build")
        return shell, shell.places["build"]

    return make


def test_the_pressed_cell_grows_and_its_reading_is_told(build, press, qtbot):
    shell, place = build(Press(cells=((3, 4),), force_n=60.0, on_s=3.0, lead_in_s=0.3))
    press(shell, "W")
    qtbot.waitUntil(lambda: place.field.level.max() > 0.2)
    assert divmod(int(place.field.level.argmax()), 6) == (3, 4)
    assert place.cell.text().startswith("most: right panel, row 3, column 1 reads ")
    reading = int(place.cell.text().split("reads ")[1].split(",")[0])
    assert reading > 1000
    press(shell, "Right")
    press(shell, "Up")
    assert place.field.cell == (1, 0)
    assert place.cell.text().startswith("chosen: left panel, row 1, column 0 reads")


def test_a_cell_is_chosen_by_a_click(build, qtbot):
    from PyQt5.QtCore import Qt

    _shell, place = build(Press())
    place.picture(CellsView(*(3 * [place.field.level[:10, :6]])))
    qtbot.mouseClick(place.field, Qt.LeftButton, pos=place.field.place(7, 5).toPoint())
    assert place.field.cell == (7, 5)


def test_shorted_cells_of_an_empty_mat_are_named_and_marked(build, click, qtbot):
    shell, place = build(Empty(duration_s=4.0), shorted_cells=((2, 1),))
    click(shell, "look empty")
    qtbot.waitUntil(lambda: bool(place.findings.texts))
    assert place.findings.texts == (
        "Left panel, row 2, column 1 is shorted: look for solder, a strand, or strips that touch.",
    )
    assert place.words.text() == "1 to mend"
    assert place.field._ill == {(2, 1): "shorted"}


def test_a_good_mat_has_nothing_to_mend(build, press, qtbot):
    shell, place = build(Empty(duration_s=4.0))
    press(shell, "E")
    qtbot.waitUntil(lambda: place.words.text() == "nothing to mend")


def test_a_mat_that_answers_no_self_test_is_told_so(build, press, qtbot):
    shell, place = build(Empty(duration_s=20.0))
    press(shell, "T")
    qtbot.waitUntil(lambda: bool(place.findings.texts))
    assert "answers no requests" in place.findings.texts[0]


def test_two_swapped_rows_are_found_by_pressing(window, twin, press, qtbot):
    chosen = twin(wiring=("swap-rows:1,4",))
    shell = window(MatChoice(twin=chosen.twin))
    shell.go("build")
    place = shell.places["build"]
    asked = []
    shell.worker.told.connect(lambda what: asked.append(getattr(what, "sentence", "")))
    press(shell, "P")
    qtbot.waitUntil(lambda: bool(place.findings.texts))
    assert sum("press its 3 cells" in sentence for sentence in asked) == 20
    assert any("1" in text and "4" in text and "row" in text.lower() for text in place.findings.texts)


def test_strokes_can_be_stopped(window, twin, press, qtbot):
    shell = window(MatChoice(twin=twin().twin))
    shell.go("build")
    place = shell.places["build"]
    press(shell, "P")
    qtbot.waitUntil(lambda: place.bar.isVisible())
    press(shell, "Esc")
    qtbot.waitUntil(lambda: shell.state.state == "there")
    assert "ended before they were done" in place.sentence.text()


def test_what_the_mat_alone_needs_goes_onto_it_and_its_swings_are_fetched(window, twin, profile, press, qtbot):
    with MatProcess(Scenario(twin().twin.mat, Empty(600.0))) as process:
        shell = window(MatChoice(port=process.port))
        shell.common.take(Pupil("Wren", "left"))
        shell.go("build")
        place = shell.places["build"]
        press(shell, "M")
        qtbot.waitUntil(lambda: place.title.text() == "The mat works alone now")
        assert any(text.startswith("For a left-handed golfer of") for text in place.findings.texts)
        assert place.words.text() == "done"
        press(shell, "F")
        qtbot.waitUntil(lambda: place.title.text() == "Fetched from the mat")
        assert place.findings.texts == ("Nothing new is on the mat.",)


@pytest.mark.parametrize("key", ["M", "F"])
def test_a_mat_that_is_only_played_says_that_it_does_not_work_alone(window, twin, press, qtbot, key):
    shell = window(MatChoice(twin=twin().twin))
    shell.go("build")
    place = shell.places["build"]
    press(shell, key)
    qtbot.waitUntil(lambda: place.words.text() == "not done")
    assert place.sentence.text() == "The simulated mat of the window does not work alone: plug a mat in."
