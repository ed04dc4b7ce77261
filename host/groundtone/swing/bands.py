"""Bands of the findings: data from a TOML file, checked when read."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from groundtone.errors import GroundtoneError
from groundtone.swing.clubs import CLUBS


class BandsError(GroundtoneError):
    """A file of bands that is missing, damaged or says what cannot be."""


@dataclass(frozen=True)
class Band:
    """What one finding rests on.

    Attributes
    ----------
    name, title : str
    measure : str
    usual : float
        What is common inside the band.
    low, high : float
        Limits; -inf and inf where the band is open.
    strike : str
        What the trade expects in the strike.
    sentence_low, sentence_high : str
        For the golfer.
    far, sentence_far : float, str
        Below `far` another sentence stands for `sentence_low`; NaN: never.
    drill : str
    fault : bool
        False: only one school teaches it.
    needs_contact : bool
        A concern only with fat, thin or topped strikes in the log, or when the coach says so.
    also : tuple of Band
        Further conditions: all of them have to lie outside as well.
    never_with : str
        A finding that rules this one out.
    clubs : mapping
        Per class of clubs: usual, low, high.
    not_for : tuple of str
        Classes of clubs it says nothing of.
    """

    name: str
    title: str
    measure: str
    usual: float
    low: float = -math.inf
    high: float = math.inf
    strike: str = ""
    sentence_low: str = ""
    sentence_high: str = ""
    far: float = math.nan
    sentence_far: str = ""
    drill: str = ""
    fault: bool = True
    needs_contact: bool = False
    also: tuple[Band, ...] = ()
    never_with: str = ""
    clubs: Mapping[str, Mapping[str, float]] | None = None
    not_for: tuple[str, ...] = ()

    def for_club(self, club: str | None) -> Band:
        """The band of a class of clubs."""
        here = (self.clubs or {}).get(club or "")
        if not here:
            return self
        return replace(
            self, usual=here.get("usual", self.usual), low=here.get("low", self.low), high=here.get("high", self.high)
        )

    def beyond(self, times: float, *, high: bool | None = None) -> float:
        """The value that many times as far from the usual one as the limit is (1: on the limit)."""
        upper = math.isfinite(self.high) if high is None else high
        return self.usual + times * ((self.high if upper else self.low) - self.usual)


@dataclass(frozen=True)
class Bands:
    """All bands, drills, and when contact makes a concern."""

    findings: tuple[Band, ...]
    drills: Mapping[str, str]
    bad_contacts: tuple[str, ...]
    contact_least: int
    contact_part: float

    def poor(self, contacts: Sequence[str]) -> bool:
        """So much contact was bad that trail side at impact is a concern; a shank is no error of the low point."""
        asked = [contact for contact in contacts if contact != "shank"]
        bad = sum(contact in self.bad_contacts for contact in asked)
        return bad >= self.contact_least and bad >= self.contact_part * len(asked)

    def band(self, name: str) -> Band:
        """A band by its name."""
        for band in self.findings:
            if band.name == name:
                return band
        raise BandsError(f"there is no finding {name!r}: choose from {', '.join(b.name for b in self.findings)}")


@cache
def default_bands() -> Bands:
    """The bands that come with the program."""
    return bands_from((files("groundtone.swing") / "bands.toml").read_text("utf-8"), "bands.toml")


def bands_from(text: str, source: str) -> Bands:
    """Bands from TOML, complete; `source` names it in messages.

    Raises
    ------
    BandsError
    """
    try:
        return _bands(tomllib.loads(text), source)
    except tomllib.TOMLDecodeError as error:
        raise BandsError(f"the bands {source} are not TOML ({error}): compare them with docs/measures.md") from error


def _bands(table: Mapping[str, Any], source: str) -> Bands:
    try:
        contact, drills = table["contact"], dict(table["drill"])
        bands = tuple(_band(name, entry, source) for name, entry in table["finding"].items())
        out = Bands(bands, drills, tuple(contact["bad"]), int(contact["least"]), float(contact["part"]))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BandsError(f"the bands {source} lack or misname something ({error}): compare them with the program's own"
                         ) from error  # fmt: skip
    names = [band.name for band in out.findings]
    for band in out.findings:
        if band.drill not in out.drills:
            raise BandsError(f"the bands {source} name no text for the drill {band.drill!r} of {band.name}: add it")
        if band.never_with and band.never_with not in names:
            raise BandsError(f"the bands {source}: {band.name} rules out {band.never_with!r}, which is not there")
    return out


def _band(name: str, entry: Mapping[str, Any], source: str) -> Band:
    plain = {key: value for key, value in entry.items() if not key.startswith("also")}
    # A file of bands from before there could be more than one further condition names it also_measure, also_low ….
    one = {key[5:]: value for key, value in entry.items() if key.startswith("also_")}
    more = [*([one] if one else []), *entry.get("also", {}).values()]
    plain["not_for"] = tuple(plain.get("not_for", ()))
    for club in (*plain.get("clubs", {}), *plain["not_for"]):
        if club not in CLUBS:
            raise BandsError(f"the bands {source} name a class of clubs {club!r}: use {', '.join(CLUBS)}")
    band = Band(name, **plain, also=tuple(Band(name, "", **each) for each in more))
    for each in (band, *(band.for_club(club) for club in CLUBS), *band.also):
        numbers = (each.usual, each.low, each.high)
        if any(isinstance(v, bool) or not isinstance(v, int | float) for v in numbers):
            raise BandsError(f"the bands {source}: usual, low and high of {name} must be numbers")
        open_ = math.isinf(each.low) and math.isinf(each.high)
        if open_ or not each.low < each.usual < each.high:
            raise BandsError(f"the bands {source}: {name} needs a limit, and its usual value must lie inside")
    return band
