"""Two panes of Review: blocks compared, and a pupil's progress over lessons."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt5.QtWidgets import QGridLayout, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from groundtone.app.language import tr, tr_all
from groundtone.app.window import jobs
from groundtone.app.window.places.place import Common
from groundtone.app.window.widgets.curve import Curve
from groundtone.app.window.widgets.lists import Choice, Sentences
from groundtone.app.window.widgets.outcome_chart import OutcomeChart
from groundtone.app.window.widgets.parts import label, sheet

if TYPE_CHECKING:
    from groundtone.lesson.outcome import Outcome
    from groundtone.review.swings import RecordedSession


class ComparePane(QWidget):
    """Two blocks of a lesson, or one of today and one of any earlier lesson, measure by measure, in sentences."""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self._common = common
        self._view: RecordedSession | None = None
        self._blocks: list[jobs.BlockChoice] = []
        self._earlier: list[tuple[str, list[jobs.BlockChoice]]] = []
        self.lesson, self.before, self.after = Choice(), Choice(), Choice()
        self.sentences = Sentences()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        fields = QWidget()
        grid = QGridLayout(fields)
        grid.setContentsMargins(0, 0, 0, 0)
        boxes = (("Lesson", self.lesson, self._lesson_chosen), ("Before", self.before, self._compare),
                 ("After", self.after, self._compare))  # fmt: skip
        # A block's words are long: the two have a row of their own.
        for (words, box, act), (row, at) in zip(boxes, ((0, 0), (1, 0), (1, 2)), strict=True):
            box.setAccessibleName(tr(words))
            box.setMinimumWidth(40)
            grid.addWidget(label(words, "note", wrap=False), row, at)
            grid.addWidget(box, row, at + 1)
            grid.setColumnStretch(at + 1, 1)
            box.activated.connect(act)
        self.lesson.setAccessibleName(tr("lesson that the block before is of"))
        column.addWidget(sheet(fields, self.sentences, stretch=1), 1)

    def show_session(self, view: RecordedSession | None) -> None:
        """Another session is open."""
        self._view = view
        self._blocks = []
        self.sentences.show_all(())

    def compare(self) -> None:
        """Asks for the lesson's blocks, and compares its baseline with its last test."""
        if self._view is None:
            self.sentences.show_all((("No session is open.", True),))
            return
        self._common.desk.do(jobs.earlier_lessons, self._view, done=self._lessons_came, failed=self._failed)
        self._common.desk.do(jobs.lesson_blocks, self._view, done=self._came, failed=self._failed)

    def _lessons_came(self, earlier: list[tuple[str, list[jobs.BlockChoice]]]) -> None:
        self._earlier = earlier
        self.lesson.clear()
        self.lesson.addItems(tr_all(("this lesson", *(jobs.day_words(day) for day, _ in earlier))))

    def _came(self, blocks: list[jobs.BlockChoice]) -> None:
        self._blocks = blocks
        self.after.clear()
        self.after.addItems(tr_all(words for _, _, _, words in blocks))
        tests = [i for i, block in enumerate(blocks) if block[2] == "test"]
        # Blocks in turn, taken together, stand before the single ones.
        turns = [i for i, block in enumerate(blocks) if block[1] < 0 and block[2] == "drill"]
        self.after.setCurrentIndex((tests or turns or [len(blocks) - 1])[-1])
        self._lesson_chosen()

    @property
    def _firsts(self) -> list[jobs.BlockChoice]:
        """The blocks of the lesson that is chosen."""
        at = self.lesson.currentIndex()
        return self._earlier[at - 1][1] if at > 0 else self._blocks

    def _lesson_chosen(self, *_: int) -> None:
        firsts = self._firsts
        self.before.clear()
        self.before.addItems(tr_all(words for _, _, _, words in firsts))
        kinds = [kind for _, _, kind, _ in firsts]
        self.before.setCurrentIndex(kinds.index("baseline") if "baseline" in kinds else 0)
        if firsts is self._blocks and len(firsts) < 2:
            more = " Choose an earlier lesson beside it." if self._earlier else ""
            text = f"This lesson has one block with swings: there is nothing to compare.{more}"
            self.sentences.show_all(((text, False),))
            return
        self._compare()

    def _compare(self, *_: int) -> None:
        if not self._blocks or not self._firsts:
            return
        first, second = self._firsts[self.before.currentIndex()], self._blocks[self.after.currentIndex()]
        if first[:2] == second[:2]:
            self.sentences.show_all((("Choose two blocks that differ.", True),))
            return
        sides = [(block[0], block[1]) for block in (first, second)]
        self._common.desk.do(jobs.compared, *sides, done=self._compared, failed=self._failed)

    def _compared(self, sentences: list[str]) -> None:
        self.sentences.show_all([(text, ": worse (" in text) for text in sentences])

    def _failed(self, text: str) -> None:
        self.sentences.show_all(((text, True),))


