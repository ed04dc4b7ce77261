"""Practise: the lane live, what sounds in words and shapes, where the ball met the face, blocks, the next pupil."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from PyQt5.QtCore import Qt
from PyQt5.QtWidgets import (
    QComboBox,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from groundtone.app.window import page_jobs
from groundtone.app.window.keys import KEYS
from groundtone.app.window.places.place import Common, Place, Pupil
from groundtone.app.window.views import Ended, MatState, Moment, PractiseView, Saved
from groundtone.app.window.widgets.cue_card import CueCard
from groundtone.app.window.widgets.live_lane import LiveLane
from groundtone.app.window.widgets.parts import bind, button, label, role, sheet
from groundtone.app.window.widgets.strike_pad import StrikePad
from groundtone.cue.rulefile import shown
from groundtone.review.strikes import Strike

_BLOCKS = ("baseline", "drill", "test")
_ASKING = ("purpose", "purpose impact", "guess", "plan")
_CONTACTS = ("clean", "thin", "fat", "topped", "shank")
_FLIGHTS = (("left", "l"), ("straight", "m"), ("right", "r"), ("distance", "d"))
_MAIN = ("toes", "trail side")  # these have a card of their own


class PractisePlace(Place):
    """See the module's text."""

    name = "practise"

    def __init__(self, common: Common) -> None:
        super().__init__(common)
        self.running = False
        self._block = "baseline"
        self._strike = Strike()
        self._swings = 0
        self.lane = LiveLane(common.look)
        self.words = label("Who is it?", "main")
        self.sentence = label("Name the pupil, then begin. Baseline and test are silent.", "title")
        self.toes = CueCard(common.look, "toes", "up")
        self.trail = CueCard(common.look, "trail side", "side")
        self.others = label("", "bad")
        self.pad = StrikePad(common.look)
        self.pad.told.connect(lambda field: self.strike(str(field)))
        self.told_words = label("", "title")
        self.counts = label("", "")
        self.form = _PupilForm()
        self.left_side = QStackedWidget()
        self.left_side.addWidget(self.form)
        self.left_side.addWidget(self.lane)
        self._lay_out()
        for key in KEYS:
            if key.place == "practise" and key.name[:7] == "strike " and key.name[7:].isdigit():
                bind(key.name, partial(self.strike, key.name[7:]), self)
        self.form.name.returnPressed.connect(self._check_first)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.addWidget(sheet(self.left_side, stretch=0), 5)
        cards = QWidget()
        line = QHBoxLayout(cards)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.trail)
        line.addWidget(self.toes)
        contacts = QWidget()
        grid = QGridLayout(contacts)
        grid.setContentsMargins(0, 0, 0, 0)
        left = [(contact, "o" if contact == "topped" else contact[0]) for contact in _CONTACTS]
        for column, keys in enumerate(([*left, ("undo", "u")], _FLIGHTS)):
            for i, (name, key) in enumerate(keys):
                grid.addWidget(button(f"strike {name}", partial(self.strike, key), self), i, column)
        face = QWidget()
        beside = QHBoxLayout(face)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.addWidget(self.pad, 3)
        beside.addWidget(contacts, 2)
        blocks = QWidget()
        self.blocks: dict[str, QPushButton] = {}
        of_blocks = QGridLayout(blocks)
        of_blocks.setContentsMargins(0, 0, 0, 0)
        for row_at, kinds in ((0, _BLOCKS), (2, _ASKING[:2]), (3, _ASKING[2:])):
            for i, kind in enumerate(kinds):
                to = button(kind, partial(self.block, kind), self)
                to.setCheckable(True)
                self.blocks[kind] = to
                of_blocks.addWidget(to, row_at, i)
        for i, (name, act) in enumerate(
            (("practise start", self.start), ("practise stop", self.stop), ("next pupil", self.next_pupil))
        ):
            of_blocks.addWidget(button(name, act, self), 1, i)
        self._mark_block()
        parts = self.words, self.sentence, cards, self.others, face, self.told_words, self.counts, blocks
        row.addWidget(sheet(*parts, stretch=4), 6)

    # What a person does

    def start(self) -> None:
        """Begins with the pupil who is named."""
        from groundtone.app.window.modes.practise import Practise, PupilWish

        pupil = self.take_form()
        self.lane.clear()
        wish = PupilWish(
            pupil.name, pupil.hand, self._block, pupil.club, pupil.lie, bands=pupil.bands, drill=pupil.drill
        )
        self.common.worker.begin(Practise(wish))
        self.setFocus()

    def stop(self) -> None:
        """Ends and saves."""
        self.common.worker.stop()

    def block(self, kind: str) -> None:
        """The next block of swings."""
        self._block = kind
        self._mark_block()
        if self.running:
            self.common.worker.command("block", kind)
            silent = "" if kind in ("drill", "plan") else ", in silence"
            self.common.say(f"A block begins: {kind}{silent}.", False)

    def strike(self, key: str) -> None:
        """Tells something of the last swing's strike; it can be taken back."""
        if not self.running or not self._swings:
            self.common.say("There is no swing yet to tell a strike of.", True)
            return
        number, before = self._swings, self._strike
        self.common.worker.command("strike", key)
        back = partial(self.common.worker.command, "strike set", (number, before))
        self.common.undo.add(f"strike of swing {number}", back)
        self.common.say("", False)

    def next_pupil(self) -> None:
        """Saves, clears, asks who it is; the check comes next."""
        before = replace(self.common.pupil, paths=list(self.common.pupil.paths))
        if self.running:
            self.common.worker.stop()
        self.common.pupil = Pupil()
        self.form.show_pupil(self.common.pupil)
        self._block = "baseline"
        self._mark_block()
        self.left_side.setCurrentWidget(self.form)
        self.words.setText("Who is next?")
        self.sentence.setText("Name the pupil; Enter goes on to the check.")
        self.told_words.setText("")
        self.counts.setText("")
        self.pad.show_strike(None, "")
        if before.name or before.paths:
            self.common.undo.add("next pupil", partial(self._back_to, before))
        self.common.say("Saved. Who is next?" if before.paths or self.running else "Who is next?", False)
        self.form.name.setFocus()

    def _back_to(self, pupil: Pupil) -> None:
        self.common.pupil = pupil
        self.form.show_pupil(pupil)
        self.words.setText(pupil.name or "nobody named")

    def _check_first(self) -> None:
        self.take_form()
        self.common.go("check")

    def take_form(self) -> Pupil:
        """The pupil as the form has it."""
        pupil = self.common.pupil
        name = self.form.name.text().strip()
        if name != pupil.name:
            # Another name is another person: nothing fitted to the one before holds.
            pupil = Pupil(name)
        pupil.hand = ("", "right", "left")[self.form.hand.currentIndex()]
        pupil.club = self.form.club.text().strip()
        pupil.drill = self.form.drills[self.form.drill.currentIndex()]
        pupil.lie = ("", "mat", "turf", "tee")[self.form.lie.currentIndex()]
        self.common.pupil = pupil
        return pupil

    # What comes

    def began(self, mode: str) -> None:
        """See `Place.began`."""
        self.running = self.common.practising = mode == "practise"
        if self.running:
            self.left_side.setCurrentWidget(self.lane)
            self._swings, self._strike = 0, Strike()

    def entered(self) -> None:
        """See `Place.entered`."""
        if len(self.form.drills) == 1:
            show = lambda seen: self.form.show_drills(seen[1])  # noqa: E731
            self.common.desk.do(page_jobs.page_options, done=show, failed=lambda text: self.common.say(text, True))
        self.form.show_pupil(self.common.pupil)
        if self.running or self.common.pupil.name:
            self.setFocus()
        else:
            self.form.name.setFocus()

    def told(self, what: Any) -> None:
        """See `Place.told`."""
        match what:
            case Moment():
                self.lane.mark(what.t_s, what.word)
            case Saved():
                if what.path:
                    pupil = self.common.pupil
                    if what.golfer == pupil.name:
                        pupil.paths.append(what.path)
                    self.common.say(" ".join(("Saved.", *what.lines)), False)
                else:
                    self.common.say("Nothing was recorded.", True)
                if what.golfer == self.common.pupil.name:
                    self.words.setText("saved" if what.path else "ended")
                    self.sentence.setText("Review shows it; begin again for another block.")
            case Ended(mode="practise"):
                self.running = self.common.practising = False
                # A strike is told while its swing is the last: that is over.
                self.common.undo.forget("strike of swing")
                for card in (self.toes, self.trail):
                    card.show_size(0.0)
                self.others.setText("")
            case MatState(state="lost", mode="practise"):
                self.words.setText("mat lost")
                self.sentence.setText(what.sentence)

    def picture(self, what: Any) -> None:
        """See `Place.picture`."""
        if not isinstance(what, PractiseView) or not self.running:
            return
        self.lane.show_bands(*what.limits)
        self.lane.add(what.t_s, what.share, what.overall, what.trail_out, what.toes_out)
        self._set(self.words, what.words)
        self._set(self.sentence, what.sentence)
        self.toes.show_size(what.sizes.get("toes", 0.0))
        self.trail.show_size(what.sizes.get("trail side", 0.0))
        others = [shown(name) for name in what.sizes if name not in _MAIN]
        self._set(self.others, " + ".join(others))
        if (what.strike, what.swings) != (self._strike, self._swings):
            self._strike, self._swings = what.strike, what.swings
            self.pad.show_strike(what.strike.field, what.told)
        strike = f"swing {what.swings}: {what.told or 'strike not told yet'}" if what.swings else "no swing yet"
        self._set(self.told_words, strike)
        swings, inside, told, centre = what.counts
        parts = [f"{swings} {'swing' if swings == 1 else 'swings'}", f"{inside} with the tick alone"]
        if told:
            parts.append(f"{centre} of {told} strikes in the centre circle")
        self._set(self.counts, ", ".join(parts))

    def _set(self, part: Any, text: str) -> None:
        """Setting a text lays the place out anew: only where it has changed."""
        if part.text() != text:
            part.setText(text)

    def _mark_block(self) -> None:
        for kind, to in self.blocks.items():
            to.setChecked(kind == self._block)

    def renew(self) -> None:
        """See `Place.renew`."""
        super().renew()
        for part in (self.lane, self.pad, self.toes, self.trail):
            part.update()


