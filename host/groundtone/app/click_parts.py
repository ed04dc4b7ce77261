"""What click has not: numbers in a range, masses, and groups whose commands are imported when they are asked for."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click

from groundtone.app.language import tr
from groundtone.errors import CalibrationError, sentence_of

USUAL_LAYOUT = "starter-10x3"
"""What the simulated mat of every command is when nobody says otherwise; so is a real one, in mat/settings.py."""
simulated_layout = click.option(
    "--layout", "layout_id", default=USUAL_LAYOUT, show_default=True, help="With --twin: which build."
)


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


class Flare(click.ParamType[tuple[float, float]]):
    """How far the toes point outwards, left and right, degrees: two numbers with a comma, or one for both."""

    name = "left,right"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Make two angles of the words, or fail with what would do."""
        parts = str(value).split(",")
        try:
            angles = [float(part) for part in (parts if len(parts) == 2 else parts * 2)]
        except ValueError:
            angles = []
        if len(angles) != 2 or not all(-30 <= angle <= 60 for angle in angles):
            self.fail(f"'{value}' will not do: give two angles from -30 to 60, as in 10,25.", param, ctx)
        return angles[0], angles[1]


class Mass(click.ParamType[float]):
    """A mass in kilograms as a person types it; pounds are asked about and never turned over in silence.

    Parameters
    ----------
    low_kg, high_kg : float
        What is sensible here.
    """

    name = "mass"

    def __init__(self, low_kg: float, high_kg: float) -> None:
        self.low_kg, self.high_kg = low_kg, high_kg

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Make kilograms of the words, or fail with what would do."""
        from groundtone.calibration.guided.weights import mass_of

        try:
            return mass_of(str(value), least_kg=self.low_kg, most_kg=self.high_kg)
        except CalibrationError as error:
            self.fail(sentence_of(error), param, ctx)


class LazyGroup(click.Group):
    """A group with commands that live in files of their own.

    Parameters
    ----------
    elsewhere : mapping of str to (str, str)
        "module:name of the click command" of each, and the first sentence of its help.
    """

    def __init__(self, *arguments: Any, elsewhere: Mapping[str, tuple[str, str]], **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._elsewhere = elsewhere

    def list_commands(self, ctx: click.Context) -> list[str]:
        """See `click.Group`; those elsewhere among them."""
        return sorted({*super().list_commands(ctx), *self._elsewhere})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """See `click.Group`; imports the file of the command."""
        if cmd_name not in self._elsewhere:
            return super().get_command(ctx, cmd_name)
        module, name = self._elsewhere[cmd_name][0].split(":")
        command = getattr(import_module(module), name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """See `click.Group`; imports nothing."""
        names = self.list_commands(ctx)
        limit = formatter.width - 6 - max(map(len, names))
        rows = []
        for name in names:
            known = self._elsewhere.get(name)
            command = click.Command(name, help=known[1]) if known else super().get_command(ctx, name)
            if command is not None and not command.hidden:
                first = tr(paragraphs(command.help or "")[0])
                rows.append((name, click.Command(name, help=first).get_short_help_str(limit)))
        with formatter.section("Commands"):
            formatter.write_dl(rows)


def paragraphs(text: str) -> list[str]:
    """The paragraphs of a help text, each on one line; one empty one of nothing."""
    return [" ".join(part.split()) for part in re.split(r"\n\s*\n", inspect.cleandoc(text))]


class SpokenHelp(click.HelpFormatter):
    """Help in the language in force."""

    def write_text(self, text: str) -> None:
        """See `click.HelpFormatter`."""
        super().write_text("\n\n".join(tr(part) for part in paragraphs(text)))

    def write_heading(self, heading: str) -> None:
        """See `click.HelpFormatter`."""
        super().write_heading(tr(heading))

    def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
        """See `click.HelpFormatter`."""
        super().write_usage(prog, args, f"{tr('Usage')}: " if prefix is None else prefix)

    def write_dl(self, rows: Any, col_max: int = 30, col_spacing: int = 2) -> None:
        """See `click.HelpFormatter`; what stands in brackets behind a help text is click's own."""
        turned = []
        for name, words in rows:
            said, gap, more = words.partition("  [")
            for word in ("default", "required"):
                more = more.replace(word, tr(word))
            turned.append((name, tr(said) + gap + more))
        super().write_dl(turned, col_max, col_spacing)
