"""What the board's chip and the multiplexer bear, each value with its source.

Sources
-------
RP2040 data sheet, section 5.2.3 "Pin specifications" (digital IO and ADC characteristics): maximum total IOVDD
current 50 mA (sum of all current being sourced by GPIO and QSPI pins), maximum total VSS current due to IO 50 mA;
output high at 3.3 V at least 2.62 V and output low at most 0.50 V at 2, 4, 8 or 12 mA by the drive setting; pull-ups
50 to 80 kΩ; ADC 12 bits resolved, 9 effective bits (simulated). A pin's settings "are not hard limits": 12 mA is the
largest current at which its levels are promised, and there is no other figure for one pin.

RP2350: the same pin figures and 100 mA over all pins (from memory); 50 mA is used here, the smaller. ESP32-S3: 40 mA
source and 28 mA sink of a pin at the strongest setting (ESP32 series data sheets, DC characteristics, found for the
ESP32; for the S3 from memory), total from memory.

74HC4067 data sheet, limiting values: switch current ±25 mA, supply or ground current ±50 mA, 100 mW a switch;
on-resistance 80 Ω typical at 4.5 V, 70 Ω at 6 V (at 3.3 V about 150 Ω, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

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
    adc_bits, effective_bits : float
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
    """The multiplexer: current through one switch, mA, and its typical resistance at 3.3 V, Ω."""

    switch_ma: float
    on_ohm: float
    source: str


_RP2040 = Limits(12.0, 50.0, 50.0, 12, 9.0, 80e3, "RP2040 data sheet, 5.2.3 pin specifications")
_RP2350 = Limits(12.0, 50.0, 50.0, 12, 9.2, 80e3, "as RP2040; RP2350 from memory")
_ESP32S3 = Limits(28.0, 1200.0, 1200.0, 12, 8.0, 45e3, "ESP32 series data sheets, DC characteristics; S3 from memory")

MULTIPLEXER = SwitchLimits(25.0, 150.0, "74HC4067 data sheet, limiting values; resistance at 3.3 V from memory")
"""74HC4067."""

FAULT_ALLOWANCE = 1.25
"""In a fault that is proven away at every power-up, and for the time of one row, a pin may carry this much over its
figure (chosen by us: the data sheet has no figure for it)."""


def limits_of(board: str) -> Limits:
    """The limits of a board by its name.

    Raises
    ------
    BuildError
        Where none are known.
    """
    for part, limits in (("Pico 2", _RP2350), ("Pico", _RP2040), ("ESP32-S3", _ESP32S3), ("ESP32S3", _ESP32S3)):
        if part in board:
            return limits
    raise BuildError(f"the board {board!r} is not known: no limits of its pins can be named; choose another board")
