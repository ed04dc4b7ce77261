"""The window itself: the five places on a rail, the mat's state, one line of words at the foot, and the threads."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from functools import partial
from typing import Any

from PyQt5.QtCore import QSettings, Qt, QThread, QTimer
from PyQt5.QtGui import QCloseEvent, QColor, QPalette, QResizeEvent
from PyQt5.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLayout,
    QMainWindow,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.window import jobs
from groundtone.app.window.desk import Desk
from groundtone.app.window.keys import PLACES, key_of, labelled
from groundtone.app.window.mats import MatChoice
from groundtone.app.window.places.place import Common, Place, StartPlace, UndoList
from groundtone.app.window.theme import DARK, LIGHT, THEMES, Theme, em_of, stylesheet
from groundtone.app.window.views import MatState, Said, Saved
from groundtone.app.window.widgets.parts import KeysDialog, Look, bind, button, label, role
from groundtone.app.window.worker import Worker
from groundtone.files import data_folder

# Where each place lives: imported when it is first shown, so that the window is there at once.
_HOMES = {
    "build": "groundtone.app.window.places.build:BuildPlace",
    "check": "groundtone.app.window.places.check:CheckPlace",
    "practise": "groundtone.app.window.places.practise:PractisePlace",
    "review": "groundtone.app.window.places.review:ReviewPlace",
    "hand over": "groundtone.app.window.places.hand_over:HandOverPlace",
}
_MARKS = {"none": "○", "looking": "◌", "there": "●", "running": "▶", "lost": "✗"}
_STATES = {"none": "no mat", "looking": "looking", "there": "mat is there", "running": "running", "lost": "mat lost"}
_SEED = 1


class Shell(QMainWindow):
    """The coach's window.

    Parameters
    ----------
    choice : MatChoice or None
        The mat that was named on the command line; None: the one that answers.
    first : bool
        Nothing has been recorded yet and no mat was named: the first page tells what to do.
    theme : str
        "light" or "dark"; empty: as it was the last time.
    """

    def __init__(
        self, choice: MatChoice | None = None, *, desk: Desk | None = None, first: bool = False, theme: str = ""
    ) -> None:
        super().__init__()
        # One look on every system; the style sheet does the rest.
        QApplication.setStyle("Fusion")
        self.setWindowTitle("groundtone")
        self.setObjectName("shell")
        self._settings = QSettings(str(_settings_file()), QSettings.Format.IniFormat)
        self.look = Look()
        self.look.theme = THEMES.get(theme or str(self._settings.value("theme", "light")), LIGHT)
        self.worker = Worker(choice or MatChoice())
        self.desk = desk or Desk()
        self.undo = UndoList()
        self.common = Common(self.look, self.worker, self.desk, self.undo, self.say, self.go)
        self.places: dict[str, Place] = {}
        self.shown = ""
        self.state = MatState("none", "")
        self._thread = QThread(self)
        self.worker.moveToThread(self._thread)
        self._thread.started.connect(self.worker.work)
        self.worker.told.connect(self._told)
        self.worker.picture.connect(self._picture)
        self._restyle = QTimer(self)
        self._restyle.setSingleShot(True)
        self._restyle.timeout.connect(self._style)
        self._lay_out()
        # A large text must not keep the window from becoming small again: the text follows.
        layout = self.layout()
        if layout is not None:
            layout.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
        self.setMinimumSize(*_LEAST)
        self._bind()
        self._style()
        self._thread.start()
        if first:
            self._show_first()
        else:
            self.go("build")
        QTimer.singleShot(200, self._warm_up)

    def _lay_out(self) -> None:
        middle = QWidget()
        self.setCentralWidget(middle)
        whole = QVBoxLayout(middle)
        row = QHBoxLayout()
        whole.addLayout(row, 1)
        rail = QVBoxLayout()
        row.addLayout(rail)
        self.rail: dict[str, QPushButton] = {}
        for name in PLACES:
            to = button(f"go {name}", partial(self.go, name))
            to.setCheckable(True)
            role(to, "place")
            self.rail[name] = to
            rail.addWidget(to)
        rail.addStretch(1)
        self.mat_label = label("○  no mat yet", "title")
        self.mat_words = label("", "faint")
        for widget in (self.mat_label, self.mat_words):
            rail.addWidget(widget)
        for name, act in (
            ("find mat", self.find_mat), ("simulate", self.simulate), ("light or dark", self.other_theme),
            ("all keys", self.show_keys),
        ):  # fmt: skip
            rail.addWidget(button(name, act))
        self.stack = QStackedWidget()
        row.addWidget(self.stack, 1)
        foot = QHBoxLayout()
        whole.addLayout(foot)
        self.line = label("", "")
        self.undo_button = button("undo", self.take_back)
        foot.addWidget(self.line, 1)
        foot.addWidget(self.undo_button)
        self._show_undo()

    def _bind(self) -> None:
        acts: dict[str, Callable[[], object]] = {
            **{f"go {name}": partial(self.go, name) for name in PLACES},
            "find mat": self.find_mat,
            "simulate": self.simulate,
            "undo": self.take_back,
            "light or dark": self.other_theme,
            "all keys": self.show_keys,
            "whole screen": self.whole_screen,
            "quit": self.close,
        }
        for name, act in acts.items():
            bind(name, act, self)

    # What a person does

    def go(self, name: str) -> None:
        """Shows a place."""
        if name == self.shown:
            self._mark_rail()
            return
        if self.shown in self.places and not self.places[self.shown].left():
            self._mark_rail()
            return
        place = self.places.get(name) or self._made(name)
        self.shown = name
        self.stack.setCurrentWidget(place)
        self._mark_rail()
        place.entered()

    def find_mat(self) -> None:
        """Takes a real mat from now on, the one that answers."""
        self.worker.choose(MatChoice())
        self.say("A mat on its cable is looked for from now on.", False)
        self.go("build")
        self._watch()

    def simulate(self) -> None:
        """Takes the simulated mat from now on; it is calibrated first, where that has not been done."""
        self.say("The simulated mat is being made ready; that takes a few seconds the first time.", False)
        self.desk.do(jobs.twin_profile, _SEED, done=self._simulated, failed=lambda text: self.say(text, True))

    def _simulated(self, sentence: str) -> None:
        from groundtone.app.window.mats import simulated_choice

        self.worker.choose(simulated_choice(_SEED))
        self.say(sentence or "The simulated mat is ready: an invented golfer stands beside it.", False)
        self._told(MatState("there", "", "simulated mat", simulated=True))
        if self.shown in ("", "start"):
            self.go("build")
            self._watch()

    def _watch(self) -> None:
        build = self.places.get("build")
        if build is not None:
            build.watch()

    def take_back(self) -> None:
        """Takes the last deed back."""
        words = self.undo.undo()
        self.say(f"Taken back: {words}." if words else "There is nothing to take back.", False)

    def other_theme(self) -> None:
        """Light becomes dark and dark light."""
        self.look.theme = DARK if self.look.theme is LIGHT else LIGHT
        self._settings.setValue("theme", self.look.theme.name)
        self._style()

    def show_keys(self) -> None:
        """All keys of this place."""
        KeysDialog(self.shown, self).open()

    def whole_screen(self) -> None:
        """Fills the screen, or no longer."""
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    def say(self, text: str, bad: bool = False) -> None:
        """Writes a sentence at the foot; it stays until the next."""
        self.line.setText(f"!  {text}" if bad and text else text)
        role(self.line, "bad" if bad else "")
        self._show_undo()

    # What comes from beside

    def _told(self, what: Any) -> None:
        if isinstance(what, MatState):
            self.state = what
            mark, words = _MARKS[what.state], _STATES[what.state]
            self.mat_label.setText(f"{mark}  {words}")
            self.mat_words.setText(what.name or what.sentence)
            if what.sentence and what.state != "looking":
                self.say(what.sentence, what.state in ("none", "lost"))
            if what.state == "running":
                for place in self.places.values():
                    place.began(what.mode)
        elif isinstance(what, Said) and not what.about:
            self.say(what.text, what.bad)
        elif isinstance(what, Saved) and what.path:
            # Before the places ask for anything: the desk does things in order.
            self.desk.do(
                jobs.prepared, what.path, done=lambda why: self.say(why, True) if why else None,
                failed=lambda text: self.say(text, True), kept=True,
            )  # fmt: skip
        for place in list(self.places.values()):
            place.told(what)
        self._show_undo()

    def _picture(self, what: Any) -> None:
        if self.shown in self.places:
            self.places[self.shown].picture(what)
        # The next one may come when this one has been drawn, and not sooner than the screen can show it.
        QTimer.singleShot(_FRAME_MS, Qt.TimerType.PreciseTimer, self.worker.courier.taken)

    # Inside

    def _made(self, name: str) -> Place:
        module, kind = _HOMES[name].split(":")
        place: Place = getattr(importlib.import_module(module), kind)(self.common)
        self.places[name] = place
        self.stack.addWidget(place)
        self._space(place)
        return place

    def _show_first(self) -> None:
        first = StartPlace(self.common, self.find_mat, self.simulate)
        self.places["start"] = first
        self.stack.addWidget(first)
        self.stack.setCurrentWidget(first)
        self.shown = "start"

    def _mark_rail(self) -> None:
        for name, to in self.rail.items():
            to.setChecked(name == self.shown)

    def _show_undo(self) -> None:
        words = self.undo.next
        self.undo_button.setEnabled(bool(words))
        self.undo_button.setText(f"{labelled('undo')}: {words}" if words else labelled("undo"))
        self.undo_button.setAccessibleName(f"{key_of('undo').words} {words}")

    def _warm_up(self) -> None:
        self.desk.do(jobs.ready, done=lambda _: None, failed=lambda text: None)
        self.desk.do(jobs.caught_up, done=lambda _: None, failed=lambda text: self.say(text, True))

    def _style(self) -> None:
        self.look.em = em_of(self.width(), self.height())
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.setPalette(_palette(self.look.theme))
        self.setStyleSheet(stylesheet(self.look.theme, self.look.em))
        self._space(self)
        for place in self.places.values():
            place.renew()

    def _space(self, within: QWidget) -> None:
        """Margins and gaps in proportion to the text; a layout without margins keeps none."""
        em = self.look.em
        for layout in within.findChildren(QLayout):
            if not layout.contentsMargins().isNull():
                layout.setContentsMargins(em // 2, em // 2, em // 2, em // 2)
            layout.setSpacing(round(0.4 * em))

    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """See Qt."""
        super().resizeEvent(event)
        if em_of(self.width(), self.height()) != self.look.em:
            self._restyle.start(60)

    def closeEvent(self, event: QCloseEvent | None) -> None:
        """Ends what runs, in order: what was recorded is saved first."""
        self.worker.close()
        self._thread.quit()
        self._thread.wait(15_000)
        # What has just been saved goes to the desk, which puts it into the library before it closes.
        QApplication.processEvents()
        self.hide()
        self.desk.close()
        QApplication.processEvents()
        super().closeEvent(event)


# A sixtieth of a second, less what drawing takes and the next frame of the mat lets wait for.
_FRAME_MS = 10
_LEAST = (960, 540)


def _palette(theme: Theme) -> QPalette:
    """What the style sheet leaves to the system's style: ticks, arrows, carets."""
    palette = QPalette()
    roles = QPalette.ColorRole
    for which, colour in (
        (roles.Window, theme.paper), (roles.WindowText, theme.ink), (roles.Base, theme.paper), (roles.Text, theme.ink),
        (roles.Button, theme.face), (roles.ButtonText, theme.ink), (roles.Highlight, theme.inside),
        (roles.HighlightedText, theme.paper), (roles.PlaceholderText, theme.faint),
    ):  # fmt: skip
        palette.setColor(which, QColor(colour))
    return palette


def _settings_file() -> Any:

    return data_folder() / "window.ini"
