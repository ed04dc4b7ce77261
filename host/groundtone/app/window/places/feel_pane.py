"""A pane of Review: what a pupil feels and does on purpose, where good strikes come from, and the plan."""

from __future__ import annotations

import secrets
from functools import partial
from typing import TYPE_CHECKING

from PyQt5.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from groundtone.app.language import tr
from groundtone.app.window import feel_jobs as jobs
from groundtone.app.window.places.place import Common
from groundtone.app.window.widgets.lists import Sentences
from groundtone.app.window.widgets.parts import button, label, sheet
from groundtone.app.window.widgets.table import Cell, Table
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.feel.plan import Plan
from groundtone.lesson.sentences import Given

if TYPE_CHECKING:
    from groundtone.cue.personal import Limits

_BALLS = 40


class FeelPane(QWidget):
    """Looking writes nothing here either; a band and a plan are set by acts of their own, which can be taken back."""

    def __init__(self, common: Common, home: QWidget) -> None:
        super().__init__()
        self._common = common
        self._golfer = ""
        self._seen: jobs.FeelSeen | None = None
        self.lines, self.model = Sentences(), Sentences()
        self.set_button = button("set proposed", self.set_proposed, home)
        self.set_button.setEnabled(False)
        self.plan_words = label("", "")
        heads = ("balls", "club", "what", "tone")
        self.balls = Table(common.look, "balls of the plan", heads, (1.4, 2.4, 4.2, 1.4))
        self.clubs = QLineEdit()
        self.clubs.setMaxLength(120)
        self.clubs.setPlaceholderText(tr("clubs, commas between"))
        self.clubs.setAccessibleName(tr("clubs of a new plan, commas between"))
        self.new_button = button("new plan", self.new_plan, home)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        left = QVBoxLayout()
        row.addLayout(left, 7)
        left.addWidget(sheet(label("Felt, and done on purpose", "head"), self.lines, stretch=1), 5)
        left.addWidget(
            sheet(label("Where the good strikes come from", "head"), self.model, self.set_button, stretch=1), 5
        )
        row.addWidget(
            sheet(label("The plan", "head"), self.plan_words, self.balls, self.clubs, self.new_button, stretch=2), 5
        )

    def show_golfer(self, golfer: str) -> None:
        """Another pupil's session is open."""
        self._golfer, self._seen = golfer, None
        self.clubs.clear()
        self._show()

    def ask(self) -> None:
        """Asks for what is known of the pupil."""
        if not self._golfer:
            self.lines.show_all((("Nobody is named in this recording: feel and plan belong to a pupil.", False),))
            return
        day = self._common.clock().date().isoformat()
        done = partial(self._came, self._golfer)
        self._common.desk.do(jobs.feel_of, self._golfer, day, done=done, failed=self._failed)

    def _came(self, golfer: str, seen: jobs.FeelSeen) -> None:
        if golfer == self._golfer:
            self._seen = seen
            self._show()

    def _show(self) -> None:
        seen = self._seen
        self.lines.show_all([(text, False) for text in seen.lines] if seen is not None else [])
        model = seen.model if seen is not None else ()
        nothing = ("No strike of theirs was told yet.",) if seen is not None else ()
        self.model.show_all([(text, False) for text in model or nothing])
        self.set_button.setEnabled(seen is not None and seen.proposed)
        self.plan_words.setText(seen.plan if seen is not None else "")
        rows = seen.balls if seen is not None else ()
        self.balls.show_rows([(Cell(n), Cell(Given(club)), Cell(what), Cell(tone)) for n, club, what, tone in rows])
        if seen is not None and not self.clubs.text():
            self.clubs.setText(self._common.pupil.club)

    def _mine(self) -> bool:
        """The session is of the pupil who is here, and nothing runs; else it says why nothing is changed."""
        common = self._common
        if not self._golfer or self._golfer != common.pupil.name:
            who = self._golfer or "a walk-in"
            common.say(f"This is a session of {who}: choose that pupil first, nothing was changed.", True)
        elif common.practising:
            common.say("A practice runs: end it first, then this can be changed.", True)
        else:
            return True
        return False

    def set_proposed(self) -> None:
        """Puts the proposed band in force."""
        if self._mine():
            done = partial(self._set, self._golfer)
            self._common.desk.do(jobs.proposed_set, self._golfer, done=done, failed=self._failed)

    def _set(self, golfer: str, what: tuple[Limits, list[str]]) -> None:
        self._common.undo.add("the proposed band", partial(self._put_back, golfer, what[0]))
        self._common.say(f"{' '.join(what[1])} Undo puts it back.", False)

    def _put_back(self, golfer: str, limits: Limits) -> None:
        self._common.desk.do(jobs.exchanged, golfer, limits, done=lambda _: None, failed=self._failed)

    def new_plan(self) -> None:
        """Makes a plan from today on, in place of the one there is."""
        if not self._mine():
            return
        pupil, day = self._common.pupil, self._common.clock().date().isoformat()
        clubs = tuple(dict.fromkeys(" ".join(club.split()) for club in self.clubs.text().split(",") if club.strip()))
        drawn = secrets.randbelow(2**31)
        try:
            plan = Plan(self._golfer, clubs or ("7 iron",), pupil.drill, _BALLS, drawn, made=day, seen=day)
        except GroundtoneError as error:
            self._common.say(sentence_of(error), True)
            return
        self._keep(self._golfer, plan)

    def _keep(self, golfer: str, plan: Plan | None) -> None:
        done = partial(self._kept, golfer, plan)
        self._common.desk.do(jobs.planned, golfer, plan, done=done, failed=self._failed)

    def _kept(self, golfer: str, plan: Plan | None, before: Plan | None) -> None:
        self._common.undo.add("the plan", partial(self._keep, golfer, before))
        done = f"A plan of {_BALLS} balls begins" if plan is not None else "The plan is taken away"
        self._common.say(f"{done}; in Practise it is followed by sound. Undo puts back what was.", False)
        self.ask()

    def _failed(self, text: str) -> None:
        self._common.say(text, True)

    def renew(self) -> None:
        """Theme or size has changed."""
        self.balls.renew()
