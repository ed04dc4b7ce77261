"""The words of a language: one catalogue a language (words/*.toml), checked against the English one when it is read."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from groundtone.errors import GroundtoneError
from groundtone.lesson.sentences import Sentences

PATTERN = "en"
"""Every other catalogue has the keys and the braces of this one."""
# A text with no more letters beside its braces, such as "{low} to {high}", would fit what it was not written for.
_WORDLESS = 8


class WordsError(GroundtoneError):
    """A catalogue that is missing, damaged or lacks a text."""


class Words:
    """A catalogue.

    Parameters
    ----------
    code : str
        As the file is named: "en", "de".
    table : mapping
        As read from TOML.
    """

    def __init__(self, code: str, table: Mapping[str, Any]) -> None:
        self.code = code
        self._table = table

    def __call__(self, key: str, **values: str) -> str:
        """The text of a key such as "page.title", its braces filled.

        Raises
        ------
        WordsError
            There is no such text.
        """
        found = self._find(key)
        if not isinstance(found, str):
            raise WordsError(f"the words of {self.code!r} have no text {key!r}: add it to words/{self.code}.toml")
        return found.format(**values) if values else found

    def list(self, key: str) -> tuple[str, ...]:
        """The texts of a key that holds several."""
        found = self._find(key)
        if not isinstance(found, list):
            raise WordsError(f"the words of {self.code!r} have no list {key!r}: add it to words/{self.code}.toml")
        return tuple(found)

    def date(self, english: str) -> str:
        """A date such as "26 Nov 2026", with or without its year, as this language writes it."""
        day, month, *year = english.split(" ")
        months = [name[:3] for name in words(PATTERN).list("language.months")]
        if month not in months:
            return english
        named = self.list("language.months")[months.index(month)]
        key = "language.date_short" if year else "language.day"
        return self(key, day=day, month=named[:3], year=year[0] if year else "")

    def _find(self, key: str) -> Any:
        found: Any = self._table
        for part in key.split("."):
            found = found.get(part) if isinstance(found, Mapping) else None
        return found


def languages() -> tuple[str, ...]:
    """Codes of the languages that are there."""
    return tuple(
        sorted(entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name.endswith(".toml"))
    )


@cache
def words(code: str) -> Words:
    """The catalogue of a language.

    Raises
    ------
    WordsError
        There is none, or it lacks a text of the English one.
    """
    if code not in languages():
        raise WordsError(f"there are no words for the language {code!r}: choose from {', '.join(languages())}")
    table = _read(code)
    if wrong := differences(_read(PATTERN), table):
        raise WordsError(f"the words of {code!r} are not complete ({wrong[0]}): compare words/{code}.toml with en.toml")
    return Words(code, table)


@cache
def sentences(code: str) -> Sentences:
    """What the program says, in a language: words/said/*.toml, and every text of the page in both languages.

    Raises
    ------
    WordsError
        There is no such language, or its catalogue cannot be read.
    """
    say = words(code)
    table = {} if code == PATTERN else _pairs(_read(PATTERN), _read(code))
    for section in _read(f"said/{code}").values() if code != PATTERN else ():
        table |= section
    return Sentences(table, say("language.decimal"), say.date)


def _pairs(pattern: Mapping[str, Any], table: Mapping[str, Any]) -> dict[str, str]:
    """Texts of the page, English to the other language; those with hardly a word of their own are left out."""
    out: dict[str, str] = {}
    for key, english in pattern.items():
        there = table[key]
        if isinstance(english, Mapping):
            out |= _pairs(english, there)
        elif isinstance(english, list):
            out |= dict(zip(english, there, strict=True))
        elif "{" not in english or len(re.findall(r"[a-z]", re.sub(r"\{.*?\}", "", english))) > _WORDLESS:
            out[english] = there
            # A club in a golfer's own words is as it is.
            out[english.replace("{club}", "{club:=}")] = there
    return out


def differences(pattern: Mapping[str, Any], table: Mapping[str, Any], at: str = "") -> list[str]:
    """What a catalogue lacks or has too much, compared with a pattern; empty where they fit.

    Examples
    --------
    >>> differences({"a": "{n} swings", "b": "x"}, {"a": "{m} swings", "b": "y"})
    ['a has the braces {m} instead of {n}']
    """
    out = [f"{at}{key} is missing" for key in pattern if key not in table]
    out += [f"{at}{key} is not in the English one" for key in table if key not in pattern]
    for key in (key for key in pattern if key in table):
        a, b = pattern[key], table[key]
        if isinstance(a, Mapping) and isinstance(b, Mapping):
            out += differences(a, b, f"{at}{key}.")
        elif type(a) is not type(b) or (isinstance(a, list) and len(a) != len(b)):
            out.append(f"{at}{key} is of another kind")
        elif isinstance(a, str) and _braces(a) != _braces(b):
            out.append(f"{at}{key} has the braces {_named(b)} instead of {_named(a)}")
        elif not b or (isinstance(b, list) and not all(b)):
            out.append(f"{at}{key} is empty")
    return out


def _braces(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def _named(text: str) -> str:
    return ", ".join(f"{{{name}}}" for name in _braces(text)) or "none"


def _folder() -> Any:
    return files("groundtone.lesson") / "words"


def _read(code: str) -> dict[str, Any]:
    try:
        return tomllib.loads((_folder() / f"{code}.toml").read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WordsError(f"words/{code}.toml is not TOML ({error}): mend the line it names") from error
