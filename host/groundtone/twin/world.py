"""The world around the firmware: for each moment of the film, what the board's ADC and pins would read."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.adc import convert, hum
from groundtone.twin.board import build_board, probe_voltages, table_voltages
from groundtone.twin.film import Film
from groundtone.twin.hand_loads import HandLoads
from groundtone.twin.loads import GolferLoads, make_loads
from groundtone.twin.network import FloatArray
from groundtone.twin.pulled import pulled_level
from groundtone.twin.scenario import Scenario

CONVERSIONS = 4
BLOCK = 64
HANDS_BLOCK = 32
KEPT_BLOCKS = 16
KEPT_SOLUTIONS = 64
BACK_US = 1_000_000
_POOL = 1 << 18
READING_S = 2.2e-6  # from one conversion to the next: what spreads the mains over a scan
_WORD = (1 << 64) - 1
BURST_S, RING_HZ = 0.6e-3, 2500.0
STRIKE_WAY_US = 260  # 168 mm of a board, as a bending wave of 1.8 to 4 kHz (tests/studies/strike_waves.py: 170 to 410)
BURST_END_US = 6000
QUIET_LSB = 1.5


class World:
    """Tables, probes and strikes of one scenario.

    The film's state advances on the act's grid in blocks of 64 steps, only as far as asked for; between grid points the
    last one holds. All noise belongs to the film's time, so the same question gets the same answer in any run.

    Parameters
    ----------
    scenario : Scenario

    Attributes
    ----------
    rows : int
    columns : int
    duration_s : float
        Length of the film, s; later times read its end.
    """

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        mat = scenario.mat
        self.rows: int = mat.rows
        self.columns: int = mat.columns
        self._grid_us = scenario.act.grid_us
        self._loads = make_loads(scenario)
        self._steps = self._loads.steps
        self.duration_s: float = (self._steps - 1) * self._grid_us * 1e-6
        self._board = build_board(mat)
        # What hands are told reaches the film with its next block: a short one, so that they do not seem to dream.
        self._block_steps = HANDS_BLOCK if isinstance(self._loads, HandLoads) else BLOCK
        self._film = Film(mat, self._grid_us * 1e-6)
        self._conductance: dict[int, FloatArray] = {}
        self._tables: dict[int, FloatArray] = {}
        self._solved: dict[tuple[object, ...], Any] = {}
        self._next_block = 0
        self._newest_us = 0
        self._pool = np.random.default_rng([mat.seed, 50]).standard_normal(_POOL) * mat.adc_noise_lsb
        strikes = self._loads.curves.strikes if isinstance(self._loads, GolferLoads) else ()
        self._strikes = tuple((round(t * 1e6), peak) for t, peak in strikes)

    def table(self, film_time_us: int) -> bytes:
        """Codes of every multiplexer input in every state of a scan.

        Parameters
        ----------
        film_time_us : int
            Time since the film's start, µs; may go back by 1 s at most.

        Returns
        -------
        bytes
            Little-endian u16 [rows + 2][16][4]: state, input, four independent conversions.

        Raises
        ------
        ValueError
            When the time goes back by more than 1 s.
        """
        block, step = self._locate(film_time_us)
        if block not in self._tables:
            self._tables[block] = table_voltages(self._conductance[block], self._board)
        level = self._tables[block][step][:, :, None] * self._board.level
        noise = self._noise(film_time_us, (self.rows + 2) * 16 * CONVERSIONS).reshape(self.rows + 2, 16, CONVERSIONS)
        return convert(level, noise, self.scenario.mat.adc_spikes).astype("<u2", copy=False).tobytes()

    def probe(self, film_time_us: int, row_states: bytes, ref_state: int) -> bytes:
        """Codes and digital levels for one setting of the pins.

        Parameters
        ----------
        film_time_us : int
            As for `table`.
        row_states : bytes
            One pin state a row: 0 input, 1 input with pull-up, 2 output low, 3 output high, 4 input with pull-down.
        ref_state : int
            State of the pin REF, same codes.

        Returns
        -------
        bytes
            16 little-endian u16 codes of the multiplexer's inputs, a byte (0 or 1) for each row's level, one for REF's.
        """
        block, step = self._locate(film_time_us)
        volts, levels = self._remembered(
            (block, step, row_states, ref_state),
            lambda: probe_voltages(self._conductance[block][step], self._board, row_states, ref_state),
        )
        codes = convert(volts * self._board.level, self._noise(film_time_us, 16), self.scenario.mat.adc_spikes)
        flags: NDArray[np.uint8] = levels.astype(np.uint8)
        return codes.astype("<u2", copy=False).tobytes() + flags.tobytes()

    def pulled(self, film_time_us: int, row_states: bytes, ref_state: int, pull: int, node: int) -> bytes:
        """16 codes of one multiplexer input while the ADC's pin has a weak pull-up (1) or pull-down (2).

        Parameters
        ----------
        film_time_us, row_states, ref_state
            As for `probe`.
        pull : int
        node : int
            Address of the multiplexer.

        Returns
        -------
        bytes
            16 little-endian u16 codes.
        """
        block, step = self._locate(film_time_us)
        level = self._remembered(
            (block, step, row_states, ref_state, pull, node),
            lambda: pulled_level(self._conductance[block][step], self._board, row_states, ref_state, pull, node),
        )
        levels = np.full(16, level * self._board.level)
        codes = convert(levels, self._noise(film_time_us, 16), self.scenario.mat.adc_spikes)
        return codes.astype("<u2", copy=False).tobytes()

    def _remembered(self, key: tuple[object, ...], make: Callable[[], Any]) -> Any:
        """A solution of the network; the self-test asks for the same few again and again."""
        if key not in self._solved:
            if len(self._solved) >= KEPT_SOLUTIONS:
                self._solved.clear()
            self._solved[key] = make()
        return self._solved[key]

    def strike(self, t0_us: int, t1_us: int) -> tuple[float, int] | None:
        """The largest strike in (t0, t1]: its peak as a fraction of the ADC's range and its time, µs; else None."""
        heard = [(peak, t) for t, peak in self._strikes if t0_us < t <= t1_us]
        return max(heard) if heard else None

    def strike_code(self, film_time_us: int) -> int:
        """Code of the strike sensor's ADC input now: a ring that dies away after each strike, else noise.

        The ring comes through the ball's strip to the disc at its edge. The clamp takes the half-waves below 0 V away.
        """
        level = 0.0
        for t, peak in self._strikes:
            since_us = film_time_us - t - STRIKE_WAY_US
            if 0 <= since_us < BURST_END_US:
                since = since_us * 1e-6
                level = max(level, peak * math.exp(-since / BURST_S) * math.cos(2.0 * math.pi * RING_HZ * since))
        # A different stretch of the noise than the table's, so that the two inputs do not move together.
        hiss = abs(float(self._noise(film_time_us + 777_777, 1)[0])) * QUIET_LSB
        return int(convert(np.array([level]), hiss, self.scenario.mat.adc_spikes)[0])

    def do(self, text: str) -> float:
        """Tell the hands of a `Hands` act what to do (see `groundtone.twin.hands.parse_action`).

        They begin where the film has not been computed yet, which is up to 32 steps of its grid ahead.

        Returns
        -------
        float
            When it will be done, s of the film.

        Raises
        ------
        ValueError
            The words are not understood, or nobody is there to do it.
        """
        if not isinstance(self._loads, HandLoads):
            raise ValueError("nobody is at this mat who could do what is said: its act is not 'hands'")
        end = self._loads.do(text, self._next_block * self._block_steps * self._grid_us * 1e-6)
        self._strikes = tuple((round(t * 1e6), peak) for t, peak in self._loads.taps)
        return end

    def conductance(self, film_time_us: int) -> FloatArray:
        """Film conductances at a time, (R, C), S: for tests, no board can read them."""
        block, step = self._locate(film_time_us)
        out: FloatArray = self._conductance[block][step].copy()
        return out

    def _locate(self, film_time_us: int) -> tuple[int, int]:
        """Block and step within it that hold a time; computes up to there."""
        if film_time_us < self._newest_us - BACK_US:
            raise ValueError("the film does not run back by more than a second")
        self._newest_us = max(self._newest_us, film_time_us)
        index = min(max(film_time_us // self._grid_us, 0), self._steps - 1)
        block, step = divmod(int(index), self._block_steps)
        while self._next_block <= block:
            self._advance()
        return block, step

    def _advance(self) -> None:
        """Compute the next block of conductances and forget the oldest."""
        block = self._next_block
        start, stop = block * self._block_steps, min((block + 1) * self._block_steps, self._steps)
        force = self._loads.film_forces(start, stop)
        noise = np.random.default_rng([self.scenario.mat.seed, 51, block]).standard_normal(force.shape)
        conductance = self._film.step(force, noise)
        if isinstance(self._loads, HandLoads):
            conductance += self._loads.beside_film(start, stop)
        self._conductance[block] = conductance
        self._conductance.pop(block - KEPT_BLOCKS, None)
        self._tables.pop(block - KEPT_BLOCKS, None)
        self._next_block += 1

    def _noise(self, film_time_us: int, count: int) -> NDArray[np.float64]:
        """Converter noise of a moment, steps of the scale: a stretch of one long draw, chosen by the time."""
        # Two rounds of multiply and fold scatter neighbouring times over the pool (constants: odd 64-bit numbers).
        mixed = int(film_time_us) * 0x9E3779B97F4A7C15 & _WORD
        mixed = (mixed ^ mixed >> 29) * 0xD6E8FEB86659FD93 & _WORD
        start = (mixed >> 20) % (_POOL - count)
        noise: FloatArray = self._pool[start : start + count]
        mat = self.scenario.mat
        if mat.hum_lsb > 0.0:
            when_s = film_time_us * 1e-6 + READING_S * np.arange(count)
            noise = noise + hum(when_s, mat.hum_lsb, mat.hum_hz, mat.seed)
        return noise
