"""What holds for a pupil today: hand, club, lie, drill, and how they stand; fields of the card in Pupils."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PyQt5.QtWidgets import QComboBox, QFormLayout, QHBoxLayout, QLineEdit, QWidget

from groundtone.app.language import tr, tr_all
from groundtone.app.window.places.pupil import Feet, Pupil, feet_of
from groundtone.app.window.widgets.lists import Choice

if TYPE_CHECKING:
    from groundtone.lesson.pupils import PupilLine

_HANDS, _LIES = ("", "right", "left"), ("", "mat", "turf", "tee")
# Shoe, stance and flare: what stands in an empty field, and what it is.
_FEET = (
    ("shoe mm", "outer length of the shoes, mm"), ("stance", "between the panels' middles, mm; else 400"),
    ("flare °", "toes outward, left and right, degrees, as in 10,25; else 0"),
)  # fmt: skip


class Today(QWidget):
    """The fields."""

    def __init__(self) -> None:
        super().__init__()
        self.hand, self.lie, self.drill = Choice(), Choice(), Choice()
        self.club = QLineEdit()
        self.club.setMaxLength(60)
        self.feet = [QLineEdit() for _ in _FEET]
        self.drills: list[str] = [""]
        self._wanted = ""
        self.hand.addItems(tr_all(("as before, else right", "right", "left")))
        self.lie.addItems(tr_all(("lie not said", "mat", "turf", "tee")))
        self.drill.addItem(tr("with the pupil's own bands"))
        fields = QFormLayout(self)
        fields.setContentsMargins(0, 0, 0, 0)
        for words, box in (("Plays", self.hand), ("Club", self.club), ("Ball on", self.lie), ("Drill", self.drill)):
            box.setAccessibleName(tr(words))
            box.setMinimumWidth(40)
            if isinstance(box, QComboBox):
                box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            fields.addRow(tr(words), box)
        feet = QWidget()
        row = QHBoxLayout(feet)
        row.setContentsMargins(0, 0, 0, 0)
        for each, (words, what) in zip(self.feet, _FEET, strict=True):
            each.setPlaceholderText(tr(words))
            each.setAccessibleName(tr(what))
            each.setToolTip(tr(what))
            each.setMaxLength(12)
            each.setMinimumWidth(40)
            row.addWidget(each)
        fields.addRow(tr("Feet"), feet)

    def offer(self, drills: Sequence[tuple[str, str]]) -> None:
        """The drills there are: name and title; what stands in the other fields stays."""
        self.drills += [name for name, _ in drills]
        self.drill.addItems(tr_all(title for _, title in drills))
        self._show_drill()

    def show_of(self, line: PupilLine | None, known: Pupil | None) -> None:
        """What is known of somebody: from the library, and of whoever has been here today as they were."""
        feet = stood(line)
        if line is not None:
            self.hand.setCurrentIndex(_HANDS.index(line.hand))
            self.lie.setCurrentIndex(_LIES.index(line.lie) if line.lie in _LIES else 0)
            self.club.setText(line.club)
        if known is not None or line is None:
            known = known or Pupil()
            hand = known.hand or (line.hand if line is not None else "")
            self.hand.setCurrentIndex(_HANDS.index(hand))
            self.lie.setCurrentIndex(_LIES.index(known.lie))
            self.club.setText(known.club)
            feet = known.feet if line is None else feet
        for box, text in zip(self.feet, feet.texts, strict=True):
            box.setText(text)
        self._wanted = known.drill if known is not None else ""
        self._show_drill()

    def _show_drill(self) -> None:
        self.drill.setCurrentIndex(self.drills.index(self._wanted) if self._wanted in self.drills else 0)

    def put_into(self, pupil: Pupil, *, mine: bool) -> None:
        """Takes what stands in the fields.

        Parameters
        ----------
        mine : bool
            False: hand and feet in the card are another's, a walk-in begins while somebody is chosen.

        Raises
        ------
        GroundtoneError
            Shoe, stance or flare cannot be; nothing was taken.
        """
        feet = feet_of(*(box.text() for box in self.feet)) if mine else Feet()
        pupil.feet, pupil.hand = feet, _HANDS[self.hand.currentIndex()] if mine else ""
        pupil.club, pupil.lie = self.club.text().strip(), _LIES[self.lie.currentIndex()]
        pupil.drill = self.drills[self.drill.currentIndex()]


def stood(line: PupilLine | None) -> Feet:
    """How a pupil stands by what is kept of them."""
    return Feet() if line is None else Feet(line.shoe_mm, line.stance_mm, line.flare_deg)
