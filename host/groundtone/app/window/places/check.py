"""Check: a minute before the lesson, led in large words; the verdict with its reasons; how the mat has aged."""

from __future__ import annotations

from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QComboBox, QFormLayout, QHBoxLayout, QLineEdit, QProgressBar, QVBoxLayout, QWidget

from groundtone.app.window.jobs import check_history
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.views import Ended, MatState, Verdict, Wanted
from groundtone.app.window.widgets.curve import Curve
from groundtone.app.window.widgets.parts import Sentences, Steps, button, label, sheet

_MARKS = ("✓", "✓", "✗", "–")
_AFTER = ("The mat measures as it was calibrated.", "It measures with today's correction.", "Do not use it today.", "")


class CheckPlace(Place):
    """See the module's text."""

    name = "check"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self._running = False
        self.words = label("Trust this mat today?", "main")
        self.sentence = label("A minute with the pupil on it, in the shoes of the lesson.", "title")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.steps = Steps()
        self.reasons = Sentences()
        self.history = Curve(common.look, "reads more, %")
        self.history_words = label("No check has been kept yet.", "faint")
        self.mass, self.mark = QLineEdit(), QLineEdit()
        self.hand = QComboBox()
        self.hand.addItems(["not said", "right", "left"])
        form = QWidget()
        fields = QFormLayout(form)
        fields.setContentsMargins(0, 0, 0, 0)
        fields.addRow("Pupil's mass, kg", self.mass)
        fields.addRow("Known weight, kg", self.mark)
        fields.addRow("Plays", self.hand)
        buttons = QWidget()
        line = QHBoxLayout(buttons)
        line.setContentsMargins(0, 0, 0, 0)
        for name, act in (("check start", self.start), ("check stop", common.worker.stop), ("check again", self.start)):
            line.addWidget(button(name, act, self))
        column = QVBoxLayout()
        column.addWidget(sheet(self.words, self.sentence, self.bar, self.reasons, buttons, stretch=3), 3)
        lower = sheet(self.history_words, self.history, stretch=1)
        column.addWidget(lower, 2)
        row = QHBoxLayout(self)
        row.addLayout(column, 5)
        row.addWidget(
            sheet(
                label("Steps", "title"),
                self.steps,
                label("Told beforehand", "title"),
                form,
                label("Mass with clothes and shoes; a known weight only if one is laid on the marks.", "faint"),
            ),
            2,
        )
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

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
        hand = self.hand.currentText() if self.hand.currentIndex() else ""
        self.reasons.show_all(())
        self.common.worker.begin(Check(CheckWish(numbers[0], numbers[1], hand)))
        self.setFocus()

    def began(self, mode: str) -> None:
        """A mode has begun to run."""
        self._running = mode == "check"

    def entered(self) -> None:
        """See `Place.entered`."""
        self.hand.setCurrentIndex(("", "right", "left").index(self.common.pupil.hand))
        self.setFocus()
        self.look_back()

    def left(self) -> bool:
        """See `Place.left`."""
        if self._running:
            self.common.worker.stop()
        return True

    def look_back(self) -> None:
        """Draws the history of the newest mat's checks."""
        self.common.desk.do(check_history, done=self._show_history, failed=lambda text: self.common.say(text, True))

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        match what:
            case Wanted() if self._running:
                self.words.setText(what.words)
                self.sentence.setText(what.sentence)
                self.bar.setValue(round(100 * what.progress))
                self.steps.show_steps(what.steps, what.at)
            case Verdict():
                self.words.setText(f"{_MARKS[what.value]} {what.words}")
                self.sentence.setText(" ".join(filter(None, (_AFTER[what.value], what.figures))))
                self.reasons.show_all(what.sentences)
                self.look_back()
            case Ended(mode="check"):
                self._running = False
                self.bar.setValue(100 if what.result else 0)
            case MatState(state="none" | "lost") if self._running or self.isVisible():
                self.sentence.setText(what.sentence)

    def _show_history(self, seen: tuple[list[str], list[float], list[str]]) -> None:
        days, values, verdicts = seen
        if not days:
            return
        many = "1 check" if len(days) == 1 else f"{len(days)} checks"
        text = f"{many} of this mat, the newest: {verdicts[-1]}. How much more the film reads than when calibrated:"
        self.history_words.setText(text)
        self.history.show_points(days, values)

    def renew(self) -> None:
        """See `Place.renew`."""
        self.history.renew()
        super().renew()


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None
