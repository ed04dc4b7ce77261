"""A recorded session reviewed: its swings with measures, findings and strikes, gathered in its blocks."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from groundtone.record.reader import Recording
from groundtone.record.session import Block
from groundtone.review.measured import Measured, measure
from groundtone.review.strikes import Strike, strikes_of_swings
from groundtone.review.swings import MIDDLE, BlockRows, Fault, SwingRow, club_class, with_middle
from groundtone.swing.bands import Bands
from groundtone.swing.events import Kind, Swing
from groundtone.swing.findings import Finding, findings
from groundtone.swing.measures import Doubts, Measure, measures
from groundtone.swing.phases import find_swings

# Without a profile the typical film stands in: about what it leaves on the twin, where cells differ by a quarter.
GUESSED = Doubts(share=0.02, position=0.02, force=0.05, move=0.015, place_mm=8.0)

_KINDS = {Kind.SWING: "swing", Kind.PRACTICE: "practice", Kind.REHEARSAL: "rehearsal"}


@dataclass(frozen=True)
class ReviewedSwing:
    """One swing with all that is known of it.

    Attributes
    ----------
    swing : Swing
    measures : dict of str to Measure
    findings : tuple of Finding
        Likeliest first.
    strike : Strike
    entry : str or None
        Id of the strike's entry in the recording.
    block : Block
    """

    swing: Swing
    measures: dict[str, Measure]
    findings: tuple[Finding, ...]
    strike: Strike
    entry: str | None
    block: Block

    @property
    def when_s(self) -> float:
        """Impact, else the end of the swing, device time, s."""
        return _when(self.swing)

    def row(self) -> SwingRow:
        """The swing as the lesson's room reads it."""
        values = with_middle({name: m.value for name, m in self.measures.items()})
        doubts = {name: m.u for name, m in self.measures.items() if m.known}
        doubts[MIDDLE] = max(doubts.get("overall_most_down", 0.0), doubts.get("overall_least_down", 0.0))
        faults = tuple(Fault(f.title, f.probability, f.sentence, f.drill_text, f.concern) for f in self.findings)
        return SwingRow(self.swing.number, values, doubts, faults, self.strike, self.when_s, _KINDS[self.swing.kind])


@dataclass(frozen=True)
class Review:
    """A session.

    Attributes
    ----------
    measured : Measured
    swings : tuple of ReviewedSwing
    doubts : Doubts
        What the calibration leaves open.
    """

    measured: Measured
    swings: tuple[ReviewedSwing, ...]
    doubts: Doubts = field(default_factory=Doubts)

    @property
    def recording(self) -> Recording:
        """What was reviewed."""
        return self.measured.recording

    def blocks(self) -> tuple[BlockRows, ...]:
        """The session's blocks in order, empty ones too."""
        out = []
        for block in self.recording.blocks:
            rows = tuple(each.row() for each in self.swings if each.block.number == block.number)
            name = f"{block.number} ({block.kind})"
            out.append(BlockRows(name, rows, block.kind, block.club, block.lie, block.usual_m, block.cues))
        return tuple(out)

    def rows(self) -> list[SwingRow]:
        """All swings."""
        return [each.row() for each in self.swings]


def review(
    recording: Recording, profile: Path | None = None, *, bands: Bands | None = None, coach: Collection[str] = ()
) -> Review:
    """Reviews a recording.

    Parameters
    ----------
    recording : Recording
    profile : Path, optional
        A profile to measure with instead of the recorded one.
    bands : Bands, optional
        The program's own without them.
    coach : collection of str
        Findings that the coach calls a fault in any case.

    Raises
    ------
    ProfileError, LayoutError
    """
    guessed = profile is None and recording.about.profile_text is None
    return review_measured(measure(recording, profile), bands=bands, coach=coach, doubts=GUESSED if guessed else None)


def review_measured(
    measured: Measured, *, bands: Bands | None = None, coach: Collection[str] = (), doubts: Doubts | None = None
) -> Review:
    """As `review`, of a recording that has been measured; `doubts` are those of its calibration."""
    recording = measured.recording
    swings = find_swings(measured.series)
    told = strikes_of_swings([entry.table for entry in recording.strikes], [_when(swing) for swing in swings])
    blocks = [recording.block_at(_when(swing) * 1e6) for swing in swings]
    out = []
    for swing, (strike, entry), block in zip(swings, told, blocks, strict=True):
        values = measures(swing, measured.series, doubts)
        contacts = [
            other.contact.value
            for (other, _), there in zip(told, blocks, strict=True)
            # Of this block alone: who improves in the drill must not hide what the baseline showed.
            if other.contact is not None and there.number == block.number
        ]
        # A rehearsal is slow on purpose and hits nothing: its bands are another matter.
        seen = (
            findings(values, bands, club=club_class(block.club) or None, contacts=contacts, coach=coach)
            if swing.kind is not Kind.REHEARSAL
            else []
        )
        out.append(ReviewedSwing(swing, values, tuple(seen), strike, entry, block))
    return Review(measured, tuple(out), doubts or Doubts())


def _when(swing: Swing) -> float:
    if swing.impact is not None:
        return swing.impact.t_s
    return swing.end_s if math.isfinite(swing.end_s) else swing.takeaway.t_s
