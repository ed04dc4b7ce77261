"""The window on the offscreen platform, with the simulated mat faster than time and long work in a thread."""

import os
import shutil
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.append(str(Path(__file__).parent))

import pytest
from odd_names import PUPIL
from patience import PATIENCE_S
from PyQt5.QtCore import Qt
from PyQt5.QtGui import QKeySequence
from PyQt5.QtWidgets import QApplication, QPushButton

from groundtone.app.language import SPOKEN
from groundtone.app.twin import TwinChoice, mat_of
from groundtone.app.window.desk import Desk
from groundtone.app.window.mats import MatChoice
from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.shell import Shell
from groundtone.app.window.views import MatState
from groundtone.calibration.own_profile import profile_path
from groundtone.tone.output import OfflinePlayer
from studies.invented_lesson import record

# The mat whose profile is the example of calibration/.
SEED, LAYOUT = 7, "starter-10x3"


@pytest.fixture
def qtbot(qtbot, monkeypatch):
    """Waits as long as a busy machine may need."""
    wait = qtbot.waitUntil
    monkeypatch.setattr(qtbot, "waitUntil", lambda condition: wait(condition, timeout=round(1000 * PATIENCE_S)))
    return qtbot


@pytest.fixture
def home(tmp_path, monkeypatch):
    """An empty data folder."""
    folder = tmp_path / "home"
    monkeypatch.setenv("GROUNDTONE_HOME", str(folder))
    return folder


class Unheard(OfflinePlayer):
    """A player that makes no samples: what sounds is other tests' matter."""

    def advance(self, seconds):
        pass


@pytest.fixture(autouse=True)
def fewer_frames(monkeypatch):
    """A quarter of the frames of a real session, and no samples of sound: a third of the time."""
    monkeypatch.setattr("groundtone.app.window.modes.practise.Practise.rate_hz", 50)
    monkeypatch.setattr("groundtone.app.tones.sounding.OfflinePlayer", Unheard)


@pytest.fixture
def profile(home, request):
    """The mat's calibration at its place."""
    return put_profile(request.config.rootpath)


def put_profile(root):
    path = profile_path(mat_of(SEED, LAYOUT).uid)
    path.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy(Path(root) / "calibration" / "example" / "mat.json", path)
    return path


@pytest.fixture(scope="session")
def lesson_folder(tmp_path_factory, request):
    """A data folder with one lesson of an invented pupil, recorded once."""
    folder = tmp_path_factory.mktemp("lesson-home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GROUNDTONE_HOME", str(folder))
        patch.setattr("studies.invented_lesson.OfflinePlayer", Unheard)
        put_profile(request.config.rootpath)
        record(PUPIL)
    return folder


@pytest.fixture
def lesson_home(lesson_folder, home):
    """A copy of it that a test may change."""
    shutil.copytree(lesson_folder, home, dirs_exist_ok=True)
    return home


@pytest.fixture
def twin():
    """A choice of the simulated mat: twin(watch=act, check=act, **what is different about the mat)."""

    def make(acts=None, *, fast=True, **changed):
        return MatChoice(twin=TwinChoice(replace(mat_of(SEED, LAYOUT), **changed), None, fast), acts=acts or {})

    return make


@pytest.fixture
def window(qtbot, home):
    """Opens windows: window(choice, first=…) -> Shell; closed with the test's end."""
    open_ones = []
    executor = ThreadPoolExecutor(1)

    def make(choice=None, **options):
        shell = Shell(choice, desk=Desk(executor), **options)
        shell.resize(1280, 720)
        shell.show()
        # Keys go to the active window only; offscreen nobody but the program makes one active.
        QApplication.setActiveWindow(shell)
        open_ones.append(shell)
        return shell

    yield make
    for shell in open_ones:
        shell.close()
    executor.shutdown()
    SPOKEN.choose("en")


@pytest.fixture
def press(qtbot):
    """Presses a key in a window, as a person does: press(shell, "Ctrl+L")."""

    def do(shell, key):
        code = QKeySequence(key)[0]
        modifiers = code & 0xFE000000
        target = QApplication.focusWidget() or shell
        qtbot.keyClick(target, Qt.Key(code & ~0xFE000000), Qt.KeyboardModifiers(modifiers))

    return do


@pytest.fixture
def click(qtbot):
    """Clicks the button of an action: click(widget, "watch")."""

    def do(widget, name):
        # What can be done in a place lies in the window's foot.
        (button,) = [each for each in widget.window().findChildren(QPushButton, name) if each.isVisible()]
        assert button.isVisible()
        assert button.isEnabled()
        qtbot.mouseClick(button, Qt.LeftButton)

    return do


@pytest.fixture
def shell_in(window, twin, lesson_home):
    """Opens the window in a language, with the pupil of the lesson."""

    def make(language):
        shell = window(twin(), language=language)
        shell.common.take(Pupil(PUPIL, "right", "7 iron", "turf"))
        shell._told(MatState("there", "", "simulated mat", simulated=True))
        return shell

    return make


@pytest.fixture
def review_place(window, twin, lesson_home, qtbot):
    shell = window(twin())
    shell.common.take(Pupil(PUPIL))
    shell.go("review")
    place = shell.places["review"]
    qtbot.waitUntil(lambda: len(place.lanes) == 4)
    return shell, place
