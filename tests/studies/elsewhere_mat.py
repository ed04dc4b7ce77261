"""Another mat: its film, its circuit and its end of the cable, from firmware/WIRE.md and published figures alone.

It shares nothing with the twin nor with what it judges: no line of groundtone is imported here. Ranges of the film are
those that others measured (docs/figures.md, "real film"), read as widely as they can be; what has no source is marked
"chosen".
"""

from __future__ import annotations

import os
import pty
import struct
import tty
import zlib
from collections.abc import Callable

import numpy as np
from cobs import cobs
from numpy.typing import NDArray

ROWS, COLUMNS, HALF = 16, 8, 4
PITCH_U_MM, PITCH_V_MM = 20.0, 35.0
WINDOW = 16
Grid = NDArray[np.float64]
_FRAME, _ACK, _REQUEST, _REPLY = 0x11, 2, 3, 0x14
_STEPS = 16384


class Film:
    """Crossings whose conductance goes with a power of the force, each with a gain and an exponent of its own.

    Attributes
    ----------
    contact : ndarray, shape (rows, columns)
        What lies on a cell presses so many times as it weighs: hands do not set a puck down twice alike.
    scatter : float
        Standard deviation of its logarithm.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        shape = (ROWS, COLUMNS)
        self._rng = rng
        level = float(np.exp(rng.uniform(np.log(0.1e-3), np.log(1.2e-3))))  # S at 100 N, a quarter to four times usual
        self._gain = level * np.exp(rng.normal(0.0, rng.uniform(0.25, 0.5), shape))
        self._exponent = np.clip(rng.uniform(0.6, 1.2) + rng.normal(0.0, rng.uniform(0.05, 0.14), shape), 0.3, 1.7)
        most = float(np.exp(rng.uniform(np.log(1.2e-3), np.log(12e-3))))
        kind = int(rng.integers(3))
        self._most = (
            np.full(shape, np.inf) if kind == 0 else np.full(shape, most) if kind == 1 else most * self._gain / level
        )
        self._creep = rng.uniform(0.03, 0.22)  # of ln conductance a decade
        self._kept = rng.random() < 0.25  # a memory of conductance, or a gain of what is loaded that forgets at once
        self._loop = rng.uniform(0.0, 0.08)  # how much more it reads on the way down
        self._begins_n = rng.uniform(0.0, 0.3)
        self._wander = rng.uniform(0.0, 0.004)  # of ln conductance, in the root of a minute (chosen)
        self.scatter = rng.uniform(0.02, 0.07)
        self.contact = np.ones(shape)
        self._taus = np.array([0.1, 1.0, 10.0, 100.0, 1000.0])
        self._state = np.zeros((5, *shape))
        self._top = np.zeros(shape)
        self._drift = np.zeros(shape)

    def weather(self) -> None:
        """Another day: temperature and damp (a factory part's data sheet: -5 to +12 %)."""
        self._drift = self._drift + np.log(1.0 + self._rng.uniform(-0.05, 0.12))

    def under(self, force_n: Grid, seconds: float) -> Grid:
        """Conductance of each cell, S, under forces that have lain so long since the last call."""
        pressing = np.maximum(force_n * self.contact - self._begins_n, 0.0)
        power = self._gain * (pressing / 100.0) ** self._exponent
        plain = power / (1.0 + power / self._most)
        loaded = force_n > 0.5
        up = 1.0 - np.exp(-seconds / self._taus)[:, None, None]
        if self._kept:
            self._state += (plain - self._state) * up
            crept = plain + self._creep * self._state.sum(0)
        else:
            down = 1.0 - np.exp(-seconds / 0.03)
            self._state += np.where(loaded, (1.0 - self._state) * up, -self._state * down)
            crept = plain * np.exp(self._creep * self._state.sum(0))
        self._top = np.where(loaded, np.maximum(force_n, self._top * np.exp(-seconds / 3.0)), 0.0)
        crept *= 1.0 + self._loop * np.where(loaded, 1.0 - force_n / np.maximum(self._top, 1e-9), 0.0)
        self._drift += self._rng.normal(0.0, self._wander * np.sqrt(seconds / 60.0), force_n.shape)
        noise = 1.0 + 0.0025 * self._rng.normal(0.0, 1.0, force_n.shape)
        return np.asarray(crept * np.exp(self._drift) * noise)


class Circuit:
    """Rows behind pins of their own resistance, columns with pull-downs, a converter with a reference of its own."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._supply, self._reference = 3.3 * (1.0 + rng.normal(0.0, 0.01, 2))
        self._high, self._low = rng.uniform(30, 60), rng.uniform(25, 50)
        self._series = 100.0 * (1.0 + rng.normal(0.0, 0.004, ROWS))
        self._pull = 1000.0 * (1.0 + rng.normal(0.0, 0.004, COLUMNS))
        self._tap = 1000.0 * (1.0 + rng.normal(0.0, 0.003))

    def readings(
        self, conductance_s: Grid, first: int
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """Cells and both references of frames with these numbers on, in steps of the converter.

        One node a line, solved for each row and for the tap: conductance_s has the shape (n, rows, columns).
        """
        count, lines = len(conductance_s), ROWS + COLUMNS
        row = np.arange(ROWS)
        high, low = 1.0 / (self._series + self._high), 1.0 / (self._series + self._low)
        nodes = np.zeros((count, ROWS + 1, lines, lines))
        into = np.zeros((count, ROWS + 1, lines))
        nodes[:, :, :ROWS, ROWS:] = -conductance_s[:, None]
        nodes[:, :, ROWS:, :ROWS] = -np.swapaxes(conductance_s, 1, 2)[:, None]
        own = np.concatenate([conductance_s.sum(2), conductance_s.sum(1) + 1.0 / self._pull], 1)
        nodes[:, :, np.arange(lines), np.arange(lines)] = own[:, None]
        driven = np.tile(low, (count, ROWS + 1, 1))
        driven[:, row, row] = high
        into[:, row, row] = high * self._supply
        even = (np.arange(count) + first) % 2 == 0
        # The tap: row 0 high against the low reference pin, or row 1 high and the pin high on the low line of row 0.
        driven[even, ROWS, 0] = high[0] + 1.0 / (self._tap + self._low)
        into[even, ROWS, 0] = high[0] * self._supply
        driven[~even, ROWS, 1] = high[1]
        into[~even, ROWS, 1] = high[1] * self._supply
        driven[~even, ROWS, 0] = low[0] + 1.0 / (self._tap + self._high)
        into[~even, ROWS, 0] = self._supply / (self._tap + self._high)
        nodes[:, :, row, row] += driven
        volt = np.asarray(np.linalg.solve(nodes, into[..., None])[..., 0], np.float64)
        cells = volt[:, row, ROWS:]
        tap = volt[:, ROWS, 0]
        return (
            self._steps(cells),
            self._steps(np.where(even, 0.0, self._supply / 2).astype(np.float64)),
            self._steps(tap),
        )

    def _steps(self, volt: Grid) -> NDArray[np.int64]:
        part = volt / self._reference + self._rng.normal(0.0, 0.5 / 4096, volt.shape)
        out: NDArray[np.int64] = np.clip(np.floor(np.clip(part, 0.0, 1.0) * _STEPS), 0, _STEPS - 1).astype(np.int64)
        return out


class Mat:
    """The mat's end of a pseudo-terminal; its clock goes as fast as the host acknowledges.

    Attributes
    ----------
    force : callable
        Forces of all cells, N, at a device time, s.
    strikes : list of float
        Moments at which a ball is struck, s.
    log : list of (s, ndarray)
        What truly lay there in each frame.
    """

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng([seed, 1])
        self.film, self._circuit = Film(self.rng), Circuit(self.rng)
        self._uid = self.rng.bytes(8)
        self._fd, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._fd, False)
        self.port = os.ttyname(self._slave)
        self.t_s, self.rate_hz, self.running = 1.0, 100, False
        self.force: Callable[[float], Grid] = lambda _: np.zeros((ROWS, COLUMNS))
        self.strikes: list[float] = []
        self.log: list[tuple[float, Grid]] = []
        self._under_way: list[int] = []
        self._number, self._sent = 0, 0
        self._line, self._out = b"", b""

    @property
    def fd(self) -> int:
        """To wait for what the host sends."""
        return self._fd

    def close(self) -> None:
        """The cable is pulled."""
        os.close(self._fd)
        os.close(self._slave)

    def turn(self) -> bool:
        """Read, scan, send; whether there was anything to do."""
        self._read()
        scanned = self.running and len(self._under_way) <= WINDOW // 2
        if scanned:
            self._scan(WINDOW - len(self._under_way))
        while self._out:
            try:
                self._out = self._out[os.write(self._fd, self._out) :]
            except BlockingIOError:
                break
        return scanned

    def _send(self, body: bytes) -> None:
        self._out += cobs.encode(body + struct.pack("<I", zlib.crc32(body))) + b"\0"

    def _read(self) -> None:
        try:
            data = os.read(self._fd, 65536)
        except OSError:
            return
        *whole, self._line = (self._line + data).split(b"\0")
        for raw in filter(None, whole):
            try:
                message = cobs.decode(raw)
            except cobs.DecodeError:
                continue
            if len(message) > 4 and struct.pack("<I", zlib.crc32(message[:-4])) == message[-4:]:
                self._take(message[:-4])

    def _take(self, body: bytes) -> None:
        kind = body[0] & 15
        if kind == _ACK:
            number, everything = struct.unpack_from("<HB", body, 1)
            if everything:
                self._under_way = []
            elif number in self._under_way:
                del self._under_way[: self._under_way.index(number) + 1]
        elif kind == _REQUEST:
            self._send(bytes((_REPLY, body[1], body[2], 0)) + self._answer(body[2], body[3:]))

    def _answer(self, command: int, arguments: bytes) -> bytes:
        if command == 1:
            fixed = struct.pack(
                "<4B8s4BHHBB", 1, 0, 2, 0, self._uid, ROWS, COLUMNS, 14, WINDOW, 1, 200, self.running, 0
            )
            return fixed + b"".join(
                bytes((len(text),)) + text for text in (b"elsewhere", b"reference-16x4", b"elsewhere")
            )
        if command == 2:
            (self.rate_hz,) = struct.unpack("<H", arguments)
            self.running, self._under_way, self._number, self._sent = True, [], 0, 0
            return struct.pack("<I", 1_000_000 // self.rate_hz)
        if command == 3:
            self.running = False
            return struct.pack("<II", self._sent, 0)
        if command == 4:
            return arguments + struct.pack("<I", round(self.t_s * 1e6) & 0xFFFFFFFF)
        if command == 6:
            return bytes((1, 21, 0, 0, 8, 0))
        return b""

    def _scan(self, count: int) -> None:
        period_s = 1.0 / self.rate_hz
        times = self.t_s + period_s * np.arange(1, count + 1)
        self.t_s = float(times[-1])
        truth = [self.force(t) for t in times.tolist()]
        grids = np.array([self.film.under(force, period_s) for force in truth])
        cells, ref_a, ref_b = self._circuit.readings(grids, self._number)
        for i, t in enumerate(times.tolist()):
            flags, peak, offset = (8 if self._number == 0 else 0), 0, 0
            for struck in [s for s in self.strikes if s + 0.0015 <= t]:
                self.strikes.remove(struck)
                flags, peak, offset = flags | 1, 9000, min(65535, round((t - struck) * 1e6))
            bits = ((cells[i].reshape(-1, 1) >> np.arange(14)) & 1).astype(np.uint8)
            number = self._number & 0xFFFF
            head = struct.pack(
                "<BBHIHHHH", _FRAME, flags, number, round(t * 1e6) & 0xFFFFFFFF, peak, offset, ref_a[i], ref_b[i]
            )
            self._send(head + np.packbits(bits.ravel(), bitorder="little").tobytes())
            self._under_way.append(number)
            self._number, self._sent = self._number + 1, self._sent + 1
            self.log.append((t, truth[i]))
