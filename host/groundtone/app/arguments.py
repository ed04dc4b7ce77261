"""Arguments of commands: numbers in a range, refused with one sentence."""

from __future__ import annotations

import math

import click


class Number(click.ParamType[float]):
    """A finite number in a range, refused with one sentence."""

    name = "number"

    def __init__(self, low: float, high: float, unit: str) -> None:
        self.low, self.high, self.unit = low, high, unit

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Make a number of the word, or fail with what would do."""
        try:
            number = float(str(value))
        except ValueError:
            number = math.nan
        if not (math.isfinite(number) and self.low <= number <= self.high):
            limits = f"from {self.low:g} to {self.high:g} {self.unit}"
            self.fail(f"'{value}' will not do: give a number {limits}.", param, ctx)
        return number
