"""Two pupils, one walk-in and a return next month from the window alone, by keys, on the simulated mat."""

import datetime
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from groundtone.cue.personal import read_personal
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.twin.scenario import Check, GolferSpec, Session, SwingSpec

GOLFER = GolferSpec(mass_kg=78.4)
NOVEMBER, JANUARY = datetime.datetime(2026, 11, 30, 14, 0), datetime.datetime(2027, 1, 4, 9, 30)


def session(*styles, seed=3):
    return Session(GOLFER, tuple(SwingSpec(style) for style in styles), seed=seed)


class Desk:
    """The coach at the window: keys alone, and what must be seen after each."""

    def __init__(self, shell, twin, press, qtbot, now):
        self.shell, self.twin, self.qtbot, self.now = shell, twin, qtbot, now
        self._press, self.actions = press, 0

    def press(self, shell, key):
        """One action."""
        self.actions += 1
        self._press(shell, key)

    def choose(self, name):
        self.press(self.shell, "F6")
        self.actions += 1
        self.qtbot.keyClicks(self.shell.places["pupils"].search, name)
        self.press(self.shell, "Return")
        self.seen(name)

    def walk_in(self):
        self.press(self.shell, "F6")
        self.press(self.shell, "Alt+W")
        self.seen("Walk-in")

    def seen(self, name):
        """Nobody's verdict, page or swings but those of who is here."""
        assert self.shell.shown == "check"
        assert self.shell.strip.who.text().casefold().startswith(name.casefold())
        assert "not checked for" in self.shell.strip.rests_on.text()
        assert self.shell.places["check"].call.word == "not checked"

    def check(self):
        self.press(self.shell, "Space")
        self.qtbot.waitUntil(lambda: self.shell.common.pupil.checked is not None)
        assert self.shell.strip.verdict.text() == f"Mat ready for {self.shell.common.pupil.called}"
        self.press(self.shell, "Space")
        assert self.shell.shown == "practise"

    def hit(self, *blocks, styles=()):
        """Blocks of so many swings, each after the one before; `told` are the keys after each swing."""
        self.shell.worker.choose(self.twin({"check": Check(GOLFER, seed=7), "practise": session(*styles)}))
        place = self.shell.places["practise"]
        self.press(self.shell, "Space")
        seen = 0
        for key, told in blocks:
            if seen:
                self.press(self.shell, key)
            for keys in told:
                seen += 1
                self.qtbot.waitUntil(lambda seen=seen: len(place.rows) == seen)
                for each in keys:
                    self._press(self.shell, each)
        self.qtbot.waitUntil(lambda: self.shell.line.text().startswith("Saved."))
        self.qtbot.waitUntil(lambda: self.shell.desk.waiting == 0)


def test_two_pupils_a_walk_in_and_a_return_next_month(window, twin, profile, press, qtbot, home):
    now = [NOVEMBER]
    shell = window(twin({"check": Check(GOLFER, seed=7)}), clock=lambda: now[0])
    desk = Desk(shell, twin, press, qtbot, now)
    # A pupil: a baseline over the toes, a test without.
    desk.choose("Ann <1>")
    desk.check()
    blocks = ("B", ["6C", "6", "5C", "6C"]), ("D", ["5C"]), ("E", ["5C", "5C", "5C", "5C"])
    desk.hit(*blocks, styles=("toe_drift",) * 4 + ("good",) * 5)
    assert "baseline: 4 swings; 4 of 4 outside, in silence" in shell.line.text()
    assert "test: 4 swings; 0 of 4 outside, in silence" in shell.line.text()
    desk.press(shell, "F4")
    review = shell.places["review"]
    qtbot.waitUntil(lambda: len(review.lanes) == 9)
    headings = [review.swings.shown(row) for row in (0, 5, 7)]
    assert headings == ["Test: 0 of 4 outside", "Drill: 0 of 1 outside", "Baseline: 4 of 4 outside"]
    desk.press(shell, "P")
    qtbot.waitUntil(lambda: review.title.text().startswith("The pair"))
    assert read_personal("Ann <1>").own == {}
    desk.press(shell, "Return")
    qtbot.waitUntil(lambda: "instead of" in shell.line.text())
    assert {one.source for one in read_personal("Ann <1>").own.values()} == {"coach"}
    desk.press(shell, "F5")
    hand_over = shell.places["hand over"]
    qtbot.waitUntil(lambda: not hand_over.sheets[0].empty)
    assert "Ann <1>" in hand_over.title.text()
    desk.press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    # A lesson of three blocks, from the pupil's name to the saved page; ending it takes one more.
    assert desk.actions == 13
    page = next(Path(file) for file in hand_over.saved if file.endswith(".html")).read_text("utf-8")
    assert "Ann &lt;1&gt;" in page
    assert "In 4 of 4 swings your pressure ran to the toes in the downswing." in page
    assert "Outside in 4 of 4 swings before, 0 of 4 after." in page
    # A walk-in, who is named afterwards; nothing of Ann's is here.
    desk.walk_in()
    assert shell.common.pupil.bands is None
    desk.check()
    desk.hit(("B", ["5C"]), styles=("good",))
    press(shell, "F5")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0 and "nobody named" in hand_over.title.text())
    press(shell, "F6")
    pupils = shell.places["pupils"]
    qtbot.waitUntil(lambda: any(not line.name for line in pupils.lines) and shell.desk.waiting == 0)
    pupils.table.choose(next(i for i, line in enumerate(pupils.shown_lines) if not line.name))
    pupils._show_card()
    press(shell, "Alt+N")
    pupils.answer.setText("Bo")
    press(shell, "Return")
    qtbot.waitUntil(lambda: [line.name for line in pupils.lines if line.name == "Bo"] == ["Bo"])
    # Ann again, five weeks later: the fault is back.
    now[0] = JANUARY
    shell.common.pupils.clear()
    desk.choose("ann <1>")
    assert shell.common.pupil.name == "Ann <1>"
    desk.check()
    desk.hit(("B", ["6C", "6C", "6C", "5C"]), styles=("toe_drift",) * 4)
    press(shell, "F4")
    qtbot.waitUntil(lambda: len(review.lanes) == 4)
    press(shell, "G")
    progress = review.progress_pane
    qtbot.waitUntil(lambda: progress.chart.points == 3)
    assert progress.which.itemText(0) == "toes in the downswing, swings outside"
    assert progress.title.text() == "Counted again 35 days later:"
    words = "0 of 4 outside when the lesson before ended, 4 of 4 when this one began."
    assert progress.words.text() == words
    assert progress.chart.accessibleDescription().startswith("30 Nov 2026: baseline 4 of 4, test 0 of 4; 4 Jan 2027")
    press(shell, "F6")
    qtbot.waitUntil(lambda: any("0 of 4, now 4 of 4" in line.kept for line in pupils.lines))
    with Library(home) as library:
        kept = {k.golfer.name: (k.lessons, k.swings) for k in library.golfers() if k.swings}
    assert kept == {"Ann <1>": (2, 13), "Bo": (1, 1)}
    for path in (home / "recordings").glob("*.mcap"):
        assert open_recording(path).lost == []


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
