"""Sessions as plain data: swings as rows of values, gathered in blocks and lessons."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from groundtone.review.strikes import Contact, Strike, in_words
from groundtone.swing.clubs import club_class

MIDDLE = "overall_down"
"""Middle between the furthest points towards heels and toes in the downswing; made here, of two measures."""

KINDS = {"swing": "swing", "practice swing": "practice", "slow rehearsal": "rehearsal", "putt": "putt"}
"""What the library calls a swing's kind, and what a row does."""


@dataclass(frozen=True)
class Fault:
    """A finding as a row carries it.

    Attributes
    ----------
    probability : float
        0-1 that this reading is outside, given the uncertainty of what it rests on.
    sentence, drill : str
        For the golfer.
    concern : bool
        A fault, not only a description.
    code : str
        As bands.toml names the finding; `name` is its title.
    """

    name: str
    probability: float
    sentence: str = ""
    drill: str = ""
    concern: bool = True
    code: str = ""

    @staticmethod
    def ordered(faults: Iterable[Fault]) -> tuple[Fault, ...]:
        """Those that are called a fault first, and of them the likeliest."""
        return tuple(sorted(faults, key=lambda fault: (not fault.concern, -fault.probability)))


@dataclass(frozen=True)
class SwingRow:
    """One swing.

    Attributes
    ----------
    number : int
        Counted within its recording.
    values, doubts : mapping of str to float
        Measures and their standard uncertainties by name; NaN where a measure has no meaning.
    t_s : float
        Impact (else the end of the swing), device time, s.
    kind : str
        "swing", "practice" or "rehearsal".
    events : mapping of str to (float, str, float)
        Device time, s, source and doubt, s, of each event by name.
    entry : str or None
        Id of the strike's entry in the recording.
    role : str
        Of its block.
    run : tuple of str
        Recording, block, class of clubs, lie, cues: swings of one run were hit under the same conditions. From the
        block in which the swing first stands.
    """

    number: int
    values: Mapping[str, float]
    doubts: Mapping[str, float] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    strike: Strike = field(default_factory=Strike)
    t_s: float = float("nan")
    kind: str = "swing"
    events: Mapping[str, tuple[float, str, float]] = field(default_factory=dict)
    entry: str | None = None
    role: str = ""
    run: tuple[str, ...] = field(default=(), compare=False)

    @property
    def line(self) -> str:
        """The swing in one line of a list."""
        strike = in_words(self.strike) if self.strike.told else "strike not told"
        first = next((fault.name for fault in self.faults if fault.concern), "")
        kind = "" if self.kind == "swing" else f" ({self.kind})"
        return f"{self.number}{kind}, {self.role}: {strike}" + (f"; {first}" if first else "")

    @property
    def when_s(self) -> float:
        """Impact, else the last event, device time, s; 0 where nothing is known."""
        if not math.isnan(self.t_s):
            return self.t_s
        return max((at for at, _, _ in self.events.values()), default=0.0)


@dataclass(frozen=True)
class BlockRows:
    """A block of swings under the same conditions.

    Attributes
    ----------
    role : str
        "baseline", "drill" or "test"; "" where nobody said.
    club, lie : str
        "" where nobody said; a lie is "mat", "turf" or "tee".
    usual_m : float or None
        Usual distance of the club, m.
    cues : bool
        Whether cues sounded.
    number : int
        In its recording; 0 where it is of none.
    session : str
        Id of the recording; "" where it is of none.
    """

    name: str
    swings: tuple[SwingRow, ...]
    role: str = ""
    club: str = ""
    lie: str = ""
    usual_m: float | None = None
    cues: bool = False
    number: int = 0
    session: str = ""

    def __post_init__(self) -> None:
        run = (self.session, str(self.number or self.name), club_class(self.club), self.lie, str(self.cues))
        stamped = tuple(row if row.run else replace(row, run=run) for row in self.swings)
        object.__setattr__(self, "swings", stamped)


@dataclass(frozen=True)
class RecordedSession:
    """A recorded session.

    Attributes
    ----------
    blocks : tuple of BlockRows
        In order, empty ones too.
    doubts : tuple of str
        What a reader must know.
    words : mapping of int to tuple of str
        What is to be read of each swing, by its number; filled by whoever shows it.
    """

    path: Path
    session: str
    started: str
    golfer: str
    lesson: str
    simulated: bool
    blocks: tuple[BlockRows, ...]
    doubts: tuple[str, ...] = ()
    words: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @property
    def swings(self) -> tuple[SwingRow, ...]:
        """All swings in their order."""
        return tuple(sorted((row for block in self.blocks for row in block.swings), key=lambda row: row.number))


@dataclass(frozen=True)
class Lesson:
    """A lesson as the progress reads it.

    Attributes
    ----------
    started : str
        ISO 8601.
    blocks : tuple of BlockRows
        In the order in which they were hit.
    """

    name: str
    started: str
    blocks: tuple[BlockRows, ...]
    simulated: bool = False


def balls(swings: Sequence[SwingRow]) -> list[SwingRow]:
    """The swings at a ball: practice swings, rehearsals and what was done on purpose say nothing about strikes."""
    return [row for row in swings if row.kind == "swing" and row.role != "purpose"]


def contacts_of(swings: Iterable[SwingRow]) -> list[Contact]:
    """What was told of how the club met the ball."""
    return [row.strike.contact for row in swings if row.strike.contact is not None]


def column(swings: Sequence[SwingRow], name: str) -> NDArray[np.float64]:
    """One measure of several swings, shape (n,); NaN where a swing has none."""
    return np.array([row.values.get(name, np.nan) for row in swings], dtype=np.float64)


def with_middle(values: Mapping[str, float], doubts: Mapping[str, float]) -> tuple[dict[str, float], dict[str, float]]:
    """Values and doubts with `MIDDLE` added; NaN where one of its two is."""
    two = ("overall_most_down", "overall_least_down")
    middle = sum(values.get(name, math.nan) for name in two) / 2
    return {**values, MIDDLE: middle}, {**doubts, MIDDLE: max(doubts.get(name, 0.0) for name in two)}
