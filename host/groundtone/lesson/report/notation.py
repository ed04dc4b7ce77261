"""Numbers, dates and measures as a reader of a language expects them."""

from __future__ import annotations

import datetime
import math

from groundtone.lesson.lesson_measures import SCALES, LessonMeasure
from groundtone.lesson.report.choice import POUND_KG, Units
from groundtone.lesson.wording import Words
from groundtone.review.strikes import YARD_M

MINUS = "\u2212"
_HARD = "\u00a0"


class Notation:
    """Says values in a language and in units."""

    def __init__(self, words: Words, units: Units) -> None:
        self.words = words
        self.units = units

    def number(self, value: float, digits: int = 0, *, sign: bool = False) -> str:
        """A number with the language's decimal sign; "-" for NaN. A negative zero is zero."""
        if math.isnan(value):
            return "-"
        value = round(value, digits) + 0.0
        text = f"{abs(value):.{digits}f}".replace(".", self.words("language.decimal"))
        return (MINUS if value < 0 else "+" if sign and value > 0 else "") + text

    def of(self, unit: str, number: str) -> str:
        """A number with its unit, on one line; "-" stays alone."""
        return "-" if number == "-" else self.words(f"unit.{unit}", value=number).replace(" ", _HARD)

    def percent(self, value: float) -> str:
        """A part of one, in per cent."""
        return self.of("percent", self.number(100 * value))

    def value(self, looked: LessonMeasure, value: float) -> str:
        """A measure's value."""
        return self.in_unit(looked.unit, value)

    def in_unit(self, unit: str, value: float) -> str:
        """A value of a measure that is told in "%", "mm", "ms", "s" or without a unit."""
        text = self.number(SCALES.get(unit, 1.0) * value, 0 if unit in ("%", "mm", "ms") else 1)
        return self.of({"%": "percent", "": "none"}.get(unit, unit), text)

    def change(self, looked: LessonMeasure, value: float, *, bare: bool = False) -> str:
        """A change of a measure; `bare`: without the unit."""
        unit = looked.unit
        number = self.number(SCALES.get(unit, 1.0) * value, 0 if unit in ("%", "mm", "ms") else 1, sign=True)
        return number if bare else self.of({"%": "points", "": "none"}.get(unit, unit), number)

    def interval(self, low: str, high: str) -> str:
        """From one to another; "-" where there is none."""
        return "-" if "-" in (low, high) else self.words("unit.interval", low=low, high=high)

    def date(self, iso: str) -> str:
        """A day as it is written out; the text itself where it is no date."""
        try:
            day = datetime.date.fromisoformat(iso[:10])
        except ValueError:
            return iso
        month = self.words.list("language.months")[day.month - 1]
        return self.words("language.date", day=str(day.day), month=month, year=str(day.year))

    def day(self, iso: str) -> str:
        """A day, short and without its year; the text itself where it is no date."""
        try:
            day = datetime.date.fromisoformat(iso[:10])
        except ValueError:
            return iso
        month = self.words.list("language.months")[day.month - 1][:3]
        return self.words("language.day", day=str(day.day), month=month)

    def distance(self, metres: float) -> str:
        """A distance in whole metres or yards."""
        unit = self.units.length
        return self.of(unit, self.number(metres / YARD_M if unit == "yd" else metres))

    def mass(self, kilograms: float) -> str:
        """A mass in whole kilograms or pounds."""
        unit = self.units.mass
        return self.of(unit, self.number(kilograms / POUND_KG if unit == "lb" else kilograms))

    def band(self, looked: LessonMeasure) -> str:
        """A measure's band in words; "-" where there is none."""
        low, high = looked.band
        if math.isinf(low) and math.isinf(high):
            return "-"
        a, b = self.value(looked, low), self.value(looked, high)
        if math.isinf(low):
            return self.words("band.at_most", limit=b)
        return self.words("band.at_least", limit=a) if math.isinf(high) else self.words("band.between", low=a, high=b)

    def measure(self, name: str) -> str:
        """A measure in words."""
        return self.words(f"measure.{name}")
