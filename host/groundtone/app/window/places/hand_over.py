"""Hand over: which lesson, what goes onto its page, how it will look, and saving it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PyQt5.QtCore import QSettings, Qt, QTimer, QUrl
from PyQt5.QtGui import QDesktopServices
from PyQt5.QtWidgets import (
    QApplication,
    QComboBox,
    QFileDialog,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.language import LANGUAGES, SPOKEN, tr, tr_all
from groundtone.app.window import page_jobs as jobs
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.widgets.lists import Choice, Sentences
from groundtone.app.window.widgets.parts import ActRow, Elided, Tick, bind, button, label, sheet
from groundtone.app.window.widgets.picture import Picture
from groundtone.files import data_folder

if TYPE_CHECKING:
    from groundtone.lesson.report.choice import PageChoice

_PARTS = (
    ("picture", "Picture of the swings"), ("drill", "Drill"), ("strikes", "Strike map"), ("measures", "Measures"),
    ("card", "Card for a message"),
)  # fmt: skip
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
        self.lessons = Choice()
        self.lessons.setAccessibleName(tr("lesson"))
        self.language, self.length, self.mass = Choice(), Choice(), Choice()
        self.paper, self.drill = Choice(), Choice()
        self.length.addItems(tr_all(("metres", "yards")))
        self.mass.addItems(["kg", "lb"])
        self.paper.addItems(["A4", "Letter"])
        self.drill.addItem(tr("the finding's own"))
        self.parts = {name: Tick(words) for name, words in _PARTS}
        self.next = QLineEdit()
        self.coach, self.saw, self.changed, self.todo = QLineEdit(), QLineEdit(), QLineEdit(), QLineEdit()
        self.sheets = tuple(Picture(common.look, f"the page, {side}") for side in ("front", "back"))
        self.card_view = Picture(common.look, "the card for a message")
        self.title = Elided("The page to take home", "claim")
        self.words = Sentences()
        self.folder_words = label("", "note")
        quiet = [
            button("page folder", self.ask_folder, self), button("show folder", self.show_folder, self),
            button("copy card", self.copy_card, self), button("print page", self.print_page, self),
            button("open page", self.open_page, self),
        ]  # fmt: skip
        self.acts = ActRow(quiet, button("save page", self.save, self))
        bind("preview", self.preview, self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.preview)
        self._kept = QSettings(str(data_folder() / "window.ini"), QSettings.Format.IniFormat)
        self.coach.setText(str(self._kept.value("coach", "")))
        self._lay_out()
        self._show_folder()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        form = QWidget()
        fields = QFormLayout(form)
        fields.setContentsMargins(0, 0, 0, 0)
        for words, boxes in (("Language, paper", (self.language, self.paper)), ("Units", (self.length, self.mass))):
            pair = QWidget()
            line = QHBoxLayout(pair)
            line.setContentsMargins(0, 0, 0, 0)
            fields.addRow(tr(words), pair)
            for widget, name in zip(boxes, words.split(", ") if "," in words else ("distances", "masses"), strict=True):
                widget.setAccessibleName(tr(name))
                widget.setMinimumWidth(40)
                widget.activated.connect(self._later)
                line.addWidget(widget, 1)
        for words, widget in (
            ("Drill", self.drill), ("Coach", self.coach), ("Next lesson", self.next), ("What we saw", self.saw),
            ("What we changed", self.changed), ("What to do", self.todo),
        ):  # fmt: skip
            fields.addRow(tr(words), widget)
            widget.setAccessibleName(tr(words))
            widget.setMinimumWidth(40)
            if isinstance(widget, QComboBox):
                widget.activated.connect(self._later)
            else:
                widget.setMaxLength(300)
                widget.textEdited.connect(self._later)
        ticks = QWidget()
        grid = QGridLayout(ticks)
        grid.setContentsMargins(0, 0, 0, 0)
        for i, box in enumerate(self.parts.values()):
            box.toggled.connect(self._later)
            grid.addWidget(box, i // 2, i % 2)
        self.lessons.activated.connect(lambda _: self.preview())
        inner = QWidget()
        whole, inside = QHBoxLayout(inner), QVBoxLayout()
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addLayout(inside, 1)
        # Room for the bar that scrolls beside the fields.
        whole.addSpacing(8)
        for each in (ticks, form, label("Empty lines are written by the program.", "note"), self.folder_words):
            inside.addWidget(each)
        inside.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inner)
        row.addWidget(sheet(self.lessons, scroll, stretch=1), 5)
        column = QVBoxLayout()
        row.addLayout(column, 8)
        column.addWidget(self.title)
        column.addWidget(self.words, 1)
        self.pages = QWidget()
        sides = QHBoxLayout(self.pages)
        sides.setContentsMargins(0, 0, 0, 0)
        for view in (*self.sheets, self.card_view):
            sides.addWidget(view, 1)
        column.addWidget(self.pages, 8)

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
        self.language.addItems([LANGUAGES.get(code, code) for code in self._languages])
        self.language.setCurrentIndex(self._languages.index(SPOKEN.code) if SPOKEN.code in self._languages else 0)
        for _, title in self._drills:
            self.drill.addItem(tr(title))

    def _listed(self, lessons: list[jobs.LessonLine]) -> None:
        before = self.lesson
        self._lessons = lessons
        self.lessons.clear()
        self.lessons.addItems(tr_all(lesson.words for lesson in lessons))
        if not lessons:
            self._nothing("Nothing has been recorded yet")
            self.words.show_all((("A lesson in Practise gives a page: baseline, drill, test.", False),))
            return
        pupil = self.common.pupil
        if pupil.name:
            wanted = [i for i, lesson in enumerate(lessons) if lesson.golfer == pupil.name]
        elif pupil.here:
            wanted = [i for i, lesson in enumerate(lessons) if {str(path) for path in lesson.paths} & set(pupil.paths)]
        else:
            wanted = []
        kept = [i for i in wanted if before is not None and lessons[i].words == before.words]
        chosen = [*kept, *wanted]
        self.lessons.setCurrentIndex(chosen[0] if chosen else -1)
        if chosen:
            self.preview()
        else:
            self._nothing(f"No lesson of {pupil.called} yet")

    def pupil_changed(self) -> None:
        """See `Place.pupil_changed`: never the page of the one before."""
        self.saved = []
        for line in (self.saw, self.changed, self.todo):
            line.clear()
        self.lessons.setCurrentIndex(-1)
        self._nothing("Another pupil is here")

    def _nothing(self, title: str) -> None:
        """There is no page to show, and none to save."""
        self._number += 1
        self.title.setText(title)
        self.words.show_all((("Choose a lesson on the left, if it is to be another one.", False),))
        self.words.setVisible(True)
        for view in (*self.sheets, self.card_view):
            view.show_png(b"")

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
            coach=self.coach.text().strip(), next_date=self.next.text().strip(), **parts,
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
        self.title.setText(f"The page of {lesson.words}" if (lesson := self.lesson) is not None else "The page")
        lines = [(text, True) for text in page.notes]
        self.words.show_all(lines)
        self.words.setVisible(bool(lines))
        for view, png in zip(self.sheets, (*page.sheets, b"", b""), strict=False):
            view.show_png(png)
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
        self._kept.setValue("coach", self.coach.text().strip())

    def _not_written(self, text: str) -> None:
        self.common.say(text.replace(" with --out", ""), True)

    def open_page(self) -> None:
        """Opens the saved page."""
        self._with_saved(".html", lambda path: QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))))

    def show_folder(self) -> None:
        """Opens the folder with the pages."""
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.folder)))

    def print_page(self) -> None:
        """Opens the sheet where it can be printed."""
        self._with_saved(".pdf", lambda path: QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))))

    def copy_card(self) -> None:
        """The card for a message onto the clipboard."""
        clipboard = QApplication.clipboard()
        if self.card_view.empty or clipboard is None:
            self.common.say("There is no card: choose it on the left.", True)
            return
        clipboard.setPixmap(self.card_view.pixmap)
        self.common.say("The card is copied: paste it into a message.", False)

    def _with_saved(self, ending: str, act: Callable[[Path], object]) -> None:
        found = [Path(file) for file in self.saved if file.endswith(ending)]
        if found:
            act(found[0])
        else:
            self.common.say("Save the page first.", True)

    def ask_folder(self) -> None:
        """Another folder for the pages."""
        name = QFileDialog.getExistingDirectory(self, tr("Folder for the pages"), str(self.folder))
        if name:
            self.folder = Path(name)
            self._show_folder()

    def _show_folder(self) -> None:
        self.folder_words.setText(f"Into {self.folder}")

    def _failed(self, text: str) -> None:
        self._nothing("There is no page")
        self.words.show_all(((text, True),))
        self.common.say(text, True)

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        # Two lines of what must be known; more are scrolled to.
        self.words.setFixedHeight(round(2.9 * self.common.look.em))
        for view in self.sheets:
            view.update()
        self.card_view.update()
