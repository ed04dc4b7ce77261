"""What a practice shows at a moment (large words, one sentence, counts) and what it amounts to, block by block."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import Enum

from groundtone.cue.rulefile import shown
from groundtone.engine.live import Live
from groundtone.lesson.outside import Outside
from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.link.base import LinkStatistics
from groundtone.record.session import Block
from groundtone.review.strikes import Strike
from groundtone.swing.events import Phase, Swing
from groundtone.swing.summary import SwingSummary

# Loaded like this somebody stands on the mat, N.
_SOMEBODY_N = 60.0


SILENT_WORDS = {
    "baseline": "A baseline: as you always do, no tone.",
    "test": "A test: the same again, no tone.",
    "retention": "What has stayed? As you would on the course, no tone.",
    "purpose": "Do what is asked for, no tone. Never at full speed on the toes; stop where it hurts.",
    "guess": "Swing, then say where it was: tap toe or heel of the lead foot, the trail foot, or both for the middle.",
}
"""What a block says that sounds no cue."""


@dataclass(frozen=True)
class Said:
    """Something to tell once, beside the large words: a sentence, and whether it is trouble."""

    text: str
    trouble: bool = False


class State(Enum):
    """What the golfer can do now."""

    STEP_ON = "step on"
    ROCK = "rock slowly"
    PLAY = "play"
    PAUSED = "paused"
    LOST = "mat lost"
    OVER = "over"

    @property
    def sentence(self) -> str:
        """What to do, in one sentence."""
        return _SENTENCES[self]


_SENTENCES = {
    State.STEP_ON: "One foot on each panel.",
    State.ROCK: "From the heels over one foot to the toes, and back over the other.",
    State.PLAY: "Hit a ball; the tick ends every swing.",
    State.PAUSED: "No sound until the pause ends; all is recorded.",
    State.LOST: "Look at the mat's power and cable; it goes on by itself when the mat is back.",
    State.OVER: "Step off.",
}


@dataclass(frozen=True)
class Counts:
    """Of the swings so far.

    Attributes
    ----------
    swings, inside : int
        At a ball, and those of them that kept to every band, whether a cue was heard or not.
    told, centre : int
        Strikes that were told with a place, and those inside the centre circle.
    """

    swings: int = 0
    inside: int = 0
    told: int = 0
    centre: int = 0


@dataclass(frozen=True)
class Now:
    """One moment of a practice.

    Attributes
    ----------
    words : str
        A few large words: what to do, or what sounds.
    last : SwingSummary or None
        The last swing that ended.
    told : str
        What was told of its strike, in words; empty: nothing.
    live : Live or None
        The newest frame.
    """

    state: State
    words: str
    sentence: str
    counts: Counts
    last: SwingSummary | None = None
    told: str = ""
    live: Live | None = None


def sounding(live: Live) -> list[str]:
    """Names of the cues that sound with a frame, in words."""
    return [shown(cue) for cue in live.sizes]


def state_of(live: Live | None, *, ready: bool, lost: bool, paused: bool, over: bool) -> State:
    """What the golfer can do, from the newest frame and what has happened."""
    if over:
        return State.OVER
    if lost:
        return State.LOST
    if paused:
        return State.PAUSED
    if live is None or live.feet.total_n < _SOMEBODY_N:
        return State.STEP_ON
    if not ready:
        return State.ROCK
    return State.PLAY


def words_of(state: State, live: Live | None, told: str) -> str:
    """The large words: a cue that sounds, else what was just told of a strike, else the state."""
    if state is State.PLAY and live is not None:
        if cues := sounding(live):
            return " + ".join(cues)
        if told and live.phase in (Phase.STANDING, Phase.AWAY):
            return told
    return state.value


@dataclass(frozen=True)
class BlockTotal:
    """A block of swings.

    Attributes
    ----------
    swings, inside : int
        At a ball, and those of them that kept to every band, whether a cue was heard or not.
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
            silent = "" if total.block.cues else ", in silence"
            parts.append(f"{total.swings - total.inside} of {total.swings} outside{silent}")
            parts += [f"{cue} in {number}" for cue, number in sorted(total.heard.items())]
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


def block_of(blocks: Sequence[Block], swing: Swing) -> Block:
    """The block of a swing: the one in force at its impact, as the review of its recording has it."""
    when_s = swing.impact.t_s if swing.impact is not None else swing.end_s
    return [block for block in blocks if block.device_us <= when_s * 1e6 or block.number == 1][-1]


def outside_of(left: Sequence[tuple[str, ...]], ball: Sequence[bool], swings: Sequence[int]) -> Outside:
    """How many of some swings at a ball left a band, by what each left and whether it was at one."""
    hit = [i for i in swings if ball[i]]
    return Outside("", sum(bool(left[i]) for i in hit), len(hit))


def block_totals(
    blocks: Sequence[tuple[Block, Sequence[int]]],
    swings: Sequence[SwingSummary],
    strikes: Sequence[Strike],
    outside: Callable[[Sequence[int]], Outside],
) -> list[BlockTotal]:
    """Totals of each block.

    Parameters
    ----------
    blocks : sequence of (Block, sequence of int)
        Each with its swings.
    swings, strikes : sequence
        One of each for every swing, in order.
    outside : callable
        Counts what of some swings was outside.
    """
    out = []
    for block, own in blocks:
        heard = Counter(cue for i in own for cue in {part[0] for part in swings[i].heard})
        found = outside(own)
        strikes_of = count([strikes[i] for i in own])
        out.append(BlockTotal(block, found.of, found.of - found.n, dict(heard), strikes_of))
    return out


def _many(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"
