"""The language in force for window and console, and the one place where what is shown is turned into it.

English, unless a person says otherwise: `--language`, the environment's GROUNDTONE_LANGUAGE, or the window's own key.
The system's locale is not asked: what a command prints must not depend on the machine.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable

from groundtone.errors import GroundtoneError
from groundtone.lesson.sentences import Given, Sentences

VARIABLE = "GROUNDTONE_LANGUAGE"
ENGLISH = "en"
LANGUAGES = {"en": "English", "de": "Deutsch"}
"""By code, each in its own words."""
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class Spoken:
    """What is spoken now; one for the program, as its terminal and its window are.

    Attributes
    ----------
    named : str
        What the command line or the environment has asked for; empty: neither has.
    missed : set of str or None
        Where a test hangs a set: sentences that were shown and stayed English.
    """

    def __init__(self) -> None:
        self.code = ENGLISH
        self.named = ""
        self.missed: set[str] | None = None
        self._say: Sentences | None = None

    def choose(self, code: str) -> None:
        """Speaks this language from now on.

        Raises
        ------
        GroundtoneError
            There is no such language.
        """
        if code not in LANGUAGES:
            names = ", ".join(LANGUAGES)
            raise GroundtoneError(f"there are no words for the language {code!r}: choose from {names}")
        if code == ENGLISH:
            self._say = None
        elif code != self.code:
            # Read when it is spoken: whoever speaks English does not wait for it.
            from groundtone.lesson.wording import sentences

            self._say = sentences(code)
        self.code = code

    def begin(self, option: str | None) -> None:
        """Speaks what a command's option says, or else the environment."""
        self.named = option or os.environ.get(VARIABLE, "")
        self.choose(self.named or ENGLISH)

    @property
    def next(self) -> str:
        """The language after this one."""
        codes = list(LANGUAGES)
        return codes[(codes.index(self.code) + 1) % len(codes)]

    def __call__(self, text: str) -> str:
        """A text as it is to be shown; what the catalogue has not stays English, what somebody typed stays as it is."""
        if self._say is None or not text or isinstance(text, Given):
            return text
        turned = self._say(str(text))
        if turned is None and self.missed is not None:
            self.missed.add(str(text))
        return text if turned is None else turned


SPOKEN = Spoken()
"""The program's."""
tr = SPOKEN


def known(code: str) -> str:
    """A language that was kept somewhere, or English where there is no such one any more."""
    return code if code in LANGUAGES else ENGLISH


def tr_all(texts: Iterable[str]) -> list[str]:
    """Several of them."""
    return [tr(text) for text in texts]


def number(value: float, digits: int) -> str:
    """A number with the language's own sign between whole ones and tenths."""
    return tr(f"{value:.{digits}f}")


def date_words(day: datetime.date) -> str:
    """A date as the program's own English says it, whatever the system's locale: 26 Nov 2026."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def weekday(day: datetime.date) -> Given:
    """A date with its weekday, in the language in force."""
    return Given(f"{tr(_DAYS[day.weekday()])} {tr(date_words(day))}")
