"""A lesson from the window alone, on the simulated mat: check, baseline, pair, drill, test, page, next pupil."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.twin.scenario import Check, GolferSpec, Session, SwingSpec

GOLFER = GolferSpec(mass_kg=78.4)
STYLES = ("trail_hang", "good", "good")
# What the coach presses after each swing.
TOLD = (("2", "F"), ("5", "C"), ("6", "C"))
LESSON = Session(GOLFER, tuple(SwingSpec(style) for style in STYLES), seed=3)


def test_a_lesson_from_start_to_page(window, twin, profile, press, qtbot, home):
    shell = window(twin({"check": Check(GOLFER, seed=7), "practise": LESSON}))
    press(shell, "F3")
    practise = shell.places["practise"]
    qtbot.keyClicks(practise.form.name, "Jo <1>")
    practise.form.club.setText("7 iron")
    press(shell, "Return")
    assert shell.shown == "check"
    check = shell.places["check"]
    press(shell, "Space")
    qtbot.waitUntil(lambda: check.words.text().endswith("ready"))
    press(shell, "F3")
    press(shell, "Space")
    for number, keys in enumerate(TOLD, 1):
        qtbot.waitUntil(lambda number=number: practise._swings == number)
        for key in keys:
            press(shell, key)
        if number < len(TOLD):
            press(shell, "DE"[number - 1])
    qtbot.waitUntil(lambda: practise.words.text() == "saved")
    press(shell, "F4")
    review = shell.places["review"]
    qtbot.waitUntil(lambda: len(review.lanes) == 3)
    press(shell, "P")
    qtbot.waitUntil(lambda: review.title.text().startswith("The pair"))
    press(shell, "N")
    qtbot.keyClicks(review.note, "came across in the test")
    press(shell, "Return")
    qtbot.waitUntil(lambda: shell.line.text().startswith("Noted"))
    press(shell, "F5")
    hand_over = shell.places["hand over"]
    qtbot.waitUntil(lambda: not hand_over.picture_view.empty)
    assert "Jo <1>" in hand_over.lessons.currentText()
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    page = next(Path(file) for file in hand_over.saved if file.endswith(".html")).read_text("utf-8")
    assert "Jo &lt;1&gt;" in page
    press(shell, "F3")
    practise.setFocus()
    press(shell, "N")
    assert practise.form.name.text() == ""
    (path,) = (home / "recordings").glob("*.mcap")
    recording = open_recording(path)
    assert [(b.kind, b.cues) for b in recording.blocks] == [("baseline", False), ("drill", True), ("test", False)]
    assert [(s.table["field"], s.table["contact"]) for s in recording.strikes] == [
        (2, "fat"), (5, "clean"), (6, "clean"),
    ]  # fmt: skip
    assert recording.notes[-1].table["text"] == "came across in the test"
    assert recording.lost == []
    with Library(home) as library:
        assert [(k.golfer.name, k.swings, k.strikes) for k in library.golfers() if k.swings] == [("Jo <1>", 3, 3)]


@pytest.mark.skipif(sys.platform != "linux", reason="the window needs no X server elsewhere")
def test_the_command_opens_on_a_real_display_server(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1400x900x24", "-nolisten", "tcp"], pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    try:
        with os.fdopen(read) as told:
            display = told.readline().strip()
        env = {**os.environ, "DISPLAY": f":{display}", "QT_QPA_PLATFORM": "xcb", "GROUNDTONE_HOME": str(home)}
        script = Path(__file__).with_name("on_a_display.py")
        done = subprocess.run(
            [sys.executable, str(script)], env=env, capture_output=True, text=True, timeout=300, check=False
        )
        assert done.returncode == 0, done.stderr
        said = json.loads(done.stdout.splitlines()[-1])
    finally:
        server.terminate()
        server.wait(60)
    assert said["platform"] == "xcb"
    assert said["places"] == ["build", "check", "practise", "review", "hand over"]
    assert said["active"]
