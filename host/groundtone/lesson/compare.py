"""Before and after: two blocks of one golfer, measure by measure, with intervals and plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.lesson.chance import Effect, difference, holm
from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.review.strikes import CENTRE_CIRCLE_MM
from groundtone.review.swings import BlockRows, balls, column

LEAST = 4
"""Fewer swings in a block are too few to compare."""
CLAIM_P = 0.05
_UNSAID = "not said"


@dataclass(frozen=True)
class Looked:
    """A measure to look at.

    Attributes
    ----------
    name : str
        As in a row's values.
    words : str
        For a person.
    unit : str
        "%" where a value of 0-1 is told in per cent.
    band : (float, float)
        Where a value is as it should be; an open side is infinite. (-inf, inf): nothing is better or worse.
    step : float
        A smaller change matters to nobody, in the measure's unit.
    """

    name: str
    words: str
    unit: str = ""
    band: tuple[float, float] = (-math.inf, math.inf)
    step: float = 0.0

    def told(self, value: float, *, sign: bool = False) -> str:
        """A value, or a change of it, as a person reads it."""
        if math.isnan(value):
            return "-"
        scale, unit, digits = (100.0, " %", 0) if self.unit == "%" else (1.0, f" {self.unit}".rstrip(), 2)
        if self.unit in ("mm", "deg", "ms"):
            digits = 0
        # A negative zero is zero.
        value = round(value * scale, digits) + 0.0
        number = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
        return number + (" points" if sign and self.unit == "%" else unit)


@dataclass(frozen=True)
class Change:
    """What became of one measure.

    Attributes
    ----------
    looked : Looked
    before, after : float
        Medians.
    effect : Effect
        After less before; its p is corrected for all measures looked at.
    verdict : str
        "better", "worse", "changed", "no clear change" or "too few swings to say".
    """

    looked: Looked
    before: float
    after: float
    effect: Effect
    verdict: str

    @property
    def sentence(self) -> str:
        """The change in one line."""
        looked, effect = self.looked, self.effect
        if self.verdict == "too few swings to say":
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
    changes : tuple of Change
    strikes : (StrikeCounts, StrikeCounts)
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


def compare(
    before: BlockRows,
    after: BlockRows,
    looked: Sequence[Looked],
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
    looked : sequence of Looked
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


def _outside(value: float, band: tuple[float, float]) -> float:
    return max(band[0] - value, value - band[1], 0.0)


def _verdict(looked: Looked, before: float, after: float, effect: Effect, p: float) -> str:
    if math.isnan(effect.size) or math.isnan(p):
        return "too few swings to say"
    if p >= CLAIM_P or effect.low <= 0 <= effect.high or abs(effect.size) < looked.step:
        return "no clear change"
    gain = _outside(before, looked.band) - _outside(after, looked.band)
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


def _strike_sentence(counts: tuple[StrikeCounts, StrikeCounts], inside: tuple[float, float, float]) -> str:
    before, after = counts
    if min(before.placed, after.placed) < LEAST:
        return "Strikes inside the centre circle: too few told to say."
    change, low, high = inside
    verdict = "no clear change" if low <= 0 <= high else "better" if change > 0 else "worse"
    return (
        f"Strikes inside the centre circle: {verdict} ({before.inside} of {before.placed} before, "
        f"{after.inside} of {after.placed} after; change {low * 100:+.0f} to {high * 100:+.0f} points)."
    )


def _conditions(before: BlockRows, after: BlockRows) -> tuple[str, ...]:
    out = []
    for word, a, b in (("clubs", before.club, after.club), ("lies", before.lie, after.lie)):
        if a != b:
            sides = f"{a or _UNSAID} before, {b or _UNSAID} after"
            out.append(f"Different {word} ({sides}): what changed may come from that alone.")
    if before.cues != after.cues:
        where = "after" if after.cues else "before"
        out.append(f"Cues sounded only {where}: compare blocks in silence to see what stayed.")
    if "mat" in (before.lie, after.lie):
        out.append("An artificial mat hides fat strikes.")
    return tuple(out)