class ProgressPane(QWidget):
    """A pupil's lessons: one fault at a time in counts, baseline and test apart, and the measures behind it."""

    def __init__(self, common: Common) -> None:
        super().__init__()
        self._common = common
        self._golfer = ""
        self._seen: jobs.ProgressSeen | None = None
        self.which = Choice()
        self.which.setAccessibleName(tr("fault or measure"))
        self.which.setMinimumWidth(40)
        self.title, self.words = label("Progress over lessons", "claim"), label("", "lead")
        self.chart, self.curve = OutcomeChart(), Curve(common.look, "")
        self.sure = Sentences()
        self.also = label("", "")
        self.drawn = QStackedWidget()
        self.drawn.addWidget(self.chart)
        self.drawn.addWidget(self.curve)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(sheet(self.which, self.title, self.words, self.drawn, stretch=3), 8)
        how = (
            label("How sure", "head"), self.sure,
            label("Open ring: baseline. Square: test. Bars: where the true share lies, 95 in 100.", "note"),
            label("Also counted", "head"), self.also,
        )  # fmt: skip
        row.addWidget(sheet(*how, stretch=1), 4)
        self.which.activated.connect(self._draw)

    def show_golfer(self, golfer: str) -> None:
        """Another pupil's session is open."""
        self._golfer, self._seen = golfer, None

    def ask(self) -> None:
        """Asks for what the library knows of the pupil."""
        if not self._golfer:
            self._say("Nobody is named in this recording: progress belongs to a pupil.")
            return
        self._common.desk.do(jobs.progress_of, self._golfer, done=self._came, failed=self._say)

    def _say(self, text: str) -> None:
        self.title.setText("Progress over lessons")
        self.words.setText(text)
        self.chart.show_outcome(None)
        self.drawn.setCurrentIndex(0)
        self.sure.show_all(())

    def _came(self, seen: jobs.ProgressSeen) -> None:
        self._seen = seen
        self.which.clear()
        self.which.addItems(tr_all(f"{each.title}, swings outside" for each in seen.faults))
        self.which.addItems(tr_all(line.words for line in seen.view.lines))
        self.also.setText("\n".join(_also(each) for each in seen.faults[1:4]) or "Nothing else was called a fault.")
        self._draw()

    def _draw(self, *_: int) -> None:
        at, seen = max(0, self.which.currentIndex()), self._seen
        if seen is None:
            return
        if at < len(seen.faults):
            fault = seen.faults[at]
            self.title.setText(fault.claim)
            self.words.setText(fault.figures)
            self.chart.show_outcome(fault)
            self.drawn.setCurrentIndex(0)
            self.sure.show_all([(text, False) for text in fault.sure])
            return
        line = seen.view.lines[at - len(seen.faults)]
        many = "1 lesson" if len(seen.view.days) == 1 else f"{len(seen.view.days)} lessons"
        self.title.setText(f"{many}: {line.words}")
        self.words.setText("Level of the swings in silence, and where the pupil's own lies.")
        self.drawn.setCurrentIndex(1)
        self.curve.show_points(seen.view.days, line.values, line.low, line.high, line.band, line.words)
        self.sure.show_all(((line.sentence, False),))

    def renew(self) -> None:
        """Draws the same again in the look now in force."""
        self.chart.update()
        self.curve.renew()


def _also(fault: Outcome) -> str:
    last = fault.lessons[-1] if fault.lessons else None
    return f"{fault.title}: {last.baseline.words}, then {last.test.words}" if last is not None else fault.title
