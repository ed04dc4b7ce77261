"""Sentences of the program in another language: the English one is the key, a template with named fields.

What a person reads is written in English where it arises, in any room and any process; where it is shown it is turned
(`app.language.tr`). So rooms, recordings and JSON lines know no language, and what is not in a catalogue is English.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Mapping
from dataclasses import dataclass

# What a field of an English template may hold: a number, a date such as 26 Nov 2026, a text that stays as it is (a
# name, a path), or words that are turned themselves.
_KINDS = {"#": r"[-+\u2212]?\d+(?:[.,]\d+)*", "@": r"\d{1,2} [A-Z][a-z]{2}(?: \d{4})?", "=": r".+?", "": r".+?"}
_FIELD = re.compile(r"\{(\w+)(?::([#@=]))?\}")
# Between parts that are sentences or lists of their own, the longest pause first.
_JOINTS = ("\n", ". ", "; ", " · ", " + ", ", ", ": ", " and ")
_KEPT = 4096


class Given(str):
    """What somebody has typed, a name above all: no word of the program, so never turned."""

    __slots__ = ()


@dataclass(frozen=True)
class Template:
    """A sentence with fields: what matches it, its longest part that is always the same, and the other language's."""

    pattern: re.Pattern[str]
    core: str
    kinds: Mapping[str, str]
    turned: str


class Sentences:
    """The sentences of a language.

    Parameters
    ----------
    table : mapping of str to str
        English to the other language. A field is `{n:#}` (a number), `{when:@}` (a date), `{golfer:=}` (as it is) or
        `{words}` (turned too, or the whole stays English); the other side names it `{n}`, or `{n:one|many}` for the
        form that goes with it.
    decimal : str
        Sign between whole numbers and tenths.
    date : callable
        Turns a date such as "26 Nov 2026".
    """

    def __init__(self, table: Mapping[str, str], decimal: str, date: Callable[[str], str]) -> None:
        self._decimal, self._date = decimal, date
        self._plain = {english: turned for english, turned in table.items() if "{" not in english}
        # The one with most words of its own knows best.
        longest = sorted((each for each in table if "{" in each), key=lambda each: -len(_FIELD.sub("", each)))
        self._templates = [_template(english, table[english]) for english in longest]
        self._seen: dict[str, str | None] = {}

    def __call__(self, text: str) -> str | None:
        """The sentence in the other language; None where the catalogue has nothing for it.

        Examples
        --------
        >>> say = Sentences({"{n:#} of {of:#} swings": "{n} von {of} {of:Schwung|Schwüngen}"}, ",", str)
        >>> say("1 of 8 swings"), say("swings")
        ('1 von 8 Schwüngen', None)
        """
        if text not in self._seen:
            if len(self._seen) >= _KEPT:
                self._seen.clear()
            self._seen[text] = self._whole(text)
        return self._seen[text]

    def _whole(self, text: str) -> str | None:
        core = text.strip()
        if not any(letter.isalpha() for letter in core):
            return text.replace(".", self._decimal) if re.fullmatch(_KINDS["#"], core) else text
        ways = [(core, "")]
        if core[-1] in ".:!?":
            ways.append((core[:-1], core[-1]))
        # As it stands before any template, with its first letter small, without its full stop.
        for find in (self._plain.get, self._by_template):
            for part, end in ways:
                if (found := find(part)) is not None:
                    return text.replace(core, found + end)
                if part[:1].isupper() and (found := find(part[0].lower() + part[1:])) is not None:
                    return text.replace(core, found[:1].upper() + found[1:] + end)
        found = self._parts(core)
        return None if found is None else text.replace(core, found)

    def _by_template(self, text: str) -> str | None:
        for each in self._templates:
            if each.core in text and (match := each.pattern.fullmatch(text)) is not None:
                values = {name: self._field(each.kinds[name], value) for name, value in match.groupdict().items()}
                # Half a sentence in another language helps nobody: then the next template, or English.
                if None not in values.values():
                    return _filled(each.turned, {name: value or "" for name, value in values.items()})
        return None

    def _field(self, kind: str, value: str) -> str | None:
        if kind == "#":
            return value.replace(".", self._decimal)
        if kind == "@":
            return self._date(value)
        return value if kind == "=" else self(value)

    def _parts(self, text: str) -> str | None:
        """Parts of a list or a row of sentences, where every one of them is known."""
        for joint in _JOINTS:
            if joint in text:
                parts = [self(part) for part in text.split(joint)]
                if all(part is not None for part in parts):
                    return (" und " if joint == " and " else joint).join(part for part in parts if part is not None)
        return None


def _template(english: str, turned: str) -> Template:
    kinds: dict[str, str] = {}
    pattern, at, fixed = "", 0, []
    for field in _FIELD.finditer(english):
        fixed.append(english[at : field.start()])
        name, kind = field[1], field[2] or ""
        pattern += re.escape(fixed[-1]) + (f"(?P={name})" if name in kinds else f"(?P<{name}>{_KINDS[kind]})")
        kinds[name] = kind
        at = field.end()
    fixed.append(english[at:])
    return Template(re.compile(pattern + re.escape(fixed[-1])), max(fixed, key=len), kinds, turned)


def _filled(turned: str, values: Mapping[str, str]) -> str:
    out = ""
    for text, name, forms, _ in string.Formatter().parse(turned):
        out += text
        if name is None:
            continue
        if forms:
            one, many = forms.split("|")
            out += one if values[name].lstrip("+-\u2212") == "1" else many
        else:
            out += values[name]
    return out


def fields(text: str) -> set[str]:
    """Names of the fields of a template, of either side."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
