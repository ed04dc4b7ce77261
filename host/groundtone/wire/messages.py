"""The messages of firmware/WIRE.md as Python values, and the numbers that name them."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import IntEnum
from typing import Annotated, get_type_hints

import numpy as np
from numpy.typing import NDArray

WIRE_VERSION = 1
MAX_MESSAGE = 244
CRC_BYTES = 4


class Type(IntEnum):
    """Low nibble of a message's first byte."""

    FRAME = 1
    ACK = 2
    REQUEST = 3
    REPLY = 4
    EVENT = 5
    FEET = 6


class Command(IntEnum):
    """What a request asks for."""

    HELLO = 1
    START = 2
    STOP = 3
    PING = 4
    IDENTIFY = 5
    SELF_TEST = 6
    GET = 7
    SET = 8
    BUTTON_TAKEN = 9
    PROMPT = 10
    PUT_BEGIN = 11
    PUT = 12
    PUT_END = 13
    WHAT_IS_ON = 14
    TAKE_OFF = 15
    READ_BACK = 16
    START_FEET = 17
    NOTES = 18
    READ_NOTES = 19
    FORGET_NOTES = 20


class Status(IntEnum):
    """How a request went."""

    OK = 0
    UNKNOWN_COMMAND = 1
    WRONG_ARGUMENTS = 2
    OUT_OF_RANGE = 3
    UNKNOWN_SETTING = 4
    NOT_NOW = 5
    ROWS_NOT_PROVEN = 6
    NOT_STORED = 7
    FAILED = 8
    CLAIMED = 9
    NOTHING_ON = 10


class Flag(IntEnum):
    """Bits of a frame's flags."""

    STRIKE = 1
    SKIPPED = 2
    CEILING = 4
    FIRST = 8
    SLOWED = 48  # both bits: how often the rate was halved, times 16


class FeetFlag(IntEnum):
    """More bits of a feet message's flags."""

    HEAVY = 16
    UNKNOWN = 32


class EventCode(IntEnum):
    """What an event tells."""

    BUTTON = 1
    ROWS_NOT_PROVEN = 2
    READY = 3
    SETTINGS_UNUSABLE = 4
    FAULT = 5
    BUTTON_HELD = 6
    RATE = 7
    STRIKE = 8


@dataclass(frozen=True)
class Frame:
    """One scan. Its numbers stand here in the order in which they travel, each with its kind on the wire.

    Attributes
    ----------
    flags : int
        Bits of `Flag`.
    seq : int
        Scan number, wraps at 2**16.
    t_us : int
        Device time of scan start in µs, wraps at 2**32.
    strike_peak : int
        Largest strike reading since the last scan, scale of the cells.
    strike_offset_us : int
        Scan start minus the strike's moment, µs.
    ref_a, ref_b : int
        The two reference readings of this scan, scale of the cells.
    cells : ndarray of uint16, shape (cells,)
        Readings as fractions of the ADC's reference times 2**bits, electrical order (row × columns + column).
    """

    flags: Annotated[int, "B"]
    seq: Annotated[int, "H"]
    t_us: Annotated[int, "I"]
    strike_peak: Annotated[int, "H"]
    strike_offset_us: Annotated[int, "H"]
    ref_a: Annotated[int, "H"]
    ref_b: Annotated[int, "H"]
    cells: NDArray[np.uint16]


_KINDS = {
    name: hint.__metadata__[0]
    for name, hint in get_type_hints(Frame, include_extras=True).items()
    if hasattr(hint, "__metadata__")
}
FRAME_DTYPE = np.dtype([("head", "u1"), *((name, f"<{kind}") for name, kind in _KINDS.items())])
"""A frame's message up to its cells; `head` is the wire version and the type."""
FRAME_STRUCT = struct.Struct("<B" + "".join(_KINDS.values()))
"""The same for `struct`, which is quicker for one frame."""
FRAME_HEADER = FRAME_DTYPE.itemsize


@dataclass(frozen=True)
class Ack:
    """The newest frame taken by the host; `all` = nothing is under way any more."""

    seq: int
    all: bool = False


@dataclass(frozen=True)
class Request:
    """A request of the host."""

    id: int
    command: int
    arguments: bytes = b""


@dataclass(frozen=True)
class Reply:
    """The mat's answer to the request of the same id."""

    id: int
    command: int
    status: int
    payload: bytes = b""


@dataclass(frozen=True)
class Event:
    """Something the mat tells unasked."""

    code: int
    t_us: int
    text: str = ""


@dataclass(frozen=True)
class Feet:
    """What one scan says of each foot, worked out on the mat. Places are counted from the middle of the first cell.

    Attributes
    ----------
    flags : int
        Bits of `Flag` and `FeetFlag`.
    seq, t_us : int
        As a frame's.
    left_force, right_force : int
        1/8 N.
    left_u, right_u : int
        Along the foot from the heel end, 1/256 cell; `NO_U`: the foot has no centre.
    left_v, right_v : int
        Across from the panel's left edge, 1/64 cell; `NO_V`.
    """

    flags: int
    seq: int
    t_us: int
    left_force: int
    left_u: int
    left_v: int
    right_force: int
    right_u: int
    right_v: int


NO_U, NO_V = 0xFFFF, 0xFF
FEET_STRUCT = struct.Struct("<BBHIHHBHHB")
FEET_BYTES = FEET_STRUCT.size + 2

Message = Frame | Ack | Request | Reply | Event | Feet


@dataclass(frozen=True)
class Hello:
    """What a mat says of itself."""

    wire: int
    version: tuple[int, int, int]
    uid: str
    rows: int
    columns: int
    bits: int
    window: int
    rate_min_hz: int
    rate_max_hz: int
    state: int
    restart: int
    board: str
    layout: str
    name: str

    @property
    def cells(self) -> int:
        """Number of cells in a frame."""
        return self.rows * self.columns


@dataclass(frozen=True)
class Finding:
    """One line of the mat's self-test."""

    code: int
    a: int
    b: int
    value: int
