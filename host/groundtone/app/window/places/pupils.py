"""Pupils: who has been here, with the last time, what was found, the drill and what was kept; who it is today."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import (
    QCompleter,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import tr
from groundtone.app.window import page_jobs, pupil_jobs
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.places.pupil import Feet, Pupil, walk_in
from groundtone.app.window.places.pupil_rows import about, cells_of, same_one, shown_name
from groundtone.app.window.places.today import Today, stood
from groundtone.app.window.views import Saved
from groundtone.app.window.widgets.parts import ActRow, Elided, Entry, bind, button, label, sheet
from groundtone.app.window.widgets.table import Table
from groundtone.errors import GroundtoneError, sentence_of

if TYPE_CHECKING:
    from groundtone.lesson.pupils import PupilLine


class PupilsPlace(Place):
    """See the module's text."""

    name = "pupils"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.lines: list[PupilLine] = []
        self.shown_lines: list[PupilLine] = []
        self._asked: Any = None
        self.search = QLineEdit()
        self.search.setMaxLength(100)
        self.search.setPlaceholderText(tr("Search, or a new name"))
        self.search.setAccessibleName(tr("search, or a new name"))
        self.count = Elided("", "note")
        heads = ("pupil", "last time", "found", "drill", "kept since")
        self.table = Table(common.look, "pupils", heads, (5, 3.3, 5.6, 3.9, 3.9), high=3.5)
        self.table.chosen = self._row_chosen
        self.title = Elided("", "title")
        self.about_words = label("", "")
        self.today = Today()
        self.question = label("", "head")
        self.answer = Entry("answer")
        self.answer.setMaxLength(100)
        start = button("pupil start", self.start, self)
        self.start_button = start
        quiet = [
            button("back up", self.back_up, self), button("restore", self.restore, self),
            button("walk-in", self.walk_in, self), button("pupil practise", self.at_once, self),
        ]  # fmt: skip
        self.acts = ActRow(quiet, start)
        self._lay_out()
        self.search.textChanged.connect(self._filter)
        self.answer.returnPressed.connect(self._answered)
        bind("search", self.search.setFocus, self)
        self._ask("", "", None)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        left = QVBoxLayout()
        row.addLayout(left, 8)
        top = QHBoxLayout()
        left.addLayout(top)
        top.addWidget(self.search, 3)
        top.addWidget(self.count, 2)
        left.addWidget(sheet(self.table, stretch=0), 1)
        acts = QWidget()
        grid = QGridLayout(acts)
        grid.setContentsMargins(0, 0, 0, 0)
        self.rename_button = button("rename", self.rename, self)
        self.name_button = button("name session", self.name_session, self)
        # A pupil is renamed, a walk-in named: one of the two is there.
        grid.addWidget(self.name_button, 0, 0)
        for i, each in enumerate(
            (
                self.rename_button, button("lessons", self.lessons, self), button("merge", self.merge, self),
                button("erase", self.erase, self),
            )
        ):  # fmt: skip
            grid.addWidget(each, i // 2, i % 2)
        today = label("For today", "head"), self.today
        card = sheet(self.title, self.about_words, *today, acts, self.question, self.answer, stretch=1)
        row.addWidget(card, 4)

    # What is shown

    def entered(self) -> None:
        """See `Place.entered`."""
        if len(self.today.drills) == 1:
            self.common.desk.do(page_jobs.page_options, done=self._options, failed=self._failed)
        self._list()
        self.search.setFocus()

    def _options(self, seen: tuple[tuple[str, ...], tuple[tuple[str, str], ...]]) -> None:
        if len(self.today.drills) == 1:
            self.today.offer(seen[1])

    def _list(self) -> None:
        self.common.desk.do(pupil_jobs.everybody, done=self._listed, failed=self._failed)

    def _listed(self, lines: list[PupilLine]) -> None:
        self.lines = lines
        names = [line.name for line in lines if line.name]
        completer = QCompleter(names, self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setCompletionMode(QCompleter.CompletionMode.InlineCompletion)
        self.answer.setCompleter(completer)
        walk_ins = len(lines) - len(names)
        pupils = "1 pupil" if len(names) == 1 else f"{len(names)} pupils"
        more = f", {walk_ins} without a name" if walk_ins else ""
        self.count.setText(pupils + more)
        self._filter()

    def _filter(self, *_: str) -> None:
        before = self.line
        wanted = " ".join(self.search.text().casefold().split())
        self.shown_lines = [line for line in self.lines if wanted in tr(shown_name(line)).casefold()]
        self.table.show_rows([cells_of(line) for line in self.shown_lines])
        exact = [i for i, line in enumerate(self.shown_lines) if line.name.casefold() == wanted and wanted]
        kept = [i for i, line in enumerate(self.shown_lines) if before is not None and same_one(line, before)]
        here = [i for i, line in enumerate(self.shown_lines) if line.name and line.name == self.common.pupil.name]
        at = [*exact, *(kept if not wanted else []), *(here if not wanted else [])]
        self.table.choose(at[0] if at else 0 if self.shown_lines and wanted else -1)
        self._ask("", "", None)
        self._show_card()

    @property
    def line(self) -> PupilLine | None:
        """The chosen one."""
        at = self.table.currentRow()
        return self.shown_lines[at] if 0 <= at < len(self.shown_lines) else None

    def _row_chosen(self, _: int) -> None:
        self._ask("", "", None)
        self._show_card()

    def _show_card(self) -> None:
        line, typed = self.line, self.search.text().strip()
        if line is None:
            self.title.setText(typed or "Nobody chosen")
            new, nobody = "A new pupil; a code name is enough.", "Choose a pupil, or type a new name."
            self.about_words.setText(new if typed else nobody)
        else:
            self.title.setText(shown_name(line))
            self.about_words.setText("\n".join(about(line)))
        # Whoever was here today goes on as they were; of somebody new nothing is known.
        known = self.common.pupils.get(Pupil(line.name if line is not None else typed).key)
        self.today.show_of(line, known)
        walk = line is not None and not line.name
        self.rename_button.setVisible(not walk)
        self.name_button.setVisible(walk)
        who = shown_name(line) if line is not None and line.name else typed
        self.start_button.setEnabled(bool(who))
        self.start_button.setText(f"Start with {who[:24]}" if who else "Start")
        self.start_button.setAccessibleName(self.start_button.text())
        self.acts.updateGeometry()

    # Who it is today

    def at_once(self) -> None:
        """As `start`, and practises without a check."""
        if self.start():
            self.common.begin()

    def start(self) -> bool:
        """Goes on with the chosen pupil, or with the new one whose name was typed; the check comes next."""
        line, typed = self.line, " ".join(self.search.text().split())
        same = [each for each in self.lines if each.name and each.name.casefold() == typed.casefold()]
        line = same[0] if same else line
        name = line.name if line is not None and line.name else typed
        if not name:
            self.common.say("Choose a pupil, or type a name; a walk-in has none.", True)
            return False
        return self._take(Pupil(name))

    def walk_in(self) -> None:
        """Begins with somebody whom nobody names: with the program's own bands."""
        taken = walk_in(self.common.clock())
        while taken.key in self.common.pupils:
            taken.lesson += "'"
        self._take(taken)

    def _take(self, fresh: Pupil) -> bool:
        before, ran = self.common.pupil, self.common.practising
        pupil, line = self.common.pupils.get(fresh.key, fresh), self.line
        try:
            # What stands in the card is another's where a walk-in begins while somebody is chosen.
            self.today.put_into(pupil, mine=bool(fresh.name) or line is None)
        except GroundtoneError as error:
            self.common.say(sentence_of(error), True)
            return False
        if ran and fresh.key != before.key:
            self.common.worker.stop()
        if pupil.name and pupil.feet != stood(line):
            self._stand(pupil.name, pupil.feet)
        self.common.take(pupil)
        self.search.clear()
        if before.here and before.key != pupil.key:
            self.common.undo.add("the choice of a pupil", partial(self.common.take, before))
        self.common.go("check" if pupil.checked is None else "practise")
        return True

    def _stand(self, name: str, feet: Feet) -> None:
        """Keeps shoe, stance and flare of a pupil; it can be taken back."""
        self.common.desk.do(pupil_jobs.stands, name, feet, done=partial(self._stood, name), failed=self._failed)

    def _stood(self, name: str, before: Feet) -> None:
        again = partial(self.common.desk.do, pupil_jobs.stands, name, before)
        self.common.undo.add(f"shoe and stance of {name}", partial(again, done=lambda _: None, failed=self._failed))

    def lessons(self) -> None:
        """The chosen one's lessons, in Review."""
        line = self.line
        if line is None or not line.paths:
            self.common.say("Nothing of theirs has been recorded yet.", True)
            return
        self.common.look_at(line.paths[-1])

    # What changes the library

    def rename(self) -> None:
        """Gives the chosen pupil another code name."""
        line = self.line
        if line is not None and line.name:
            self._ask(f"Another name for {line.name}:", line.name, partial(self._renamed, line.name))

    def _renamed(self, old: str, new: str) -> None:
        done = partial(self._is_now, old)
        self.common.desk.do(pupil_jobs.renamed, old, new, done=done, failed=self._failed)

    def _is_now(self, old: str, new: str) -> None:
        self._moved(old, new)
        self.common.undo.add(f"another name for {old}", partial(self._renamed, new, old))
        self.common.say(f"{old} is {new} from now on, in all recordings.", False)
        self._list()

    def _moved(self, old: str, new: str) -> None:
        """Whoever is here under the old name is here under the new one."""
        known = self.common.pupils.pop(Pupil(old).key, None)
        if known is not None:
            known.name = new
            kept = self.common.pupils.setdefault(known.key, known)
            if self.common.pupil is known:
                self.common.take(kept)

    def merge(self) -> None:
        """Makes one pupil of two."""
        line = self.line
        if line is not None and line.name:
            words = f"Everything of {line.name} goes to whom? This cannot be undone."
            self._ask(words, "", partial(self._merge, line.name))

    def _merge(self, source: str, into: str) -> None:
        self.common.desk.do(pupil_jobs.merged, source, into, done=partial(self._merged, source), failed=self._failed)

    def _merged(self, source: str, into: str) -> None:
        self._moved(source, into)
        self.common.say(f"{source} is {into} from now on, in all recordings.", False)
        self._list()

    def name_session(self) -> None:
        """Tells whose a walk-in's session is; an empty one can be deleted."""
        line = self.line
        if line is not None and not line.name:
            self._ask(f"Who was {shown_name(line)}?", "", partial(self._name, line.paths))

    def _name(self, paths: tuple[Path, ...], name: str) -> None:
        self.common.desk.do(pupil_jobs.named, paths, name, done=partial(self._named, paths), failed=self._failed)

    def _named(self, paths: tuple[Path, ...], name: str) -> None:
        here = self.common.pupil
        if not here.name and {str(path) for path in paths} & set(here.paths):
            # The walk-in who is here has a name now: their recordings, check and drill go with them.
            self.common.pupils.pop(here.key, None)
            here.name, here.lesson = name, ""
            self.common.take(here)
        self._listed_after(f"The session is {name}'s now.")

    def _listed_after(self, text: str) -> None:
        self.common.say(text, False)
        self._list()

    def erase(self) -> None:
        """Removes a pupil, or an empty session; asks once."""
        line = self.line
        if line is None:
            return
        if not line.name and line.swings:
            self.common.say("There are swings in this recording: name it, then that pupil can be erased.", True)
        elif not line.name:
            done = lambda _: self._listed_after("The empty session is deleted.")  # noqa: E731
            self.common.desk.do(pupil_jobs.deleted, line.paths, done=done, failed=self._failed)
        else:
            words = f"Erase {line.name} with {line.lessons} lessons? There is no way back. Type the name to do it:"
            self._ask(words, "", partial(self._erase, line.name))

    def _erase(self, name: str, typed: str) -> None:
        if typed.casefold() != name.casefold():
            self.common.say("That is another name: nothing was erased.", True)
            return
        self.common.desk.do(pupil_jobs.erased, name, done=partial(self._erased, name), failed=self._failed)

    def _erased(self, name: str, count: int) -> None:
        self.common.pupils.pop(Pupil(name).key, None)
        if self.common.pupil.name == name:
            self.common.take(Pupil())
        many = "1 recording" if count == 1 else f"{count} recordings"
        self.common.say(f"{name} is erased, with {many}.", False)
        self._list()

    def back_up(self) -> None:
        """The whole library into one file."""
        name, _ = QFileDialog.getSaveFileName(self, tr("Back up the library"), "groundtone-library.zip", "ZIP (*.zip)")
        if name:
            done = lambda n: self.common.say(f"{n} files are in {name}.", False)  # noqa: E731
            self.common.desk.do(pupil_jobs.backed_up, Path(name), done=done, failed=self._failed)

    def restore(self) -> None:
        """A backed-up library comes in beside what is here."""
        name, _ = QFileDialog.getOpenFileName(self, tr("Bring a library in"), "", "ZIP (*.zip)")
        if name:
            self.common.desk.do(pupil_jobs.restored, Path(name), done=self._restored, failed=self._failed)

    def _restored(self, counts: tuple[int, int]) -> None:
        self._listed_after(f"{counts[0]} recordings came, {counts[1]} were here already.")

    # One question at a time, in the card

    def _ask(self, question: str, text: str, act: Any) -> None:
        self._asked = act
        self.question.setText(question)
        self.answer.setText(text)
        self.answer.setAccessibleName(tr(question))
        self.question.setVisible(act is not None)
        self.answer.setVisible(act is not None)
        if act is not None:
            self.answer.setFocus()
            self.answer.selectAll()

    def _answered(self) -> None:
        act, text = self._asked, " ".join(self.answer.text().split())
        if act is not None and text:
            self._ask("", "", None)
            self.table.setFocus()
            act(text)

    def _failed(self, text: str) -> None:
        self.common.say(text, True)

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        if isinstance(what, Saved) and what.path and self.isVisible():
            self._list()

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        self.table.renew()
