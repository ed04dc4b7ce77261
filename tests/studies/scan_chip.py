"""An RP2040 for one function: registers of GPIO and ADC that behave in time, and the mat's readings behind them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from studies.thumb import Core

ADC, SIO, PLAN, OUT, HEARD, STACK = 0x4004C000, 0xD0000014, 0x20000000, 0x20001000, 0x20002000, 0x20010000
CONTEXT, CALLS = 0x20003000, 0xF0000000
RETURN = 0x0EFFFFFE
READY, START_ONCE = 1 << 8, 1 << 2

# An access to the ADC goes over the bridge to the slow bus: its stall beyond an ordinary access, cycles (RP2040 data
# sheet, section Bus Fabric: APB accesses take at least two bus cycles; two more for the crossbar and the bridge, from
# memory).
APB_STALL = 3
SIO_GAIN = -1  # the single-cycle port


@dataclass
class Chip:
    """Pins and ADC.

    Attributes
    ----------
    reading : callable
        (pins high, pins that are outputs, ADC input) to a 12-bit code, asked at each start of a conversion.
    conversion_cycles : int
        From the start until READY, in the processor's cycles. 2 µs at 125 MHz are 250.
    """

    reading: Callable[[int, int, int], int]
    conversion_cycles: int = 250
    stride: int = 1
    high: int = 0
    enabled: int = 0
    log: list[tuple[str, int]] = field(default_factory=list)
    conversions: list[tuple[int, int]] = field(default_factory=list)  # (cycle, CS word)
    writes: list[tuple[int, str]] = field(default_factory=list)  # (cycle, register)
    _ready_at: int = 0
    _result: int = 0

    def write(self, now: int, index: int, value: int) -> None:
        """A word to a GPIO register; index counts words from GPIO_OUT_SET."""
        name = {0: "set", 1: "clear", 2: "toggle", 4: "enable", 5: "disable"}[index // self.stride]
        self.log.append((name, value))
        self.writes.append((now, name))
        if name == "set":
            self.high |= value
        elif name == "clear":
            self.high &= ~value
        elif name == "toggle":
            self.high ^= value
        elif name == "enable":
            self.enabled |= value
        else:
            self.enabled &= ~value

    def start(self, now: int, word: int) -> None:
        """A word to the ADC's CS."""
        if word & START_ONCE:
            self.log.append(("convert", word >> 12 & 15))
            self.conversions.append((now, word))
            self._result = self.reading(self.high, self.enabled, word >> 12 & 15)
            self._ready_at = now + self.conversion_cycles

    def status(self, now: int) -> int:
        """CS as it reads."""
        return 1 | (READY if now >= self._ready_at else 0)

    def result(self) -> int:
        """RESULT as it reads."""
        return self._result


@dataclass
class Run:
    """What one call did: its cycles, return value, and the arrays afterwards."""

    cycles: int
    value: int
    plan: list[int]
    out: list[int]
    heard: list[int]
    visits: dict[int, int]


def call(
    code: bytes, chip: Chip, arguments: Sequence[int], plan: Sequence[int], heard: Sequence[int], size: int
) -> Run:
    """Run a function's armv6m code on the chip.

    Parameters
    ----------
    code : bytes
    chip : Chip
    arguments : sequence of int
        As the function takes them; ADC, SIO, PLAN, OUT and HEARD are its memories.
    plan, heard : sequence of int
        Contents of these arrays.
    size : int
        Number of values in OUT.
    """
    memory: dict[int, int] = {}  # by byte address of aligned words
    for base, words in ((PLAN, plan), (HEARD, heard), (0x20004000, list(arguments))):
        for i, word in enumerate(words):
            memory[base + 4 * i] = word & 0xFFFFFFFF
    half: dict[int, int] = {}

    def load(address: int, size_: int) -> tuple[int, int]:
        if ADC <= address < ADC + 8:
            return (chip.status(core.cycles) if address == ADC else chip.result()), APB_STALL
        if address & ~3 >= 0x30000000:
            return 0, SIO_GAIN
        word = memory.get(address & ~3, 0)
        return word >> 8 * (address & 3) & ((1 << 8 * size_) - 1), 0

    def store(address: int, size_: int, value: int) -> int:
        if address == ADC:
            chip.start(core.cycles, value)
            return APB_STALL
        if address >= SIO:
            chip.write(core.cycles, (address - SIO) // 4, value)
            return SIO_GAIN
        if OUT <= address < OUT + 2 * size:
            half[(address - OUT) // 2] = value
            return 0
        shift = 8 * (address & 3)
        mask = ((1 << 8 * size_) - 1) << shift
        memory[address & ~3] = memory.get(address & ~3, 0) & ~mask | value << shift
        return 0

    def outside(address: int, registers: list[int]) -> int:
        # Arguments and the result are numbers and addresses here already: converting them changes nothing.
        return registers[0]

    core = Core(code, load, store, outside)
    core.r[0], core.r[1], core.r[2], core.r[3] = CONTEXT, len(arguments), 0, 0x20004000
    core.r[13], core.r[14] = STACK, RETURN | 1
    _link_context(memory)
    core.run(RETURN)
    return Run(
        cycles=core.cycles,
        value=core.r[0] - (1 << 32) if core.r[0] >> 31 else core.r[0],
        plan=[memory.get(PLAN + 4 * i, 0) for i in range(len(plan))],
        out=[half.get(i, -1) for i in range(size)],
        heard=[memory.get(HEARD + 4 * i, 0) for i in range(len(heard))],
        visits=core.visits,
    )


def _link_context(memory: dict[int, int]) -> None:
    """What a native function's first instructions walk through to reach MicroPython's table of functions.

    r0 is the function object; at +4 its module's context; in that at +12 the constants, one of which is the table.
    """
    context, constants, table = CONTEXT + 0x100, CONTEXT + 0x200, CONTEXT + 0x300
    memory[CONTEXT + 4] = context
    memory[context + 12] = constants
    for i in range(16):
        memory[constants + 4 * i] = table
    for i in range(64):
        memory[table + 4 * i] = CALLS + 4 * i
