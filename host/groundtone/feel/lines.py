"""The two lines on which feel is asked, the places of each, low and high on the face, and the order of asking.

Places, edges and how near is near are invented: far enough from the usual value to be a place of its own, near enough
that nobody has to stand on tiptoe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

MIDDLE = "middle"
MOMENTS = ("setup", "impact")
ORDERS = ("blocked", "random")
FEWEST = 8
"""With fewer tries or guesses on a line nothing is claimed."""
# Done this near to what was asked is near, and this near is nearly so.
_NEAR, _NEARLY = 0.04, 0.10


@dataclass(frozen=True)
class Line:
    """One line.

    Attributes
    ----------
    value : str
        What is measured on it: "position" (overall heel-toe position) or "share" (lead share), 0-1.
    places : tuple of str
        From low to high values.
    goals : dict of str to tuple of float
        For "setup" and "impact": the value that is asked for at each place.
    """

    name: str
    value: str
    places: tuple[str, str, str]
    goals: dict[str, tuple[float, float, float]]

    def goal(self, place: str, moment: str) -> float:
        """The value that a place asks for; NaN where the place is not on this line."""
        return self.goals[moment][self.places.index(place)] if place in self.places else math.nan

    def edges(self, moment: str) -> tuple[float, float]:
        """Where one place ends and the next begins: half-way between them."""
        low, middle, high = self.goals[moment]
        return (low + middle) / 2, (middle + high) / 2

    def place(self, value: float, moment: str) -> str:
        """The place in which a value lies; empty for NaN."""
        low, high = self.edges(moment)
        return "" if math.isnan(value) else self.places[int(value >= low) + int(value > high)]


HEEL_TOE = Line(
    "heel-toe", "position", ("heels", MIDDLE, "toes"), {"setup": (0.41, 0.54, 0.67), "impact": (0.37, 0.50, 0.63)}
)
SIDE = Line("side", "share", ("trail", MIDDLE, "lead"), {"setup": (0.38, 0.52, 0.66), "impact": (0.60, 0.75, 0.90)})
LINES = {line.name: line for line in (HEEL_TOE, SIDE)}
HEIGHT = "height"
"""What is asked of club and ball: low or high on the face. It is told by the strike, in rows, and is no line."""
ROWS = ("low", MIDDLE, "high")
"""Of the face, from the sole up."""


def is_about(place: str, written: str, line: Line) -> bool:
    """Whether what was said or done belongs to a line: the middle lies on both, so its line is written down.

    Parameters
    ----------
    written : str
        "heel-toe", "side" or "both"; empty: not written down, then a middle is one from heel to toe.
    """
    if place != MIDDLE or written == "both":
        return place in line.places
    return (written or HEEL_TOE.name) == line.name


def lines_of(name: str) -> tuple[Line, ...]:
    """The lines that a word names: one of them, or "both"."""
    return tuple(LINES.values()) if name == "both" else (LINES[name],)


def heights(order: str, times: int, seed: int) -> list[str]:
    """Low and high, one after the other; as `asks`."""
    out = [place for place in (ROWS[0], ROWS[2]) for _ in range(times)]
    return out if order == "blocked" else mixed(out, seed)


def asks(lines: Sequence[Line], order: str, times: int, seed: int) -> list[str]:
    """The places that are asked for, one after the other.

    Parameters
    ----------
    order : str
        "blocked": each place so many times in a row; "random": mixed, never one place three times in a row.
    times : int
        How often each place.
    seed : int
        Draws the order.

    Examples
    --------
    >>> asks([HEEL_TOE], "blocked", 2, 1)
    ['heels', 'heels', 'middle', 'middle', 'toes', 'toes']
    """
    places = list(dict.fromkeys(place for line in lines for place in line.places))
    out = [place for place in places for _ in range(times)]
    return out if order == "blocked" else mixed(out, seed)


def mixed(items: Sequence[str], seed: int) -> list[str]:
    """The same items in a drawn order; never one of them three times in a row where that can be."""
    rng = np.random.default_rng([seed, len(items)])
    out = list(items)
    for _ in range(200):
        out = [items[i] for i in rng.permutation(len(items))]
        if not any(a == b == c for a, b, c in zip(out, out[1:], out[2:], strict=False)):
            break
    return out


def nearness(asked: float, done: float) -> str:
    """How near a try came: "near", "nearly" or "far"; far too where nothing is known."""
    off = abs(done - asked)
    return "near" if off <= _NEAR else "nearly" if off <= _NEARLY else "far"
