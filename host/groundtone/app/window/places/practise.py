"""Practise: the lane live, what is out in words and shapes, where the ball met the face, blocks, every swing so far."""

from __future__ import annotations

from functools import partial
from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from groundtone.app.window import jobs
from groundtone.app.window.places.place import Common, Place
from groundtone.app.window.places.practise_rows import SAID, SIGNS, cells_of, sum_of
from groundtone.app.window.places.pupil import BLOCK_SWINGS, walk_in
from groundtone.app.window.views import Ended, LiveSwing, MatState, Moment, PractiseView, Saved
from groundtone.app.window.widgets.call import Call
from groundtone.app.window.widgets.cue_card import CueCard
from groundtone.app.window.widgets.guess_card import PLACE_OF_KEY, GuessCard
from groundtone.app.window.widgets.live_lane import LiveLane
from groundtone.app.window.widgets.parts import ActRow, bind, button, label, role, sheet
from groundtone.app.window.widgets.strike_pad import StrikeCard, strike_words
from groundtone.app.window.widgets.table import Table
from groundtone.cue.rulefile import shown
from groundtone.review.strikes import Strike

_BLOCKS = ("baseline", "drill", "test")
_ASKING = ("in turn", "plan", "guess", "purpose height", "purpose impact", "purpose")
_NAMES = {"heel-toe": "heel to toe", "side": "side to side", "both": "both lines"}


