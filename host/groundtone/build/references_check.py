"""What the four reference readings of an empty mat say about the parts behind them and the multiplexer's address."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from groundtone.build.evidence import FloatArray, Idle
from groundtone.mat.layout import Layout

ZERO, SUPPLY, TAP = 8, 9, 10
FACTORS = (1.0, 10.0, 0.1)
PINS_OHM = (20.0, 35.0, 50.0, 70.0)
"""What a pin may have, high and low: the grid on which the tap's readings are explained."""
# What is left between the grid's points, and the resistors' tolerance.
SPREAD = 0.008
PENALTY = 9.0
LEVELS = (0.5, 1 / 11, 10 / 11)
"""What the divider's middle may stand at, of the supply: equal resistors, or one ten times the other."""
NO_TAP = [((1.0, 1.0), np.zeros(1), np.zeros(1))]
# An open input may stand anywhere: it is explained by nothing being there, at a price.
FLOATING = 4.0


@dataclass(frozen=True)
class Guess:
    """One explanation of the references.

    Attributes
    ----------
    address : tuple of int or None
        Two address lines that are exchanged.
    divider : float
        Level of the divider's middle, of the supply.
    reference, series : float
        Factors of the reference resistor (inf: missing) and of row 0's resistor.
    tap, zero : bool
        Their wires are there.
    cost : float
        Misfit and a price for every fault.
    """

    address: tuple[int, int] | None
    divider: float
    reference: float
    series: float
    tap: bool
    zero: bool
    cost: float


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


def explain(idle: Idle, layout: Layout, level: float = 1.009) -> list[Guess]:
    """Every explanation of an empty mat's references, the likeliest first.

    Parameters
    ----------
    idle : Idle
    layout : Layout
    level : float
        The rows' supply as a fraction of the ADC's reference, where the divider cannot tell.

    Returns
    -------
    list of Guess
        All that are not much worse than the best.
    """
    seen = np.array([idle.zero, idle.supply, idle.tap_high, idle.tap_low])
    columns = idle.mean.shape[1]
    guesses = []
    for address in (None, *combinations(range(4), 2)):
        source = source_of(address)
        # Columns that show a reference instead of cells do so in every row (supply), or in row 0 only (tap).
        odd = {c: source[c] for c in range(columns) if source[c] >= ZERO}
        for divider in LEVELS:
            strange = sum(_odd_column(idle.mean[:, c], what, divider * level) for c, what in odd.items())
            for tap, zero in product((True, False), (True, False)):
                for (reference, series), highs, lows in _taps(layout) if tap else NO_TAP:
                    cost = strange + _misfit(seen, source, divider, highs, lows, (tap, zero), level)
                    faults = (address is not None) + (divider != 0.5) + (not tap) + (not zero)
                    faults += (reference != 1.0) + (series != 1.0)
                    guesses.append(Guess(address, divider, reference, series, tap, zero, cost + PENALTY * faults))
    guesses.sort(key=lambda g: g.cost)
    return [g for g in guesses if g.cost < guesses[0].cost + 3 * PENALTY]


def _misfit(
    seen: FloatArray,
    source: list[int],
    divider: float,
    highs: FloatArray,
    lows: FloatArray,
    there: tuple[bool, bool],
    level: float,
) -> float:
    """Least misfit of the four references over the pins' possible resistances."""
    none = np.zeros_like(highs)
    even = {ZERO: none, SUPPLY: none + divider, TAP: highs}
    odd = {ZERO: none, SUPPLY: none + divider, TAP: lows}
    at = [even.get(source[ZERO], none), odd.get(source[SUPPLY], none), even.get(source[TAP], none),
          odd.get(source[TAP], none)]  # fmt: skip
    tap_blind, zero_blind = (source[TAP] == TAP and not there[0]), (source[ZERO] == ZERO and not there[1])
    # Above its reference the converter reads its ceiling.
    expected = np.minimum(np.array(at) * level, 1.0)
    off = np.minimum(np.abs(seen[:, None] - expected) / SPREAD, 8.0) ** 2
    blind = np.array([zero_blind, False, tap_blind, tap_blind])
    return float(off[~blind].sum(axis=0).min() + FLOATING * blind.sum())


def _taps(layout: Layout) -> list[tuple[tuple[float, float], FloatArray, FloatArray]]:
    """Tap readings high and low, of the supply, for every factor of the reference and of row 0's resistor."""
    pin_high, pin_low = (grid.ravel() for grid in np.meshgrid(PINS_OHM, PINS_OHM))
    out = []
    for reference, series in product((*FACTORS, math.inf), FACTORS):
        row, across = layout.series_ohm * series, layout.reference_ohm * reference
        if math.isinf(across):
            high, low = np.ones_like(pin_high), np.zeros_like(pin_high)
        else:
            high = (across + pin_low) / (across + pin_low + row + pin_high)
            low = (row + pin_low) / (row + pin_low + across + pin_high)
        out.append(((reference, series), high, low))
    return out


def _odd_column(rows: np.ndarray, what: int, supply: float) -> float:
    """Misfit of a column that should show another input than cells."""
    if what == SUPPLY:
        off = np.abs(rows - supply).max()
    elif what == TAP:
        off = max(abs(rows[0] - 1.0), float(np.abs(rows[1:]).max()))
    else:
        off = float(np.abs(rows).max())
    return float(min(off / SPREAD, 8.0) ** 2)
