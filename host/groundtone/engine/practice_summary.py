"""What a practice amounts to, block by block, as numbers and as a few lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.link.base import LinkStatistics
from groundtone.record.session import Block
from groundtone.review.strikes import Strike
from groundtone.swing.summary import SwingSummary


@dataclass(frozen=True)
class BlockTotal:
    """A block of swings.

    Attributes
    ----------
    swings, inside : int
        All, and those in which no cue was heard; in a silent block none is heard, and `inside` is 0.
    heard : dict of str to int
        Cue, and in how many swings it was heard.
    """

    block: Block
    swings: int
    inside: int
    heard: dict[str, int]
    strikes: StrikeCounts


@dataclass(frozen=True)
class Summary:
    """A whole practice: `minutes` of the mat's time, `missed` frames, `gaps` in which the mat was away."""

    blocks: tuple[BlockTotal, ...]
    minutes: float
    missed: int
    gaps: int
    tightened: int
    counts: LinkStatistics = field(default_factory=LinkStatistics)

    @property
    def swings(self) -> int:
        """Of all blocks."""
        return sum(total.swings for total in self.blocks)

    def lines(self) -> list[str]:
        """For a person, the blocks without a swing left out."""
        out = []
        for total in self.blocks:
            if not total.swings:
                continue
            parts = [f"{_many(total.swings, 'swing')}"]
            if total.block.cues:
                parts.append(f"{total.inside} with the tick alone")
                parts += [f"{cue} in {number}" for cue, number in sorted(total.heard.items())]
            else:
                parts.append("no tone by intention")
            if total.strikes.placed:
                parts.append(f"{total.strikes.inside} of {total.strikes.placed} strikes inside the centre circle")
            parts += [f"{number} {contact}" for contact, number in sorted(total.strikes.contacts.items())]
            name = total.block.kind if total.block.kind != "free" else "practice"
            club = f", {total.block.club}" if total.block.club else ""
            out.append(f"{name}{club}: {'; '.join(parts)}.")
        if not out:
            out.append("No swing was seen.")
        rest = [f"{self.minutes:.0f} min"]
        if self.tightened:
            rest.append(f"the band was tightened {_times(self.tightened)}")
        if self.gaps:
            rest.append(f"the mat was away {_times(self.gaps)}")
        if self.counts.surplus:
            rest.append(f"{self.counts.surplus} frames more than asked for left out: the mat sends faster than it says")
        if damaged := self.counts.stream.bad + self.counts.stream.oversized:
            rest.append(f"{_many(damaged, 'damaged message')} dropped (a bad cable or plug makes them)")
        rest.append(f"{_many(self.missed, 'frame')} missed")
        out.append(f"{'; '.join(rest)}.")
        return out


def block_totals(
    blocks: Sequence[Block], block_of: Sequence[int], swings: Sequence[SwingSummary], strikes: Sequence[Strike]
) -> list[BlockTotal]:
    """Totals of each block.

    Parameters
    ----------
    block_of : sequence of int
        Number of the block of each swing.
    swings, strikes : sequence
        One of each for every swing, in order.
    """
    out = []
    for block in blocks:
        own = [i for i, number in enumerate(block_of) if number == block.number]
        heard = Counter(cue for i in own for cue in {part[0] for part in swings[i].heard})
        inside = sum(not swings[i].heard for i in own) if block.cues else 0
        out.append(BlockTotal(block, len(own), inside, dict(heard), count([strikes[i] for i in own])))
    return out


def _many(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"