class PractisePlace(Place):
    """See the module's text."""

    name = "practise"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.running = False
        self.rows: tuple[LiveSwing, ...] = ()
        self._block = "baseline"
        # How blocks ask: on which line, and in which order.
        self._asks = ("heel-toe", "random")
        self._chosen = 0
        self._session = 0
        self._paths: dict[int, str] = {}
        self._paused = self._next = False
        self.lane = LiveLane(common.look)
        self.call = Call()
        self.toes, self.trail = CueCard("toes", "up"), CueCard("trail side", "side")
        self.strike = StrikeCard(common.look, "practise", self)
        self.strike.changed.connect(self.tell)
        self.strike.instead = self._guess_key
        self.guess = GuessCard()
        self.guess.guessed.connect(self.say_guess)
        self.telling = QStackedWidget()
        self.telling.addWidget(self.strike)
        self.telling.addWidget(self.guess)
        self.table = Table(common.look, "swings, the newest first", ("no.", "block", "strike", "out"), (2, 4, 3.2, 3))
        self.table.chosen = self._row_chosen
        self.counts = label("", "note")
        self.blocks: dict[str, QPushButton] = {}
        self._block_words: dict[str, QLabel] = {}
        self.go = button("practise go", self.start_or_pause, self)
        asking = [button(kind, partial(self.block, kind), self) for kind in _ASKING]
        self.line_button, self.order_button = (
            button("asked line", self.other_line, self), button("asked order", self.other_order, self),
        )  # fmt: skip
        good = button("good one", partial(self._remote, "e"), self)
        quiet = [
            *asking,
            self.line_button,
            self.order_button,
            good,
            button("next pupil", self.next_pupil, self),
            button("practise end", self.stop, self),
        ]
        self.end_button = quiet[-1]
        self.acts = ActRow(quiet, self.go)
        self._lay_out()
        bind("practise up", partial(self.table.step, -1), self)
        bind("practise down", partial(self.table.step, 1), self)
        for name, place in (("guess trail", "trail"), ("guess lead", "lead")):
            bind(name, partial(self.say_guess, place), self)
        for name, key in (("remote next", "next"), ("remote back", "back")):
            bind(name, partial(self._remote, key), self)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._show_asks()
        self._show_idle()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        lane = sheet(self.lane, label("striped: outside the pale band; time runs upward", "note"), stretch=0)
        row.addWidget(lane, 4)
        right = QVBoxLayout()
        row.addLayout(right, 8)
        steps = QWidget()
        line = QHBoxLayout(steps)
        line.setContentsMargins(0, 0, 0, 0)
        for kind in _BLOCKS:
            to = button(kind, partial(self.block, kind), self)
            to.setCheckable(True)
            role(to, "tab")
            self.blocks[kind] = to
            self._block_words[kind] = label("", "note", wrap=False)
            line.addWidget(to)
            line.addWidget(self._block_words[kind])
            line.addStretch(1)
        right.addWidget(steps)
        right.addWidget(self.call, 3)
        lower = QHBoxLayout()
        right.addLayout(lower, 7)
        left = QVBoxLayout()
        lower.addLayout(left, 5)
        cards = QHBoxLayout()
        left.addLayout(cards)
        cards.addWidget(self.toes)
        cards.addWidget(self.trail)
        left.addWidget(sheet(self.telling, stretch=0), 1)
        lower.addWidget(sheet(self.table, self.counts, stretch=0), 3)

    # What a person does

    def start_or_pause(self) -> None:
        """Begins, pauses, goes on: it never ends anything."""
        if self.running:
            self._paused = not self._paused
            self.common.worker.command("pause")
            self.common.say("Paused: silent, and all is recorded." if self._paused else "It goes on.", False)
            self._show_go()
            return
        from groundtone.app.window.modes.practise import Practise, PupilWish

        if not self.common.pupil.here:
            self.common.take(walk_in(self.common.clock()))
        pupil = self.common.pupil
        self.lane.clear()
        wish = PupilWish(
            pupil.name, pupil.hand, self._block, pupil.club, pupil.lie, bands=pupil.bands, drill=pupil.drill,
            asks=self._asks, lesson=pupil.lesson, key=pupil.key, **vars(pupil.feet),
            started=self.common.clock().astimezone().isoformat(timespec="seconds"),
        )  # fmt: skip
        self.common.worker.begin(Practise(wish))
        self.setFocus()

    def begin_next(self) -> None:
        """See `Place.begin_next`."""
        self._next = self.running
        if not self.running:
            self.start_or_pause()

    def stop(self) -> None:
        """Ends and saves."""
        if self.running:
            self.common.worker.stop()
        else:
            self.common.say("Nothing runs that could be ended.", True)

    def block(self, kind: str) -> None:
        """The next block of swings."""
        self._block = kind
        self._mark_block()
        if self.running:
            pupil = self.common.pupil
            self.common.worker.command("block", (kind, pupil.club, pupil.lie, pupil.drill, *self._asks))
            silent = "" if kind in ("drill", "plan", "in turn") else ", silent for the pupil"
            self.common.say(f"A block begins: {kind}{silent}.", False)

    def other_line(self) -> None:
        """On which line blocks ask from the next one on: heel to toe, side to side, or both."""
        at = list(_NAMES).index(self._asks[0])
        self._asks = (list(_NAMES)[(at + 1) % len(_NAMES)], self._asks[1])
        self._show_asks()

    def other_order(self) -> None:
        """In which order they ask: mixed, or one place after the other."""
        self._asks = (self._asks[0], "blocked" if self._asks[1] == "random" else "random")
        self._show_asks()

    def _show_asks(self) -> None:
        self.line_button.setText(f"Asked: {_NAMES[self._asks[0]]}")
        self.order_button.setText(f"Order: {self._asks[1]}")
        for each in (self.line_button, self.order_button):
            each.setAccessibleName(each.text())
            each.updateGeometry()
        self.acts.updateGeometry()

    def tell(self, number: int, strike: Strike) -> None:
        """Tells or mends a strike, while it runs and after it has ended; it can be taken back."""
        if not number:
            self.common.say("There is no swing yet to tell a strike of.", True)
            return
        before = next((row.strike for row in self.rows if row.number == number), Strike())
        self._send(self._session, number, strike)
        self.common.undo.add(f"strike of swing {number}", partial(self._send, self._session, number, before))
        self.common.say(f"Swing {number} told: {strike_words(strike)}.", False)

    @property
    def guessing(self) -> bool:
        """The pupil is asked where it was."""
        return self.telling.currentWidget() is self.guess

    def say_guess(self, place: str) -> None:
        """Where the pupil says it was: told before the answer; another one within two seconds stands in its place."""
        if self.guessing:
            self.common.say(f"The pupil says: {place}.", False)
        # Where none is waited for, the practice says what is missing.
        self.common.worker.command("guess", place)

    def _remote(self, key: str) -> None:
        self.common.worker.command("strike", key)

    def _guess_key(self, key: str) -> bool:
        if not self.guessing:
            return False
        if (place := PLACE_OF_KEY.get(key)) is not None:
            self.say_guess(place)
        else:
            self.common.say("First where the pupil says it was; then the strike can be told.", True)
        return True

    def _send(self, session: int, number: int, strike: Strike) -> None:
        if session == self._session and self.running:
            self.common.worker.command("strike set", (number, strike))
            return
        path = self._paths.get(session)
        if path is None:
            self.common.say("This practice was not saved: its strikes cannot be changed.", True)
            return
        self.common.desk.do(
            jobs.told_strike, _path(path), number, strike, done=partial(self._mended, session, number, strike),
            failed=lambda text: self.common.say(text, True),
        )  # fmt: skip

    def _mended(self, session: int, number: int, strike: Strike, _: Strike) -> None:
        if session == self._session:
            from dataclasses import replace

            self._show_rows(tuple(replace(r, strike=strike) if r.number == number else r for r in self.rows))

    def next_pupil(self) -> None:
        """Ends and saves what runs, and asks who it is."""
        if self.running:
            self.common.worker.stop()
        self.common.go("pupils")

    # What comes

    def began(self, mode: str) -> None:
        """See `Place.began`."""
        was, self.running = self.running, mode == "practise"
        self.common.practising = self.running
        if self.running and not was:
            self._session += 1
            self._chosen, self._paused = 0, False
            self._show_rows(())
        self._show_go()

    def pupil_changed(self) -> None:
        """See `Place.pupil_changed`."""
        if not self.running:
            self.lane.clear()
            self._session += 1
            self._chosen = 0
            self._show_rows(())
            self._block = "baseline"
            self._mark_block()
            self._show_idle()

    def _show_idle(self) -> None:
        pupil = self.common.pupil
        if pupil.here:
            self.call.show_call(pupil.shown, "Space begins with a baseline, silent for the pupil.")
        else:
            self.call.show_call("Who is it?", "F6 chooses the pupil; Space begins with a walk-in.")
        self._show_go()

    def _show_go(self) -> None:
        self.go.setText("Begin" if not self.running else "Go on" if self._paused else "Pause")
        self.end_button.setEnabled(self.running)
        self.go.updateGeometry()
        self.acts.updateGeometry()

    def entered(self) -> None:
        """See `Place.entered`."""
        self._mark_block()
        self.setFocus()

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        match what:
            case Moment():
                self.lane.mark(what.t_s, what.word)
            case Saved():
                self._saved(what)
            case Ended(mode="practise"):
                self.running = self.common.practising = False
                self.telling.setCurrentWidget(self.strike)
                for card in (self.toes, self.trail):
                    card.show_size(0.0, silent=False)
                self._show_go()
                if self._next:
                    self.begin_next()
            case MatState(state="lost", mode="practise"):
                self.call.show_call("mat lost", what.sentence, shape="cross", warm=True)

    def _saved(self, what: Saved) -> None:
        whose = self.common.pupils.get(what.key, self.common.pupil)
        if what.path and what.swings:
            whose.paths.append(what.path)
            self._paths[self._session] = what.path
            self.common.say(" ".join(("Saved.", *what.lines)), False)
        else:
            self.common.say("No swing was seen: nothing was saved.", True)
        if what.key == self.common.pupil.key:
            word = "saved" if what.path and what.swings else "ended"
            self.call.show_call(word, "Strikes can still be told; Review shows it all.", shape="tick")

    def picture(self, what: Any) -> None:
        """See `Place.picture`."""
        if not isinstance(what, PractiseView) or not self.running:
            return
        self.telling.setCurrentWidget(self.guess if what.guessing else self.strike)
        self.lane.show_bands(*what.limits)
        self.lane.add(what.t_s, what.share, what.overall, what.trail_out, what.toes_out)
        if (what.state == "paused") != self._paused:
            self._paused = what.state == "paused"
            self._show_go()
        self._show_call(what)
        self.toes.show_size(what.sizes.get("toes", 0.0), silent=what.silent, limit=what.limits[1])
        self.trail.show_size(what.sizes.get("trail side", 0.0), silent=what.silent, limit=what.limits[0])
        if what.rows != self.rows:
            self._show_rows(what.rows)
        for kind, words in self._block_words.items():
            found = sum_of(what.blocks, kind)
            silent = "" if kind == "drill" else ", silent"
            text = f"{found.words} outside" if found.of else f"{BLOCK_SWINGS}{silent}"
            if words.text() != text:
                words.setText(text)
        self._mark_block(what.block)
        swings, inside, told, centre = what.counts
        text = f"{swings - inside} of {swings} outside" + (f", {centre} of {told} in the circle" if told else "")
        if self.counts.text() != text:
            self.counts.setText(text)

    def _show_call(self, what: PractiseView) -> None:
        out = list(what.sizes)
        if what.state == "play" and out:
            words = " + ".join(SAID.get(name, shown(name)) for name in out)
            silent = "Silent for the pupil." if what.silent else ""
            self.call.show_call(
                words, silent, "Pressure", SIGNS.get(out[0], "rhomb"), warm=True, filled=not what.silent
            )
        elif what.state == "play" and what.told and what.words == what.told:
            self.call.show_call(strike_words(what.strike), what.sentence, "Strike")
        else:
            self.call.show_call(what.words, what.sentence)

    def _show_rows(self, rows: tuple[LiveSwing, ...]) -> None:
        newest = len(rows) > len(self.rows)
        self.rows = rows
        if newest or not any(row.number == self._chosen for row in rows):
            self._chosen = rows[-1].number if rows else 0
        hand = self.common.pupil.hand
        self.table.show_rows([cells_of(row, hand) for row in reversed(rows)])
        if rows:
            self.table.choose(len(rows) - self._chosen)
        self._show_strike()

    def _row_chosen(self, row: int) -> None:
        self._chosen = self.rows[len(self.rows) - 1 - row].number
        self._show_strike()

    def _show_strike(self) -> None:
        strike = next((row.strike for row in self.rows if row.number == self._chosen), Strike())
        self.strike.show_swing(self._chosen, strike, self.common.pupil.hand)

    def _mark_block(self, block: str = "") -> None:
        for kind, to in self.blocks.items():
            to.setChecked(kind == (block or self._block))

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        self.table.renew()
        for part in (self.lane, self.strike.pad, self.toes, self.trail, self.call):
            part.updateGeometry()
            part.update()


def _path(text: str) -> Any:
    from pathlib import Path

    return Path(text)
