"""On purpose: the range that a golfer commands on a line, and how what is done goes with what was asked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.feel.agreement import Agreement, Sure, agree
from groundtone.feel.lines import FEWEST, ROWS, Line, is_about


@dataclass(frozen=True)
class Try:
    """One thing that was asked for and done.

    Attributes
    ----------
    place : str
        What was asked for.
    moment : str
        "setup" or "impact": where it counts.
    position, share : float
        Overall heel-toe position and lead share that were done, 0-1; NaN where not known.
    row : str
        Where low or high on the face was asked for: the row of the face that the strike was told in; else empty.
    line : str
        Name of the line that was asked about, or "both"; empty: not written down.
    """

    place: str
    moment: str
    position: float
    share: float
    row: str = ""
    line: str = ""


@dataclass(frozen=True)
class Command:
    """What a golfer commands on a line.

    Attributes
    ----------
    n : int
        Tries that counted.
    low, high : Sure
        Where pressure goes on average when the lowest and the highest place are asked for: the range.
    width : Sure
        High less low.
    fit : Agreement or None
        Done over asked; None with fewer than `FEWEST` tries, and then nothing is claimed.
    """

    line: Line
    moment: str
    n: int
    low: Sure
    high: Sure
    width: Sure
    fit: Agreement | None = None

    @property
    def told(self) -> bool:
        """There were enough tries to say something."""
        return self.fit is not None


def command(tries: Iterable[Try], line: Line, moment: str) -> Command:
    """The range on a line, from all tries at one moment, in their order."""
    counted = [
        (line.goal(each.place, moment), getattr(each, line.value))
        for each in tries
        if each.moment == moment and each.place in line.places and not math.isnan(getattr(each, line.value))
        and is_about(each.place, each.line, line)
    ]  # fmt: skip
    # The middle belongs to both lines: alone it asks nothing of this one.
    n = len(counted) if len({goal for goal, _ in counted}) > 1 else 0
    nothing = Sure.unknown()
    if n < FEWEST:
        return Command(line, moment, n, nothing, nothing, nothing)
    asked, done = np.array(counted).T
    ends = line.goals[moment][0], line.goals[moment][-1]
    fit = agree(asked, done, ends)
    apart = ends[1] - ends[0]
    width = Sure(*(apart * part for part in (fit.slope.value, fit.slope.low, fit.slope.high)))
    return Command(line, moment, n, fit.at[0], fit.at[1], width, fit)


@dataclass(frozen=True)
class Height:
    """Low and high on the face as asked for.

    Attributes
    ----------
    low, high : (int, int)
        How often low came when low was asked for, of how many; the same of high.
    by_chance : float
        How many of all would be right by chance: one row of three.
    part : Sure
        How often of 1 it comes as asked (Jeffreys' interval: Brown, Cai and DasGupta, Statistical Science 16, 2001,
        from memory); not known with fewer than `FEWEST`.
    """

    low: tuple[int, int]
    high: tuple[int, int]
    by_chance: float
    part: Sure

    @property
    def n(self) -> int:
        """Balls that counted."""
        return self.low[1] + self.high[1]

    @property
    def right(self) -> int:
        """Those that came as asked."""
        return self.low[0] + self.high[0]

    @property
    def told(self) -> bool:
        """There were enough to say something."""
        return self.n >= FEWEST


def height(tries: Iterable[Try]) -> Height:
    """How low and high came as asked, from all tries of it."""
    counted = [each for each in tries if each.row in ROWS and each.place in (ROWS[0], ROWS[2])]
    sides = [
        (sum(each.row == place for each in counted if each.place == place),
         sum(each.place == place for each in counted))
        for place in (ROWS[0], ROWS[2])
    ]  # fmt: skip
    n, right = len(counted), sides[0][0] + sides[1][0]
    part = Sure.unknown()
    if n >= FEWEST:
        from scipy.stats import beta  # a second to load: not before it is needed

        low, value, high = beta.ppf([0.025, 0.5, 0.975], right + 0.5, n - right + 0.5)
        part = Sure(float(value), 0.0 if right == 0 else float(low), 1.0 if right == n else float(high))
    return Height(sides[0], sides[1], n / len(ROWS), part)


def growth(lessons: Sequence[Command]) -> Sure | None:
    """How much wider the range is in the last lesson than in the first; None where one of two is not told."""
    told = [each for each in lessons if each.told]
    if len(told) < 2:
        return None
    first, last = told[0].width, told[-1].width
    # Two independent intervals: halves joined in quadrature on each side.
    below = math.hypot(last.value - last.low, first.high - first.value)
    above = math.hypot(last.high - last.value, first.value - first.low)
    grown = last.value - first.value
    return Sure(grown, grown - below, grown + above)
