"""The binary that goes onto the mat: whose it is, the network's constants, rules, and a table for each cell.

firmware/mat/alone/onmat.py reads the same bytes. Whole numbers only, little-endian; fractions have 14 binary places.
The cells stand in electrical order, as in a frame (firmware/WIRE.md), and three lists say which place each line is.
"""

from __future__ import annotations

import math
import struct
import zlib
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.cue.rulebook import MEASURES, WHEN, Band, Rule, Rulebook
from groundtone.errors import GroundtoneError
from groundtone.mat.layout import Layout
from groundtone.onboard.tables import PLACES

MAGIC, VERSION = b"GTAM", 1
LEFT_HANDED, AFTER_IMPACT_ONLY = 1, 2
"""Bits of `flags`: the golfer plays left-handed; from the takeaway on nothing sounds before impact."""
ON_BOARD = ("overall", "lead foot", "share")
"""What the board measures; a band that watches anything else stays behind, and that is said."""
CUES = ("toes", "trail side", "heels")
"""The cues that the board has a sound for, by their place in `Limit.cue`."""
NEVER, ANY_TIME, OPEN = 0, 0xFFFF, 0xFFFF
_ONE = 1 << PLACES
_HEAD = struct.Struct("<4sBBBB8s32sBBHIHH8H16s16s8sHHBB")
_BAND = struct.Struct("<BBBBHHHHHHHH")
# Bits of a band's own flags.
_SURE, _ENDS_AT_IMPACT = 1, 2


class PackError(GroundtoneError):
    """Bytes that are no such binary, or something that does not fit into one."""


@dataclass(frozen=True)
class Limit:
    """One band of a cue as the board has it. Values and times that are open are `OPEN` and `ANY_TIME`.

    Attributes
    ----------
    cue : int
        Place in `CUES`.
    measure : int
        Place in `ON_BOARD`.
    when : int
        Bits in the order of `groundtone.cue.rulebook.WHEN`.
    low, high, ease, full, once_over : int
        Fractions with 14 places.
    dwell_ms, from_turn_ms, from_impact_ms : int
    """

    cue: int
    measure: int
    when: int
    flags: int
    low: int
    high: int
    dwell_ms: int
    from_turn_ms: int
    from_impact_ms: int
    once_over: int
    ease: int
    full: int


@dataclass(frozen=True)
class OnMat:
    """All that the board is given.

    Attributes
    ----------
    uid : str
        The mat's, 16 hexadecimal digits.
    weight_n : float
        Of the golfer; 0: not known.
    expires_s : int
        Seconds since 1970 after which it is used no more; `NEVER`.
    low_ohm, high_ohm : float
        A row's driver with its series resistor.
    series_ohm, reference_ohm : float
        The resistor in series with each row, and the one that the drivers are measured by.
    pulldown : tuple of int
        Each column's over the nominal one, 14 places.
    force : ndarray of uint16, shape (rows, columns, nodes)
        Tables in electrical order.
    places : three tuples of int
        Of each row line its place on the left and on the right panel, of each column line its place from the left.
    row_pitch_mm : float
        On the mat to a quarter of a millimetre; 0: not known, and then the mat does not work alone.
    """

    uid: str
    layout: str
    flags: int
    volume: int
    weight_n: float
    expires_s: int
    low_ohm: float
    high_ohm: float
    series_ohm: float
    reference_ohm: float
    pulldown_ohm: float
    pulldown: tuple[int, ...]
    limits: tuple[Limit, ...]
    force: NDArray[np.uint16] = field(repr=False)
    places: tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]] = ((), (), ())
    row_pitch_mm: float = 0.0


def packed(what: OnMat) -> bytes:
    """The bytes, checksum included.

    Raises
    ------
    PackError
        A layout's name or a number does not fit.
    """
    rows, columns, nodes = what.force.shape
    orders = [bytes(order) or bytes(range(count)) for order, count in
              zip(what.places, (rows, rows, columns), strict=True)]  # fmt: skip
    unequal = round((what.low_ohm - what.high_ohm) / what.pulldown_ohm * _ONE) + _ONE
    try:
        head = _HEAD.pack(
            MAGIC, VERSION, rows, columns, nodes, bytes.fromhex(what.uid), what.layout.encode("ascii"), what.flags,
            what.volume, round(10 * what.weight_n), what.expires_s, round(what.low_ohm / what.pulldown_ohm * _ONE),
            unequal, *(*what.pulldown, *[_ONE] * 8)[:8], *orders,
            *(round(ohm / what.pulldown_ohm * _ONE) for ohm in (what.series_ohm, what.reference_ohm)),
            len(what.limits), round(4 * what.row_pitch_mm),
        )  # fmt: skip
        bands = b"".join(_BAND.pack(*_values(limit)) for limit in what.limits)
    except (struct.error, ValueError) as error:
        raise PackError(f"this does not fit onto the mat ({error}): check weight, layout and limits") from error
    body = head + bands + what.force.astype("<u2").tobytes()
    return body + struct.pack("<I", zlib.crc32(body))


