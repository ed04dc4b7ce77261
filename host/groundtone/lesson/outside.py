"""How many swings were outside: one count, wherever a swing table, a comparison, the progress or the page shows it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from groundtone.lesson.strike_counts import share_interval
from groundtone.review.swings import BlockRows, SwingRow, balls
from groundtone.swing.bands import default_bands
from groundtone.swing.clubs import club_class
from groundtone.swing.findings import is_time

# A finding in fewer swings, or in a smaller part of them, is nothing to build a lesson on (invented).
LEAST, PART = 2, 0.25


@dataclass(frozen=True)
class Outside:
    """Swings at a ball in which a finding was called a fault: `n` of `of`."""

    name: str
    n: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the golfer's share, as swings hang together (`share_interval`); NaN of nothing."""
        return share_interval(self.n, self.of)

    @property
    def words(self) -> str:
        """As it stands everywhere."""
        return f"{self.n} of {self.of}"


def outside(rows: Sequence[SwingRow], name: str) -> Outside:
    """Of one finding, by its name in bands.toml."""
    hit = balls(rows)
    return Outside(name, sum(any(f.concern and f.code == name for f in row.faults) for row in hit), len(hit))


def could_be(rows: Sequence[SwingRow], found: Outside, club: str = "") -> tuple[int, int]:
    """Least and most swings outside that the mat's own error allows, which is the same one in all of a session.

    Each swing's probability is one of its reading alone; what all readings have in common moves them together, so it is
    counted once, by 1.96 of its standard uncertainty (the least of a single swing) to either side. A time's doubt is
    its event's own, in each swing another.

    Parameters
    ----------
    club : str
        As it was written down: the band is its class's.
    """
    band = default_bands().band(found.name).for_club(club_class(club))
    hit = balls(rows)
    known = [v for row in hit if math.isfinite(v := row.values.get(band.measure, math.nan))]
    common = 0.0 if is_time(band.measure) else min(
        (u for row in hit if math.isfinite(u := row.doubts.get(band.measure, math.nan))), default=0.0
    )  # fmt: skip
    counts = [sum(not band.low <= v + by <= band.high for v in known) for by in (-1.96 * common, 0.0, 1.96 * common)]
    # Counted from what was called a fault, which may need more than this one measure.
    low, high = (found.n + end - counts[1] for end in (min(counts), max(counts)))
    return max(0, low), min(found.of, high)


def count_words(rows: Sequence[SwingRow], found: Outside, club: str = "") -> str:
    """A finding's count over a session, with what the mat's own error leaves of it."""
    low, high = could_be(rows, found, club)
    told = f"{title_of(found.name).capitalize()}: outside in {found.words} readings"
    return f"{told}." if low == high else f"{told}; the mat's own error, one for all, allows {low} to {high}."


def any_outside(rows: Sequence[SwingRow]) -> Outside:
    """Swings in which anything was called a fault."""
    hit = balls(rows)
    return Outside("", sum(any(f.concern for f in row.faults) for row in hit), len(hit))


def faults_of(rows: Sequence[SwingRow]) -> list[Outside]:
    """Every finding that was called a fault, the most frequent first, and of equals the likelier."""
    sure: dict[str, float] = {}
    for row in balls(rows):
        for fault in row.faults:
            if fault.concern:
                sure[fault.code] = sure.get(fault.code, 0.0) + fault.probability
    found = [outside(rows, name) for name in sure]
    return sorted(found, key=lambda each: (-each.n, -sure[each.name], each.name))


def main_fault(rows: Sequence[SwingRow]) -> Outside | None:
    """What a lesson would be about; None where nothing stands out."""
    for found in faults_of(rows):
        if found.n >= max(LEAST, PART * found.of):
            return found
    return None


def of_role(blocks: Iterable[BlockRows], role: str) -> list[SwingRow]:
    """All swings of the blocks of a role."""
    return [row for block in blocks if block.role == role for row in block.swings]


def title_of(name: str) -> str:
    """A finding's title; the name itself where bands.toml has it no more."""
    titles = {band.name: band.title for band in default_bands().findings}
    return titles.get(name, name)
