"""Two panes of Review: blocks compared, and a pupil's progress over lessons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PyQt5.QtWidgets import QComboBox, QVBoxLayout, QWidget

from groundtone.app.window import jobs
from groundtone.app.window.places.place import Common
from groundtone.app.window.widgets.curve import Curve
from groundtone.app.window.widgets.parts import Sentences, label

if TYPE_CHECKING:
    from groundtone.lesson.progress import ProgressView
    from groundtone.review.swings import RecordedSession


class ComparePane(QWidget):
    """Two blocks of a lesson, measure by measure, in sentences."""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self._common = common
        self._view: RecordedSession | None = None
        self._blocks: list[tuple[Path, int, str, str]] = []
        self.before, self.after = QComboBox(), QComboBox()
        self.sentences = Sentences()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(label("Before and after", "title"))
        for words, box in (("Before", self.before), ("After", self.after)):
            box.setAccessibleName(words)
            column.addWidget(label(words, "faint"))
            column.addWidget(box)
            box.activated.connect(self._compare)
        column.addWidget(self.sentences, 1)

    def show_session(self, view: RecordedSession) -> None:
        """Another session is open."""
        self._view = view
        self._blocks = []
        self.sentences.show_all(())

    def compare(self) -> None:
        """Asks for the lesson's blocks, and compares its baseline with its last test."""
        if self._view is None:
            self.sentences.show_all((("No session is open.", True),))
            return
        self._common.desk.do(jobs.lesson_blocks, self._view, done=self._came, failed=self._failed)

    def _came(self, blocks: list[tuple[Path, int, str, str]]) -> None:
        self._blocks = blocks
        for box in (self.before, self.after):
            box.clear()
            box.addItems([words for _, _, _, words in blocks])
        if len(blocks) < 2:
            self.sentences.show_all((("This lesson has one block with swings: there is nothing to compare.", False),))
            return
        kinds = [kind for _, _, kind, _ in blocks]
        self.before.setCurrentIndex(kinds.index("baseline") if "baseline" in kinds else 0)
        tests = [i for i, kind in enumerate(kinds) if kind == "test"]
        self.after.setCurrentIndex(tests[-1] if tests else len(blocks) - 1)
        self._compare()

    def _compare(self, *_: int) -> None:
        first, second = self.before.currentIndex(), self.after.currentIndex()
        if first == second:
            self.sentences.show_all((("Choose two blocks that differ.", True),))
            return
        sides = [(self._blocks[i][0], self._blocks[i][1]) for i in (first, second)]
        self._common.desk.do(jobs.compared, *sides, done=self._compared, failed=self._failed)

    def _compared(self, sentences: list[str]) -> None:
        self.sentences.show_all([(text, ": worse (" in text) for text in sentences])

    def _failed(self, text: str) -> None:
        self.sentences.show_all(((text, True),))


class ProgressPane(QWidget):
    """One measure at a time over a pupil's lessons."""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self._common = common
        self._golfer = ""
        self._seen: Any = None
        self.title = label("Progress over lessons", "title")
        self.which = QComboBox()
        self.which.setAccessibleName("measure")
        self.curve = Curve(common.look, "")
        self.words = label("", "")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addWidget(self.which)
        column.addWidget(self.curve, 1)
        column.addWidget(self.words)
        self.which.activated.connect(self._draw)

    def show_golfer(self, golfer: str) -> None:
        """Another pupil's session is open."""
        self._golfer = golfer

    def ask(self) -> None:
        """Asks for what the library knows of the pupil."""
        if not self._golfer:
            self.words.setText("Nobody is named in this session: progress belongs to a pupil.")
            return
        self._common.desk.do(jobs.progress_of, self._golfer, done=self._came, failed=self._failed)

    def _came(self, seen: ProgressView) -> None:
        self._seen = seen
        self.title.setText("1 lesson" if len(seen.days) == 1 else f"{len(seen.days)} lessons")
        self.which.clear()
        self.which.addItems([line.words for line in seen.lines])
        self._draw()

    def _draw(self, *_: int) -> None:
        at = max(0, self.which.currentIndex())
        if self._seen is None or at >= len(self._seen.lines):
            self.words.setText("There is nothing to draw yet.")
            return
        line = self._seen.lines[at]
        self.curve.show_points(self._seen.days, line.values, line.low, line.high, line.band, line.words)
        self.words.setText(line.sentence)

    def _failed(self, text: str) -> None:
        self.words.setText(text)
