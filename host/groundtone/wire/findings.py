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


def sentence(finding: Finding, bits: int = 14) -> str:
    """A finding in words.

    Parameters
    ----------
    finding : Finding
    bits : int
        Bits a cell, from the mat's hello: the scale of readings.

    Returns
    -------
    str
        One sentence. For a fault: what is wrong and what to do.
    """
    a, b, value = finding.a, finding.b, finding.value
    share = f"{100 * value / (1 << bits):.0f} % of the ADC's range"
    match finding.code:
        case Code.NO_MULTIPLEXER:
            return (
                "No multiplexer answers: check its supply, its EN wire to 0 V "
                "and the wire from its output to the ADC's pin."
            )
        case Code.ROWS_JOINED:
            return f"Rows {a} and {b} are joined: look for touching strips, solder, torn film or water between them."
        case Code.ROW_LOW:
            return f"Row {a} is held low: step off, let the mat dry, then look for a short to a column or to 0 V."
        case Code.ROW_HIGH:
            return f"Row {a} is held high: look for a short between its line and the 3.3 V supply."
        case Code.ZERO:
            return f"The multiplexer's input 8 reads {share} instead of 0 V: tie it to ground."
        case Code.SUPPLY:
            return (
                f"The supply's divider reads {share}, not about half: "
                "check its two equal resistors at input 9 and the ADC's reference."
            )
        case Code.COLUMN_HIGH:
            return f"Column {a} reads {share} on an empty mat: take the load off, or find its pressed or shorted cell."
        case Code.DRIVER:
            which = "high" if a == 0 else "low"
            return (
                f"Row 0's driver does not measure as it should when {which} (its tap reads {share}): "
                "check the 100 Ω resistor of row 0 and the 1 kΩ one to REF."
            )
        case Code.SIDEWAYS:
            return (
                f"The {_panel(a)} panel's columns conduct sideways (about {_ohms(100 * value)} between neighbours): "
                "cut the film into one strip a column; this mat is not fit for use until then."
            )
        case Code.NO_PULL_DOWN:
            return (
                f"Column {a} has no pull-down resistor: solder it between the column's line and 0 V, or mend its joint."
            )
        case Code.COLUMN_LOW:
            return f"Column {a} is shorted to 0 V ({_ohms(value)}): look for solder or a strip that touches ground."
        case Code.SETTLE:
            what = "the multiplexer" if a == 0 else "a row"
            if value > 200:
                return f"Readings after {what} has switched do not settle within 200 µs: look for a bad joint there."
            return f"The settle time is too short for {what}: set settle_us to {value}."
        case Code.ADDRESS_SWAPPED:
            return f"The multiplexer's address lines S{a} and S{b} are swapped: exchange these two wires."
        case Code.ADDRESS_STUCK:
            level = "high" if b else "low"
            return f"The multiplexer's address line S{a} is always {level}: its wire is open or touches another."
        case Code.NOISE:
            return (
                f"The ADC's readings are noisy ({value / 16:.1f} steps of 4096, rms): "
                "use another supply or cable, and keep the wire to the ADC short."
            )
        case Code.COLUMN_DIFFERS:
            return f"Column {a}'s resistor measures {_ohms(value)}, unlike the others': check its value and joints."
        case Code.SCAN_TIME:
            return f"One scan takes {value / 1000:.2f} ms."
        case Code.FREE_MEMORY:
            return f"{value * 16 // 1024} KiB of memory are free."
        case Code.LATE_BIN:
            return f"In the last run {value} scans started {_late(a)}."
        case Code.LATE_WORST:
            return f"The latest scan of the last run started {value} µs after its due time."
        case Code.MISSED:
            return (
                f"In the last run {value} scans did not happen, the mat was busy: lower the rate or the oversampling."
            )
        case Code.COLUMN_OHM:
            return f"Column {a}'s resistor to 0 V measures {_ohms(value)}."
        case Code.NOISE_FIGURE:
            return f"The ADC's noise is {value / 16:.1f} steps of 4096, rms."
        case Code.DRIVER_OHM:
            which = "high" if a == 0 else "low"
            return f"Row 0's driver and its series resistor measure {_ohms(value)} together when {which}."
        case Code.ROW_ON_COLUMN:
            return f"Row {a}, which is held low, touches column {b}."
    kind = "fault" if is_fault(finding) else "figure"
    numbers = f"{finding.code} ({a}, {b}, {value})"
    return f"The mat reports {kind} {numbers}, which this program does not know: bring it up to date."


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
