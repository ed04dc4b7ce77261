"""Which measures a lesson looks at, by which words and bands: few on purpose, for each further one costs certainty."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from groundtone.review.feet_words import feet_sentence
from groundtone.review.strikes import Contact
from groundtone.review.swings import BlockRows, SwingRow
from groundtone.swing.bands import Band, Bands, default_bands
from groundtone.swing.clubs import club_class


@dataclass(frozen=True)
class LessonMeasure:
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

    def outside(self, value: float) -> float:
        """How far a value lies outside the band; 0 inside it."""
        return max(self.band[0] - value, value - self.band[1], 0.0)

    def told(self, value: float, *, sign: bool = False) -> str:
        """A value, or a change of it, as a person reads it."""
        if math.isnan(value):
            return "-"
        scale, unit, digits = (SCALES.get(self.unit, 1.0), f" {self.unit}".rstrip(), 2)
        if self.unit in ("%", "mm", "ms"):
            digits = 0
        # A negative zero is zero.
        value = round(value * scale, digits) + 0.0
        number = f"{value:+.{digits}f}" if sign else f"{value:.{digits}f}"
        return number + (" points" if sign and self.unit == "%" else unit)


SCALES = {"%": 100.0, "ms": 1000.0}
"""A value of that unit is told so many times as large: parts of one in per cent, seconds in ms."""
_STEPS = {"%": 0.03, "mm": 2.0, "ms": 0.015, "s": 0.3}


def unit_of(name: str) -> str:
    """In what a measure's value is told to people."""
    if name == "tempo":
        return ""
    return "ms" if name == "force_most_s" else "mm" if name.endswith("_mm") else "s" if name.endswith("_s") else "%"


def measure_of(band: Band) -> LessonMeasure:
    """The measure that a finding rests on, with its band."""
    unit = unit_of(band.measure)
    return LessonMeasure(band.measure, band.title, unit, (band.low, band.high), _STEPS.get(unit, 0.2))


GUESSED = "tempo (guessed, the top is not seen)"
"""No pressure shows the top, so a tempo goes by how usual it is: on the twin 0.22 of a true change is seen. It is told
with a swing, and compared with nothing."""

# Measure, words, unit, and the smallest change that matters to anybody (chosen by us).
_WORDS = (
    ("share_setup", "lead share at setup", "%", 0.02),
    ("overall_setup", "heel-toe position at setup", "%", 0.02),
    ("overall_most_down", "furthest towards the toes in the downswing", "%", 0.02),
    ("overall_least_late", "furthest towards the heels late in the downswing", "%", 0.02),
    ("share_impact", "lead share at impact", "%", 0.03),
    ("side_shift", "shift to the lead side in the downswing", "%", 0.03),
    ("lead_heel_work", "lead heel taking over", "%", 0.03),
    ("turn_early", "turn of pressure, part of the way to impact", "%", 0.03),
    ("held_s", "finish held (from about 0.3 s after impact)", "s", 0.3),
)


def lesson_measures(
    bands: Bands | None = None, *, club: str = "", contacts: Sequence[Contact] = (), coach: Collection[str] = ()
) -> tuple[LessonMeasure, ...]:
    """The measures with their bands.

    What only one school calls a fault has no band here, and neither has trail side at impact unless strikes were fat,
    thin or topped, or the coach says so: a change is told, and neither called better nor worse.

    Parameters
    ----------
    bands : Bands, optional
        The program's own without them.
    club : str
        As it was written down: "7 iron".
    contacts : sequence of Contact
        From the strike log.
    coach : collection of str
        Findings that the coach calls a fault in any case.
    """
    bands = bands or default_bands()
    poor = bands.poor([contact.value for contact in contacts])
    limits: dict[str, tuple[float, float]] = {}
    for band in (band.for_club(club_class(club)) for band in bands.findings):
        fault = band.name in coach or (poor if band.needs_contact else band.fault)
        if fault and not band.also and club_class(club) not in band.not_for:
            low, high = limits.get(band.measure, (-math.inf, math.inf))
            limits[band.measure] = max(low, band.low), min(high, band.high)
    anywhere = (-math.inf, math.inf)
    return tuple(
        LessonMeasure(name, words, unit, limits.get(name, anywhere), step) for name, words, unit, step in _WORDS
    )


def measure_words(row: SwingRow, block: BlockRows) -> tuple[str, ...]:
    """The lesson's measures of one swing, in words, its guessed tempo, and where each foot's pressure lay, as known."""
    known = ((measure, row.values.get(measure.name, math.nan)) for measure in lesson_measures(club=block.club))
    lines = [f"{measure.words}: {measure.told(value)}" for measure, value in known if math.isfinite(value)]
    tempo = row.values.get("tempo", math.nan)
    guess = [f"{GUESSED}: {tempo:.1f}"] if math.isfinite(tempo) else []
    return (*lines, *guess, *filter(None, [feet_sentence(row.values)]))
