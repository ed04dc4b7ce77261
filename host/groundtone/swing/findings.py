"""What a swing's measures say against the bands: findings, each with its evidence, its doubt and one drill.

A finding is never a bare yes: it carries the probability that this reading is outside the band, from the measure's
uncertainty. Measures of one foot, and shares, have the same calibration behind them: where a finding wants several, the
least likely of them counts and they are not multiplied as if each were a reading of its own. Over a session the
calibration errs in all swings alike, and that is counted once (`lesson.outside`). What is no fault in every school
is described; it is a concern only when the coach says so. Trail side at impact, which one of two published styles shows
at every level of skill (Ball and Best, 2007), is a concern only with fat, thin or topped strikes in the log, or when
the coach says so. What is only described brings no drill.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.swing.bands import Band, Bands, default_bands
from groundtone.swing.doubts import Measure

# Below this probability nothing is said.
LIKELY = 0.5
# The reverse style went across and came back by this much of the share before impact (published as a pattern, the
# number is chosen on the twin).
CAME_BACK = 0.06
# Who never had this much on the lead side before impact shows neither style: the share has to come across (invented).
CAME_ACROSS = 0.60


@dataclass(frozen=True)
class Finding:
    """One thing seen in a swing.

    Attributes
    ----------
    name, title : str
    measure : Measure
        What it rests on.
    low, high : float
        The band; infinite where it is open.
    side : str
        "low" or "high": which limit was passed.
    size : float
        How far beyond the limit, in parts of the way from the usual value to it; below 0 inside.
    probability : float
        That this reading is outside the band.
    concern : bool
        False: described, not called a fault.
    strike : str
        What the trade expects in the strike.
    sentence : str
        For the golfer.
    drill, drill_text : str
        Empty where it is only described.
    """

    name: str
    title: str
    measure: Measure
    low: float
    high: float
    side: str
    size: float
    probability: float
    concern: bool
    strike: str
    sentence: str
    drill: str
    drill_text: str


def findings(
    measures: Mapping[str, Measure],
    bands: Bands | None = None,
    *,
    club: str | None = None,
    contacts: Sequence[str] = (),
    coach: Collection[str] = (),
    least: float = LIKELY,
) -> list[Finding]:
    """What a swing shows, likeliest first, concerns before what is only described.

    Parameters
    ----------
    measures : mapping
        From `groundtone.swing.measures.measures`.
    bands : Bands, optional
        The program's own without them.
    club : str, optional
        Class of the club, one of `groundtone.swing.clubs.CLUBS`.
    contacts : sequence of str
        Contacts in the strike log of this golfer with this club: clean, thin, fat, topped, shank.
    coach : collection of str
        Names of findings that this coach calls a fault in any case.
    least : float
        Findings of less probability are left out; 0 gives all that could be judged.
    """
    bands = bands or default_bands()
    judged = [band.for_club(club) for band in bands.findings if club not in band.not_for]
    known = {band.name: _outside(band, measures) for band in judged}
    poor = bands.poor(contacts)
    out = []
    for band in judged:
        low_p, high_p = known[band.name]
        parts = [(band.measure, low_p + high_p), *((also.measure, sum(_outside(also, measures))) for also in band.also)]
        probability = together(parts)
        if band.never_with in known:
            other = sum(known[band.never_with])
            # Never together: where the other is the likelier, this one is none.
            probability = 0.0 if other >= LIKELY else together([(band.measure, probability), (band.measure, 1 - other)])
        if not math.isfinite(probability) or probability < least:
            continue
        fault = (poor if band.needs_contact else band.fault) or band.name in coach
        out.append(_finding(band, measures, probability, "high" if high_p >= low_p else "low", fault, bands))
    return sorted(out, key=lambda f: (not f.concern, -f.probability))


def together(parts: Sequence[tuple[str, float]]) -> float:
    """Probability that several things said of measures hold at once.

    Parameters
    ----------
    parts : sequence of (str, float)
        Measure and probability. Those that rest on the same thing (shares; each foot's places; times) err together, and
        the least likely of them says how likely all are; those that do not are multiplied.

    Examples
    --------
    >>> together([("lead_heel_work", 0.8), ("lead_outer_down_mm", 0.6), ("side_shift", 0.5)])
    0.3
    """
    least: dict[str, float] = {}
    for measure, p in parts:
        rests_on = _rests_on(measure)
        # What is not known of one leaves all unknown, whichever comes first.
        least[rests_on] = float(np.minimum(p, least.get(rests_on, 1.0)))
    return math.prod(least.values())


def is_time(measure: str) -> bool:
    """Does it rest on events alone, and not on what the mat makes of a force?"""
    return measure.endswith("_s") or measure in ("tempo", "turn_early")


def _rests_on(measure: str) -> str:
    if is_time(measure):
        return "times"
    if "share" in measure or measure == "side_shift":
        return "shares"
    return measure.split("_")[0]


def probability_outside(measure: Measure, low: float, high: float) -> tuple[float, float]:
    """Probability that this reading is below and above a band; (NaN, NaN) for a measure without a value.

    Examples
    --------
    >>> probability_outside(Measure("share_impact", 0.58, 0.02, "1"), 0.58, math.inf)
    (0.5, 0.0)
    """
    if not measure.known:
        return math.nan, math.nan
    u = max(measure.u, 1e-9)
    return _normal((low - measure.value) / u), _normal((measure.value - high) / u)


def style_of(measures: Mapping[str, Measure]) -> tuple[str, float]:
    """Which of the two published styles a swing shows, and with what probability.

    "front foot" goes on to the lead foot until impact; "reverse" goes across in the early downswing and comes back
    before impact (Ball and Best, J. Sports Sci. 2007). "" where it cannot be said or the pressure never came across.
    """
    most, impact = measures["share_most_down"], measures["share_impact"]
    if not most.known or not impact.known:
        return "", math.nan
    across = _normal((most.value - CAME_ACROSS) / max(most.u, 0.01))
    if across < 0.5:
        return "", 1 - across
    # Both share the calibration's doubt; what is left is noise and the moment of impact.
    reverse = _normal((most.value - impact.value - CAME_BACK) / max(impact.u, 0.01))
    return ("reverse", reverse) if reverse >= 0.5 else ("front foot", 1 - reverse)


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2)) if math.isfinite(z) else float(z > 0)


def _outside(band: Band, measures: Mapping[str, Measure]) -> tuple[float, float]:
    measure = measures.get(band.measure)
    return probability_outside(measure, band.low, band.high) if measure is not None else (math.nan, math.nan)


def _finding(
    band: Band, measures: Mapping[str, Measure], probability: float, side: str, concern: bool, bands: Bands
) -> Finding:
    measure = measures[band.measure]
    limit = band.high if side == "high" else band.low
    size = (measure.value - limit) / (limit - band.usual) if math.isfinite(limit) else math.nan
    sentence = band.sentence_high if side == "high" else band.sentence_low
    if measure.value < band.far:
        sentence = band.sentence_far
    stepped = measures.get("stepped_s")
    if band.measure == "held_s" and stepped is not None and stepped.known:
        sentence += " You stepped out of it."
    if band.needs_contact and style_of(measures)[0] == "reverse":
        sentence += " It had come across before and gone back: one of two known styles, and no error in itself."
    return Finding(
        band.name, band.title, measure, band.low, band.high, side, size, probability, concern, band.strike, sentence,
        *((band.drill, bands.drills[band.drill]) if concern else ("", "")),
    )  # fmt: skip
