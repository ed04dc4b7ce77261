"""The pair: one clean and one poor swing of the same golfer side by side, an example and no evidence.

Any two swings differ in something. What goes with poor strikes is told only where it does so over all swings of the
session, by the rules of `groundtone.lesson.chance`: each swing among those of its own run, trends taken out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.cue.bands import Bands
from groundtone.lesson.chance import ALPHA_PAIR, linked
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.review.strikes import Contact, Strike, in_words
from groundtone.review.swings import SwingRow, balls, column

# How much a contact costs, in order only (common practice).
_COST = {Contact.CLEAN: 0.0, Contact.THIN: 1.0, Contact.FAT: 2.0, Contact.TOPPED: 3.0, Contact.SHANK: 3.0}
# A difference below this many of its own standard uncertainties is none that could be told.
_TOLD = 2.0
# A measure that fewer of the swings have is left out of what is asked.
_KNOWN = 0.8
LEAST_OF_A_KIND = 4
"""Of well and of poorly struck swings; with fewer nothing is asked."""


@dataclass(frozen=True)
class Pair:
    """Two swings side by side.

    Attributes
    ----------
    by_strike : bool
        Chosen by what was told of the strikes; else by the findings alone.
    looked : LessonMeasure or None
        The measure that goes with poor strikes over all swings; None where none clearly does.
    means : (float, float)
        Of that measure, of well and of poorly struck swings; NaN without one.
    apart : LessonMeasure or None
        What a tone can tell and these two lie apart in, beyond their uncertainty: for the drill, and no cause.
    """

    clean: SwingRow
    poor: SwingRow
    by_strike: bool
    looked: LessonMeasure | None
    sentence: str
    means: tuple[float, float] = (math.nan, math.nan)
    apart: LessonMeasure | None = None


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
        The measures that may go with poor strikes: all are paid for.

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
    cause, means = _cause(rows, clean, poor, looked) if by_strike else (None, (math.nan, math.nan))
    sentence = _sentence(good, bad, cause, means, by_strike=by_strike)
    return Pair(good, bad, by_strike, cause, sentence, means, _apart(good, bad, rows, looked))


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


def _cause(
    rows: Sequence[SwingRow], clean: Sequence[SwingRow], poor: Sequence[SwingRow], looked: Sequence[LessonMeasure]
) -> tuple[LessonMeasure | None, tuple[float, float]]:
    """The measure in which poorly struck swings differ from well struck ones over the whole session, if one does."""
    nothing = None, (math.nan, math.nan)
    asked = [m for m in looked if np.mean(np.isfinite(column(rows, m.name))) >= _KNOWN]
    if min(len(clean), len(poor)) < LEAST_OF_A_KIND or not asked:
        return nothing
    kinds = {id(row): float(kind) for kind, some in ((0, clean), (1, poor)) for row in some}
    kind = np.array([kinds.get(id(row), math.nan) for row in rows])
    values = np.stack([column(rows, m.name) for m in asked], axis=1)
    found = linked(values, kind, [row.run for row in rows])
    likeliest = sorted(range(len(asked)), key=lambda at: -abs(found.size[at]))
    for at in likeliest:
        means = float(np.nanmean(values[kind == 0, at])), float(np.nanmean(values[kind == 1, at]))
        way = (means[1] - means[0]) * found.size[at] > 0
        if found.p[at] < ALPHA_PAIR and way and abs(means[1] - means[0]) >= asked[at].step:
            return asked[at], means
    return nothing


def _apart(
    good: SwingRow, bad: SwingRow, rows: Sequence[SwingRow], looked: Sequence[LessonMeasure]
) -> LessonMeasure | None:
    """Of what a tone can tell, the measure in which the two lie apart most, in this golfer's own scatter."""
    sizes = {}
    for measure in (m for m in looked if m.name in _LIMITS):
        gap = abs(good.values.get(measure.name, math.nan) - bad.values.get(measure.name, math.nan))
        doubt = math.hypot(*(row.doubts.get(measure.name, 0.0) for row in (good, bad)))
        if gap >= max(_TOLD * doubt, measure.step, 1e-12):
            sizes[measure] = gap / max(_scale(column(rows, measure.name)), doubt, measure.step, 1e-9)
    return max(sizes, key=lambda measure: sizes[measure], default=None)


def _sentence(
    good: SwingRow, bad: SwingRow, cause: LessonMeasure | None, means: tuple[float, float], *, by_strike: bool
) -> str:
    if by_strike:
        told = f"Swing {good.number} ({in_words(good.strike)}) and swing {bad.number} ({in_words(bad.strike)})"
    else:
        told = f"Swing {good.number} and swing {bad.number} (chosen by their findings; no contrast of strikes was told)"
    told += ", side by side: an example and no evidence."
    if cause is None:
        return told
    a, b = means
    return (
        f"{told} Over all swings {cause.words} was {cause.told(a)} where the ball was struck well and "
        f"{cause.told(b)} where it was not; that goes together, and need not be the cause."
    )


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
    looked = pair.looked or pair.apart
    if looked is None:
        return bands, "No tone goes with what tells the two apart: the bands stay as they are."
    if looked.name not in _LIMITS:
        return bands, f"No tone goes with {looked.words}: the bands stay as they are."
    name, silent = _LIMITS[looked.name]
    clean, poor = pair.means if pair.looked else (row.values[looked.name] for row in (pair.clean, pair.poor))
    worse = poor > clean if silent == "below" else poor < clean
    if not worse:
        return bands, "The poor swing does not lie on the side where a tone would sound: the bands stay as they are."
    limit = round(min(_MOST, max(_LEAST, (clean + poor) / 2)), 2)
    changed: Bands = replace(bands, **{name: limit})  # type: ignore[arg-type]
    return changed, (
        f"For the drill the tone begins at {looked.told(limit)} of {looked.words}, halfway between the two."
    )
