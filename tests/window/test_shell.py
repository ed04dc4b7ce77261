"""The window as a whole: the first start, the rail, light and dark, undo, two windows, no mat."""

import pytest
from PyQt5.QtWidgets import QLabel, QPushButton

from groundtone.app.command import main
from groundtone.app.window.keys import KEYS
from groundtone.app.window.main import OneWindow
from groundtone.app.window.places.place import UndoList
from groundtone.app.window.widgets.lists import KeysDialog
from groundtone.errors import GroundtoneError
from groundtone.twin.scenario import Press


def test_the_first_start_says_what_to_do_next(window, click, press, qtbot, home, monkeypatch):
    monkeypatch.setattr("groundtone.link.find.usb_ports", list)
    shell = window(first=True)
    words = " ".join(label.text() for label in shell.places["start"].findChildren(QLabel))
    assert "Plug its cable into this computer" in words
    assert "simulated mat" in words
    click(shell, "find mat")
    qtbot.waitUntil(lambda: "no mat was found" in shell.line.text().lower())
    assert shell.shown == "build"
    assert shell.places["build"].words.text() == "no mat"
    assert shell.strip.verdict.text() == "No mat"


def test_every_place_has_its_key_and_its_button(window, press, click, twin, profile, qtbot):
    shell = window(twin())
    assert shell.shown == "pupils"
    assert shell.strip.who.isChecked()
    for name, key in (("check", "F2"), ("build", "F1")):
        press(shell, key)
        assert shell.shown == name
        assert [n for n, b in shell.rail.items() if b.isChecked()] == [name]
    click(shell, "go check")
    assert shell.shown == "check"


def test_light_and_dark_are_remembered(window, press, home):
    shell = window()
    assert shell.look.theme.name == "light"
    press(shell, "Ctrl+L")
    assert shell.look.theme.name == "dark"
    assert shell.grab().toImage().pixelColor(3, 400).name().upper() == shell.look.theme.paper
    shell.close()
    assert window().look.theme.name == "dark"


def test_size_and_place_are_remembered(window, home, qtbot):
    shell = window()
    shell.resize(1500, 900)
    qtbot.waitUntil(lambda: shell.width() == 1500)
    shell.close()
    from groundtone.app.window.shell import Shell

    again = Shell()
    assert (again.width(), again.height()) == (1500, 900)
    assert again.shown == "pupils"
    again.close()


def test_words_of_one_place_do_not_stay_in_the_next(window):
    shell = window()
    shell.go("build")
    shell.say("Something about this place.")
    shell.go("check")
    assert shell.line.text() == ""


def test_sizes_follow_the_window(window, qtbot):
    shell = window()
    qtbot.waitUntil(lambda: shell.look.em == 16)
    before = shell.undo_button.sizeHint().height()
    shell.resize(3840, 2160)
    qtbot.waitUntil(lambda: shell.look.em == 32)
    assert shell.undo_button.sizeHint().height() == pytest.approx(2 * before, abs=4)
    shell.resize(960, 540)
    qtbot.waitUntil(lambda: shell.look.em == 13)


def test_what_was_done_last_is_taken_back(window, press, click):
    shell = window()
    # In a line that is being written Ctrl+Z belongs to the writing.
    shell.go("build")
    done = []
    shell.undo.add("first deed", lambda: done.append(1))
    shell.undo.add("second deed", lambda: done.append(2))
    shell.say("")
    assert shell.undo_button.toolTip() == "Undo: second deed"
    press(shell, "Ctrl+Z")
    click(shell, "undo")
    assert done == [2, 1]
    press(shell, "Ctrl+Z")
    assert shell.line.text() == "There is nothing to take back."


def test_only_so_many_deeds_are_kept():
    deeds, taken = UndoList(), []
    for i in range(60):
        deeds.add(str(i), lambda i=i: taken.append(i))
    while deeds.undo():
        pass
    assert taken == list(range(59, 9, -1))


def test_all_keys_are_shown(window, press, qtbot):
    shell = window()
    shell.go("build")
    press(shell, "F10")
    dialog = shell.findChild(KeysDialog)
    shown = {label.text() for label in dialog.findChildren(QLabel)}
    wanted = [key for key in KEYS if key.place in ("", "build")]
    assert {key.words for key in wanted} | {key.key for key in wanted} <= shown
    dialog.accept()


def test_a_second_window_says_so(home):
    first = OneWindow(home)
    with pytest.raises(GroundtoneError, match="open already"):
        OneWindow(home)
    first.release()
    OneWindow(home).release()


def test_the_command_says_it_too(home, capfd):
    lock = OneWindow(home)
    with pytest.raises(SystemExit) as ended:
        main(["window"])
    lock.release()
    assert ended.value.code == 2
    assert "open already" in capfd.readouterr().err


def test_a_data_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(GroundtoneError, match="cannot be written"):
        OneWindow(tmp_path / "file" / "home")


def test_the_mat_is_unplugged(window, click, twin, qtbot, monkeypatch):
    from groundtone.errors import LostError
    from groundtone.link.twin_link import TwinLink

    whole = TwinLink.frames

    def cut(self, patience_s=0.05):
        for i, item in enumerate(whole(self, patience_s)):
            if i == 40:
                raise LostError("the line to the mat is gone: plug it in again")
            yield item

    monkeypatch.setattr(TwinLink, "frames", cut)
    shell = window(twin({"watch": Press()}))
    shell.go("build")
    click(shell, "watch")
    qtbot.waitUntil(lambda: shell.state.state == "lost")
    assert shell.line.text() == "!  The line to the mat is gone: plug it in again."
    monkeypatch.setattr(TwinLink, "frames", whole)
    click(shell, "watch")
    qtbot.waitUntil(lambda: shell.places["build"].field.level.max() > 0.05)


def test_a_failure_of_the_program_ends_nothing(window, click, twin, qtbot, monkeypatch):
    monkeypatch.setattr("groundtone.app.window.modes.build.ConductanceMeter.measure", lambda *_: 1 / 0)
    shell = window(twin())
    shell.go("build")
    click(shell, "watch")
    qtbot.waitUntil(lambda: "ZeroDivisionError" in shell.line.text())
    monkeypatch.undo()
    assert shell.findChildren(QPushButton, "watch")[0].isEnabled()
