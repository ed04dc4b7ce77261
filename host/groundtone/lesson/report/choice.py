"""What a page shows and how: the choice of whoever hands it over."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from groundtone.errors import GroundtoneError

PARTS = ("picture", "drill", "strikes", "measures", "card", "weight")
"""What can be left out or put in; the limits and the safety note are on every page."""
_LENGTH_WORDS = {"m": "m", "metres": "m", "meters": "m", "yd": "yd", "yards": "yd"}
_MASS_WORDS = {"kg": "kg", "lb": "lb", "lbs": "lb", "pounds": "lb"}
POUND_KG = 0.45359237
"""Exact by definition (international pound, 1959)."""


@dataclass(frozen=True)
class Units:
    """Units of distances ("m", "yd") and masses ("kg", "lb"); places on the face and the body are in mm."""

    length: str = "m"
    mass: str = "kg"


@dataclass(frozen=True)
class PageChoice:
    """What goes onto the page.

    Attributes
    ----------
    language : str
        Code of a catalogue: "en", "de".
    paper : str
        "a4" or "letter".
    picture, drill, strikes, measures, card : bool
        The picture of the swings, the drill, the strike map, the table, the card for a message.
    weight : bool
        The golfer's weight; left out unless it is asked for.
    saw, changed, todo : str
        The coach's own words in place of the generated ones; empty: generated.
    drill_name : str
        The coach's choice of a drill; empty: the one of the finding.
    coach : str
        Who gave the lesson; empty: not said.
    next_date : str
        When the next lesson is, in the coach's words; empty: not said.
    """

    language: str = "en"
    units: Units = field(default_factory=Units)
    paper: str = "a4"
    picture: bool = True
    drill: bool = True
    strikes: bool = True
    measures: bool = True
    card: bool = True
    weight: bool = False
    saw: str = ""
    changed: str = ""
    todo: str = ""
    drill_name: str = ""
    coach: str = ""
    next_date: str = ""


def units_of(text: str) -> Units:
    """Units from words such as "yards,lb" or "m"; what is not named stays metric.

    Raises
    ------
    GroundtoneError
        A word is no unit, or two are of the same kind.

    Examples
    --------
    >>> units_of("yards,lb")
    Units(length='yd', mass='lb')
    """
    found: dict[str, str] = {}
    for word in filter(None, (part.strip().lower() for part in text.split(","))):
        kind = "length" if word in _LENGTH_WORDS else "mass" if word in _MASS_WORDS else ""
        if not kind:
            raise GroundtoneError(f"{word!r} is no unit of the page: give metres or yards, kg or lb, as in yards,lb")
        if kind in found:
            raise GroundtoneError(f"two units of {kind} are named in {text!r}: give one")
        found[kind] = {**_LENGTH_WORDS, **_MASS_WORDS}[word]
    return Units(**found)


def shown(without: tuple[str, ...] = (), plus: tuple[str, ...] = ()) -> dict[str, bool]:
    """Which parts are shown, as arguments of `PageChoice`.

    Raises
    ------
    GroundtoneError
        A part is not there.
    """
    for part in (*without, *plus):
        if part not in PARTS:
            raise GroundtoneError(f"the page has no part {part!r}: choose from {', '.join(PARTS)}")
    usual = {entry.name: entry.default for entry in fields(PageChoice)}
    return {part: (bool(usual[part]) or part in plus) and part not in without for part in PARTS}
