"""Answers what the firmware's machine double asks through its pipe: readings, pin levels, waits, the button."""

from __future__ import annotations

import struct
from typing import Protocol

REQUEST_BYTES = 16
STRIKE_CODES = 160
STRIKE_STEP_US = 50
STRIKE_TAIL_US = 10_000
SCANNING_US = 1_100_000
MAX_DEBT = 64

STAND_STILL, GO_AHEAD, REAL_TIME = 0, 1, 2


class WorldLike(Protocol):
    """What the twin's electrical side offers; `groundtone.twin.world.World` is the real one."""

    rows: int
    duration_s: float

    def table(self, film_time_us: int) -> bytes:
        """Conversions of all multiplexer inputs for all scan states."""

    def probe(self, film_time_us: int, row_states: bytes, ref_state: int) -> bytes:
        """Readings and pin levels for any states of the pins."""

    def pulled(self, film_time_us: int, row_states: bytes, ref_state: int, pull: int, node: int) -> bytes:
        """16 readings of a multiplexer input while the pin behind the multiplexer has a weak pull (1 up, 2 down)."""

    def strike(self, t0_us: int, t1_us: int) -> tuple[float, int] | None:
        """Largest strike in (t0, t1]: peak 0..1 and film time, µs."""

    def strike_code(self, film_time_us: int) -> int:
        """The strike sensor's 12-bit reading at that moment."""


class TicksToFilm:
    """Turns the firmware's raw microsecond counter, which wraps, into time since power-up.

    Parameters
    ----------
    bits : int
        Width of the counter: 30 as on the chip.
    """

    def __init__(self, bits: int) -> None:
        self._modulus = 1 << bits
        self._last = 0
        self.film_us = 0

    def boot(self, ticks: int) -> None:
        """Film time 0 is now."""
        self._last = ticks
        self.film_us = 0

    def at(self, ticks: int) -> int:
        """Film time in µs of a counter reading within half a wrap of the one before."""
        step = (ticks - self._last) % self._modulus
        if step >= self._modulus // 2:
            step -= self._modulus
        self._last = ticks
        self.film_us += step
        return self.film_us


class FirmwareOps:
    """The twin's end of the pipe: takes requests, returns answers, keeps count of the scans that may still follow.

    `allowed` is how many more tables may be served; None is no limit. A firmware that scans late may run into debt
    (its waits stand still while nothing is allowed, a scan that is due is served); at `MAX_DEBT` the answer is held
    back until more is allowed.
    """

    def __init__(self, world: WorldLike, ticks_bits: int = 30, gated: bool = False) -> None:
        self._world = world
        self._time = TicksToFilm(ticks_bits)
        self.allowed: int | None = 0 if gated else None
        self.button = False
        self.tables = 0
        self._last_table_us: int | None = None

    @property
    def film_us(self) -> int:
        """Film time of the latest request, µs."""
        return self._time.film_us

    def length(self, head: bytes) -> int:
        """Bytes of the request that starts with this head."""
        more = {b"P": self._world.rows + 1, b"A": self._world.rows + 3}
        return REQUEST_BYTES + more.get(head[:1], 0)

    def held(self, request: bytes) -> bool:
        """Must this request wait until more tables are allowed?"""
        return request[:1] == b"T" and self.allowed is not None and self.allowed <= -MAX_DEBT

    def allow(self, tables: int | None) -> None:
        """Let so many more tables through; None lifts the limit."""
        self.allowed = None if tables is None else (self.allowed or 0) + tables

    def answer(self, request: bytes) -> bytes:
        """The answer to one whole request."""
        op = request[:1]
        ticks = int(struct.unpack_from("<I", request, 4)[0])
        if op == b"B":
            self._time.boot(ticks)
            return b"\0"
        now = self._time.at(ticks)
        if op == b"T":
            return self._table(now)
        if op == b"P":
            states = request[REQUEST_BYTES:]
            return self._world.probe(now, states[:-1], states[-1])
        if op == b"A":
            states = request[REQUEST_BYTES:]
            return self._world.pulled(now, states[:-3], states[-3], states[-2], states[-1])
        if op == b"S":
            return self._strikes(now)
        if op == b"W":
            return bytes((self._permit(now),))
        if op == b"D":
            return bytes((2 if self.button else 0,))
        raise ValueError(f"the firmware asked for {op!r}, which the twin does not know")

    def _table(self, now: int) -> bytes:
        if self.allowed is not None:
            self.allowed -= 1
        self.tables += 1
        self._last_table_us = now
        more = self.allowed is None or self.allowed > 0
        return bytes((more | (2 if self.button else 0),)) + self._world.table(now)

    def _permit(self, now: int) -> int:
        if self.allowed is not None and self.allowed <= 0:
            return STAND_STILL
        scanning = self._last_table_us is not None and now - self._last_table_us < SCANNING_US
        return GO_AHEAD if scanning else REAL_TIME

    def _strikes(self, now: int) -> bytes:
        end = now + STRIKE_CODES * STRIKE_STEP_US
        # Nearly always nothing was hit: one reading then stands for all.
        if self._world.strike(max(0, now - STRIKE_TAIL_US), end) is None:
            codes = [self._world.strike_code(now)] * STRIKE_CODES
        else:
            codes = [self._world.strike_code(now + i * STRIKE_STEP_US) for i in range(STRIKE_CODES)]
        return struct.pack(f"<{STRIKE_CODES}H", *codes)
