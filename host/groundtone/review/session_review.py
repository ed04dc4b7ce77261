"""A recorded session reviewed: its swings with measures, findings and strikes, gathered in its blocks."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from importlib import metadata
from pathlib import Path
from typing import Any

from groundtone.cue.personal import called_faults
from groundtone.errors import GroundtoneError
from groundtone.record import swing_rows
from groundtone.record.channels import without_nan
from groundtone.record.reader import Recording
from groundtone.record.session import Block
from groundtone.review.lane import AFTER_S, BEFORE_S, Lane, heard_in, lane_of
from groundtone.review.measured import Measured, measure
from groundtone.review.noted import swings_of
from groundtone.review.settings import bands_in
from groundtone.review.stated import calibration_doubts
from groundtone.review.strikes import Strike, in_words, strikes_of_swings
from groundtone.review.swings import KINDS, BlockRows, Fault, RecordedSession, SwingRow, with_middle
from groundtone.swing.bands import Bands
from groundtone.swing.clubs import club_class
from groundtone.swing.doubts import Doubts, Measure, guessed_doubts
from groundtone.swing.events import Kind, Swing
from groundtone.swing.findings import Finding, findings
from groundtone.swing.measures import measures
from groundtone.swing.phases import find_swings

EVENTS = ("setup", "takeaway", "turn", "top", "impact", "finish", "step_off")
"""The events of a swing in their order."""


@dataclass(frozen=True)
class ReviewedSwing:
    """One swing with all that is known of it.

    Attributes
    ----------
    findings : tuple of Finding
        Likeliest first.
    entry : str or None
        Id of the strike's entry in the recording.
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
        values, doubts = with_middle(
            {name: m.value for name, m in self.measures.items()},
            {name: m.u for name, m in self.measures.items() if m.known},
        )
        faults = (Fault(f.title, f.probability, f.sentence, f.drill_text, f.concern, f.name) for f in self.findings)
        return SwingRow(
            self.swing.number, values, doubts, Fault.ordered(faults), self.strike, self.when_s,
            KINDS[self.swing.kind.value], self.events, self.entry, self.block.kind,
        )  # fmt: skip

    @property
    def events(self) -> dict[str, tuple[float, str, float]]:
        """What is known of the swing's events: device time, s, source and doubt, s, by name."""
        moments = {name: getattr(self.swing, name) for name in EVENTS}
        return {name: (m.t_s, m.source, m.doubt_s) for name, m in moments.items() if m is not None}

    def kept(self) -> swing_rows.SwingRow:
        """The swing as the library keeps it."""
        swing = self.swing
        return swing_rows.SwingRow(
            number=swing.number,
            kind=swing.kind.value,
            impact_s=swing.impact.t_s if swing.impact is not None else math.nan,
            events=self.events,
            measures={name: (m.value, m.u, m.reason) for name, m in self.measures.items()},
            findings=[
                swing_rows.FindingRow(f.name, f.probability, f.size, without_nan(asdict(f))) for f in self.findings
            ],
        )


@dataclass(frozen=True)
class Review:
    """A session.

    Attributes
    ----------
    doubts : Doubts
        What the calibration leaves open.
    """

    measured: Measured
    swings: tuple[ReviewedSwing, ...]
    doubts: Doubts = field(default_factory=guessed_doubts)

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
            out.append(
                BlockRows(
                    name, rows, block.kind, block.club, block.lie, block.usual_m, block.cues, block.number,
                    self.recording.about.session,
                )
            )  # fmt: skip
        return tuple(out)

    def block(self, name: str, what: str) -> BlockRows:
        """The swings of one block, by its number or role, or of all (empty); `what` names the recording in errors.

        Raises
        ------
        GroundtoneError
            There is no such block, or several were hit under different conditions.
        """
        blocks = self.blocks()
        found = [b for b in blocks if not name or name in (str(b.number), b.role)]
        if not found:
            raise GroundtoneError(f"{what} has no block {name}: it has {', '.join(b.name for b in blocks)}")
        if len({(club_class(b.club), b.lie, b.cues) for b in found if b.swings}) > 1:
            names = ", ".join(b.name for b in found)
            raise GroundtoneError(
                f"the blocks of {what} differ in club, lie or cues: name one of {names} behind a colon"
            )
        first = next((b for b in found if b.swings), found[0])
        swings = tuple(row for block in found for row in block.swings)
        return replace(first, name=" and ".join(block.name for block in found), swings=swings)

    def columns(self) -> dict[str, list[Any]]:
        """The session as a table of one line a swing."""
        out: dict[str, list[Any]] = {
            "swing": [each.swing.number for each in self.swings],
            "kind": [each.swing.kind.value for each in self.swings],
            "block": [each.block.kind for each in self.swings],
            "club": [each.block.club for each in self.swings],
            "strike": [in_words(each.strike) if each.strike.told else "" for each in self.swings],
            "findings": ["; ".join(f.title for f in each.findings) for each in self.swings],
        }
        names = list(dict.fromkeys(name for each in self.swings for name in each.measures))
        for name in names:
            known = [each.measures.get(name) for each in self.swings]
            out[name] = [m.value if m else math.nan for m in known]
            out[f"{name}_u"] = [m.u if m else math.nan for m in known]
        return out

    def recorded(self) -> RecordedSession:
        """The session as the library would give it."""
        about, path = self.recording.about, self.recording.path
        return RecordedSession(
            path, about.session, about.started, about.golfer.name, about.lesson_name(), about.simulated, self.blocks(),
            tuple(self.measured.doubts),
        )  # fmt: skip

    def lane(self, each: ReviewedSwing) -> Lane:
        """The lane of one of the swings, whose impact is known; with the cues that were heard."""
        swing = each.swing
        assert swing.impact is not None
        return lane_of(
            {name: at for name, (at, _, _) in each.events.items()}, self.measured.series,
            bands_in(self.recording.about.settings), heard_in(self.recording), zero_s=swing.impact.t_s,
            span_s=(BEFORE_S * swing.slow, AFTER_S * swing.slow), slow=swing.slow,
            title=", ".join([f"Swing {swing.number}", *(f.title for f in each.findings[:1])]),
        )  # fmt: skip

    def rows(self) -> list[SwingRow]:
        """All swings, in their order."""
        return sorted((row for block in self.blocks() for row in block.swings), key=lambda row: row.number)


