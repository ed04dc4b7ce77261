"""How many swings were outside: one count, wherever a swing table, a comparison, the progress or the page shows it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from groundtone.lesson.strike_counts import share_interval
from groundtone.review.swings import BlockRows, SwingRow, balls
from groundtone.swing.bands import default_bands

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
