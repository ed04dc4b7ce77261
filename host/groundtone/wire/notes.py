"""Notes that a mat keeps of swings while it is alone: 64 bytes each, as firmware/mat/alone/moments.py fills them in."""

from __future__ import annotations

import math
import struct
import zlib
from dataclasses import dataclass
from enum import IntEnum
from typing import Self

NOTE_BYTES = 64
NOTE_VERSION = 1
_NOTE = struct.Struct("<BBHIIII22H")
_SEALED = NOTE_BYTES - 2
_NOTHING = 0xFFFF
_PLACES = 1 << 14
CUE_BIT = 5
"""The first of the bits that say which cues were out: toes, trail side, heels."""


class NoteFlag(IntEnum):
    """Bits of a note's flags."""

    LEFT_HANDED = 1
    REHEARSAL = 2
    STRUCK = 4
    PRESSED = 8
    TIME_TOLD = 16


@dataclass(frozen=True)
class Note:
    """What the mat kept of one swing. What it did not know is NaN.

    Attributes
    ----------
    flags : int
        Bits of `NoteFlag`, and from `CUE_BIT` on which cues were out.
    book : int
        Drawn when the mat's first note was written; another one begins when its files are gone.
    number : int
        Counts a book's notes.
    digest : int
        Of what was on the mat.
    time_s : int
        Of impact, seconds since 1970, where flags say that the time was told since power-up; else when a computer told
        it last, 0 where none ever did.
    since_s : float
        From power-up to impact, s.
    power_up : int
        Counts power-ups with swings.
    weight_n : float
    takeaway_s, turn_s : float
        Before impact, s.
    slow : float
        How many times slower than a full swing.
    strike : float
        The strike's largest reading, 0 to 1; 0 without one.
    share : tuple of float
        Lead share at setup, at the turn, at impact, the most from the turn to impact, the most in 0.6 s after it.
    overall : tuple of float
        Heel-toe position at takeaway, turn, impact, the most from the turn to impact.
    force : tuple of float
        The least and the most from the turn to impact, body weights.
    peak_s, crossed_s : float
        From the turn to the most force, and until the share came past one half, s.
    raw : bytes
        As it came.
    """

    flags: int
    book: int
    number: int
    digest: int
    time_s: int
    since_s: float
    power_up: int
    weight_n: float
    takeaway_s: float
    turn_s: float
    slow: float
    strike: float
    share: tuple[float, float, float, float, float]
    overall: tuple[float, float, float, float]
    force: tuple[float, float]
    peak_s: float
    crossed_s: float
    raw: bytes

    @classmethod
    def of(cls, raw: bytes) -> Self | None:
        """The note in 64 bytes; None where they are damaged or of a newer firmware."""
        if len(raw) != NOTE_BYTES or raw[0] != NOTE_VERSION:
            return None
        (_, flags, book, number, digest, time_s, tenths, power_up, weight, takeaway, turn, slow, strike,
         setup, at_turn, at_impact, most, o_takeaway, o_turn, o_impact, toes, least, most_force, peak, crossed, after,
         *_, crc) = _NOTE.unpack(raw)  # fmt: skip
        # Every swing has a takeaway: without one it is no note of a mat.
        if zlib.crc32(raw[:_SEALED]) & 0xFFFF != crc or takeaway == _NOTHING:
            return None
        return cls(
            flags, book, number, digest, time_s, tenths / 10, power_up, weight / 10, _known(takeaway, 1000),
            _known(turn, 1000), slow / 256, strike / 4096,
            (_known(setup, _PLACES), _known(at_turn, _PLACES), _known(at_impact, _PLACES), _known(most, _PLACES),
             _known(after, _PLACES)),
            (_known(o_takeaway, _PLACES), _known(o_turn, _PLACES), _known(o_impact, _PLACES), _known(toes, _PLACES)),
            (_known(least, _PLACES), _known(most_force, _PLACES)), _known(peak, 1000), _known(crossed, 1000), raw,
        )  # fmt: skip

    def has(self, flag: NoteFlag) -> bool:
        """Is this bit of the flags set?"""
        return bool(self.flags & flag)


def _known(value: int, scale: float) -> float:
    return math.nan if value == _NOTHING else value / scale