def review(
    recording: Recording, profile: Path | None = None, *, bands: Bands | None = None, coach: Collection[str] = ()
) -> Review:
    """Reviews a recording.

    Parameters
    ----------
    profile : Path, optional
        A profile to measure with instead of the recorded one.
    bands : Bands, optional
        The program's own without them.
    coach : collection of str
        Findings that the coach calls a fault in any case, beside those that are kept as this golfer's.

    Raises
    ------
    ProfileError, LayoutError, RulesError
    """
    coach = {*coach, *called_faults(recording.about.golfer.name)}
    return review_measured(measure(recording, profile), bands=bands, coach=coach, profile=profile)


def review_measured(
    measured: Measured, *, bands: Bands | None = None, coach: Collection[str] = (), profile: Path | None = None
) -> Review:
    """As `review`, of a recording that has been measured, with the profile that it was measured with."""
    recording = measured.recording
    text = profile.read_text("utf-8") if profile is not None else recording.about.profile_text
    plain = calibration_doubts(text, recording.layout).with_left(measured.left).with_filled(*measured.filled_u)
    doubts = replace(plain, stated=measured.stated)
    noted = swings_of(recording, doubts)
    swings = [swing for swing, _ in noted] or find_swings(measured.series, _putts(recording))
    known = {swing.number: values for swing, values in noted}
    told = strikes_of_swings([entry.table for entry in recording.strikes], [_when(swing) for swing in swings])
    blocks = [recording.block_at(_when(swing) * 1e6) for swing in swings]
    out = []
    for swing, (strike, entry), block in zip(swings, told, blocks, strict=True):
        values = measures(swing, measured.series, doubts) | known.get(swing.number, {})
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
    return Review(measured, tuple(out), doubts)


def _putts(recording: Recording) -> list[tuple[float, float]]:
    """From when to when a putter was in hand, s of device time."""
    ends = [block.device_us * 1e-6 for block in recording.blocks[1:]] + [math.inf]
    begins = [-math.inf, *ends[:-1]]
    spans = zip(recording.blocks, begins, ends, strict=True)
    return [(begin, end) for block, begin, end in spans if club_class(block.club) == "putter"]


def _when(swing: Swing) -> float:
    if swing.impact is not None:
        return swing.impact.t_s
    return swing.end_s if math.isfinite(swing.end_s) else swing.takeaway.t_s


def analysed(recording: Recording, profile: Path | None = None) -> tuple[list[swing_rows.SwingRow], list[str]]:
    """The swings of a recording with what was measured and found in them, and what a reader must know.

    Parameters
    ----------
    profile : Path, optional
        A profile to measure with instead of the recorded one.

    Raises
    ------
    ProfileError, LayoutError
    """
    # What the coach calls a fault is added whenever it is read: it may be taken back.
    seen = review_measured(measure(recording, profile), profile=profile)
    return [each.kept() for each in seen.swings], seen.measured.doubts


@lru_cache(maxsize=1)
def analysis_version() -> str:
    """What measures recordings: the program's version and a digest of what measures come from."""
    package, digest = Path(__file__).parents[1], hashlib.sha256()
    for room in ("mat", "calibration", "pressure", "swing", "review"):
        for path in sorted((package / room).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.read_bytes())
    try:
        number = metadata.version("groundtone")
    except metadata.PackageNotFoundError:
        number = "0"
    return f"{number}-{digest.hexdigest()[:8]}"
