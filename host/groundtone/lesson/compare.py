"""Before and after: two blocks of one golfer, measure by measure, with intervals and plain words."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.lesson.chance import Effect, difference, holm
from groundtone.lesson.lesson_measures import LessonMeasure, lesson_measures
from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.record.session import About
from groundtone.review.session_review import GUESSED, Review
from groundtone.review.strikes import CENTRE_CIRCLE_MM
from groundtone.review.swings import BlockRows, balls, column, contacts_of
from groundtone.swing.clubs import club_class
from groundtone.swing.doubts import Doubts

LEAST = 4
"""Fewer swings in a block are too few to compare."""
CLAIM_P = 0.05
_UNSAID = "not said"
_TOO_FEW = "too few swings to say"


@dataclass(frozen=True)
class Change:
    """What became of one measure.

    Attributes
    ----------
    before, after : float
        Medians.
    effect : Effect
        After less before; its p is corrected for all measures looked at.
    verdict : str
        "better", "worse", "changed", "no clear change" or "too few swings to say".
    """

    looked: LessonMeasure
    before: float
    after: float
    effect: Effect
    verdict: str

    @property
    def sentence(self) -> str:
        """The change in one line."""
        looked, effect = self.looked, self.effect
        if self.verdict == _TOO_FEW:
            return f"{looked.words}: too few swings to say."
        middle = f"{looked.told(self.before)} before, {looked.told(self.after)} after"
        doubt = f"{looked.told(effect.low, sign=True)} to {looked.told(effect.high, sign=True)}"
        return f"{looked.words}: {self.verdict} ({middle}; change {doubt})."


@dataclass(frozen=True)
class Comparison:
    """Two blocks side by side.

    Attributes
    ----------
    conditions : tuple of str
        What else differed (club, lie, cues): said before anything.
    inside : (float, float, float)
        Change of the share inside the centre circle, and its 95 % interval.
    sentences : tuple of str
        The whole in plain words, conditions first.
    """

    conditions: tuple[str, ...]
    changes: tuple[Change, ...]
    strikes: tuple[StrikeCounts, StrikeCounts]
    inside: tuple[float, float, float]
    sentences: tuple[str, ...]

    @property
    def inside_verdict(self) -> str:
        """Whether more strikes are inside the centre circle: the words of `Change.verdict`."""
        return _inside_verdict(self.strikes, self.inside)


def compare_blocks(
    before: BlockRows,
    after: BlockRows,
    *,
    coach: Collection[str] = (),
    doubts: Mapping[str, float] | None = None,
    scale_u: float = 0.02,
    radius_mm: float = CENTRE_CIRCLE_MM,
) -> Comparison:
    """As `compare`, by the measures of a lesson with that club and those strikes."""
    contacts = contacts_of((*before.swings, *after.swings))
    measures = lesson_measures(club=before.club, contacts=contacts, coach=coach)
    return compare(before, after, measures, doubts=doubts, scale_u=scale_u, radius_mm=radius_mm)


def compare(
    before: BlockRows,
    after: BlockRows,
    looked: Sequence[LessonMeasure],
    *,
    doubts: Mapping[str, float] | None = None,
    scale_u: float = 0.02,
    radius_mm: float = CENTRE_CIRCLE_MM,
    seed: int = 1,
) -> Comparison:
    """Compares two blocks.

    Parameters
    ----------
    before, after : BlockRows
        Practice swings and rehearsals are left out.
    looked : sequence of LessonMeasure
        The measures to look at, agreed on beforehand: each further one makes a change by chance more likely, and all
        are paid for (Holm).
    doubts : mapping of str to float, optional
        Standard uncertainty of the difference between the blocks that more swings do not make smaller (the mat's change
        between two calibrations); none within one calibration.
    scale_u : float
        Relative standard uncertainty of a change: what a calibration leaves open of the scale, in both blocks alike.
    radius_mm : float
        Of the centre circle.
    seed : int
        Of the resampling.
    """
    rows = balls(before.swings), balls(after.swings)
    raw = []
    for measure in looked:
        a, b = (column(side, measure.name) for side in rows)
        doubt = math.hypot((doubts or {}).get(measure.name, 0.0), scale_u * (_median(b) - _median(a)))
        effect = difference(a, b, 0.0 if math.isnan(doubt) else doubt, seed)
        raw.append((measure, _median(a), _median(b), effect if effect.n >= LEAST else _too_few(effect)))
    corrected = holm([effect.p for *_, effect in raw])
    changes = tuple(
        Change(m, a, b, Effect(e.size, e.low, e.high, p, e.n), _verdict(m, a, b, e, p))
        for (m, a, b, e), p in zip(raw, corrected, strict=True)
    )
    counts = (
        count([r.strike for r in rows[0]], radius_mm=radius_mm, usual_m=before.usual_m),
        count([r.strike for r in rows[1]], radius_mm=radius_mm, usual_m=after.usual_m),
    )
    conditions = _conditions(before, after)
    inside = share_change(*counts)
    sentences = (*conditions, *(change.sentence for change in changes), _strike_sentence(counts, inside))
    return Comparison(conditions, changes, counts, inside, sentences)


def _too_few(effect: Effect) -> Effect:
    return Effect(math.nan, math.nan, math.nan, math.nan, effect.n)


def _median(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else math.nan


def _verdict(looked: LessonMeasure, before: float, after: float, effect: Effect, p: float) -> str:
    if math.isnan(effect.size) or math.isnan(p):
        return _TOO_FEW
    if p >= CLAIM_P or effect.low <= 0 <= effect.high or abs(effect.size) < looked.step:
        return "no clear change"
    gain = looked.outside(before) - looked.outside(after)
    # Both inside the band: it moved, and neither is better.
    return "better" if gain > 0 else "worse" if gain < 0 else "changed"


def share_change(before: StrikeCounts, after: StrikeCounts) -> tuple[float, float, float]:
    """Change of the share inside the centre circle with its 95 % interval (Newcombe 1998, method 10); NaN without."""
    p1, p2 = before.inside_share, after.inside_share
    if math.isnan(p1) or math.isnan(p2):
        return math.nan, math.nan, math.nan
    (l1, u1), (l2, u2) = before.inside_interval, after.inside_interval
    change = p2 - p1
    return change, change - math.hypot(p2 - l2, u1 - p1), change + math.hypot(u2 - p2, p1 - l1)


def _inside_verdict(counts: tuple[StrikeCounts, StrikeCounts], inside: tuple[float, float, float]) -> str:
    change, low, high = inside
    if min(side.placed for side in counts) < LEAST or math.isnan(low):
        return _TOO_FEW
    return "no clear change" if low <= 0 <= high else "better" if change > 0 else "worse"


def _strike_sentence(counts: tuple[StrikeCounts, StrikeCounts], inside: tuple[float, float, float]) -> str:
    (before, after), (_, low, high) = counts, inside
    verdict = _inside_verdict(counts, inside)
    if verdict == _TOO_FEW:
        return "Strikes inside the centre circle: too few told to say."
    return (
        f"Strikes inside the centre circle: {verdict} ({before.inside} of {before.placed} before, "
        f"{after.inside} of {after.placed} after; change {low * 100:+.0f} to {high * 100:+.0f} points)."
    )


def _conditions(before: BlockRows, after: BlockRows) -> tuple[str, ...]:
    out = []
    for word, a, b in (("clubs", before.club, after.club), ("lies", before.lie, after.lie)):
        sides = f"{a or _UNSAID} before, {b or _UNSAID} after"
        if word == "clubs" and a != b and a and club_class(a) == club_class(b):
            out.append(f"Two clubs of one class ({sides}): compared as {club_class(a)}s.")
        elif a != b:
            out.append(f"Different {word} ({sides}): what changed may come from that alone.")
    if before.cues != after.cues:
        where = "after" if after.cues else "before"
        out.append(f"Cues sounded only {where}: compare blocks in silence to see what stayed.")
    if "mat" in (before.lie, after.lie):
        out.append("An artificial mat hides fat strikes.")
    return tuple(out)


@dataclass(frozen=True)
class Calibrated:
    """What a recording's calibration leaves uncertain: `session` and `profile` (its text; None: guessed) tell which."""

    session: str
    profile: str | None
    doubts: Doubts


