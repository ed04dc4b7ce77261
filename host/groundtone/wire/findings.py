"""What a mat's self-test and its restarts mean, a sentence each: what is wrong and what to do, or a figure in words."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

from groundtone.wire.messages import Finding


class Code(IntEnum):
    """Codes of the self-test (firmware/WIRE.md). Below `FIRST_FIGURE` they are faults."""

    NO_MULTIPLEXER = 0
    ROWS_JOINED = 1
    ROW_LOW = 2
    ZERO = 3
    SUPPLY = 4
    COLUMN_HIGH = 5
    DRIVER = 6
    SIDEWAYS = 7
    NO_PULL_DOWN = 8
    COLUMN_LOW = 9
    ROW_HIGH = 10
    SETTLE = 11
    ADDRESS_SWAPPED = 12
    ADDRESS_STUCK = 13
    NOISE = 14
    COLUMN_DIFFERS = 15
    SCAN_TIME = 16
    FREE_MEMORY = 17
    LATE_BIN = 18
    LATE_WORST = 19
    COLUMN_OHM = 20
    NOISE_FIGURE = 21
    DRIVER_OHM = 22
    ROW_ON_COLUMN = 23
    MISSED = 24
    COLUMNS_SETTLE = 25


FIRST_FIGURE = 16
LATE_BOUNDS_US = (10, 20, 50, 100, 200, 500, 1000)
"""Upper bounds of the bins of code 18; the last bin has none."""

MANY_JOINED = 3
"""More pairs of joined rows than this are told in one sentence."""


class Restart(IntEnum):
    """Why a mat started (hello)."""

    POWER = 0
    WATCHDOG = 1
    OTHER = 2
    BROWN_OUT = 3
    STACK = 4
    PROGRAM = 5


def is_fault(finding: Finding) -> bool:
    """True where something is wrong; False for a figure.

    Codes that this program does not know are faults or figures by their number alone.
    """
    return finding.code < FIRST_FIGURE


# What is said of a finding by its numbers: `a` and `b`, the value as it is, as a part of the ADC's range (`share`), in
# ohms, in steps of 4096 (`steps`), and what `a` names for some codes.
_WORDS: dict[int, str] = {
    Code.NO_MULTIPLEXER: "No multiplexer answers: check its supply, its EN wire to 0 V "
    "and the wire from its output to the ADC's pin.",
    Code.ROWS_JOINED: "Rows {a} and {b} are joined: look for touching strips, solder, torn film or water between them.",
    Code.ROW_LOW: "Row {a} is held low: step off, let the mat dry, then look for a short to a column or to 0 V.",
    Code.ROW_HIGH: "Row {a} is held high: look for a short between its line and the 3.3 V supply.",
    Code.ZERO: "The multiplexer's input 8 reads {share} instead of 0 V: tie it to ground.",
    Code.SUPPLY: "The supply's divider reads {share}, not about half: "
    "check its two equal resistors at input 9 and the ADC's reference.",
    Code.COLUMN_HIGH: "Column {a} reads {share} on an empty mat: "
    "take the load off, or find its pressed or shorted cell.",
    Code.DRIVER: "Row 0's driver does not measure as it should when {level} (its tap reads {share}): "
    "check the resistor in row 0 and the 1 kΩ one to REF.",
    Code.SIDEWAYS: "The {panel} panel's columns conduct sideways (about {ohms_100} between neighbours): "
    "cut the film into one strip a column; this mat is not fit for use until then.",
    Code.NO_PULL_DOWN: "Column {a} has no pull-down resistor: solder it between the column's line and 0 V, "
    "or mend its joint.",
    Code.COLUMN_LOW: "Column {a} is shorted to 0 V ({ohms}): look for solder or a strip that touches ground.",
    Code.SETTLE: "The settle time is too short for {switched}: set settle_us to {value}.",
    Code.ADDRESS_SWAPPED: "The multiplexer's address lines S{a} and S{b} are swapped: exchange these two wires.",
    Code.ADDRESS_STUCK: "The multiplexer's address line S{a} is always {stuck}: its wire is open or touches another.",
    Code.NOISE: "The ADC's readings are noisy ({steps} steps of 4096, rms): "
    "use another supply or cable, and keep the wire to the ADC short.",
    Code.COLUMN_DIFFERS: "Column {a}'s resistor measures {ohms}, unlike the others': check its value and joints.",
    Code.SCAN_TIME: "One scan takes {ms} ms.",
    Code.FREE_MEMORY: "{kib} KiB of memory are free.",
    Code.LATE_BIN: "In the last run {value} scans started {late}.",
    Code.LATE_WORST: "The latest scan of the last run started {value} µs after its due time.",
    Code.MISSED: "In the last run {value} scans did not happen, the mat was busy: lower the rate or the oversampling.",
    Code.COLUMN_OHM: "Column {a}'s resistor to 0 V measures {ohms}.",
    Code.NOISE_FIGURE: "The ADC's noise is {steps} steps of 4096, rms.",
    Code.DRIVER_OHM: "Row 0's driver and its series resistor measure {ohms} together when {level}.",
    Code.COLUMNS_SETTLE: "The columns are at their level {value} µs after a row has moved.",
    Code.ROW_ON_COLUMN: "Row {a}, which is held low, touches column {b}.",
}
# Readings that have not settled by then never do, µs.
_NEVER_US = 200


def sentence(finding: Finding, bits: int = 14) -> str:
    """A finding in words.

    Parameters
    ----------
    bits : int
        Bits a cell, from the mat's hello: the scale of readings.

    Returns
    -------
    str
        One sentence. For a fault: what is wrong and what to do.
    """
    code, a, b, value = finding.code, finding.a, finding.b, finding.value
    if code not in _WORDS:
        kind = "fault" if is_fault(finding) else "figure"
        numbers = f"{code} ({a}, {b}, {value})"
        return f"The mat reports {kind} {numbers}, which this program does not know: bring it up to date."
    switched = "the multiplexer" if a == 0 else "a row"
    if code == Code.SETTLE and a == 2 and value <= _NEVER_US:
        return f"Set row_settle_us to {value}, or to 0 for what the mat measures: its columns take so long after a row."
    if code == Code.SETTLE and value > _NEVER_US:
        return (
            f"Readings after {switched} has switched do not settle within {_NEVER_US} µs: look for a bad joint there."
        )
    return _WORDS[code].format(
        a=a, b=b, value=value, switched=switched, level="high" if a == 0 else "low", stuck="high" if b else "low",
        share=f"{100 * value / (1 << bits):.0f} % of the ADC's range", ohms=_ohms(value), ohms_100=_ohms(100 * value),
        steps=f"{value / 16:.1f}", ms=f"{value / 1000:.2f}", kib=value * 16 // 1024, late=_late(a), panel=_panel(a),
    )  # fmt: skip


def faults(findings: Sequence[Finding], bits: int = 14) -> list[str]:
    """The sentences of all faults among the findings of a self-test, in the mat's order.

    Many pairs of joined rows have one cause and become one sentence.
    """
    wrong = [finding for finding in findings if is_fault(finding)]
    joined = [finding for finding in wrong if finding.code == Code.ROWS_JOINED]
    if len(joined) <= MANY_JOINED:
        return [sentence(finding, bits) for finding in wrong]
    rows = sorted({row for finding in joined for row in (finding.a, finding.b)})
    names = f"{', '.join(map(str, rows[:-1]))} and {rows[-1]}"
    together = f"Rows {names} are joined among each other: dry the mat, then look for torn film or a bridge of solder."
    return [together, *(sentence(finding, bits) for finding in wrong if finding.code != Code.ROWS_JOINED)]


def restart_sentence(restart: int) -> str | None:
    """Why a mat started, where somebody should know; None after an ordinary power-up.

    The RP2040 cannot tell a brown-out from power, so `POWER` may hide one there.
    """
    match restart:
        case Restart.POWER:
            return None
        case Restart.WATCHDOG:
            return "the mat started again because its program stood still: if it happens again, run the self-test"
        case Restart.BROWN_OUT:
            return "the mat started again because its supply sagged: use another cable, port or power bank"
        case Restart.STACK:
            return "the mat started again because its program ran out of stack: bring its firmware up to date"
        case Restart.PROGRAM:
            return "the mat started again after a fault in its program: bring its firmware up to date"
    return "the mat was reset by something else than power"


def _panel(a: int) -> str:
    return ("left", "right")[a] if a < 2 else f"{a + 1}th"


def _ohms(value: int) -> str:
    if value >= 65535:
        return "65 kΩ or more"
    return f"{value / 1000:.3g} kΩ" if value >= 1000 else f"{value} Ω"


def _late(index: int) -> str:
    if index == 0:
        return f"less than {LATE_BOUNDS_US[0]} µs late"
    if index >= len(LATE_BOUNDS_US):
        return f"{LATE_BOUNDS_US[-1]} µs late or more"
    return f"{LATE_BOUNDS_US[index - 1]} to {LATE_BOUNDS_US[index]} µs late"
