"""The board as it was soldered: the value of every part in, what an empty mat and the test resistor must read out.

One model of the whole circuit, by Ohm's and Kirchhoff's laws. On an empty mat no film conducts, so everything that is
read is a divider: the tap between row 0's driver and the reference resistor, a touched row between its driver, the test
resistor and its column's pull-down, a column between the weak pull-up of the ADC's pin and its pull-down.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.build.evidence import Evidence, FloatArray, Idle, Touch
from groundtone.mat.layout import Layout

ZERO, SUPPLY, TAP = 8, 9, 10
_READ = ((ZERO, 0), (SUPPLY, 1), (TAP, 0), (TAP, 1))
"""The four references: address, and the parity of the frames that hold it."""
NO_MULTIPLEXER, SWAPPED, COLUMN_OHM = 0, 12, 20
"""Codes of the self-test's findings (firmware/WIRE.md)."""
TEST_OHM = 1000.0
"""The test resistor: one like the reference resistor, 1 %."""
DIVIDER_OHM = 10e3
"""Each of the two that halve the supply."""
HIGH_OHM, LOW_OHM, LEVEL = 50.0, 35.0, 1.009
"""A pin that is high or low, and the rows' supply as a fraction of the ADC's reference: typical (from memory)."""
PINS_SPREAD = np.array([15.0, 12.0, 0.006])
"""How far these differ from board to board, standard deviations."""
HELD_OHM = 30e3
"""A column with more than this to 0 V goes where its cells pull it."""

# What is left when all values are right: tolerances of a third of 1 %, contacts of a few ohms, pins unlike each other.
_REFERENCES_U = np.array([0.004, 0.0025, 0.0025, 0.0025])
_REFERENCE_U, _COLUMN_U, _OPEN_U, _COLUMN_OHM_U = 0.0025, 0.02, 0.05, 0.025
_TOUCH_PART, _TOUCH_LEAST = 0.005, 0.0004
_CAPPED_OHM = 40e3  # the self-test gives no more than 65535 Ω, and little of that is sure
_PINS_LEAST, _PINS_MOST = np.array([5.0, 5.0, 0.9]), np.array([200.0, 200.0, 1.1])
_ROBUST, _MOST, _ODD = 3.0, 8.0, 6.0
# An explanation that lets a reading be anything must not win by that.
_BLIND = 2.5
# Two touches that were not felt outweigh a fault's price, one does not: it may have been forgotten.
_MISSED = 3.0
_UNSEEN, _ELSEWHERE = 5.0, 1.5


@dataclass(frozen=True)
class Soldered:
    """Values of all parts, Ω; inf where one is missing or its way is open.

    Attributes
    ----------
    series, pulldown : tuple of float
        By row line and by column line.
    reference, upper, lower : float
        The reference resistor and the two halves of the supply's divider.
    tap, zero, multiplexer : bool
        They are there.
    address : tuple of int or None
        Two address lines that are exchanged.
    joined : frozenset of pairs
        Column lines that touch.
    open_columns : frozenset of int
        Column lines whose strip does not hang on them.
    """

    series: tuple[float, ...]
    pulldown: tuple[float, ...]
    reference: float
    upper: float = DIVIDER_OHM
    lower: float = DIVIDER_OHM
    tap: bool = True
    zero: bool = True
    multiplexer: bool = True
    address: tuple[int, int] | None = None
    joined: frozenset[tuple[int, int]] = frozenset()
    open_columns: frozenset[int] = frozenset()

    @property
    def divider_level(self) -> float:
        """What the divider's middle gives, of the supply."""
        if math.isinf(self.upper) or math.isinf(self.lower):
            return 0.0 if math.isinf(self.upper) else 1.0
        return self.lower / (self.upper + self.lower)

    def held_ohm(self) -> FloatArray:
        """From each column line to 0 V, (C,), Ω."""
        ohm = np.array(self.pulldown)
        return np.array(
            [1.0 / max(float((1.0 / ohm[list(g)]).sum()), 1e-12) for g in groups_of(self.joined, len(self.pulldown))]
        )


def groups_of(joined: Iterable[tuple[int, int]], columns: int) -> list[tuple[int, ...]]:
    """For each column line, all lines that are one with it, rising."""
    group = [{c} for c in range(columns)]
    for a, b in joined:
        both = group[a] | group[b]
        for c in both:
            group[c] = both
    return [tuple(sorted(members)) for members in group]


def as_planned(layout: Layout) -> Soldered:
    """The board as its layout wants it."""
    return Soldered(
        (layout.series_ohm,) * layout.rows, (layout.pulldown_ohm,) * layout.columns, float(layout.reference_ohm)
    )


def source_of(address: tuple[int, int] | None) -> list[int]:
    """For each address, the input that is really selected."""
    if address is None:
        return list(range(16))
    a, b = address
    different = [(i >> a ^ i >> b) & 1 for i in range(16)]
    return [i ^ (d << a | d << b) for i, d in enumerate(different)]


