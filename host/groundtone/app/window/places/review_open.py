"""Which session Review shows: those of the pupil who is here first, files from elsewhere, notes, empty ones deleted."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt5.QtWidgets import QFileDialog

from groundtone.app.language import tr
from groundtone.app.window import jobs, pupil_jobs
from groundtone.app.window.jobs import day_words
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.widgets.lists import Choice
from groundtone.app.window.widgets.parts import Entry
from groundtone.cue.personal import called_faults
from groundtone.lesson.outside import title_of

if TYPE_CHECKING:
    from groundtone.review.library_reader import SessionLine
    from groundtone.review.swings import RecordedSession, SwingRow


class OpenSession(Place):
    """A place with one session open, or none."""

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.view: RecordedSession | None = None
        self._lines: list[SessionLine] = []
        self._opening = self._wanted = 0
        self._path: Path | None = None
        self.sessions = Choice()
        self.sessions.setAccessibleName(tr("session"))
        self.sessions.activated.connect(self._chosen)
        self.note = Entry("note")
        self.note.setPlaceholderText(tr("Note"))
        self.note.returnPressed.connect(self._write_note)

    def entered(self) -> None:
        """See `Place.entered`."""
        self.setFocus()
        self._list()

    def pupil_changed(self) -> None:
        """See `Place.pupil_changed`: a session of somebody else is open no more."""
        if self._wanted:
            # What is on its way was asked for beside the pupil before.
            self._opening, self._wanted = self._opening + 1, 0
            self._clear("No session is open")
        elif self.view is not None and not self._of_who_is_here(self.view.golfer, self.view.path):
            self._clear("No session is open")
        if self.isVisible():
            self._list()

    def _of_who_is_here(self, golfer: str, path: Path) -> bool:
        pupil = self.common.pupil
        return not pupil.here or (golfer == pupil.name if pupil.name else str(path) in pupil.paths)

    def _list(self) -> None:
        self.common.desk.do(jobs.session_list, done=self._listed, failed=self._failed)

    def _listed(self, lines: list[SessionLine]) -> None:
        here = [line for line in lines if self._of_who_is_here(line.golfer, line.path)]
        self._lines = [*here, *(line for line in lines if line not in here)]
        self.sessions.clear()
        for line in self._lines:
            who = line.golfer or "nobody named"
            mark = " (simulated)" if line.simulated else ""
            swings = "1 swing" if line.swings == 1 else f"{line.swings} swings"
            self.sessions.addItem(tr(f"{day_words(line.started)}, {line.started[11:16]}  {who}, {swings}{mark}"))
        self._mark()
        if here and self.view is None and not self._wanted:
            self.open_path(here[0].path)
        elif self.view is None and not self._wanted:
            who = self.common.pupil.called
            if lines:
                self._clear(f"Nothing of {who} has been recorded yet", ("Practise records a session.", False))
            else:
                self._clear("Nothing has been recorded yet", ("Practise records a session; it is here then.", False))

    def _mark(self) -> None:
        """The list names the session that is open or on its way, and no other."""
        paths = [line.path for line in self._lines]
        now = self.view.path if self.view is not None else self._path if self._wanted else None
        self.sessions.setCurrentIndex(paths.index(now) if now in paths else -1)

    def _chosen(self, index: int) -> None:
        if 0 <= index < len(self._lines):
            self.open_path(self._lines[index].path)
        self.setFocus()

    def ask_file(self) -> None:
        """A recording from elsewhere."""
        name, _ = QFileDialog.getOpenFileName(self, tr("Open a recording"), "", tr("Recordings (*.mcap)"))
        if name:
            self.open_path(Path(name))

    def open_path(self, path: Path) -> None:
        """Opens a session."""
        self._clear("The session is being opened.")
        self._opening += 1
        self._wanted = number = self._opening
        self._path = path
        self._mark()
        self.common.desk.do(
            jobs.opened_session, path, done=partial(self._opened, number), failed=partial(self._not_opened, number)
        )

    def _clear(self, title: str, *sentences: tuple[str, bool]) -> None:
        """Nothing of the session before stays on the screen while another one opens, or cannot be opened."""
        raise NotImplementedError

    def _opened(self, number: int, view: RecordedSession) -> None:
        """It is open now, unless another one has been asked for since."""
        raise NotImplementedError

    def _not_opened(self, number: int, text: str) -> None:
        if number == self._opening:
            self._wanted = 0
            self._clear("This recording cannot be opened", (text, True))
            self.common.say(text, True)

    def _failed(self, text: str) -> None:
        self.common.say(text, True)

    @property
    def swing(self) -> SwingRow | None:
        """The chosen one."""
        raise NotImplementedError

    def call_described(self) -> None:
        """The chosen swing's first described finding is a fault of this pupil now, or no longer."""
        swing, called = self.swing, called_faults(self.view.golfer if self.view is not None else "")
        codes = [f.code for f in (swing.faults if swing is not None else ()) if not f.concern or f.code in called]
        self.call_fault(codes[0] if codes else "")

    def call_fault(self, code: str) -> None:
        """Calls what is only described a fault for this pupil, or no longer; it can be taken back."""
        view = self.view
        if view is None or not view.golfer or not code:
            self.common.say("There is no described finding of a named pupil here.", True)
            return
        self.common.desk.do(
            jobs.call_fault, view.path, view.golfer, code, done=partial(self._called, view.path, view.golfer, code),
            failed=self._failed,
        )  # fmt: skip

    def _called(self, path: Path, golfer: str, code: str, now: bool) -> None:
        again = partial(self.common.desk.do, jobs.call_fault, path, golfer, code)
        back = partial(again, done=partial(self._called, path, golfer, code), failed=self._failed)
        self.common.undo.add(f"{title_of(code)} called a fault" if now else f"{title_of(code)} no fault", back)
        self.open_path(path)
        self.common.say(f"{title_of(code)}: {'a fault' if now else 'described only'} for {golfer} from now on.", False)

    def delete_empty(self) -> None:
        """Removes the session that is open, where there is no swing in it."""
        view = self.view
        if view is None or view.swings:
            self.common.say("Only a session without a swing is deleted here.", True)
            return
        self._clear("The empty session is deleted")
        self.common.desk.do(pupil_jobs.deleted, (view.path,), done=lambda _: self._list(), failed=self._failed)

    def _write_note(self) -> None:
        text = self.note.text().strip()
        if self.view is None or not text:
            return
        self.common.desk.do(jobs.noted, self.view.path, text, done=self._noted, failed=self._failed)

    def _noted(self, notes: tuple[str, ...]) -> None:
        self.note.clear()
        self.setFocus()
        self.common.say(f"Noted: {notes[-1]}", False)
