"""Where the time of a scan goes, what the links and the power bank make of it.

Formulas
--------
- A cell: address and store, settling, one conversion, and (oversample − 1) further conversions. A frame: rows · columns
  cells, two reference readings, a level change and a strike reading for each row, then the message.
- Conversion 2.000 µs: 96 cycles of the RP2040's 48 MHz ADC clock (RP2040 data sheet, ADC chapter). The other times are
  inputs of the description, from the firmware's bench (`make study NAME=scan`).
- Settling: groundtone.build.protection. The mat waits `settle_us` before every cell, and before the first one of a row
  as long as the columns take, which it measures (`row_settle_us`, 0: so).
- Bluetooth: with p packets in an interval T at most p / T frames a second get through (one frame is one notification of
  at most 244 bytes); the air is busy for rate · air time. USB: full speed, 12 Mbit/s, of which bulk transfers get at
  most 19 packets of 64 bytes a millisecond, 1.216 MB/s (USB 2.0, table 5-9, from memory).
- A power bank of C mAh at its cell's voltage gives C · V / 5 V · η at 5 V. A resistor R across 5 V that keeps it from
  switching off draws 5 V / R more, and so shortens its life.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groundtone.build.board_limits import limits_of
from groundtone.build.mat_file import Mat, Power
from groundtone.build.protection import Settling, settling
from groundtone.wire.messages import MAX_MESSAGE
from groundtone.wire.packing import frame_bytes

USB_BYTES_S = 19 * 64 * 1000
_SERIAL_EXTRA = 3  # COBS and the zero that ends a message; one byte in 254 and the two around it


@dataclass(frozen=True)
class Awake:
    """A resistor across 5 V, as it is bought, Ω; what it takes, W; and the hours that a power bank then lasts."""

    ohm: float
    watt: float
    hours: float


@dataclass(frozen=True)
class ScanBudget:
    """What `budget` found. Times in µs, rates in Hz, currents in mA.

    Attributes
    ----------
    parts : tuple of (str, float)
        Where the time of one scan goes.
    share : float
        Part of the period that scanning takes at the wanted rate.
    top_hz : float
        The fastest rate at which scanning and message still fit.
    half_hz : float
        The fastest at which half of the time is left for the link.
    usb_part, radio_part : float
        Part of each link that is in use at the wanted rate; above 1 frames are skipped.
    radio_hz : float
        Frames a second that Bluetooth can take.
    settling : Settling
        By the capacitance of film, line and multiplexer.
    usb_h, radio_h : float
        Hours from a power bank that stays on by itself, with the radio off and on.
    awake : tuple of (Awake or None)
        What keeps another one from switching off, with the radio off and on; None where nothing is needed.
    wrong : list of str
        Sentences: what does not fit.
    """

    parts: tuple[tuple[str, float], ...]
    scan_us: float
    message_us: float
    share: float
    top_hz: float
    half_hz: float
    frame_bytes: int
    usb_part: float
    radio_part: float
    radio_hz: float
    settling: Settling
    usb_h: float
    radio_h: float
    awake: tuple[Awake | None, Awake | None]
    wrong: list[str]


def budget(mat: Mat) -> ScanBudget:
    """The time of one scan and its consequences."""
    scan, layout, power, radio = mat.scan, mat.layout, mat.power, mat.radio
    values = layout.cells + 2
    settles = settling(mat, limits_of(mat.board).adc_bits)
    parts = (
        ("settling", values * scan.settle_us),
        ("columns after a row", (layout.rows + 1) * (settles.row_wait_us - scan.settle_us)),
        ("first conversions", values * scan.conversion_us),
        ("further conversions", values * (scan.oversample - 1) * (scan.conversion_us + scan.again_us)),
        ("addresses, stores, loop", values * scan.read_us),
        ("rows' levels", (layout.rows + 2) * scan.row_us),
        ("strike readings", layout.cells * scan.strike_us if scan.strike_us else 0.0),
    )
    scan_us = sum(us for _, us in parts)
    period_us = 1e6 / scan.rate_hz
    length = frame_bytes(layout.cells, scan.bits)
    radio_hz = radio.packets / (radio.interval_ms * 1e-3)
    wrong = []
    if length > MAX_MESSAGE:
        wrong.append(f"a frame of {length} bytes does not fit one notification of {MAX_MESSAGE}: scan with 12 bits")
    if scan_us + scan.message_us > period_us:
        wrong.append(
            f"a scan and its message take {scan_us + scan.message_us:.0f} µs and the period has {period_us:.0f}: "
            "lower the rate, the oversampling or the settle time"
        )
    if settles.row_us > settles.row_wait_us + 1e-9:
        wrong.append(
            f"by the film's capacitance the columns want {settles.row_us:.1f} µs after a row and have "
            f"{settles.row_wait_us:g}: scan.row_settle_us = 0, which is what the mat measures, or "
            f"{math.ceil(settles.row_us)}"
        )
    if settles.cell_us > scan.settle_us:
        wrong.append(
            f"a column wants {settles.cell_us:.1f} µs after the multiplexer and has {scan.settle_us:g}: "
            f"scan.settle_us = {math.ceil(settles.cell_us)}"
        )
    return ScanBudget(
        parts,
        scan_us,
        scan.message_us,
        scan_us / period_us,
        1e6 / (scan_us + scan.message_us),
        0.5e6 / scan_us,
        length,
        scan.rate_hz * (length + _SERIAL_EXTRA) / USB_BYTES_S,
        max(scan.rate_hz / radio_hz, scan.rate_hz * radio.air_ms * 1e-3),
        radio_hz,
        settles,
        bank_hours(power, power.usb_ma),
        bank_hours(power, power.radio_ma),
        (_awake(power, power.usb_ma), _awake(power, power.radio_ma)),
        wrong,
    )


def bank_hours(power: Power, drawn_ma: float) -> float:
    """How long the description's power bank gives a current at 5 V, h."""
    return power.bank_mah * power.bank_v / 5.0 * power.bank_efficiency / drawn_ma


def _awake(power: Power, usual_ma: float) -> Awake | None:
    """What lifts the mat's current over what the power bank waits for, with a tenth to spare; a value that is sold."""
    missing = 1.1 * power.bank_stays_on_ma - usual_ma
    if missing <= 0:
        return None
    ohm = 5.0 / (missing * 1e-3) // 10 * 10
    return Awake(ohm, 25.0 / ohm, bank_hours(power, usual_ma + 5e3 / ohm))