def column_addresses(address: tuple[int, int] | None, columns: int) -> tuple[np.ndarray, np.ndarray]:
    """Where the frame holds each column, and which columns it holds at all.

    Returns
    -------
    at : (C,) array of int
        Index in the frame's columns; the column itself where it is not in the frame.
    usable : (C,) array of bool
    """
    source = source_of(address)
    at = np.array([source.index(c) for c in range(columns)])
    usable = at < columns
    return np.where(usable, at, np.arange(columns)), usable


class Observed:
    """What was read on an empty mat and with the test resistor, and how far a board's values are from it.

    Parameters
    ----------
    evidence : Evidence
        With the empty mat in it.
    """

    def __init__(self, evidence: Evidence, idle: Idle, layout: Layout) -> None:
        self._refs = np.array([idle.zero, idle.supply, idle.tap_high, idle.tap_low])
        # Of each column: row 0, and the middle of the others (one cell that conducts by itself is no part's fault).
        self._columns = np.stack([idle.mean[0], np.median(idle.mean[1:], axis=0)])
        ohm = {f.a: float(f.value) for f in evidence.findings if f.code == COLUMN_OHM}
        self._ohm_known = bool(ohm)
        self._ohm = np.array([ohm.get(c, math.nan) for c in range(layout.columns)])
        swap = [(min(f.a, f.b), max(f.a, f.b)) for f in evidence.findings if f.code == SWAPPED]
        self._swap = swap[0] if swap else None
        self._no_multiplexer = any(f.code == NO_MULTIPLEXER for f in evidence.findings)
        touches = evidence.touches
        self._places = [_felt_at(touch) for touch in touches]
        self._asked = [touch.column for touch in touches]
        self._silent = np.array([not touch.rise.any() for touch in touches], dtype=bool)
        seen = [
            # A column that floats stood high before: there the reading counts and not its rise.
            np.zeros(layout.columns) if silent else touch.rise[row] + np.where(touch.rise[row] > 0.1, idle.mean[row], 0)
            for touch, (row, _), silent in zip(touches, self._places, self._silent, strict=True)
        ]
        self._touch = np.array(seen).reshape(-1, layout.columns)

    def cost(self, board: Soldered) -> float:
        """Misfit of a board's values with the pins that suit it best: a sum of squares, robust and in its own units."""
        expected = _Expected(board, self._places)
        start = np.array([HIGH_OHM, LOW_OHM, LEVEL])
        pins = start
        for _ in range(2):
            here = self._off(expected, pins)
            moved = [self._off(expected, pins + step) - here for step in np.diag(0.1 * PINS_SPREAD)]
            slope = np.stack(moved, axis=1) / 0.1
            weight = 1.0 / np.maximum(1.0, np.abs(here) / _ROBUST)
            matrix = slope.T @ (weight[:, None] * slope) + np.eye(3)
            down = slope.T @ (weight * here) + (pins - start) / PINS_SPREAD
            pins = np.clip(pins - PINS_SPREAD * np.linalg.solve(matrix, down), _PINS_LEAST, _PINS_MOST)
        off = np.minimum(np.abs(self._off(expected, pins)), _MOST)
        return float((off**2).sum() + (((pins - start) / PINS_SPREAD) ** 2).sum()) + self._beside(board)

    def unexplained(self, board: Soldered) -> list[str]:
        """What a board does not explain, in words; empty where all fits."""
        off = np.abs(self._off(_Expected(board, self._places), np.array([HIGH_OHM, LOW_OHM, LEVEL])))
        names = ("the 0 V input", "the supply's half", "the tap while row 0 is high", "the tap while row 0 is low")
        wrong = [name for name, o in zip(names, off, strict=False) if o > _ODD]
        touch = off[off.size - self._touch.size :].reshape(self._touch.shape).max(axis=1, initial=0.0)
        return wrong + [
            f"the test resistor between row {r} and column {c}"
            for (r, c), o in zip(self._places, touch, strict=True)
            if o > _ODD
        ]

    def _off(self, expected: _Expected, pins: FloatArray) -> FloatArray:
        """Every reading's distance from what it should be, in standard deviations."""
        high, low, level = (float(p) for p in pins)
        board, source = expected.board, expected.source
        if not board.multiplexer:
            # Nothing holds the ADC's pin: all inputs read alike at one time, never 0 V, and a touch changes nothing.
            alike = np.array([self._refs[0] - self._refs[2], self._refs[1] - self._refs[3]]) / _REFERENCE_U
            columns = (self._columns - self._columns.mean(axis=1, keepdims=True)) / _COLUMN_U
            columns = np.where(self._columns < _COLUMN_U / 4, _MOST, columns)
            return np.concatenate([alike, columns.ravel(), self._touch.ravel() / _OPEN_U])
        inputs = expected.inputs(high, low)
        wanted = [min(1.0, level * inputs.get((source[a], odd), 0.0)) for a, odd in _READ]
        refs = np.where(expected.blind, _BLIND, (self._refs - wanted) / _REFERENCES_U)
        shown = np.minimum(1.0, level * expected.shown(inputs))
        columns = np.where(expected.free, 0.0, (self._columns - shown) / _COLUMN_U)
        touch = np.minimum(1.0, level * expected.touched(high))
        sigma = 2.0 * _TOUCH_PART * touch * (1.0 - touch) + _TOUCH_PART / 2 * touch + _TOUCH_LEAST
        touches = np.where(expected.unsure, 0.0, (self._touch - touch) / sigma)
        touches[self._silent] = np.clip(touches[self._silent], -_MISSED, _MISSED)
        return np.concatenate([refs, columns.ravel(), self._ohm_off(expected, low), touches.ravel()])

    def _ohm_off(self, expected: _Expected, low: float) -> FloatArray:
        """The self-test's look at the columns, which goes by the reference resistor."""
        reference = expected.board.reference
        if not self._ohm_known or math.isinf(reference):
            return np.zeros(0)
        wanted = np.minimum(expected.held_at * 1030.0 / (reference + low), _CAPPED_OHM)
        off = (np.minimum(self._ohm, _CAPPED_OHM) - wanted) / (_COLUMN_OHM_U * wanted + 4.0)
        return np.where(np.isfinite(off), np.where(expected.inside, off, _BLIND), 0.0)

    def _beside(self, board: Soldered) -> float:
        """What is known beside readings: what the self-test says of the address, and where touches were asked for."""
        out = _UNSEEN**2 * ((self._swap != board.address) + (self._no_multiplexer and board.multiplexer))
        source = source_of(board.address)
        elsewhere = sum(source[at] != asked for (_, at), asked in zip(self._places, self._asked, strict=True))
        return out + _ELSEWHERE * min(4, elsewhere)


