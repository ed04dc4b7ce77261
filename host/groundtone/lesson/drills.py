"""Drills: what each is for, its band, how often and how fast. Data from drills.toml, words from words/*.toml."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rulefile import cue_names, default_rules
from groundtone.errors import GroundtoneError
from groundtone.lesson.wording import Words
from groundtone.swing.bands import Bands, default_bands
from groundtone.swing.ground import THINGS

PACES = ("slow", "half", "full")
SOURCES = ("common practice", "invented")
# Which band of the rules a drill's measure is watched by while the swing goes on. A held finish has none: its band is
# about how far the share moves, and a drill's about how long it stays.
_WATCHED = {
    ("toes", "overall_most_down"): "toes_after",
    ("toes", "overall_setup"): "toes_setup",
    ("trail side", "share_impact"): "trail",
    ("heels", "overall_least_late"): "heels_after",
    ("slide", "side_shift"): "slide",
}
# And the band of a drill's other side.
_OTHER_SIDE = {"heels": "heels_after"}


class DrillsError(GroundtoneError):
    """Drills that are damaged, or one that is not there."""


@dataclass(frozen=True)
class Drill:
    """One drill.

    Attributes
    ----------
    name : str
        As bands.toml names it.
    findings : tuple of str
        What it is for; the band is about the first one's measure.
    source : str
        "common practice" or "invented"; numbers are invented throughout.
    rule : str
        The cue that tells its band; "" where no tone does.
    low, high : float
        The band; infinite where it is open.
    other : str
        The cue that tells the side which the finding leaves open and the drill closes; "" where it does not.
    quiet : str
        The cue that is off meanwhile, since who does the drill rightly may be outside its band; "": none.
    pace : str
        "slow", "half" (speed) or "full".
    thing : str
        What lies on the ground and is to be passed, one of `groundtone.swing.ground.THINGS`; empty: nothing.
    sets, swings, days : int
        So many sets of so many swings on so many days a week.
    """

    name: str
    findings: tuple[str, ...]
    source: str
    rule: str
    measure: str
    low: float
    high: float
    pace: str
    ball: bool
    sets: int
    swings: int
    days: int
    thing: str = ""
    other: str = ""
    quiet: str = ""


@dataclass(frozen=True)
class DrillWords:
    """A drill in a language: title, aim, steps, what to feel, when to stop and what to take care of."""

    title: str
    aim: str
    steps: tuple[str, ...]
    feel: str
    stop: str
    care: str


@cache
def all_drills() -> Mapping[str, Drill]:
    """The drills that come with the program, by name."""
    text = (files("groundtone.lesson") / "drills.toml").read_text("utf-8")
    return drills_from(tomllib.loads(text), default_bands())


def drill_of(name: str) -> Drill:
    """A drill by its name; DrillsError where there is none."""
    try:
        return all_drills()[name]
    except KeyError:
        raise DrillsError(f"there is no drill {name!r}: choose from {', '.join(all_drills())}") from None


def drills_for(finding: str) -> Sequence[Drill]:
    """The drills for a finding, the one that bands.toml names first."""
    named = default_bands().band(finding).drill
    fitting = [drill for drill in all_drills().values() if finding in drill.findings]
    return sorted(fitting, key=lambda drill: drill.name != named)


def words_of(drill: Drill, words: Words) -> DrillWords:
    """A drill in a language; WordsError where a text is missing."""
    at = f"drills.{drill.name}"
    return DrillWords(
        words(f"{at}.title"),
        words(f"{at}.aim"),
        words.list(f"{at}.steps"),
        words(f"{at}.feel"),
        words("drill.common.stop"),
        f"{words(f'{at}.care')} {words('drill.common.care')}",
    )


def rules_in_drill(drill: Drill, book: Rulebook) -> Rulebook:
    """A golfer's rules as they are while a drill is practised.

    The drill's cue is switched on, and the one of its other side. Its limit is set where the golfer has the program's
    own; a limit that was learnt, set or tightened for this golfer stays, and so does a locked one.

    Parameters
    ----------
    book : Rulebook
        As `groundtone.cue.personal.bands_for` gives it.
    """
    if not drill.rule:
        return book
    on = {rule.replace(" ", "_"): True for rule in (drill.rule, drill.other) if rule}
    out = book.switched(**on | ({drill.quiet.replace(" ", "_"): False} if drill.quiet else {}))
    limits = {_WATCHED.get((drill.rule, drill.measure)): drill.high if math.isfinite(drill.high) else drill.low}
    if drill.other:
        limits[_OTHER_SIDE[drill.other]] = drill.low
    return out.with_limits({
        name: limit for name, limit in limits.items()
        if name is not None and name not in book.locked
        and book.band(name).limit == default_rules().band(name).limit
    })  # fmt: skip


def drills_from(table: Mapping[str, Any], bands: Bands) -> dict[str, Drill]:
    """Drills from a table as of drills.toml.

    Raises
    ------
    DrillsError
        Something is missing or makes no sense; the sentence names the drill.
    """
    try:
        out = {name: _drill(name, entry, bands) for name, entry in table["drill"].items()}
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DrillsError(f"the drills lack or misname something ({error}): compare them with drills.toml") from error
    for band in bands.findings:
        if band.drill not in out or band.name not in out[band.drill].findings:
            raise DrillsError(f"the drill {band.drill!r} of the finding {band.name} is not among the drills: add it")
    return out


def _drill(name: str, entry: Mapping[str, Any], bands: Bands) -> Drill:
    entry = dict(entry)
    drill = Drill(
        name, tuple(entry.pop("for")), low=entry.pop("low", -math.inf), high=entry.pop("high", math.inf), **entry
    )
    for what, value, known in (
        ("rule", drill.rule, (*cue_names(), "")),  # "" where no tone tells its band
        ("other", drill.other, (*_OTHER_SIDE, "")),
        ("quiet", drill.quiet, (*cue_names(), "")),
        ("pace", drill.pace, PACES),
        ("source", drill.source, SOURCES),
        ("thing", drill.thing, ("", *THINGS)),
    ):
        if value not in known:
            raise DrillsError(f"the drill {name} has the {what} {value!r}: use one of {', '.join(map(repr, known))}")
    if not drill.findings:
        raise DrillsError(f"the drill {name} is for no finding: name one in its `for`")
    for what, most in (("sets", 6), ("swings", 30), ("days", 7)):
        number = getattr(drill, what)
        if type(number) is not int or not 1 <= number <= most:
            raise DrillsError(f"the drill {name} has {number!r} {what}: give a whole number from 1 to {most}")
    _check_band(drill, bands)
    return drill


def _check_band(drill: Drill, bands: Bands) -> None:
    """The band lies between the usual value and the finding's limit: a drill asks no less than the finding.

    The side that a finding leaves open is closed only by a drill with a cue for it, beyond the usual value.
    """
    for finding in drill.findings:
        bands.band(finding)
    band = bands.band(drill.findings[0])
    if drill.measure != band.measure:
        raise DrillsError(
            f"the drill {drill.name} is for {band.name}: its band is about {band.measure}, not {drill.measure}"
        )
    sides = ((drill.low, band.low, band.usual), (drill.high, band.usual, band.high))
    for at, least, most in sides:
        open_ = math.isinf(least) or math.isinf(most)
        if open_ and drill.other and math.isfinite(at) and least <= at <= most:
            continue
        if open_ != math.isinf(at) or not (open_ or least <= at <= most):
            raise DrillsError(
                f"the drill {drill.name} has the limit {at:g}: give one between the usual value and the finding's "
                f"limit, {least:g} to {most:g}"
            )
