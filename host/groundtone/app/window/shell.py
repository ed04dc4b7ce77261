"""The window itself: strip above, places on a rail, one line of words and what can be done below, and the threads."""

from __future__ import annotations

import datetime
import importlib
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from PyQt5.QtCore import QSettings, QSize, Qt, QThread, QTimer
from PyQt5.QtGui import QCloseEvent, QResizeEvent
from PyQt5.QtWidgets import (
    QApplication,
    QGridLayout,
    QLayout,
    QMainWindow,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import ENGLISH, SPOKEN, known
from groundtone.app.window import jobs
from groundtone.app.window.desk import Desk
from groundtone.app.window.keys import PLACES
from groundtone.app.window.mats import MatChoice
from groundtone.app.window.places.homes import made
from groundtone.app.window.places.place import Common, Place, StartPlace, UndoList
from groundtone.app.window.places.pupil import Checked
from groundtone.app.window.theme import DARK, LIGHT, THEMES, call_of, em_of, stylesheet
from groundtone.app.window.views import Ended, MatState, PractiseView, Said, Saved, Verdict
from groundtone.app.window.widgets.dress import load_fonts, palette_of, spaced
from groundtone.app.window.widgets.foot import Foot
from groundtone.app.window.widgets.lists import KeysDialog
from groundtone.app.window.widgets.parts import LOOK, bind, button, role
from groundtone.app.window.widgets.strip import Strip
from groundtone.app.window.worker import Worker
from groundtone.files import data_folder

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
    language : str
        Its code; empty: as it was the last time.
    place : str
        Shown first; empty: the pupils.
    clock : callable
        What the time is, on the wall.
    """

    def __init__(
        self,
        choice: MatChoice | None = None,
        *,
        desk: Desk | None = None,
        first: bool = False,
        theme: str = "",
        language: str = "",
        place: str = "",
        clock: Callable[[], datetime.datetime] = datetime.datetime.now,
    ) -> None:
        super().__init__()
        # One look on every system; the style sheet does the rest.
        QApplication.setStyle("Fusion")
        self.setWindowTitle("groundtone")
        self.setObjectName("shell")
        self._settings = QSettings(str(data_folder() / "window.ini"), QSettings.Format.IniFormat)
        SPOKEN.choose(language or known(str(self._settings.value("language", ENGLISH))))
        self.again = False
        load_fonts()
        self.look = LOOK
        self.look.theme = THEMES.get(theme or str(self._settings.value("theme", "light")), LIGHT)
        self.worker = Worker(choice or MatChoice())
        self.desk = desk or Desk()
        self.undo = UndoList()
        self.common = Common(self.look, self.worker, self.desk, self.undo, self.say, self.go, clock=clock)
        self.common.changed, self.common.look_at = self._pupil_changed, self._look_at
        self.common.find, self.common.simulate, self.common.begin = self.find_mat, self.simulate, self._begin
        self._block: PractiseView | None = None
        self._whom_checked = self.common.pupil
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
        size = self._settings.value("size")
        self.resize(size if isinstance(size, QSize) and size.width() >= _LEAST[0] else QSize(1280, 720))
        if first:
            self._show_first()
        else:
            self.go(place or "pupils")
        QTimer.singleShot(200, self._warm_up)

    def _lay_out(self) -> None:
        middle = QWidget()
        self.setCentralWidget(middle)
        whole = QGridLayout(middle)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        self.rail_box = QWidget()
        rail = QVBoxLayout(self.rail_box)
        rail.setContentsMargins(0, 0, 0, 0)
        self.rail: dict[str, QPushButton] = {}
        for name in PLACES:
            to = button(f"go {name}", partial(self.go, name), below=True)
            to.setCheckable(True)
            role(to, "place")
            self.rail[name] = to
            rail.addWidget(to)
        rail.addStretch(1)
        below = {"all keys": self.show_keys, "light or dark": self.other_theme, "language": self.other_language}
        for name, act in below.items():
            to = button(name, act, below=True)
            role(to, "place")
            rail.addWidget(to)
        self.strip = Strip(partial(self.go, "pupils"), self.common.clock)
        self.stack = QStackedWidget()
        self.foot = Foot(self.take_back)
        self.line, self.undo_button = self.foot.line, self.foot.undo
        whole.addWidget(self.rail_box, 0, 0, 3, 1)
        whole.addWidget(self.strip, 0, 1)
        whole.addWidget(self.stack, 1, 1)
        whole.addWidget(self.foot, 2, 1)
        whole.setRowStretch(1, 1)
        whole.setColumnStretch(1, 1)
        self._show_undo()
        self._show_strip()

    def _bind(self) -> None:
        acts: dict[str, Callable[[], object]] = {
            **{f"go {name}": partial(self.go, name) for name in ("pupils", *PLACES)},
            "find mat": self.find_mat,
            "simulate": self.simulate,
            "undo": self.take_back,
            "light or dark": self.other_theme,
            "language": self.other_language,
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
        self._settings.setValue("place", name)
        self.say("", False)
        self.stack.setCurrentWidget(place)
        self.foot.acts.setCurrentWidget(place.acts)
        self._fit_foot()
        self._mark_rail()
        place.entered()

    def find_mat(self) -> None:
        """Takes a real mat from now on, the one that answers."""
        self.worker.choose(MatChoice())
        self.go("build")
        self.say("A mat on its cable is looked for from now on.", False)
        self._watch()

    def simulate(self) -> None:
        """Takes the simulated mat from now on; it is calibrated first, where that has not been done."""
        self.say("The simulated mat is being made ready; that takes a few seconds the first time.", False)
        self.desk.do(jobs.twin_profile, _SEED, done=self._simulated, failed=lambda text: self.say(text, True))

    def _simulated(self, sentence: str) -> None:
        from groundtone.app.window.mats import simulated_choice

        self.worker.choose(simulated_choice(_SEED))
        self._told(MatState("there", "", "simulated mat", simulated=True))
        if self.shown in ("", "start"):
            self.go("build")
            self._watch()
        self.say(sentence or "The simulated mat is ready: an invented golfer stands beside it.", False)

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

    def other_language(self) -> None:
        """The next language: the window is made anew in it, with whoever is here and the same mat."""
        if self.state.state == "running":
            self.say("The window is made anew for another language: end first what runs.", True)
            return
        self._settings.setValue("language", SPOKEN.next)
        self.again = True
        self.close()

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
        self.foot.say(text, bad=bad)
        self._show_undo()

    # What comes from beside

    def _told(self, what: Any) -> None:
        if isinstance(what, MatState):
            self.state = what
            if what.sentence and what.state != "looking":
                self.say(what.sentence, what.state in ("none", "lost"))
            if what.state == "running":
                self._whom_checked, self._block = self.common.pupil, None
                for place in self.places.values():
                    place.began(what.mode)
        elif isinstance(what, Said) and not what.about:
            self.say(what.text, what.bad)
        elif isinstance(what, Verdict) and what.value < 3:
            self._whom_checked.checked = Checked(what.words, what.value, self.common.clock())
        elif isinstance(what, Ended):
            self._block = None
        elif isinstance(what, Saved) and what.path:
            # Before the places ask for anything: the desk does things in order.
            job = jobs.prepared if what.swings else jobs.discarded
            self.desk.do(
                job, what.path, done=lambda why: self.say(why, True) if why else None,
                failed=lambda text: self.say(text, True), kept=True,
            )  # fmt: skip
        for place in list(self.places.values()):
            place.told(what)
        self._show_undo()
        self._show_strip()

    def _pupil_changed(self) -> None:
        """Another pupil, or something else of the same one."""
        for place in self.places.values():
            place.pupil_changed()
        self._show_strip()

    def _look_at(self, path: Path) -> None:
        self.go("review")
        review = self.places["review"]
        assert isinstance(review, importlib.import_module("groundtone.app.window.places.review").ReviewPlace)
        review.open_path(path)

    def _begin(self) -> None:
        self.go("practise")
        self.places["practise"].begin_next()

    def _show_strip(self) -> None:
        pupil, block = self.common.pupil, self._block
        running = block is not None and self.common.practising
        words = block.block_words if block is not None and running else ""
        found = block.outside if block is not None and running else None
        swings = block.block_swings if block is not None and running else 0
        self.strip.show_all(pupil, words, found, swings, pupil.checked, self.state)

    def _picture(self, what: Any) -> None:
        if isinstance(what, PractiseView):
            before, self._block = self._block, what
            if before is None or (before.block_swings, before.block_words) != (what.block_swings, what.block_words):
                self._show_strip()
        if self.shown in self.places:
            self.places[self.shown].picture(what)
        # The next one may come when this one has been drawn, and not sooner than the screen can show it.
        QTimer.singleShot(_FRAME_MS, Qt.TimerType.PreciseTimer, self.worker.courier.taken)

    # Inside

    def _made(self, name: str) -> Place:
        place = made(name, self.common)
        self.places[name] = place
        self.stack.addWidget(place)
        self.foot.acts.addWidget(place.acts)
        self._space(place)
        place.renew()
        return place

    def _show_first(self) -> None:
        first = StartPlace(self.common, self.find_mat, self.simulate)
        self.places["start"] = first
        self.stack.addWidget(first)
        self.foot.acts.addWidget(first.acts)
        self.stack.setCurrentWidget(first)
        self.foot.acts.setCurrentWidget(first.acts)
        self.shown = "start"

    def _mark_rail(self) -> None:
        for name, to in self.rail.items():
            to.setChecked(name == self.shown)
        self.strip.who.setChecked(self.shown == "pupils")

    def _show_undo(self) -> None:
        self.foot.show_undo(self.undo.next)
        self._fit_foot()

    def _fit_foot(self) -> None:
        if self.shown in self.places:
            self.foot.fit(self.width() - 7 * self.look.em)

    def _warm_up(self) -> None:
        self.desk.do(jobs.ready, done=lambda _: None, failed=lambda text: None)
        self.desk.do(jobs.caught_up, done=lambda _: None, failed=lambda text: self.say(text, True))

    def _space(self, within: QWidget) -> None:
        spaced(within, self.strip, self.centralWidget(), self.look.em // 2)
        self.foot.space(self.look.em // 2)

    def _style(self) -> None:
        self.look.em, self.look.call = em_of(self.width(), self.height()), call_of(self.width(), self.height())
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.setPalette(palette_of(self.look.theme))
        em = self.look.em
        self.setStyleSheet(stylesheet(self.look.theme, em, self.look.call))
        self._space(self)
        self.rail_box.setFixedWidth(7 * em)
        self.strip.setFixedHeight(round(3.5 * em))
        self.foot.setFixedHeight(round(3.5 * em))
        for place in self.places.values():
            place.renew()
        self._fit_foot()

    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """See Qt."""
        super().resizeEvent(event)
        size = self.width(), self.height()
        if (em_of(*size), call_of(*size)) != (self.look.em, self.look.call):
            self._restyle.start(60)
        self._fit_foot()

    def closeEvent(self, event: QCloseEvent | None) -> None:
        """Ends what runs, in order: what was recorded is saved first."""
        if not self.isFullScreen():
            self._settings.setValue("size", self.size())
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
