"""Rules from TOML and back into tables, checked with one clear sentence for what cannot be."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from groundtone.cue.rulebook import WHEN, Band, Fade, Rule, Rulebook, Tighten
from groundtone.errors import RulesError


@cache
def _program() -> dict[str, Any]:
    return tomllib.loads((files("groundtone.cue") / "rules.toml").read_text("utf-8"))


@cache
def default_rules() -> Rulebook:
    """The rules that come with the program."""
    return rules_from(_program())


def cue_names() -> tuple[str, ...]:
    """The cues there are: those that the program's own rules name; each has a voice in `groundtone.tone.voices`."""
    return tuple(_program()["rule"])


def shown(cue: str) -> str:
    """What a screen says while a cue sounds."""
    return default_rules().rule(cue).do or cue


def ribbon_of(cue: str) -> str:
    """The ribbon of a lane that a cue is about, "overall" or "share": by what its first band watches."""
    return "overall" if default_rules().rule(cue).bands[0].measure in ("overall", "lead foot") else "share"


def read_rules(path: Path) -> Rulebook:
    """Rules from a file of one's own; it has to be complete.

    Raises
    ------
    RulesError
    """
    try:
        book = rules_from(tomllib.loads(path.read_text("utf-8")))
        # The two main cues have to be there: pictures and recordings show their limits.
        book.as_bands()
        return book
    except RulesError as error:
        raise RulesError(f"the rules {path} will not do: {error}") from error
    except OSError as error:
        raise RulesError(f"the rules {path} cannot be read ({error.strerror}): check the file's name") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RulesError(f"the rules {path} are not TOML ({error}): compare them with the program's own") from error


def rules_from(table: Mapping[str, Any]) -> Rulebook:
    """Rules from a table as TOML or JSON gives it.

    Raises
    ------
    RulesError
        What is wrong is named.
    """
    given = dict(table)
    rules = given.pop("rule", None)
    if not isinstance(rules, Mapping) or not rules:
        raise RulesError("there is no [rule.…] in the rules: compare them with the program's own")
    rules = {name: _with_setup(entry) if name == "toes" else entry for name, entry in rules.items()}
    book: Rulebook = _made(
        Rulebook,
        "the rules",
        given,
        rules=tuple(_rule(name, entry) for name, entry in rules.items()),
        tighten=_made(Tighten, "[tighten]", given.pop("tighten", {})),
        fade=_fade(given.pop("fade", {})),
        locked=frozenset(_names("locked", given.pop("locked", ()))),
    )
    return book


def rules_table(book: Rulebook) -> dict[str, Any]:
    """The table of a rulebook, of plain values: `rules_from` gives an equal one."""
    rules = {}
    for rule in book.rules:
        bands = {band.name: _plain(asdict(band), "name") for band in rule.bands}
        rules[rule.name] = {**_plain(asdict(rule), "name", "bands"), "band": bands}
    fade = {**asdict(book.fade), "steps": [list(step) for step in book.fade.steps]}
    return {
        "sound": book.sound,
        "together": book.together,
        "label": book.label,
        "setup_only": book.setup_only,
        "locked": sorted(book.locked),
        "tighten": asdict(book.tighten),
        "fade": fade,
        "rule": rules,
    }


def _with_setup(entry: Any) -> Any:
    """Rules from before the setup had a band of its own: the one that held there as well is taken for both."""
    bands = entry.get("band") if isinstance(entry, Mapping) else None
    if not isinstance(bands, Mapping):
        return entry
    old = bands.get("toes_before")
    if not isinstance(old, Mapping) or "toes_setup" in bands or "setup" not in old.get("when", ()):
        return entry
    setup = {**old, "when": ["setup"], "learn": [name for name in old.get("learn", ()) if name == "overall_setup"]}
    rest = [name for name in old["when"] if name != "setup"] if old["when"] != "always" else "always"
    return {**entry, "band": {"toes_setup": setup, **bands, "toes_before": {**old, "when": rest or ["backswing"]}}}


def _rule(name: str, entry: Any) -> Rule:
    what = f"the rule {name}"
    if name not in cue_names():
        raise RulesError(f"{what} is none that sounds: say one of {', '.join(cue_names())}")
    given = _table(what, entry)
    bands = _table(f"{what}: band", given.pop("band", {}))
    parts = tuple(_band(each, part) for each, part in bands.items())
    rule: Rule = _made(Rule, what, given, name=name, bands=parts)
    return rule


def _band(name: str, entry: Any) -> Band:
    what = f"the band {name}"
    given = _table(what, entry)
    when = given.pop("when", ())
    times = tuple(WHEN) if when == "always" else tuple(_names(f"{what}: when", when))
    learn = tuple(_names(f"{what}: learn", given.pop("learn", ())))
    for key in ("low", "high"):
        if isinstance(given.get(key), float) and math.isinf(given[key]):
            raise RulesError(f"{what} has a {key} limit without end: leave it out")
    band: Band = _made(Band, what, given, name=name, when=times, learn=learn)
    return band


def _fade(entry: Any) -> Fade:
    given = _table("[fade]", entry)
    steps = Fade().steps
    try:
        steps = tuple((int(count), float(part)) for count, part in given.pop("steps", steps))
    except (TypeError, ValueError):
        raise RulesError("the steps of fading are pairs of swings and a part, as in [[8, 0.5]]: mend [fade]") from None
    fade: Fade = _made(Fade, "[fade]", given, steps=steps)
    return fade


def _made(kind: Any, what: str, entry: Any, **more: Any) -> Any:
    """One dataclass out of a table: unknown keys and wrong kinds of values are refused."""
    given = _table(what, entry)
    types = {part.name: str(part.type) for part in fields(kind)}
    for key, value in given.items():
        if key not in types or key in more:
            raise RulesError(f"{what} does not know {key!r}: check its spelling")
        wanted = types[key]
        number = isinstance(value, int | float) and not isinstance(value, bool)
        right = {"float": number, "int": number and float(value).is_integer(), "bool": isinstance(value, bool),
                 "str": isinstance(value, str)}.get(wanted, False)  # fmt: skip
        if not right:
            raise RulesError(f"{what}: {key} = {value!r} is of the wrong kind, give {_KINDS.get(wanted, wanted)}")
        given[key] = float(value) if wanted == "float" else value
    try:
        return kind(**given, **more)
    except TypeError as error:
        raise RulesError(f"{what} lacks something ({error}): compare it with the program's own rules") from error


_KINDS = {"float": "a number", "int": "a whole number", "bool": "true or false", "str": "a text"}


def _table(what: str, entry: Any) -> dict[str, Any]:
    if not isinstance(entry, Mapping):
        raise RulesError(f"{what} is no table: compare it with the program's own rules")
    return dict(entry)


def _names(what: str, entry: Any) -> Iterable[str]:
    if isinstance(entry, str) or not isinstance(entry, Iterable) or not all(isinstance(each, str) for each in entry):
        raise RulesError(f'{what} is a list of names, as in ["setup"]: mend it')
    return entry


def _plain(table: dict[str, Any], *leave: str) -> dict[str, Any]:
    """Without what is open, and with lists for tuples."""
    return {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in table.items()
        if key not in leave and not (isinstance(value, float) and not math.isfinite(value))
    }
