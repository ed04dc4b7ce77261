"""Clubs as people write them, and the classes they belong to: one place for bands, comparisons and findings."""

from __future__ import annotations

import re

CLUBS = ("driver", "wood", "hybrid", "iron", "wedge", "putter")
"""The classes, longest first."""

# Words that name a class, English and German: whole words, or what a word ends with ("Sandwedge", "Fairwayholz").
_NAMED = (
    ("putter", ("putter", "putt", "pt")),
    ("wedge", ("wedge", "pw", "gw", "aw", "sw", "lw", "uw", "sand", "lob", "gap", "pitch", "pitching")),
    ("hybrid", ("hybrid", "hyb", "hy")),
    ("driver", ("driver", "dr")),
    ("wood", ("wood", "holz", "fairway")),
    ("iron", ("iron", "eisen")),
)
# A number with a letter before or behind it: 3w, h5, 7i, e7; one number with a unit of degrees is a loft.
_LETTERS = {"w": "wood", "h": "hybrid", "hy": "hybrid", "i": "iron", "e": "iron"}
_LOFT = re.compile(r"^(\d+(?:[.,]\d+)?)(?:°|deg|grad|degrees)?$")
# Up to so many degrees a loft alone is a driver's, a wood's, an iron's; above, a wedge's (common practice).
_LOFTS = ((13.0, "driver"), (19.0, "wood"), (43.0, "iron"), (90.0, "wedge"))


def club_class(club: str) -> str:
    """The class of a club that was written down; irons where nothing else is recognised, "" for nothing.

    Examples
    --------
    >>> [club_class(name) for name in ("PW", "56", "3w", "5h", "Putter", "Eisen 7", "Holz 3", "10.5°", "7")]
    ['wedge', 'wedge', 'wood', 'hybrid', 'putter', 'iron', 'wood', 'driver', 'iron']
    """
    words = re.findall(r"[a-zäöüß]+|\d+(?:[.,]\d+)?°?", club.lower())
    if not words:
        return "iron" if club.strip() else ""
    for name, signs in _NAMED:
        if any(word in signs or (len(sign) > 3 and word.endswith(sign)) for word in words for sign in signs):
            # The first wood is the driver.
            return "driver" if name == "wood" and "1" in words else name
    letters = [_LETTERS[word] for word in words if word in _LETTERS]
    if letters:
        return "driver" if letters[0] == "wood" and "1" in words else letters[0]
    loft = _LOFT.match("".join(words))
    # From 1 to 9 it is an iron's number, unless it is called degrees.
    if loft and (float(loft[1].replace(",", ".")) >= 10.0 or not loft[0].isdigit()):
        return next((name for most, name in _LOFTS if float(loft[1].replace(",", ".")) <= most), "iron")
    return "iron"