class _PupilForm(QWidget):
    """Who it is, and with what."""

    def __init__(self) -> None:
        super().__init__()
        self.name, self.club = QLineEdit(), QLineEdit()
        self.name.setMaxLength(100)
        self.club.setMaxLength(60)
        self.hand, self.lie, self.drill = QComboBox(), QComboBox(), QComboBox()
        self.drills = [""]
        self.drill.addItem("with the pupil's own bands")
        self.hand.addItems(["as before, else right", "right", "left"])
        self.lie.addItems(["not said", "mat", "turf", "tee"])
        column = QVBoxLayout(self)
        column.addWidget(label("Pupil", "large"))
        fields = QFormLayout()
        for words, widget in (
            ("Code name", self.name),
            ("Plays", self.hand),
            ("Club", self.club),
            ("Lie", self.lie),
            ("Drill", self.drill),
        ):
            line = label(words)
            role(line, "title")
            fields.addRow(line, widget)
        column.addLayout(fields)
        column.addWidget(label("A code name is enough; without one the session belongs to nobody.", "faint"))
        column.addStretch(1)

    def show_drills(self, drills: tuple[tuple[str, str], ...]) -> None:
        """The drills that can be chosen: name and title."""
        if len(self.drills) == 1:
            self.drills += [name for name, _ in drills]
            self.drill.addItems([title for _, title in drills])

    def show_pupil(self, pupil: Pupil) -> None:
        """Fills the form."""
        self.drill.setCurrentIndex(self.drills.index(pupil.drill) if pupil.drill in self.drills else 0)
        self.name.setText(pupil.name)
        self.club.setText(pupil.club)
        self.hand.setCurrentIndex(("", "right", "left").index(pupil.hand))
        self.lie.setCurrentIndex(("", "mat", "turf", "tee").index(pupil.lie))