def calibrated(seen: Review) -> Calibrated:
    """Of a recording that has been reviewed."""
    about = seen.recording.about
    return Calibrated(about.session, about.profile_text, seen.doubts)


def calibrated_of(about: About) -> Calibrated:
    """Of a recording that is in the library and need not be measured anew."""
    return Calibrated(about.session, about.profile_text, Doubts() if about.profile_text is not None else GUESSED)


def doubts_between(first: Calibrated, second: Calibrated) -> tuple[dict[str, float], float]:
    """Standard uncertainty of the difference of each measure, and the relative one of a change.

    Within one calibration an offset of the mat is in both blocks and drops out; its scale does not.
    """
    doubts = first.doubts, second.doubts
    scale = 0.02 if max(d.share for d in doubts) <= Doubts().share else 0.05
    if first.session == second.session or first.profile == second.profile is not None:
        return {}, scale
    return between_calibrations(*doubts), scale


def between_calibrations(first: Doubts, second: Doubts) -> dict[str, float]:
    """Standard uncertainty of the difference of each measure that rests on two calibrations."""
    share, position = (math.hypot(getattr(first, name), getattr(second, name)) for name in ("share", "position"))
    return {
        measure.name: share if "share" in measure.name or measure.name == "side_shift" else position
        for measure in lesson_measures()
        if measure.unit == "%" and measure.name != "turn_early"
    }