def unpacked(data: bytes) -> OnMat:
    """What bytes hold.

    Raises
    ------
    PackError
        They are cut short, damaged, or of another version.
    """
    if len(data) < _HEAD.size + 4 or data[:4] != MAGIC:
        raise PackError("these bytes are nothing that goes onto a mat: make them with groundtone to-mat")
    if data[4] != VERSION:
        raise PackError(f"what is on the mat is of version {data[4]}, this program knows {VERSION}: update the older")
    if zlib.crc32(data[:-4]) != struct.unpack("<I", data[-4:])[0]:
        raise PackError("what is on the mat is damaged: send it again with groundtone to-mat")
    head = _HEAD.unpack_from(data)
    _, _, rows, columns, nodes, uid, layout, flags, volume, weight, expires, low, unequal = head[:13]
    pulldown, orders, series, reference, count = head[13:21], head[21:24], head[24], head[25], head[26]
    at = _HEAD.size + _BAND.size * count
    if len(data) - 4 - at != 2 * rows * columns * nodes:
        raise PackError("what is on the mat is cut short: send it again with groundtone to-mat")
    if not layout.isascii():
        raise PackError("what is on the mat names no layout: send it again with groundtone to-mat")
    limits = tuple(Limit(*_BAND.unpack_from(data, _HEAD.size + _BAND.size * i)) for i in range(count))
    force = np.frombuffer(data, "<u2", rows * columns * nodes, at).reshape(rows, columns, nodes)
    unit = 1000.0
    return OnMat(
        uid.hex(), layout.rstrip(b"\0").decode("ascii"), flags, volume, weight / 10, expires, low * unit / _ONE,
        (low - unequal + _ONE) * unit / _ONE, series * unit / _ONE, reference * unit / _ONE, unit, pulldown[:columns],
        limits, force,
        (tuple(orders[0][:rows]), tuple(orders[1][:rows]), tuple(orders[2][:columns])), head[27] / 4,
    )  # fmt: skip


def limits_of(book: Rulebook) -> tuple[tuple[Limit, ...], tuple[str, ...]]:
    """The rules that are on, as the board has them.

    Returns
    -------
    limits : tuple of Limit
    left : tuple of str
        A sentence for each band, and each habit of the rules, that the board cannot hold.
    """
    assert set(ON_BOARD) <= set(MEASURES)
    limits: list[Limit] = []
    left: list[str] = []
    for rule in (rule for rule in book.rules if rule.on):
        if rule.name not in CUES:
            left.append(f"The mat alone has no sound for {rule.name}: it is silent there.")
            continue
        for band in rule.bands:
            if book.setup_only and "setup" not in band.when:
                continue
            if band.measure not in ON_BOARD:
                left.append(f"The mat alone does not measure {band.measure}: {rule.name} goes without {band.name}.")
                continue
            limits.append(_limit(replace(band, when=("setup",)) if book.setup_only else band, rule))
    if book.tighten.on:
        left.append("The mat alone moves no limit: they stay where they are now.")
    if book.fade.on:
        left.append("The mat alone sounds in every swing: its tone does not fade.")
    return tuple(limits), tuple(left)


def electrical(force: NDArray[np.uint16], layout: Layout) -> NDArray[np.uint16]:
    """Tables that stand by place, in the order in which the board reads its lines."""
    half = layout.columns_per_panel
    columns = layout.columns_order or tuple(range(2 * half))
    out = np.empty_like(force)
    for place, line in enumerate(columns):
        rows = (layout.rows_left if place < half else layout.rows_right) or tuple(range(layout.rows))
        out[list(rows), line] = force[:, place]
    return out


def places_of(layout: Layout) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
    """Of each line its place on the mat, see `OnMat.places`."""

    def turned(order: tuple[int, ...], count: int) -> tuple[int, ...]:
        return tuple(int(i) for i in np.argsort(order or range(count)))

    return (
        turned(layout.rows_left, layout.rows),
        turned(layout.rows_right, layout.rows),
        turned(layout.columns_order, 2 * layout.columns_per_panel),
    )


def _values(limit: Limit) -> tuple[int, ...]:
    return tuple(getattr(limit, name) for name in Limit.__dataclass_fields__)


def _limit(band: Band, rule: Rule) -> Limit:
    when = sum(1 << bit for bit, name in enumerate(WHEN) if name in band.when)
    flags = _SURE * rule.sure + _ENDS_AT_IMPACT * (not rule.after_impact)

    def place(value: float) -> int:
        return round(value * _ONE) if math.isfinite(value) else OPEN

    def ms(value: float) -> int:
        return ANY_TIME if math.isnan(value) else round(1000 * value)

    return Limit(
        CUES.index(rule.name), ON_BOARD.index(band.measure), when, flags, place(band.low), place(band.high),
        ms(band.dwell_s), ms(band.from_turn_s), ms(band.from_impact_s), place(band.once_over), place(rule.ease),
        max(place(rule.full), 1),
    )  # fmt: skip
