"""What a board's chip and the multiplexer bear, each value with its source, and what else the builder must know of it.

A new board is one entry of `FACTS` here, beside its record in firmware/mat/board.py.

Sources
-------
RP2040 data sheet, section 5.2.3 "Pin specifications" (digital IO and ADC characteristics): maximum total IOVDD
current 50 mA (sum of all current being sourced by GPIO and QSPI pins), maximum total VSS current due to IO 50 mA;
output high at 3.3 V at least 2.62 V and output low at most 0.50 V at 2, 4, 8 or 12 mA by the drive setting; pull-ups
50 to 80 kΩ; ADC 12 bits resolved, 9 effective bits (simulated). A pin's settings "are not hard limits": 12 mA is the
largest current at which its levels are promised, and there is no other figure for one pin. A pad is at 4 mA after a
reset; the firmware sets the rows' and REF's to 12 mA (firmware/mat/board.py).

RP2350 data sheet, section 14.9.4 "IO electrical characteristics": the same levels at the same settings; 100 mA over all
GPIO pins, sourced and sunk each; pull-ups 32 to 86 kΩ at 3.3 V; ADC 9 effective bits at least, 9.5 typical.

74HC4067 data sheet, limiting values: switch current ±25 mA, supply or ground current ±50 mA, 100 mW a switch;
on-resistance 80 Ω typical at 4.5 V, 70 Ω at 6 V (at 3.3 V about 150 Ω, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from groundtone.errors import BuildError


@dataclass(frozen=True)
class Limits:
    """Currents that a board bears, mA, and how its ADC reads.

    Attributes
    ----------
    pin_ma : float
        The most that one pin carries with its levels still promised.
    source_ma, sink_ma : float
        Over all pins.
    pull_ohm : float
        The weakest pull-up.
    source : str
        Where the values are from.
    """

    pin_ma: float
    source_ma: float
    sink_ma: float
    adc_bits: int
    effective_bits: float
    pull_ohm: float
    source: str


@dataclass(frozen=True)
class SwitchLimits:
    """The multiplexer: mA through one switch, its typical Ω at 3.3 V, and pF of its output with what hangs on it."""

    switch_ma: float
    on_ohm: float
    output_pf: float
    source: str


@dataclass(frozen=True)
class BoardFacts:
    """One board.

    Attributes
    ----------
    price_eur : float
        About; common practice.
    power : mapping
        Where 3V3, GND, AGND and 5V are.
    pin_numbers : mapping of int to int
        The number on the board by GPIO; empty where the board prints the GPIO's own.
    radio : bool
        It has one, which draws current.
    """

    limits: Limits
    price_eur: float
    power: Mapping[str, str]
    pin_numbers: Mapping[int, int] = field(default_factory=dict)
    radio: bool = True


_RP2040 = Limits(12.0, 50.0, 50.0, 12, 9.0, 80e3, "RP2040 data sheet, 5.2.3 pin specifications")
_RP2350 = Limits(12.0, 100.0, 100.0, 12, 9.0, 86e3, "RP2350 data sheet, 14.9.4 IO electrical characteristics")

# Raspberry Pi Pico data sheet, pinout; the same on the Pico W and the Pico 2 W.
_PICO_POWER = {"3V3": "3V3(OUT), pin 36", "GND": "GND, pin 38", "AGND": "AGND, pin 33", "5V": "VBUS, pin 40"}
_PICO_PINS = {
    0: 1, 1: 2, 2: 4, 3: 5, 4: 6, 5: 7, 6: 9, 7: 10, 8: 11, 9: 12, 10: 14, 11: 15, 12: 16, 13: 17, 14: 19, 15: 20,
    16: 21, 17: 22, 18: 24, 19: 25, 20: 26, 21: 27, 22: 29, 26: 31, 27: 32, 28: 34,
}  # fmt: skip

FACTS: Mapping[str, BoardFacts] = {
    "Raspberry Pi Pico": BoardFacts(_RP2040, 5.0, _PICO_POWER, _PICO_PINS, radio=False),
    "Raspberry Pi Pico W": BoardFacts(_RP2040, 8.0, _PICO_POWER, _PICO_PINS),
    "Raspberry Pi Pico 2": BoardFacts(_RP2350, 6.0, _PICO_POWER, _PICO_PINS, radio=False),
    "Raspberry Pi Pico 2 W": BoardFacts(_RP2350, 8.0, _PICO_POWER, _PICO_PINS),
}
"""By the names of BOARDS in firmware/mat/board.py."""

MULTIPLEXER = SwitchLimits(
    25.0, 150.0, 60.0, "74HC4067 data sheet, limiting values; resistance at 3.3 V and capacitance from memory"
)
"""74HC4067."""

FAULT_ALLOWANCE = 1.25
"""In a fault that is proven away at every power-up, and for the time of one row, a pin may carry this much over its
figure (chosen by us: the data sheet has no figure for it)."""


def facts_of(board: str) -> BoardFacts:
    """What is known of a board by its name.

    Raises
    ------
    BuildError
        Where none are known.
    """
    refuse_esp32(board)
    if board not in FACTS:
        raise BuildError(f"the board {board!r} is not known: no limits of its pins can be named; choose another board")
    return FACTS[board]


def refuse_esp32(board: str) -> None:
    """Raise for a board that has no figures of its own yet."""
    if board.startswith("ESP32"):
        raise BuildError(
            f"the {board} is not supported yet: its converter would take 9 to 20 ms for a scan in MicroPython "
            "(estimated): choose a Raspberry Pi Pico"
        )


def limits_of(board: str) -> Limits:
    """The limits of a board by its name; raises as `facts_of`."""
    return facts_of(board).limits
