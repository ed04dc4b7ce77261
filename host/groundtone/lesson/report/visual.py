"""Names in scripts that run from right to left, put into the order in which a PDF's letters are set."""

from __future__ import annotations

import unicodedata

_BACKWARDS = ("R", "AL")


def visual(text: str) -> str:
    """A line with its runs from right to left reversed; blanks and signs between two of their letters belong to them.

    That is enough for a name within other words (the full rules are Unicode Standard Annex 9). Letters that join, as
    the Arabic ones, are set unjoined.

    Examples
    --------
    >>> visual("Ann ab") == "Ann ab", visual("x \u05d0 \u05d1 y") == "x \u05d1 \u05d0 y"
    (True, True)
    """
    out, run, open_ = "", "", ""
    for c in text:
        kind = unicodedata.bidirectional(c)
        if kind in _BACKWARDS:
            run, open_ = run + open_ + c, ""
        elif run and kind not in ("L", "EN", "AN"):
            open_ += c
        else:
            out, run, open_ = out + run[::-1] + open_ + c, "", ""
    return out + run[::-1] + open_


def joins(text: str) -> bool:
    """The text has letters that join."""
    return any(unicodedata.bidirectional(c) == "AL" for c in text)