class _Expected:
    """What does not depend on the pins of what a board should read; `places` are rows and columns of the touches."""

    def __init__(self, board: Soldered, places: Sequence[tuple[int, int]]) -> None:
        self.board, self.source = board, source_of(board.address)
        self.held = board.held_ohm()
        columns = self.held.size
        self.blind = np.array(
            [(not board.zero and self.source[a] == ZERO) or (not board.tap and self.source[a] == TAP) for a, _ in _READ]
        )
        line = np.array(self.source[:columns])
        inside = line < columns
        known = np.where(inside, line, 0)
        self.inside, self.held_at = inside, self.held[known]
        floats = ~inside | (self.held[known] > HELD_OHM)
        self.free = floats & ~np.isin(line, (ZERO, SUPPLY, TAP))
        group = groups_of(board.joined, columns)
        same = np.array([[inside[a] and inside[b] and line[b] in group[line[a]] for b in range(columns)]
                         for a in range(columns)])  # fmt: skip
        at = np.array([c for _, c in places], dtype=np.intp)
        self._rows = np.array([r for r, _ in places], dtype=np.intp)
        self._hit = same[at] & ~np.isin(line[at], list(board.open_columns))[:, None]
        # What shows a reference rises with no touch.
        self.unsure = self.free[None] & ~self._hit
        self._held_at = self.held_at[at]
        self._through = np.array(board.series)[self._rows] + TEST_OHM

    def inputs(self, high: float, low: float) -> dict[tuple[int, int], float]:
        """Levels of the inputs that are no columns, of the supply, in even (0) and odd (1) frames."""
        board = self.board
        row, across = board.series[0], board.reference
        if math.isinf(row):
            up, down = 0.0, 1.0
        elif math.isinf(across):
            up, down = 1.0, 0.0
        else:
            up = (across + low) / (across + low + row + high)
            down = (row + low) / (row + low + across + high)
        half = board.divider_level
        return {(SUPPLY, 0): half, (SUPPLY, 1): half, (TAP, 0): up, (TAP, 1): down}

    def shown(self, inputs: Mapping[tuple[int, int], float]) -> FloatArray:
        """What the columns' addresses show on the empty mat: row 0, and every other row."""
        out = np.zeros((2, self.held.size))
        for a in range(self.held.size):
            if self.source[a] == SUPPLY:
                out[:, a] = inputs[SUPPLY, 1]
            elif self.source[a] == TAP and self.board.tap:
                # REF lets go in a scan: row 0's line stands at the supply while it is high.
                out[0, a] = 0.0 if math.isinf(self.board.series[0]) else 1.0
        return out

    def touched(self, high: float) -> FloatArray:
        """What each touch makes every column read while its row is high, (touches, C), of the supply."""
        v = self._held_at / (self._held_at + self._through + high)
        return np.where(self._hit, v[:, None], 0.0)


def _felt_at(touch: Touch) -> tuple[int, int]:
    """The row and the column of the frame where a touch shows most; where it was asked for if nowhere."""
    row, column = np.unravel_index(int(np.argmax(touch.rise)), touch.rise.shape)
    asked = float(touch.rise[touch.row, touch.column])
    return (int(row), int(column)) if touch.rise[row, column] > asked + 0.004 else (touch.row, touch.column)
