"""Build: what every cell reads now, which are ill, what the mat finds out by itself, and in which order it is wired."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QHBoxLayout, QProgressBar

from groundtone.app.language import tr
from groundtone.app.window.modes.alone import FromMat, OntoMat
from groundtone.app.window.modes.build import Order, Watch
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.views import CellsView, Ended, Findings, MatState, Said, Wanted
from groundtone.app.window.widgets.field import CellField
from groundtone.app.window.widgets.lists import Sentences
from groundtone.app.window.widgets.parts import ActRow, bind, button, label, sheet

_STEPS = {"cell left": (0, -1), "cell right": (0, 1), "cell up": (1, 0), "cell down": (-1, 0)}
_TITLES = {"empty": "The empty mat", "self test": "Self-test", "order": "Order of the wires",
           "onto mat": "The mat works alone now", "from mat": "Fetched from the mat"}  # fmt: skip


class BuildPlace(Place):
    """See the module's text."""

    name = "build"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self._running = ""
        self._wish = ""
        self._cells: CellsView | None = None
        self.field = CellField(common.look, choosing=True)
        self.words = label("Watch the cells", "title")
        self.sentence = label("Press a cell and see which one answers.", "lead")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.hide()
        self.cell = label("", "")
        self.rate = label("", "note")
        self.title = label("", "head")
        self.findings = Sentences()
        self.bar.setAccessibleName(tr("how far it is"))
        quiet = [
            button("build stop", self.common.worker.stop, self),
            button("from mat", lambda: self.common.worker.begin(FromMat()), self),
            button("onto mat", self.onto_mat, self),
            button("press order", self.press_order, self),
            button("self test", partial(self._ask, "self test"), self),
            button("look empty", partial(self._ask, "look empty"), self),
        ]
        self.acts = ActRow(quiet, button("watch", self.watch, self))
        self.ways = ActRow([button("find mat", common.find), button("simulate", common.simulate)])
        for name, (rows, columns) in _STEPS.items():
            bind(name, partial(self._move, rows, columns), self)
        self.field.chosen.connect(self._show_cell)
        row = QHBoxLayout(self)
        row.addWidget(sheet(self.field, stretch=0), 3)
        parts = self.words, self.sentence, self.bar, self.cell, self.rate, self.title, self.findings, self.ways
        right = sheet(*parts, stretch=6)
        row.addWidget(right, 4)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def watch(self) -> None:
        """Begins to watch the cells."""
        self.common.worker.begin(Watch())

    def press_order(self) -> None:
        """Begins the strokes that find the order."""
        self.title.setText("")
        self.findings.show_all(())
        self.common.worker.begin(Order())

    def onto_mat(self) -> None:
        """Puts onto the mat what it needs to work alone for the pupil who is here."""
        pupil = self.common.pupil
        self.common.worker.begin(OntoMat(pupil.name, pupil.hand))

    def _ask(self, name: str) -> None:
        """Something that needs the cells to be watched: that is begun first where it does not run."""
        if self._running != "watch":
            self._wish = name
            self.watch()
        else:
            self.common.worker.command(name)

    def _move(self, rows: int, columns: int) -> None:
        row, column = self.field.cell or (0, 0)
        moved = self.field.cell is not None
        self.field.choose(row + rows * moved, column + columns * moved)

    def entered(self) -> None:
        """See `Place.entered`."""
        self.setFocus()

    def left(self) -> bool:
        """See `Place.left`."""
        if self._running:
            self.common.worker.stop()
        return True

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        match what:
            case Wanted():
                self.words.setText(what.words)
                self.sentence.setText(what.sentence)
                self.bar.show()
                self.bar.setValue(round(100 * what.progress))
            case Said(about="empty"):
                self.sentence.setText(what.text)
            case Findings():
                self.title.setText(_TITLES.get(what.about, ""))
                self.findings.show_all(what.sentences)
                if what.about == "empty":
                    self.field.show_ill(what.ill)
                    self.sentence.setText("Press a cell and see which one answers.")
                bad = sum(bad for _, bad in what.sentences)
                done = "done" if what.about in ("onto mat", "from mat") else "nothing to mend"
                self.words.setText(f"{bad} to mend" if bad else done)
            case MatState(state="none" | "lost") if self.isVisible():
                self.words.setText("not done" if what.mode in ("onto mat", "from mat") else "no mat")
                self.sentence.setText(what.sentence)
            case Ended(mode="watch" | "order"):
                self._running = ""
                self.bar.hide()
                if what.mode == "order" and not what.result:
                    self.sentence.setText("The strokes were ended before they were done; nothing is changed.")

    def began(self, mode: str) -> None:
        """A mode has begun to run."""
        self._running = mode if mode in ("watch", "order") else ""
        if mode == "watch":
            self.words.setText("watching")
            self.sentence.setText("Press a cell and see which one answers.")
            if self._wish:
                self.common.worker.command(self._wish)
                self._wish = ""

    def picture(self, what: Any) -> None:
        """See `Place.picture`."""
        if isinstance(what, CellsView):
            self._cells = what
            self.field.show_level(what.level)
            self._show_cell()
            rate = "" if math.isnan(what.rate_hz) else f"{what.rate_hz:.0f} frames a second, "
            self.rate.setText(f"{rate}{what.missed} missed")

    def _show_cell(self, *_: int) -> None:
        if self._cells is None:
            return
        rows, columns = self._cells.reading.shape
        place = self.field.cell
        if place is None or not (place[0] < rows and place[1] < columns):
            # Nothing chosen: the one that reads most.
            place = divmod(int(self._cells.reading.argmax()), columns)
        row, column = place
        panel = "left" if column < columns // 2 else "right"
        siemens = self._cells.siemens[row, column] * 1e6
        conductance = "" if math.isnan(siemens) else f", {siemens:.1f} µS"
        which = "chosen" if self.field.cell is not None else "most"
        self.cell.setText(
            f"{which}: {panel} panel, row {row}, column {column % (columns // 2)} reads "
            f"{self._cells.reading[row, column]:.0f}{conductance}"
        )
