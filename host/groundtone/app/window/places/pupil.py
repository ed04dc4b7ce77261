"""Who is here, and what holds for them alone: hand, club, lie, drill, their recordings, the mat's last check."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from groundtone.cue.bands import Bands
from groundtone.lesson.sentences import Given
from groundtone.record.session import WALK_IN

BLOCK_SWINGS = 8
"""A block is about so many swings (common practice); more are counted all the same."""


@dataclass(frozen=True)
class Checked:
    """A check of the mat for one pupil; `value` as in `views.Verdict`."""

    words: str
    value: int
    at: datetime.datetime


@dataclass
class Pupil:
    """One pupil at a time.

    Attributes
    ----------
    name : str
        Code name; empty: nobody is named.
    hand : str
        "right", "left"; empty: as the library has it.
    lesson : str
        Of a walk-in: which one it is; empty: nobody has been chosen yet.
    bands : Bands or None
        Of a walk-in alone, fitted in this lesson; a named pupil's are kept with the pupil. None: those.
    paths : list of str
        Recordings of this lesson.
    checked : Checked or None
        The mat's last check for this pupil.
    """

    name: str = ""
    hand: str = ""
    club: str = ""
    lie: str = ""
    drill: str = ""
    lesson: str = ""
    bands: Bands | None = None
    paths: list[str] = field(default_factory=list)
    checked: Checked | None = None

    @property
    def here(self) -> bool:
        """Somebody has been chosen, named or not."""
        return bool(self.name or self.lesson)

    @property
    def key(self) -> str:
        """Tells pupils apart, walk-ins too; however a name is spelt, it is one."""
        return f"name {' '.join(self.name.casefold().split())}" if self.name else f"lesson {self.lesson}"

    @property
    def shown(self) -> str:
        """The name, or what stands for it."""
        return Given(self.name) if self.name else f"Walk-in, {self.lesson[-5:]}" if self.lesson else "Nobody yet"

    @property
    def called(self) -> str:
        """As a sentence calls them."""
        return self.name or ("this walk-in" if self.lesson else "a pupil")

    @property
    def second(self) -> str:
        """Hand, club and lie."""
        if not self.here:
            return "choose a pupil, or begin a walk-in"
        hand = f"{self.hand or 'right'}-handed"
        return " · ".join(filter(None, (hand, self.club, f"from {self.lie}" if self.lie else "")))


def walk_in(now: datetime.datetime, hand: str = "") -> Pupil:
    """Somebody whom nobody has named: each is one of its own, with the program's own bands."""
    return Pupil(hand=hand, lesson=f"{WALK_IN} {now:%Y-%m-%d %H:%M}")
