"""The pair: one clean and one poor swing of the same golfer, and the one sentence that tells them apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.cue.bands import Bands
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.review.strikes import Contact, Strike, in_words
from groundtone.review.swings import SwingRow, balls, column

# How much a contact costs, in order only (common practice).
_COST = {Contact.CLEAN: 0.0, Contact.THIN: 1.0, Contact.FAT: 2.0, Contact.TOPPED: 3.0, Contact.SHANK: 3.0}
# A difference below this many of its own standard uncertainties is none that could be told.
_TOLD = 2.0


@dataclass(frozen=True)
class Pair:
    """Two swings side by side.

    Attributes
    ----------
    by_strike : bool
        Chosen by what was told of the strikes; else by the findings alone.
    looked : LessonMeasure or None
        The measure that tells them apart; None where none does beyond its uncertainty.
    """

    clean: SwingRow
    poor: SwingRow
    by_strike: bool
    looked: LessonMeasure | None
    sentence: str


def the_pair(swings: Sequence[SwingRow], looked: Sequence[LessonMeasure]) -> Pair | None:
    """Chooses a clean and a poor swing.

    Clean (struck well: clean and not outside the centre) and poor are told by the strikes where both kinds were told,
    else by the findings. Among the clean ones the
    swing nearest to the middle of all clean ones is taken (not a lucky one); among the poor ones the worst strike, and
    of several equally bad ones the swing whose findings are likeliest.

    Parameters
    ----------
    swings : sequence of SwingRow
        Practice swings and rehearsals are left out.
    looked : sequence of LessonMeasure
        The measures that may tell them apart.

    Returns
    -------
    Pair or None
        None where no two swings differ in strike or findings.
    """
    rows = balls(swings)
    clean = [row for row in rows if row.strike.well_struck]
    poor = [row for row in rows if row.strike.told and not row.strike.well_struck and row.strike.clean is not None]
    by_strike = bool(clean and poor)
    if not by_strike:
        worry = [_worry(row) for row in rows]
        clean = [row for row, w in zip(rows, worry, strict=True) if w < 0.5]
        poor = [row for row, w in zip(rows, worry, strict=True) if w >= 0.5]
        if not clean or not poor:
            return None
    good = clean[nearest_to_middle(clean, looked)]
    bad = max(poor, key=lambda row: (_cost(row.strike) if by_strike else 0.0, _worry(row)))
    apart = _apart(good, bad, rows, looked)
    return Pair(good, bad, by_strike, apart, _sentence(good, bad, apart, by_strike=by_strike))


def _worry(row: SwingRow) -> float:
    return max((fault.probability for fault in row.faults if fault.concern), default=0.0)


def _cost(strike: Strike) -> float:
    away = math.hypot(*strike.at_mm)
    return 100.0 * _COST.get(strike.contact, 0.0) + (0.0 if math.isnan(away) else away) if strike.contact else away


def _scale(values: NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(np.abs(known - np.median(known)))) * 1.4826 if known.size else 0.0


def nearest_to_middle(rows: Sequence[SwingRow], looked: Sequence[LessonMeasure]) -> int:
    """Which of some swings lies nearest to the middle of them all, counted in their own scatter: not a lucky one."""
    total = np.zeros(len(rows))
    for measure in looked:
        values = column(rows, measure.name)
        scale = _scale(values)
        if scale > 0:
            total += np.nan_to_num(np.abs(values - np.nanmedian(values)) / scale, nan=1.0)
    return int(total.argmin())


def _apart(
    good: SwingRow, bad: SwingRow, rows: Sequence[SwingRow], looked: Sequence[LessonMeasure]
) -> LessonMeasure | None:
    """The measure in which the two differ most, counted in this golfer's own scatter; one that is told beyond doubt."""
    best: tuple[float, LessonMeasure] | None = None
    for measure in looked:
        a, b = good.values.get(measure.name, math.nan), bad.values.get(measure.name, math.nan)
        doubt = math.hypot(good.doubts.get(measure.name, 0.0), bad.doubts.get(measure.name, 0.0))
        gap = abs(a - b)
        if math.isnan(gap) or gap < max(_TOLD * doubt, measure.step, 1e-12):
            continue
        size = gap / max(_scale(column(rows, measure.name)), doubt, measure.step, 1e-9)
        # What the poor swing has outside its band and the clean one inside says more than any other difference.
        left = measure.outside(b) > 0 >= measure.outside(a)
        size *= 3.0 if left else 1.0
        if best is None or size > best[0]:
            best = (size, measure)
    return best[1] if best else None


def _sentence(good: SwingRow, bad: SwingRow, looked: LessonMeasure | None, *, by_strike: bool) -> str:
    if by_strike:
        told = f"Swing {good.number} ({in_words(good.strike)}) and swing {bad.number} ({in_words(bad.strike)})"
    else:
        told = f"Swing {good.number} and swing {bad.number} (chosen by their findings; no contrast of strikes was told)"
    if looked is None:
        return f"{told} do not differ in the pressure beyond what can be measured."
    a, b = (row.values[looked.name] for row in (good, bad))
    return f"{told}: {looked.words} was {looked.told(a)} in the first and {looked.told(b)} in the second."


# Which limit of the cues a measure belongs to, and on which side of it is silence.
_LIMITS = {
    "overall_setup": ("toes_setup", "below"),
    "overall_most_down": ("toes_after", "below"),
    "overall_down": ("toes_after", "below"),
    "share_impact": ("trail", "above"),
}
# No drill goes beyond what anybody can do (invented).
_LEAST, _MOST = 0.30, 0.90


def fitted(pair: Pair, bands: Bands) -> tuple[Bands, str]:
    """The bands for the drill, and a sentence; the bands as they were where the pair says nothing of a cue.

    Parameters
    ----------
    bands : Bands
        In force so far.
    """
    looked = pair.looked
    if looked is None or looked.name not in _LIMITS:
        what = looked.words if looked is not None else "what tells the two apart"
        return bands, f"No tone goes with {what}: the bands stay as they are."
    name, silent = _LIMITS[looked.name]
    clean, poor = (row.values.get(looked.name, math.nan) for row in (pair.clean, pair.poor))
    worse = poor > clean if silent == "below" else poor < clean
    if math.isnan(clean) or math.isnan(poor) or not worse:
        return bands, "The poor swing does not lie on the side where a tone would sound: the bands stay as they are."
    limit = round(min(_MOST, max(_LEAST, (clean + poor) / 2)), 2)
    changed: Bands = replace(bands, **{name: limit})  # type: ignore[arg-type]
    return changed, (
        f"For the drill the tone begins at {looked.told(limit)} of {looked.words}, halfway between the two."
    )
