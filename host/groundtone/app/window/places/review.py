"""Review: the swings of a session as a table, one or two lanes with a cursor, the pair, blocks compared, progress."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QComboBox, QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from groundtone.app.window import jobs
from groundtone.app.window.keys import labelled
from groundtone.app.window.places.feel_pane import FeelPane
from groundtone.app.window.places.fit_tone import ToneFit
from groundtone.app.window.places.place import Common
from groundtone.app.window.places.review_open import OpenSession
from groundtone.app.window.places.review_panes import ComparePane, ProgressPane
from groundtone.app.window.places.review_rows import rows_of, way_of
from groundtone.app.window.views import Saved
from groundtone.app.window.widgets.field import CellField
from groundtone.app.window.widgets.lane import LaneView
from groundtone.app.window.widgets.lists import Sentences
from groundtone.app.window.widgets.parts import ActRow, Elided, bind, button, label, role, sheet
from groundtone.app.window.widgets.strike_pad import StrikeCard, strike_words
from groundtone.app.window.widgets.table import Table
from groundtone.review.strikes import Strike

if TYPE_CHECKING:
    from groundtone.review.lane_store import SwingLane
    from groundtone.review.swings import RecordedSession, SwingRow

# The dot of a cell with this force has its full area, N (invented scale).
_FULL_N = 60.0
_TABS = ("one swing", "pair", "compare", "progress", "feel")


class ReviewPlace(OpenSession):
    """See the module's text."""

    name = "review"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.lanes: dict[int, SwingLane] = {}
        self._second: int | None = None
        self._pair: jobs.PairView | None = None
        self.tone = ToneFit(common)
        self._forces: tuple[Any, Any, Any] | None = None
        self._asked: tuple[Path, int] | None = None
        self._numbers: list[int] = []
        self.swings = Table(common.look, "swings, the newest first", ("no.", "pair", "strike", "found"), (2, 2.6, 3, 3))
        self.swings.chosen = self._row_chosen
        self.lane, self.field = LaneView(common.look), CellField(common.look)
        self.cursor_words = Elided("", "note")
        self.title, self.sentences = label("No session is open", "claim"), Sentences()
        self.strike = StrikeCard(common.look, "review", self, narrow=True)
        self.strike.changed.connect(self.tell)
        self.compare_pane, self.progress_pane = ComparePane(common), ProgressPane(common)
        self.feel_pane = FeelPane(common, self)
        self.right = QStackedWidget()
        self.tabs: dict[str, QPushButton] = {}
        quiet = [
            button("delete empty", self.delete_empty, self), button("call fault", self.call_described, self),
            button("open session", self.ask_file, self), button("second swing", self.second, self),
            button("beside", self.beside, self), button("echo", self.echo, self),
            button("note", self.note.setFocus, self),
        ]  # fmt: skip
        self.fit = button("fit tone", self.fit_tone, self)
        self.acts = ActRow(quiet, self.fit)
        self._lay_out()
        self.lane.cursor_moved.connect(self._cursor)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def _lay_out(self) -> None:
        whole = QHBoxLayout(self)
        self.sessions.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.sessions.setMinimumContentsLength(8)
        left = QVBoxLayout()
        whole.addLayout(left, 3)
        left.addWidget(sheet(self.sessions, self.swings, stretch=1), 7)
        left.addWidget(sheet(self.strike, stretch=0), 3)
        column = QVBoxLayout()
        whole.addLayout(column, 9)
        tabs = QWidget()
        line = QHBoxLayout(tabs)
        line.setContentsMargins(0, 0, 0, 0)
        acts = (self.one_swing, self.pair, self.compare, self.progress, self.feel)
        for name, act in zip(_TABS, acts, strict=True):
            to = button(name, act, self)
            to.setCheckable(True)
            role(to, "tab")
            self.tabs[name] = to
            line.addWidget(to)
        line.addStretch(1)
        column.addWidget(tabs)
        for name, act in (
            ("frame back", partial(self.step, -1)), ("frame on", partial(self.step, 1)),
            ("ten back", partial(self.step, -10)), ("ten on", partial(self.step, 10)),
            ("event on", self.lane.next_event), ("swing up", partial(self.choose, -1)),
            ("swing down", partial(self.choose, 1)),
        ):  # fmt: skip
            bind(name, act, self)
        one = QWidget()
        rows = QVBoxLayout(one)
        rows.setContentsMargins(0, 0, 0, 0)
        self.top = sheet(self.title, self.sentences, stretch=1)
        rows.addWidget(self.top, 2)
        lower = QHBoxLayout()
        rows.addLayout(lower, 8)
        lower.addWidget(sheet(self.cursor_words, self.lane, self.note, stretch=1), 7)
        lower.addWidget(sheet(label("From above, toes up", "note"), self.field, stretch=1), 3)
        for pane in (one, self.compare_pane, self.progress_pane, self.feel_pane):
            self.right.addWidget(pane)
        column.addWidget(self.right, 1)
        self._mark_tab()

    def _clear(self, title: str, *sentences: tuple[str, bool]) -> None:
        """Nothing of the session before stays on the screen while another one opens, or cannot be opened."""
        self.lanes = {}
        self.view = self._second = self._forces = self._pair = None
        self._asked = None
        self._numbers = []
        self.swings.show_rows([])
        self.lane.show_swings(None)
        self.cursor_words.setText("")
        self.strike.show_swing(0, Strike(), "")
        self.field.show_level(np.zeros_like(self.field.level))
        self.title.setText(title)
        self.sentences.show_all(sentences)
        self.compare_pane.show_session(None)
        for pane in (self.progress_pane, self.feel_pane):
            pane.show_golfer("")
        self._pane(0)

    def _opened(self, number: int, view: RecordedSession) -> None:
        if number != self._opening:
            return
        self._wanted = 0
        self.view = view
        self.compare_pane.show_session(view)
        for pane in (self.progress_pane, self.feel_pane):
            pane.show_golfer(view.golfer)
        if view.doubts:
            self.common.say(view.doubts[0], True)
        if not view.swings:
            self.title.setText("There is no swing in this recording")
            words = f"{labelled('delete empty')} removes it."
            self.sentences.show_all([*((doubt, True) for doubt in view.doubts), (words, False)])
            return
        self._show_table(view.swings[0].number)
        self._draw()
        self.common.desk.do(jobs.lanes, view, done=partial(self._measured, view.path), failed=self._failed)

    def _measured(self, path: Path, lanes: dict[int, SwingLane]) -> None:
        if self.view is not None and self.view.path == path:
            self.lanes = lanes
            self._draw_lanes()
            self._show_strike()

    # One swing, or two

    def _show_table(self, number: int) -> None:
        """The swings, the newest above, block by block; this one is chosen."""
        if self.view is None:
            return
        pair = (self._pair.clean, self._pair.poor) if self._pair is not None else (0, 0)
        rows, self._numbers = rows_of(self.view, self.hand, pair, self._second or 0)
        self.swings.show_rows(rows)
        if number in self._numbers:
            self.swings.choose(self._numbers.index(number))

    @property
    def hand(self) -> str:
        """Of the session's golfer, as far as it is known."""
        lane = next(iter(self.lanes.values()), None)
        return "" if lane is None else "left" if lane.lead == "right" else "right"

    @property
    def swing(self) -> SwingRow | None:
        """The chosen one."""
        at = self.swings.currentRow()
        number = self._numbers[at] if 0 <= at < len(self._numbers) else 0
        return self._numbered(number)

    def _numbered(self, number: int) -> SwingRow | None:
        swings = self.view.swings if self.view is not None else ()
        return next((swing for swing in swings if swing.number == number), None)

    def choose(self, by: int) -> None:
        """The swing so many further down the table."""
        self.swings.step(by)

    def _row_chosen(self, _: int) -> None:
        if self._pair is not None:
            self._pair, self._second = None, None
            swing = self.swing
            self._show_table(swing.number if swing is not None else 0)
        self._pane(0)
        self._draw()

    def one_swing(self) -> None:
        """The chosen swing alone."""
        self._second = None
        self._row_chosen(0)

    def _draw(self) -> None:
        self._draw_lanes()
        self._show_swing()

    def _draw_lanes(self) -> None:
        swing = self.swing
        if swing is None:
            return
        self._forces = None
        self.field.show_path(())
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
            self.field.show_path(*way_of(self.lane.first, forces))
            self._cursor(self.lane.frame_at)

    def _show_swing(self) -> None:
        swing = self.swing
        if swing is None:
            return
        self.title.setText(f"Swing {swing.number}, {swing.role}: {strike_words(swing.strike)}")
        lines = [
            (" ".join((f"{f.name}: {f.sentence}", *([f"Drill: {f.drill}"] if f.drill else []))), f.concern)
            for f in swing.faults
        ]
        lines = lines or [("Nothing was found that is worth a word.", False)]
        words = self.view.words.get(swing.number, ()) if self.view is not None else ()
        self.sentences.show_all([*lines, ("; ".join(words), False)] if words else lines)
        self._show_strike()

    def _show_strike(self) -> None:
        swing = self.swing
        if swing is not None:
            self.strike.show_swing(swing.number, swing.strike, self.hand)

    def tell(self, number: int, strike: Strike) -> None:
        """Tells or mends a strike of the open session; it can be taken back."""
        swing, view = self._numbered(number), self.view
        if swing is None or view is None:
            self.common.say("There is no swing yet to tell a strike of.", True)
            return
        self.common.undo.add(f"strike of swing {number}", partial(self._send, view.path, number, swing.strike))
        self._send(view.path, number, strike)

    def _send(self, path: Path, number: int, strike: Strike) -> None:
        self.common.desk.do(
            jobs.told_strike, path, number, strike, done=partial(self._mended, path, number, strike),
            failed=self._failed,
        )  # fmt: skip

    def _mended(self, path: Path, number: int, strike: Strike, _: Strike) -> None:
        self.common.say(f"Swing {number} told: {strike_words(strike)}.", False)
        if self.view is not None and self.view.path == path:
            self.view = jobs.with_strike(self.view, number, strike)
            self._show_table(number)
            if self._pair is None:
                self._show_swing()

    def _cursor(self, frame: int) -> None:
        self.cursor_words.setText(self.lane.words)
        lane = self.lane.first
        if lane is None or self._forces is None or not len(self._forces[0]):
            return
        t_s, force, centre = self._forces
        at = min(int(np.searchsorted(t_s, lane.device_s[frame] - 1e-4)), len(t_s) - 1)
        row, column = float(centre[at, 0]), float(centre[at, 1])
        self.field.lead = lane.lead
        self.field.show_level(np.clip(force[at] / _FULL_N, 0.0, 1.0), None if math.isnan(row) else (row, column))

    def step(self, frames: int) -> None:
        """Moves the cursor."""
        self.lane.move_to(self.lane.frame_at + frames)

    def second(self) -> None:
        """The chosen swing becomes the second lane, or no longer."""
        swing = self.swing
        if swing is None:
            return
        self._second = None if self._second == swing.number else swing.number
        self._show_table(swing.number)
        self._draw_lanes()

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
        self._mark_tab()
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
        self._second, self._pair = found.poor, found
        self._show_table(found.clean)
        self._pane(0)
        self._draw_lanes()
        self._show_strike()
        self.title.setText(f"The pair: {found.sentence}")
        self.sentences.show_all(((found.fitted, False),))
        words = f" {labelled('fit tone')} sets the tone." if found.limits else ""
        self.common.say(f"Looking changes nothing.{words}", False)

    def fit_tone(self) -> None:
        """Sets the tone to the pair that is shown: the one thing here that writes, and it can be taken back."""
        self.tone.fit(self.view, self._pair)

    def compare(self) -> None:
        """Blocks beside each other; the same key goes back to the swing."""
        self._turn(1, self.compare_pane.compare)

    def progress(self) -> None:
        """Over the lessons; the same key goes back to the swing."""
        self._turn(2, self.progress_pane.ask)

    def feel(self) -> None:
        """What is felt and done on purpose, and the plan; the same key goes back to the swing."""
        self._turn(3, self.feel_pane.ask)

    def _turn(self, index: int, ask: Callable[[], None]) -> None:
        self._pane(0 if self.right.currentIndex() == index else index)
        if self.right.currentIndex() == index:
            ask()

    def _pane(self, index: int) -> None:
        self.right.setCurrentIndex(index)
        self._mark_tab()

    def _mark_tab(self) -> None:
        at = self.right.currentIndex()
        now = _TABS[at + 1] if at else "pair" if self._pair is not None else "one swing"
        for name, to in self.tabs.items():
            to.setChecked(name == now)
        # Filled is what this tab leads to.
        role(self.fit, "" if at else "primary")
        role(self.feel_pane.new_button, "primary" if now == _TABS[-1] else "")

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        if isinstance(what, Saved) and what.path and self.isVisible():
            self._list()

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        self.swings.renew()
        # Two lines of a claim and one below it, however short the room is.
        self.top.setMinimumHeight(round(8 * self.common.look.em))
        for drawn in (self.strike.pad, self.lane, self.field):
            drawn.update()
        self.progress_pane.renew()
        self.feel_pane.renew()
