"""Check: whether to trust the mat for the pupil who is here, what today's numbers are worth, and what to do."""

from __future__ import annotations

from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import (
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import tr, tr_all
from groundtone.app.window.jobs import check_history
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.views import Ended, MatState, Verdict, Wanted
from groundtone.app.window.widgets.call import Call
from groundtone.app.window.widgets.curve import Curve
from groundtone.app.window.widgets.lists import Choice, Sentences, Steps
from groundtone.app.window.widgets.parts import ActRow, button, label, sheet

_SIGNS = ("disc", "half", "cross", "dashed")
_AFTER = (
    "Trust the mat today, in these shoes.", "Trust it with today's correction.", "Do not use it today.",
    "Nothing was kept: check once more.",
)  # fmt: skip


class CheckPlace(Place):
    """See the module's text."""

    name = "check"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self._running = False
        self.call = Call()
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("how much of the check is done"))
        self.steps = Steps()
        self.worth = QWidget()
        self.worth.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self._lines = QGridLayout(self.worth)
        self._lines.setContentsMargins(0, 0, 0, 0)
        self._lines.setColumnStretch(2, 1)
        self.reasons = Sentences()
        self.history = Curve(common.look, "the film reads more, %")
        self.history_words = label("No check has been kept yet.", "note")
        self.mass, self.mark = QLineEdit(), QLineEdit()
        self.hand = Choice()
        self.hand.addItems(tr_all(("not said", "right", "left")))
        form = QWidget()
        fields = QFormLayout(form)
        fields.setContentsMargins(0, 0, 0, 0)
        for words, edit in (("Pupil's mass, kg", self.mass), ("Known weight, kg", self.mark), ("Plays", self.hand)):
            edit.setAccessibleName(tr(words))
            edit.setMinimumWidth(40)
            fields.addRow(tr(words), edit)
        self.go = button("check start", self.start_or_go, self)
        self.acts = ActRow([button("check stop", self.stop, self), button("check again", self.start, self)], self.go)
        self.worth_title = label("What today's numbers are worth", "head")
        column = self._column = QVBoxLayout()
        column.addWidget(self.call, 4)
        column.addWidget(self.bar)
        self.result = sheet(self.worth_title, self.worth, self.reasons, stretch=2)
        column.addWidget(self.result)
        column.addWidget(sheet(self.history_words, self.history, stretch=1))
        row = QHBoxLayout(self)
        row.addLayout(column, 7)
        told = (
            label("Steps", "head"), self.steps, label("Told beforehand", "head"), form,
            label("Mass with clothes and shoes; a known weight only if one is laid on the marks.", "note"),
        )  # fmt: skip
        row.addWidget(sheet(*told), 5)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._show_pupil()

    def start_or_go(self) -> None:
        """Begins the check; once the mat has been checked for this pupil it goes on to Practise."""
        if self.common.pupil.checked is not None:
            self.common.go("practise")
        else:
            self.start()

    def start(self) -> None:
        """Begins a check with what was told."""
        from groundtone.app.window.modes.check import Check, CheckWish

        numbers = []
        for edit, what, low, high in ((self.mass, "mass", 20, 160), (self.mark, "weight", 1, 50)):
            value = _number(edit.text())
            if edit.text().strip() and (value is None or not low <= value <= high):
                text = f"The {what} {edit.text()!r} is no number from {low} to {high} kg: mend or clear it."
                self.common.say(text, True)
                edit.setFocus()
                return
            numbers.append(value)
        hand = ("", "right", "left")[self.hand.currentIndex()]
        self.reasons.show_all(())
        self._show_worth(())
        self.common.pupil.checked = None
        self.common.worker.begin(Check(CheckWish(numbers[0], numbers[1], hand)))
        self.setFocus()

    def stop(self) -> None:
        """Ends the check."""
        if self._running:
            self.common.worker.stop()

    def began(self, mode: str) -> None:
        """A mode has begun to run."""
        self._running = mode == "check"
        self._show_go()

    def pupil_changed(self) -> None:
        """See `Place.pupil_changed`."""
        if self._running:
            self.common.worker.stop()
        self.mass.clear()
        self.mark.clear()
        self._show_pupil()

    def _show_pupil(self) -> None:
        """What is known for the pupil who is here; nothing of the one before."""
        pupil, checked = self.common.pupil, self.common.pupil.checked
        self.hand.setCurrentIndex(("", "right", "left").index(pupil.hand))
        self.reasons.show_all(())
        self._show_worth(())
        self.steps.show_steps((), -1)
        self.bar.setValue(0)
        if checked is None:
            who = f"for {pupil.called}" if pupil.here else "today"
            self.call.show_call("not checked", f"A minute {who}, in the shoes of the lesson.", shape="dashed")
        else:
            self.call.show_call(checked.words, _AFTER[checked.value], shape=_SIGNS[checked.value])
        self._show_go()

    def _show_go(self) -> None:
        done = self.common.pupil.checked is not None
        self.go.setText("Practise" if done else "Begin the check")
        self.go.setAccessibleName(self.go.text())
        self.go.updateGeometry()

    def entered(self) -> None:
        """See `Place.entered`."""
        self._show_go()
        self.setFocus()
        self.look_back()

    def left(self) -> bool:
        """See `Place.left`."""
        self.stop()
        return True

    def look_back(self) -> None:
        """Draws the history of the newest mat's checks."""
        self.common.desk.do(check_history, done=self._show_history, failed=lambda text: self.common.say(text, True))

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        match what:
            case Wanted() if self._running:
                self.call.show_call(what.words, what.sentence)
                self.bar.setValue(round(100 * what.progress))
                self.steps.show_steps(what.steps, what.at)
            case Verdict():
                self.call.show_call(
                    what.words, _AFTER[what.value], shape=_SIGNS[what.value], warm=what.value == 2
                )  # fmt: skip
                self.reasons.show_all(what.sentences)
                self.worth.setToolTip(tr(what.figures))
                self._show_worth(what.worth)
                self.look_back()
            case Ended(mode="check"):
                self._running = False
                self.bar.setValue(100 if what.result else 0)
                self._show_go()
            case MatState(state="none" | "lost") if self._running or self.isVisible():
                self.call.show_call("no mat", what.sentence, shape="cross")

    def _show_worth(self, lines: tuple[tuple[str, str, str], ...]) -> None:
        while (item := self._lines.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.deleteLater()
        self.worth_title.setVisible(bool(lines))
        # What a check came to has the room; while there is nothing of it, the mat's history has.
        self.result.setVisible(bool(lines or self.reasons.texts))
        for at, share in ((2, 7), (3, 3 if lines else 6)):
            self._column.setStretch(at, share)
        for i, (measure, good, then) in enumerate(lines):
            for k, (text, kind) in enumerate(((measure, "head"), (good, ""), (then, "note"))):
                self._lines.addWidget(label(text, kind), i, k)

    def _show_history(self, seen: tuple[list[str], list[float], list[str]]) -> None:
        days, values, verdicts = seen
        if not days:
            return
        many = "1 check" if len(days) == 1 else f"{len(days)} checks"
        self.history_words.setText(f"{many} of this mat, the newest: {verdicts[-1]}. How it has read since calibrated:")
        self.history.show_points(days, values)

    def renew(self) -> None:
        """See `Place.renew`."""
        self.history.renew()
        self.call.updateGeometry()
        super().renew()


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None
