"""Review: swings with strike and findings, two lanes with a cursor, the pair, the echo, blocks compared, progress."""

from __future__ import annotations

import math
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import (
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.window import jobs
from groundtone.app.window.keys import labelled
from groundtone.app.window.places.fit_tone import ToneFit
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.places.review_panes import ComparePane, ProgressPane
from groundtone.app.window.views import Saved
from groundtone.app.window.widgets.field import CellField
from groundtone.app.window.widgets.lane import LaneView
from groundtone.app.window.widgets.parts import Sentences, bind, button, label, sheet

if TYPE_CHECKING:
    from groundtone.review.lane_store import SwingLane
    from groundtone.review.library_reader import SessionLine
    from groundtone.review.swings import RecordedSession, SwingRow

# The dot of a cell with this force has its full area, N (invented scale).
_FULL_N = 60.0


class ReviewPlace(Place):
    """See the module's text."""

    name = "review"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.view: RecordedSession | None = None
        self.lanes: dict[int, SwingLane] = {}
        self._lines: list[SessionLine] = []
        self._second: int | None = None
        self._pair: jobs.PairView | None = None
        self.tone = ToneFit(common)
        self._opening = 0
        self._forces: tuple[Any, Any, Any] | None = None
        self._asked: tuple[Path, int] | None = None
        self.sessions = QComboBox()
        self.sessions.setAccessibleName("session")
        self.swings = QListWidget()
        self.swings.setAccessibleName("swings")
        self.lane = LaneView(common.look)
        self.field = CellField(common.look)
        self.cursor_words = label("", "")
        self.title = label("No session is open", "title")
        self.sentences = Sentences()
        self.note = QLineEdit()
        self.note.setAccessibleName("note")
        self.compare_pane = ComparePane(common)
        self.progress_pane = ProgressPane(common)
        self.right = QStackedWidget()
        self._lay_out()
        self.sessions.activated.connect(self._chosen)
        self.swings.currentRowChanged.connect(self._swing_chosen)
        self.lane.cursor_moved.connect(self._cursor)
        self.note.returnPressed.connect(self._write_note)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def _lay_out(self) -> None:
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        whole.addLayout(row, 1)
        # What the list says wraps: the lanes get the room.
        self.sessions.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.sessions.setMinimumContentsLength(8)
        self.swings.setWordWrap(True)
        self.swings.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.swings.setMinimumWidth(80)
        row.addWidget(sheet(self.sessions, self.swings, stretch=1), 4)
        buttons = QWidget()
        grid = QGridLayout(buttons)
        grid.setContentsMargins(0, 0, 0, 0)
        acts = (
            ("pair", self.pair), ("fit tone", self.fit_tone),
            ("beside", self.beside), ("echo", self.echo), ("second swing", self.second),
            ("compare", self.compare), ("progress", self.progress), ("note", self.note.setFocus),
            ("open session", self.ask_file),
        )  # fmt: skip
        for i, (name, act) in enumerate(acts):
            grid.addWidget(button(name, act, self), i // 4, i % 4)
        for name, act in (
            ("frame back", partial(self.step, -1)), ("frame on", partial(self.step, 1)),
            ("ten back", partial(self.step, -10)), ("ten on", partial(self.step, 10)),
            ("event on", self.lane.next_event), ("swing up", partial(self.choose, -1)),
            ("swing down", partial(self.choose, 1)),
        ):  # fmt: skip
            bind(name, act, self)
        row.addWidget(sheet(self.cursor_words, self.lane, stretch=1), 9)
        what = QWidget()
        column = QGridLayout(what)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title, 0, 0)
        column.addWidget(self.sentences, 1, 0)
        column.addWidget(self.field, 2, 0)
        column.addWidget(label("Note (Enter writes it down)", "faint"), 3, 0)
        column.addWidget(self.note, 4, 0)
        column.setRowStretch(1, 5)
        column.setRowStretch(2, 4)
        for pane in (what, self.compare_pane, self.progress_pane):
            self.right.addWidget(pane)
        row.addWidget(sheet(self.right, stretch=0), 6)
        whole.addWidget(sheet(buttons))

    # Opening

    def entered(self) -> None:
        """See `Place.entered`."""
        self.setFocus()
        self._list()

    def _list(self) -> None:
        self.common.desk.do(jobs.session_list, done=self._listed, failed=self._failed)

    def _listed(self, lines: list[SessionLine]) -> None:
        self._lines = lines
        self.sessions.clear()
        for line in lines:
            who = line.golfer or "nobody named"
            mark = " (simulated)" if line.simulated else ""
            self.sessions.addItem(f"{line.started[:16].replace('T', ' ')}  {who}, {line.swings} swings{mark}")
        if not lines and self.view is None:
            self.title.setText("Nothing has been recorded yet")
            self.sentences.show_all((("Practise records a session; then its swings are here.", False),))
        elif self.view is None or self.view.path not in [line.path for line in lines]:
            if lines:
                self.open_path(lines[0].path)
        else:
            self.sessions.setCurrentIndex([line.path for line in lines].index(self.view.path))

    def _chosen(self, index: int) -> None:
        if 0 <= index < len(self._lines):
            self.open_path(self._lines[index].path)
        self.setFocus()

    def ask_file(self) -> None:
        """A recording from elsewhere."""
        name, _ = QFileDialog.getOpenFileName(self, "Open a recording", "", "Recordings (*.mcap)")
        if name:
            self.open_path(Path(name))

    def open_path(self, path: Path) -> None:
        """Opens a session."""
        self._clear("The session is being opened.")
        self._opening += 1
        number = self._opening
        self.common.desk.do(
            jobs.opened_session, path, done=partial(self._opened, number), failed=partial(self._not_opened, number)
        )

    def _clear(self, title: str, *sentences: tuple[str, bool]) -> None:
        """Nothing of the session before stays on the screen while another one opens, or cannot be opened."""
        self.view, self.lanes, self._second, self._forces, self._pair = None, {}, None, None, None
        self._asked = None
        self.swings.blockSignals(True)
        self.swings.clear()
        self.swings.blockSignals(False)
        self.lane.show_swings(None)
        self.cursor_words.setText("")
        self.field.show_level(np.zeros_like(self.field.level))
        self.title.setText(title)
        self.sentences.show_all(sentences)
        self.right.setCurrentIndex(0)

    def _not_opened(self, number: int, text: str) -> None:
        if number == self._opening:
            self._clear("This session cannot be opened", (text, True))
            self.common.say(text, True)

    def _opened(self, number: int, view: RecordedSession) -> None:
        if number != self._opening:
            return
        self.view = view
        self.compare_pane.show_session(view)
        self.progress_pane.show_golfer(view.golfer)
        self.swings.blockSignals(True)
        self.swings.clear()
        for swing in view.swings:
            self.swings.addItem(f"swing {swing.line}")
        self.swings.blockSignals(False)
        if not view.swings:
            self.lane.show_swings(None)
            self.title.setText("There is no swing in this session")
            self.sentences.show_all([(doubt, True) for doubt in view.doubts])
            return
        self.swings.setCurrentRow(0)
        self.common.desk.do(jobs.lanes, view, done=partial(self._measured, view.path), failed=self._failed)
        if view.doubts:
            self.common.say(view.doubts[0], True)

    def _measured(self, path: Path, lanes: dict[int, SwingLane]) -> None:
        if self.view is not None and self.view.path == path:
            self.lanes = lanes
            self._draw_lanes()

    def _failed(self, text: str) -> None:
        self.common.say(text, True)

    # One swing, or two

    @property
    def swing(self) -> SwingRow | None:
        """The chosen one."""
        at = self.swings.currentRow()
        return self.view.swings[at] if self.view is not None and 0 <= at < len(self.view.swings) else None

    def choose(self, by: int) -> None:
        """The swing so many further down the list."""
        at = self.swings.currentRow() + by
        if 0 <= at < self.swings.count():
            self.swings.setCurrentRow(at)

    def _swing_chosen(self, _: int) -> None:
        self._pair = None
        self._draw()

    def _draw(self) -> None:
        self._draw_lanes()
        self._show_swing()

    def _draw_lanes(self) -> None:
        swing = self.swing
        if swing is None:
            return
        self._forces = None
        self.lane.show_swings(self.lanes.get(swing.number), self.lanes.get(self._second or -1))
        if swing.number not in self.lanes:
            self.cursor_words.setText("The lanes are being measured.")
        lane = self.lanes.get(swing.number)
        if lane is not None and len(lane.device_s) and self.view is not None:
            self._asked = (self.view.path, swing.number)
            self.common.desk.do(
                jobs.field_of, self.view.path, float(lane.device_s[0]), float(lane.device_s[-1]) + 1e-4,
                done=partial(self._field_came, self._asked), failed=self._failed,
            )  # fmt: skip

    def _field_came(self, asked: tuple[Path, int], forces: tuple[Any, Any, Any]) -> None:
        if asked == self._asked:
            self._forces = forces
            self._cursor(self.lane.frame_at)

    def _show_swing(self) -> None:
        swing = self.swing
        if swing is None:
            return
        self.title.setText(f"Swing {swing.line}")
        lines = [
            (" ".join((f"{f.name}: {f.sentence}", *([f"Drill: {f.drill}"] if f.drill else []))), f.concern)
            for f in swing.faults
        ]
        lines = lines or [("Nothing was found that is worth a word.", False)]
        words = self.view.words.get(swing.number, ()) if self.view is not None else ()
        self.sentences.show_all([*lines, *((text, False) for text in words)])

    def _cursor(self, frame: int) -> None:
        self.cursor_words.setText(self.lane.words)
        lane = self.lane.first
        if lane is None or self._forces is None or not len(self._forces[0]):
            return
        t_s, force, centre = self._forces
        at = min(int(np.searchsorted(t_s, lane.device_s[frame] - 1e-4)), len(t_s) - 1)
        row, column = float(centre[at, 0]), float(centre[at, 1])
        ring = None if math.isnan(row) else (row, column)
        self.field.show_level(np.clip(force[at] / _FULL_N, 0.0, 1.0), ring)

    def step(self, frames: int) -> None:
        """Moves the cursor."""
        self.lane.move_to(self.lane.frame_at + frames)

    def second(self) -> None:
        """The chosen swing becomes the second lane, or no longer."""
        swing = self.swing
        if swing is None:
            return
        self._second = None if self._second == swing.number else swing.number
        self._draw()

    def beside(self) -> None:
        """Side by side, or over each other on event time."""
        self.lane.over = not self.lane.over
        self.lane.update()
        how = "over each other on event time" if self.lane.over else "side by side"
        self.common.say(f"Two swings are drawn {how}.", False)

    def echo(self) -> None:
        """Sounds the chosen swing slowly."""
        from groundtone.tone.echo import EchoPath

        lane = self.lane.first
        if lane is None:
            self.common.say("There is no lane yet to sound.", True)
            return
        shown = lane.t_s <= 0.8
        path = EchoPath(
            lane.device_s[shown], lane.share[shown], lane.overall[shown], lane.turn_s, lane.impact_s, lane.lead
        )
        self.common.worker.command("echo", path)

    # The session as a whole

    def pair(self) -> None:
        """A clean and a poor swing, the sentence between them, and the drill's band."""
        if self.view is None:
            self.common.say("No session is open.", True)
            return
        view = self.view
        bands = self.common.pupil.bands if self.tone.of_this_walk_in(view) else None
        self.common.desk.do(jobs.pair, view, bands, done=partial(self._paired, view), failed=self._failed)

    def _paired(self, view: RecordedSession, found: jobs.PairView | None) -> None:
        if self.view is not view:
            return
        if found is None:
            self.common.say("The pair: no two swings differ in strike or findings.", False)
            return
        self.right.setCurrentIndex(0)
        numbers = [swing.number for swing in view.swings]
        self.swings.setCurrentRow(numbers.index(found.clean))
        self._second, self._pair = found.poor, found
        self._draw_lanes()
        self.title.setText("The pair: clean and poor")
        self.sentences.show_all(((found.sentence, False), (found.fitted, False)))
        self.common.say(
            "Looking changes nothing." + (f" {labelled('fit tone')} sets the tone." if found.limits else ""), False
        )

    def fit_tone(self) -> None:
        """Sets the tone to the pair that is shown: the one thing here that writes, and it can be taken back."""
        self.tone.fit(self.view, self._pair)

    def compare(self) -> None:
        """Blocks beside each other; the same key goes back to the swing."""
        self._pane(1)
        if self.right.currentIndex() == 1:
            self.compare_pane.compare()

    def progress(self) -> None:
        """Over the lessons; the same key goes back to the swing."""
        self._pane(2)
        if self.right.currentIndex() == 2:
            self.progress_pane.ask()

    def _pane(self, index: int) -> None:
        self.right.setCurrentIndex(0 if self.right.currentIndex() == index else index)

    # Notes

    def _write_note(self) -> None:
        text = self.note.text().strip()
        if self.view is None or not text:
            return
        self.common.desk.do(jobs.noted, self.view.path, text, done=self._noted, failed=self._failed)

    def _noted(self, notes: tuple[str, ...]) -> None:
        self.note.clear()
        self.setFocus()
        self.common.say(f"Noted: {notes[-1]}", False)

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        if isinstance(what, Saved) and what.path and self.isVisible():
            self._list()

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        self.lane.update()
        self.field.update()
        self.progress_pane.curve.renew()

    def buttons(self) -> list[QPushButton]:
        """All of them, for tests."""
        return self.findChildren(QPushButton)
