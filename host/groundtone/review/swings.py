"""What the lesson's room reads: swings as rows of values, gathered in blocks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groundtone.review.strikes import Strike

MIDDLE = "overall_down"
"""Middle between the furthest points towards heels and toes in the downswing; made here, of two measures."""

_CLUBS = {"driver": ("driver",), "wood": ("wood", "hybrid"), "wedge": ("wedge", "pitch", "sand", "lob")}


@dataclass(frozen=True)
class Fault:
    """A finding as a row carries it.

    Attributes
    ----------
    name : str
    probability : float
        0-1, given the uncertainty of what it rests on.
    sentence, drill : str
        For the golfer.
    concern : bool
        A fault, not only a description.
    """

    name: str
    probability: float
    sentence: str = ""
    drill: str = ""
    concern: bool = True


@dataclass(frozen=True)
class SwingRow:
    """One swing.

    Attributes
    ----------
    number : int
        Counted within its recording.
    values, doubts : mapping of str to float
        Measures and their standard uncertainties by name; NaN where a measure has no meaning.
    faults : tuple of Fault
    strike : Strike
    t_s : float
        Impact (else the end of the swing), device time, s.
    kind : str
        "swing", "practice" or "rehearsal".
    """

    number: int
    values: Mapping[str, float]
    doubts: Mapping[str, float] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    strike: Strike = field(default_factory=Strike)
    t_s: float = float("nan")
    kind: str = "swing"


@dataclass(frozen=True)
class BlockRows:
    """A block of swings under the same conditions.

    Attributes
    ----------
    name : str
    role : str
        "baseline", "drill" or "test"; "" where nobody said.
    club, lie : str
        "" where nobody said; a lie is "mat", "turf" or "tee".
    usual_m : float or None
        Usual distance of the club, m.
    cues : bool
        Whether cues sounded.
    swings : tuple of SwingRow
    """

    name: str
    swings: tuple[SwingRow, ...]
    role: str = ""
    club: str = ""
    lie: str = ""
    usual_m: float | None = None
    cues: bool = False


@dataclass(frozen=True)
class Lesson:
    """A lesson as the progress reads it.

    Attributes
    ----------
    name : str
    started : str
        ISO 8601.
    blocks : tuple of BlockRows
        In the order in which they were hit.
    simulated : bool
    """

    name: str
    started: str
    blocks: tuple[BlockRows, ...]
    simulated: bool = False


def balls(swings: Sequence[SwingRow]) -> list[SwingRow]:
    """The swings at a ball: practice swings and rehearsals say nothing about strikes."""
    return [row for row in swings if row.kind == "swing"]


def column(swings: Sequence[SwingRow], name: str) -> NDArray[np.float64]:
    """One measure of several swings, shape (n,); NaN where a swing has none."""
    return np.array([row.values.get(name, np.nan) for row in swings], dtype=np.float64)


def club_class(club: str) -> str:
    """The class of a club that was written down in words; irons where nothing else is recognised, "" for nothing."""
    words = club.lower()
    for name, signs in _CLUBS.items():
        if any(sign in words for sign in signs):
            return name
    return "iron" if words.strip() else ""


def with_middle(values: Mapping[str, float]) -> dict[str, float]:
    """Values with `MIDDLE` added; NaN where one of its two is."""
    most, least = (values.get(name, math.nan) for name in ("overall_most_down", "overall_least_down"))
    return {**values, MIDDLE: (most + least) / 2}
