"""Hand over: which lesson, what goes onto its page, how it will look, and saving it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PyQt5.QtCore import QTimer
from PyQt5.QtWidgets import (
    QComboBox,
    QFileDialog,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QWidget,
)

from groundtone.app.window import page_jobs as jobs
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.widgets.parts import Picture, Sentences, button, label, sheet, tick
from groundtone.files import data_folder

if TYPE_CHECKING:
    from groundtone.lesson.report.choice import PageChoice

_PARTS = (
    ("picture", "Picture of the swings"), ("drill", "Drill"), ("strikes", "Strike map"), ("measures", "Measures"),
    ("card", "Card for a message"),
)  # fmt: skip
_LANGUAGES = {"en": "English", "de": "Deutsch"}
# Typing makes the page anew when it has paused for so long, ms.
_PAUSE_MS = 700


class HandOverPlace(Place):
    """See the module's text."""

    name = "hand over"

    def __init__(self, common: Common) -> None:
        super().__init__(common)

        self.folder = data_folder() / "pages"
        self.saved: list[str] = []
        self._lessons: list[jobs.LessonLine] = []
        self._languages: tuple[str, ...] = ("en",)
        self._drills: tuple[tuple[str, str], ...] = ()
        self._number = 0
        self.lessons = QComboBox()
        self.lessons.setAccessibleName("lesson")
        self.language, self.length, self.mass = QComboBox(), QComboBox(), QComboBox()
        self.paper, self.drill = QComboBox(), QComboBox()
        self.length.addItems(["metres", "yards"])
        self.mass.addItems(["kg", "lb"])
        self.paper.addItems(["A4", "Letter"])
        self.drill.addItem("the finding's own")
        self.parts = {name: tick(words) for name, words in _PARTS}
        self.coach, self.saw, self.changed, self.todo = QLineEdit(), QLineEdit(), QLineEdit(), QLineEdit()
        self.picture_view = Picture(common.look, "the picture of the swings")
        self.card_view = Picture(common.look, "the card for a message")
        self.title = label("The page to take home", "large")
        self.words = Sentences()
        self.folder_words = label("", "faint")
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.preview)
        self._lay_out()
        self._show_folder()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        form = QWidget()
        fields = QFormLayout(form)
        fields.setContentsMargins(0, 0, 0, 0)
        for words, widget in (
            ("Language", self.language), ("Distances", self.length), ("Masses", self.mass), ("Paper", self.paper),
            ("Drill", self.drill), ("Coach", self.coach), ("What we saw", self.saw),
            ("What we changed", self.changed), ("What to do", self.todo),
        ):  # fmt: skip
            fields.addRow(words, widget)
            if isinstance(widget, QComboBox):
                widget.activated.connect(self._later)
            else:
                widget.setMaxLength(300)
                widget.textEdited.connect(self._later)
        boxes = QWidget()
        grid = QGridLayout(boxes)
        grid.setContentsMargins(0, 0, 0, 0)
        for i, box in enumerate(self.parts.values()):
            box.toggled.connect(self._later)
            grid.addWidget(box, i // 2, i % 2)
        buttons = QWidget()
        line = QGridLayout(buttons)
        line.setContentsMargins(0, 0, 0, 0)
        acts = (("preview", self.preview), ("save page", self.save), ("page folder", self.ask_folder))
        for i, (name, act) in enumerate(acts):
            line.addWidget(button(name, act, self), i // 2, i % 2)
        self.lessons.activated.connect(lambda _: self.preview())
        own = label("Empty lines are written by the program.", "faint")
        left = (self.lessons, label("What goes in", "title"), boxes, form, own, self.folder_words, buttons)
        row.addWidget(sheet(*left, stretch=4), 4)
        pictures = QWidget()
        beside = QHBoxLayout(pictures)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.addWidget(self.picture_view, 3)
        beside.addWidget(self.card_view, 2)
        right = sheet(self.title, self.words, pictures, stretch=1)
        row.addWidget(right, 6)
        layout = right.layout()
        if layout is not None:
            layout.setStretch(2, 1)  # type: ignore[attr-defined]

    def entered(self) -> None:
        """See `Place.entered`."""
        self.setFocus()
        desk = self.common.desk
        if not self._drills:
            desk.do(jobs.page_options, done=self._options, failed=self._failed)
        desk.do(jobs.lesson_lines, done=self._listed, failed=self._failed)

    def _options(self, seen: tuple[tuple[str, ...], tuple[tuple[str, str], ...]]) -> None:
        self._languages, self._drills = seen
        self.language.clear()
        self.language.addItems([_LANGUAGES.get(code, code) for code in self._languages])
        self.language.setCurrentIndex(self._languages.index("en") if "en" in self._languages else 0)
        for _, title in self._drills:
            self.drill.addItem(title)

    def _listed(self, lessons: list[jobs.LessonLine]) -> None:
        before = self.lesson
        self._lessons = lessons
        self.lessons.clear()
        self.lessons.addItems([lesson.words for lesson in lessons])
        if not lessons:
            self.title.setText("Nothing has been recorded yet")
            self.words.show_all((("A lesson in Practise gives a page: baseline, drill, test.", False),))
            return
        named = [i for i, lesson in enumerate(lessons) if lesson.golfer == self.common.pupil.name]
        kept = [i for i, lesson in enumerate(lessons) if before is not None and lesson.words == before.words]
        wanted = named if self.common.pupil.name else kept
        self.lessons.setCurrentIndex(wanted[0] if wanted else 0)
        self.preview()

    @property
    def lesson(self) -> jobs.LessonLine | None:
        """The chosen one."""
        at = self.lessons.currentIndex()
        return self._lessons[at] if 0 <= at < len(self._lessons) else None

    def choice(self) -> PageChoice:
        """What goes onto the page, as it is chosen."""
        from groundtone.lesson.report.choice import PageChoice, Units

        units = Units("yd" if self.length.currentIndex() else "m", "lb" if self.mass.currentIndex() else "kg")
        drill = self._drills[self.drill.currentIndex() - 1][0] if self.drill.currentIndex() > 0 else ""
        parts = {name: box.isChecked() for name, box in self.parts.items()}
        return PageChoice(
            language=self._languages[max(0, self.language.currentIndex())], units=units,
            paper="letter" if self.paper.currentIndex() else "a4", saw=self.saw.text().strip(),
            changed=self.changed.text().strip(), todo=self.todo.text().strip(), drill_name=drill,
            coach=self.coach.text().strip(), **parts,
        )  # fmt: skip

    def _later(self, *_: Any) -> None:
        self._timer.start(_PAUSE_MS)

    def preview(self) -> None:
        """Makes the page anew, without writing it."""
        lesson = self.lesson
        if lesson is None:
            self.common.say("There is no lesson to make a page of.", True)
            return
        self._number += 1
        number = self._number
        self.title.setText("The page is being made.")
        self.common.desk.do(
            jobs.page_preview, lesson.paths, self.choice(), done=lambda page: self._came(number, page),
            failed=self._failed,
        )  # fmt: skip

    def _came(self, number: int, page: jobs.PagePreview) -> None:
        if number != self._number:
            return
        self.title.setText("The page to take home")
        lines = [(text, True) for text in page.notes]
        lines += [(f"{heading}: {text}", False) for heading, text in page.said]
        self.words.show_all([*lines, *((text, False) for text in page.lines)])
        self.picture_view.show_png(page.picture)
        self.card_view.show_png(page.card)

    def save(self) -> None:
        """Writes the page into the folder."""
        lesson = self.lesson
        if lesson is None:
            self.common.say("There is no lesson to make a page of.", True)
            return
        self.common.say("The page is being written.", False)
        self.common.desk.do(
            jobs.page_saved, lesson.paths, self.choice(), self.folder, done=self._written, failed=self._not_written
        )

    def _written(self, files: list[str]) -> None:
        self.saved = files
        names = ", ".join(Path(file).name for file in files)
        self.common.say(f"Saved in {self.folder}: {names}.", False)

    def _not_written(self, text: str) -> None:
        self.common.say(text.replace(" with --out", ""), True)

    def ask_folder(self) -> None:
        """Another folder for the pages."""
        name = QFileDialog.getExistingDirectory(self, "Folder for the pages", str(self.folder))
        if name:
            self.folder = Path(name)
            self._show_folder()

    def _show_folder(self) -> None:
        self.folder_words.setText(f"Into {self.folder}")

    def _failed(self, text: str) -> None:
        self.title.setText("There is no page")
        self.words.show_all(((text, True),))
        self.common.say(text, True)

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        self.picture_view.update()
        self.card_view.update()
