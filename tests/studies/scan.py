"""The scan's time by design: the register loop's instructions counted on a simulated RP2040. No chip is measured.

How: mpy-cross compiles firmware/mat/scan_rp2.py for armv6m; the machine code of the frame's one viper function runs on
a Cortex-M0+ in Python (`thumb`), cycle by cycle, against registers that answer as the chip's do (`scan_chip`): READY
comes 2 µs after START_ONCE, the slow bus stalls, the single-cycle port does not. Interrupts and Python's own time
around the function are not in it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from groundtone.build.pins import known_chips
from groundtone.twin.serve import firmware_dir
from studies.mpycode import compile_for, native_functions
from studies.scan_chip import ADC, HEARD, OUT, PLAN, SIO, Chip, Run, call

MHZ = 125
SWEEP = 0
ROWS, COLUMNS = 16, 8
SETTLE_US = 3
ASKED_MS = 1.3
ASKED_FREE = 0.5
RATE_HZ = 200

# The portable loop on an RP2040 at 125 MHz: one machine.ADC reading takes 10.2 µs there (measured for this project on
# an emulated RP2040, MicroPython 1.28); a Pin.value or sleep_us call about as long as a reading less its conversion,
# 2 µs (assumed). Per cell: settle, 1.6 address pins on average, sleep_us, one reading; per row two pins and a strike.
PLAIN_READ_US = 10.2
PLAIN_CALL_US = 8.2
PLAIN_TURN_US = 3.1  # an empty turn of a bytecode loop, same measurement
PLAIN_PINS = 2.0  # address pins changed from one column to the next: 1.75 on average, and the calls around them

# What follows a scan, on the same emulated chip: a viper table CRC of a frame 121 µs; the same number of turns for
# packing and COBS (assumed alike); half a millisecond of bytecode around them (assumed).
AFTER_US = 121 * 3 + 500


def make_plan(rows: int, columns: int, readings: int, bits: int, stride: int, wait: int) -> list[int]:
    """The firmware's plan for a Pico, written out independently of firmware/mat/scan_rp2.py.

    Parameters
    ----------
    rows, columns, readings, bits : int
        Of the frame.
    stride : int
        Words between GPIO registers: 1 on the RP2040, 2 on the RP2350.
    wait : int
        Turns of the settle loop.
    """
    plan = [0] * 52
    start = 1 | 1 << 2
    plan[14] = wait
    plan[:13] = [
        rows, columns, stride, start, start | 1 << 12, readings, bits - 12, readings.bit_length() - 1, wait, 10000,
        0xF << 16, (1 << rows) - 1, 1 << 22,
    ]  # fmt: skip
    for c in range(columns):
        plan[16 + c] = (c ^ (c + 1) if c + 1 < columns else c) << 16
    plan[24:28] = [(8 ^ 10) << 16, 10 << 16, (9 ^ 10) << 16, 10 << 16]
    for r in range(rows):
        plan[32 + r] = 1 << r
    plan[32 + rows] = 1 | 8 << 16
    plan[33 + rows] = 2 | 1 << 22 | 9 << 16
    return plan


def design(readings: int, settle_us: float, code: bytes | None = None) -> tuple[Run, Chip]:
    """One frame of 128 cells, counted.

    Parameters
    ----------
    readings : int
        Of each cell: 1, 2, 4 or 8.
    settle_us : float
    code : bytes, optional
        Machine code of the frame's function; compiled from the firmware where it is not given.
    """
    if code is None:
        code = native_functions(compile_for("armv6m", _source()))[SWEEP].code
    chip = Chip(lambda high, enabled, adc: 100, round(2 * MHZ))
    plan = make_plan(ROWS, COLUMNS, readings, 12 if readings == 1 else 14, 1, settle_turns(settle_us))
    arguments = [ADC, SIO, PLAN, OUT, HEARD, 0]
    run = call(code, chip, arguments, plan, [0, 205, 102, 0, 0] + [0] * 8, ROWS * COLUMNS + 2)
    return run, chip


def settle_turns(settle_us: float) -> int:
    """Turns of the settle loop for a time, with the firmware's own constants."""
    fixed, turn = _constants()
    return max(0, -(-(round((settle_us - 2.0) * MHZ) - fixed) // turn))


def shortest_settle_us(chip: Chip) -> float:
    """Least time between a change of rows or address and the cell's reading that follows it, µs."""
    moved = [t for t, name in chip.writes if name in ("set", "toggle", "enable")]
    cells = [t for t, word in chip.conversions if word >> 12 & 15 == 0]
    return min(t - max(m for m in moved if m < t) for t in cells) / MHZ


def plain_us(settle_us: float) -> float:
    """A frame of the portable loop, µs: a count of its calls with the times measured and assumed above."""
    cell = PLAIN_PINS * PLAIN_CALL_US + PLAIN_CALL_US + settle_us + PLAIN_READ_US + PLAIN_TURN_US
    return ROWS * COLUMNS * cell + ROWS * (2 * PLAIN_CALL_US + PLAIN_READ_US)


def study_scan(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` is the two that are asked for."""
    code = native_functions(compile_for("armv6m", _source()))[SWEEP].code
    once, chip = design(1, SETTLE_US, code)
    twice, _ = design(2, SETTLE_US, code)
    frame_ms = once.cycles / MHZ / 1000
    twice_us = twice.cycles / MHZ
    free = 1 - (twice_us + AFTER_US) * RATE_HZ / 1e6
    free_scan = 1 - twice_us * RATE_HZ / 1e6
    return {
        "what this is": "a design figure: emitted armv6m instructions counted on a simulated RP2040, not on a chip",
        "processor MHz": MHZ,
        "frame": f"{ROWS} x {COLUMNS} cells, strike sensor read before each, 2 references, settle {SETTLE_US} us",
        "bytes of machine code": len(code),
        "instructions a frame": sum(once.visits.values()),
        "cycles a frame": once.cycles,
        "frame ms, 1 reading": round(frame_ms, 3),
        "frame ms, 2 readings": round(twice_us / 1000, 3),
        "shortest settle us": round(shortest_settle_us(chip), 2),
        "frame ms, portable loop (reckoned)": round(plain_us(SETTLE_US) / 1000, 2),
        f"time the scan leaves at {RATE_HZ} Hz, 2 readings": round(free_scan, 3),
        f"time left at {RATE_HZ} Hz after packing, CRC and COBS (partly assumed)": round(free, 3),
        "ok": frame_ms <= ASKED_MS and free_scan >= ASKED_FREE and shortest_settle_us(chip) >= SETTLE_US,
    }


def _source() -> Path:
    return firmware_dir() / "mat" / "scan_rp2.py"


def _constants() -> tuple[int, int]:
    fixed, turn = known_chips()["RP2040"]["cycles"]
    return int(fixed), int(turn)
