"""Who is here, and what holds for them alone: hand, club, lie, drill, their recordings, the mat's last check."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field

from groundtone.cue.bands import Bands
from groundtone.errors import GroundtoneError
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


@dataclass(frozen=True)
class Feet:
    """How somebody stands: shoes and stance in mm, flare left and right in degrees; None: as usual."""

    shoe_mm: float | None = None
    stance_mm: float | None = None
    flare_deg: tuple[float, float] | None = None

    @property
    def texts(self) -> tuple[str, str, str]:
        """As they are typed."""
        shoe, stance = ("" if each is None else f"{each:g}" for each in (self.shoe_mm, self.stance_mm))
        return shoe, stance, "" if self.flare_deg is None else f"{self.flare_deg[0]:g},{self.flare_deg[1]:g}"


def feet_of(shoe: str, stance: str, flare: str) -> Feet:
    """Shoe, stance and flare as they were typed; what is empty is as usual.

    Raises
    ------
    GroundtoneError
        One of them cannot be.
    """

    def number(text: str, what: str, low: float, high: float) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise GroundtoneError(f"{what} is {low:g} to {high:g}, not {text.strip()[:20]!r}")
        return value

    def length(text: str, what: str, low: float, high: float) -> float | None:
        return number(text, what, low, high) if text.strip() else None

    angles = [number(part, "a flare in degrees, left and right as in 10,25,", -30, 60) for part in flare.split(",")
              if flare.strip()]  # fmt: skip
    if len(angles) > 2:
        raise GroundtoneError("a flare is two angles with a comma, left and right, or one for both")
    return Feet(
        length(shoe, "a shoe in mm", 150, 360), length(stance, "a stance in mm", 100, 900),
        (angles[0], angles[-1]) if angles else None,
    )  # fmt: skip


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
    feet : Feet
        Shoe, stance and flare; a named pupil's are kept with the pupil.
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
    feet: Feet = field(default_factory=Feet)

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
