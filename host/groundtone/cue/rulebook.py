"""The rules as data: which cue looks at what, when, within which limits, and how it sounds. No state."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from groundtone.cue.bands import Bands
from groundtone.errors import RulesError
from groundtone.swing.events import Phase

MEASURES = ("overall", "lead foot", "share", "slide", "unsteady")
"""What a band may watch."""

WHEN: Mapping[str, Phase] = {
    "setup": Phase.SETUP,
    "backswing": Phase.BACKSWING,
    "downswing": Phase.DOWNSWING,
    "finish": Phase.FINISH,
}

SOUNDS = ("at once", "after impact")
"""When a tone may sound from the takeaway on."""

MOST_TOGETHER = 5
"""More at the same time nobody tells apart; the sound makes two of them (groundtone.tone.voices.AT_MOST)."""

# A cue that waits longer than this tells of something else than what made it wait.
_LONGEST_S = 5.0


@dataclass(frozen=True)
class Band:
    """One limit of a cue, see rules.toml.

    Attributes
    ----------
    measure : str
        One of `MEASURES`.
    when : tuple of str
        Names of `WHEN`.
    low, high : float
        -inf and inf where it is open.
    from_turn_s, from_impact_s : float
        NaN: at any time.
    once_over : float
        It does not begin once the value has been this high since the turn and fallen back; NaN: it may.
    tightest, widest : float
        How far the limit may be moved; NaN: not at all.
    learn : tuple of str
        Measures of a swing.
    start : float
        Where tightening began and to which it eases; NaN: at its limit.
    """

    name: str
    measure: str
    when: tuple[str, ...]
    low: float = -math.inf
    high: float = math.inf
    dwell_s: float = 0.0
    from_turn_s: float = math.nan
    from_impact_s: float = math.nan
    tightest: float = math.nan
    widest: float = math.nan
    learn: tuple[str, ...] = ()
    start: float = math.nan
    once_over: float = math.nan

    def __post_init__(self) -> None:
        say = f"the band {self.name}"
        if self.measure not in MEASURES:
            raise RulesError(f"{say} watches {self.measure!r}, which is not measured: say one of {_list(MEASURES)}")
        unknown = [name for name in self.when if name not in WHEN]
        if unknown or not self.when:
            raise RulesError(f"{say} holds {_list(unknown) or 'at no time'}: say when with {_list(WHEN)} or always")
        for name in ("low", "high"):
            if math.isnan(getattr(self, name)):
                raise RulesError(f"{say} has a {name} limit that is not a number: give one, or leave it out")
        if math.isinf(self.low) and math.isinf(self.high):
            raise RulesError(f"{say} has no limit: give it low, high or both")
        if self.low >= self.high:
            raise RulesError(f"{say} is reversed, its low limit {self.low:g} is not below {self.high:g}: swap them")
        for value in (self.low, self.high):
            if math.isfinite(value) and not 0.0 < value < 1.0:
                raise RulesError(f"{say} has a limit of {value:g}: give one between 0 and 1")
        for name in ("dwell_s", "from_turn_s", "from_impact_s"):
            value = getattr(self, name)
            if name == "dwell_s" and math.isnan(value):
                raise RulesError(f"{say} has a dwell_s that is not a number: give a time in seconds")
            if not math.isnan(value) and not 0.0 <= value <= _LONGEST_S:
                raise RulesError(f"{say} waits {value:g} s ({name}): give a time from 0 to {_LONGEST_S:g} s")
        if self.movable and not self.inside(self.tightest, self.widest):
            raise RulesError(f"{say} may be moved from {self.widest:g} to {self.tightest:g}, and its limit "
                             f"{self.limit:g} does not lie between: mend tightest and widest")  # fmt: skip

    @property
    def movable(self) -> bool:
        """It has one limit only, and tightening or learning may move it."""
        return math.isfinite(self.tightest) and math.isfinite(self.widest) and self.upper is not None

    @property
    def upper(self) -> bool | None:
        """Its one limit is the high one; None where it has both."""
        if math.isfinite(self.low) and math.isfinite(self.high):
            return None
        return math.isfinite(self.high)

    @property
    def limit(self) -> float:
        """The one limit, or the high one of two."""
        return self.high if math.isfinite(self.high) else self.low

    def inside(self, tightest: float, widest: float) -> bool:
        """The limit lies between two values, whichever is the larger."""
        return min(tightest, widest) - 1e-9 <= self.limit <= max(tightest, widest) + 1e-9

    def excess(self, value: float) -> float:
        """How far outside a value is, below 0 inside; -inf for NaN."""
        if math.isnan(value):
            return -math.inf
        return max(value - self.high, self.low - value)

    def at(self, limit: float) -> Band:
        """The same band with its one limit elsewhere."""
        if self.upper is None:
            raise RulesError(f"the band {self.name} has two limits: change it in a file of rules")
        return replace(self, high=limit) if self.upper else replace(self, low=limit)

    def put(self, limit: float) -> Band:
        """The same band with its one limit set by hand: its room to move follows where the new limit lies outside."""
        if not self.movable:
            return self.at(limit)
        low, high = min(self.tightest, self.widest, limit), max(self.tightest, self.widest, limit)
        room = replace(self, tightest=low, widest=high) if self.upper else replace(self, tightest=high, widest=low)
        return room.at(limit)

    def moved(self, step: float) -> Band:
        """Tighter by a step (wider by a negative one), never beyond `tightest` and `widest`."""
        target = self.limit - step if self.upper else self.limit + step
        low, high = sorted((self.tightest, self.widest))
        return self.at(round(min(max(target, low), high), 6))


@dataclass(frozen=True)
class Rule:
    """One cue, see rules.toml."""

    name: str
    bands: tuple[Band, ...]
    on: bool = True
    priority: int = 0
    ease: float = 0.03
    full: float = 0.20
    least: float = 0.15
    tolerance: float = 0.03
    sure: bool = False
    after_impact: bool = True
    words: str = ""
    do: str = ""

    def __post_init__(self) -> None:
        say = f"the rule {self.name}"
        if not self.bands:
            raise RulesError(f"{say} has no band: give it one")
        for name in ("ease", "full", "least", "tolerance"):
            if not math.isfinite(getattr(self, name)):
                raise RulesError(f"{say}: {name} is not a number, give one")
        if self.ease < 0 or self.full <= 0 or self.tolerance < 0 or not 0 < self.least <= 1:
            raise RulesError(f"{say}: ease and tolerance must not be negative, full must lie above 0, least in 0 to 1")

    def size(self, excess: float) -> float:
        """Size of the cue so far outside: from `least` at the limit to 1 at `full`."""
        return min(1.0, max(self.least, excess / self.full))


@dataclass(frozen=True)
class Tighten:
    """How bands follow success, see rules.toml."""

    on: bool = False
    step: float = 0.01
    inside: int = 8
    outside: int = 6
    of: int = 10

    def __post_init__(self) -> None:
        if not (math.isfinite(self.step) and 0 < self.step <= 0.1):
            raise RulesError(f"bands cannot tighten by {self.step:g} at a time: give a step above 0, up to 0.1")
        if not (0 < self.inside <= self.of <= 100 and 0 < self.outside <= self.of):
            raise RulesError(f"{self.inside} inside or {self.outside} outside of {self.of} swings cannot be counted: "
                             "both must lie between 1 and the number of swings")  # fmt: skip
        if self.of - self.inside >= self.outside:
            raise RulesError("the same swings would tighten a band and ease it: raise `inside` or `outside`")


@dataclass(frozen=True)
class Fade:
    """How tones grow fewer, see rules.toml. `steps` are (swings inside, part that sounds), rising and falling."""

    on: bool = False
    of: int = 10
    far: float = 0.8
    steps: tuple[tuple[int, float], ...] = ((6, 0.67), (8, 0.5), (9, 0.34))

    def __post_init__(self) -> None:
        if not 0 < self.of <= 100 or not 0 < self.far <= 1:
            raise RulesError("fading counts 1 to 100 swings, and `far` is a size above 0, up to 1: mend [fade]")
        counts, parts = [count for count, _ in self.steps], [part for _, part in self.steps]
        if not all(0 < part <= 1 for part in parts) or parts != sorted(parts, reverse=True):
            raise RulesError("the steps of fading must let a part above 0 sound, less with each step: mend [fade]")
        if counts != sorted(set(counts)) or any(not 0 < count <= self.of for count in counts):
            raise RulesError("the steps of fading must begin at rising numbers of swings, none above `of`: mend [fade]")


@dataclass(frozen=True)
class Rulebook:
    """All rules in force.

    Attributes
    ----------
    sound : str
        One of `SOUNDS`.
    together : int
        Cues that may sound at the same time.
    locked : frozenset of str
        Bands that neither tightening nor learning moves.
    label : str
        What the coach calls these bands; empty: nothing.
    setup_only : bool
        Nothing sounds from the takeaway on (putts).
    """

    rules: tuple[Rule, ...]
    sound: str = "at once"
    together: int = 2
    tighten: Tighten = field(default_factory=Tighten)
    fade: Fade = field(default_factory=Fade)
    locked: frozenset[str] = frozenset()
    label: str = ""
    setup_only: bool = False

    def __post_init__(self) -> None:
        if self.sound not in SOUNDS:
            raise RulesError(f"cues cannot sound {self.sound!r}: say one of {_list(SOUNDS)}")
        if not 1 <= self.together <= MOST_TOGETHER:
            raise RulesError(f"{self.together} cues at the same time will not do: say 1 to {MOST_TOGETHER}")
        names = [band.name for band in self.bands()]
        twice = {name for name in names if names.count(name) > 1}
        if twice:
            raise RulesError(f"the band {min(twice)} is there twice: give each a name of its own")
        for name in self.locked:
            self.band(name)

    def bands(self) -> Iterator[Band]:
        """All bands, of rules that are off too."""
        return (band for rule in self.rules for band in rule.bands)

    def band(self, name: str) -> Band:
        """A band by its name."""
        for band in self.bands():
            if band.name == name:
                return band
        raise RulesError(f"there is no band {name!r}: say one of {_list(band.name for band in self.bands())}")

    def rule(self, name: str) -> Rule:
        """A rule by its cue's name."""
        for rule in self.rules:
            if rule.name == name:
                return rule
        raise RulesError(f"there is no rule {name!r}: say one of {_list(rule.name for rule in self.rules)}")

    def with_limits(self, limits: Mapping[str, float]) -> Rulebook:
        """The same with limits set elsewhere, by the bands' names."""
        for name in limits:
            self.band(name)
        return replace(
            self,
            rules=tuple(
                replace(rule, bands=tuple(b.put(limits[b.name]) if b.name in limits else b for b in rule.bands))
                for rule in self.rules
            ),
        )

    def begun_at(self, starts: Mapping[str, float]) -> Rulebook:
        """The same, knowing where tightening began, by the bands' names."""
        return replace(
            self,
            rules=tuple(
                replace(r, bands=tuple(replace(b, start=starts.get(b.name, b.start)) for b in r.bands))
                for r in self.rules
            ),
        )

    def switched(self, **on: bool) -> Rulebook:
        """The same with rules on or off; a blank in a cue's name is written as an underscore."""
        wanted = {name.replace("_", " "): value for name, value in on.items()}
        for name in wanted:
            self.rule(name)
        return replace(self, rules=tuple(replace(r, on=wanted.get(r.name, r.on)) for r in self.rules))

    def without_impact(self, cue: str) -> Rulebook:
        """The same with one cue ending at impact."""
        self.rule(cue)
        return replace(self, rules=tuple(replace(r, after_impact=r.after_impact and r.name != cue) for r in self.rules))

    def as_bands(self) -> Bands:
        """The two cues' limits in the short form that pictures and older recordings have."""
        toes, trail = self.rule("toes"), self.rule("trail side")
        before, after, lead, side, setup = map(
            self.band, ("toes_before", "toes_after", "toes_lead", "trail", "toes_setup")
        )
        return Bands(
            before.high, after.high, lead.high, side.low, trail.after_impact, toes.ease, before.dwell_s, after.dwell_s,
            0.0 if math.isnan(side.from_turn_s) else side.from_turn_s, toes.full, trail.full, setup.high,
        )  # fmt: skip


def with_bands(book: Rulebook, bands: Bands) -> Rulebook:
    """A rulebook whose two main cues are as `bands` says."""

    def changed(rule: Rule) -> Rule:
        if rule.name == "toes":
            limits = {"toes_setup": (bands.toes_setup, bands.dwell_setup_s),
                      "toes_before": (bands.toes_before, bands.dwell_setup_s),
                      "toes_after": (bands.toes_after, bands.dwell_swing_s),
                      "toes_lead": (bands.toes_lead, bands.dwell_swing_s)}  # fmt: skip
            moved = (replace(band.put(limits[band.name][0]), dwell_s=limits[band.name][1]) for band in rule.bands)
            return replace(rule, bands=tuple(moved), ease=bands.ease, full=bands.full_toes)
        if rule.name == "trail side":
            moved = (replace(band.put(bands.trail), from_turn_s=bands.dwell_trail_s) for band in rule.bands)
            return replace(rule, bands=tuple(moved), ease=bands.ease, full=bands.full_trail,
                           after_impact=bands.trail_after_impact)  # fmt: skip
        return rule

    return replace(book, rules=tuple(changed(rule) for rule in book.rules))


def _list(names: object) -> str:
    return ", ".join(map(str, names))  # type: ignore[call-overload]
