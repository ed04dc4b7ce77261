"""The frame path where small integers have 31 bits: no big values, no allocating CRC, no arithmetic on the counter."""

import ast
from pathlib import Path

import frame_path
import pytest

FIRMWARE = Path(__file__).parents[2] / "firmware"
FILES = sorted(FIRMWARE.rglob("*.py"))
OFF_THE_PATH = {"guard.py"}  # runs at the start and at the end: register addresses


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_nothing_of_it_stands_in(path):
    tree = ast.parse(path.read_text())
    if path.name not in OFF_THE_PATH:
        assert frame_path.big_values(tree) == []
    assert frame_path.unsafe_ticks(tree) == []
    assert frame_path.calls(tree, {"crc32", "binascii", "ubinascii"}) == []


BAD = """
import time
from binascii import crc32
class A:
    def f(self):
        self.t = time.ticks_us()
        x = 1 << 30
        y = -0x40000000 - 1
        z = 1 << 29
        return x + y + z
    def g(self):
        a = time.ticks_us()
        if a - self.t > 5:
            return a + 3
        if a < self.t:
            a += 4
        return time.ticks_diff(a, self.t) - 5, a == 3
    @micropython.viper
    def h(self):
        return 1 << 31
"""


def test_the_check_finds_what_it_looks_for():
    tree = ast.parse(BAD)
    assert frame_path.big_values(tree) == [7, 8, 8, 8]
    assert sorted(frame_path.unsafe_ticks(tree)) == [13, 14, 15, 16]
    assert frame_path.calls(tree, {"crc32", "binascii"}) == [3]


# Plain memory plays the ADC: the word that starts a conversion carries READY itself, so each is over at once.
LOOP = """
import gc, time
from array import array
from mat import board, clock, cobs, rows, scanner_rp2, strike, tally, wire

here = board.here()
sensor = strike.Strike(here)
scan = scanner_rp2.Scan(here, rows.Rows(here.rows, here.ref), 8, 2, 3, 14, sensor, clock.Clock())
adc, sio = array("I", [0, 0]), array("I", [0] * 16)
timer = array("I", [1000])  # stands still: the waits end by their number of readings
scan.adc_registers, scan.registers, scan.timer, scan.edges = adc, sio, timer, bytearray(16384)
sensor.adc_registers = adc
scan.plan[3] |= 256
scan.plan[4] |= 256
scanner_rp2.ENOUGH = 100
values = array("H", bytes(2 * scan.size))
frame = wire.Frame(128, 14)
line = bytearray(len(frame.message) + 2)
numbers = tally.numbers()
numbers[tally.WINDOW] = 2
tally.clear(numbers, 5000)

def one(seq):
    timer[0] = time.ticks_us() & 0x3FFFFFFF
    numbers[tally.DUE] = timer[0] + 1000
    sensor._edge(None)
    adc[1] = 3000 if seq & 1 else 0
    start = scan.frame(numbers, values, True)
    numbers[tally.DUE] = start - (seq & 511)
    tally.started(numbers, time.ticks_diff(start, numbers[tally.DUE]))
    if not seq & 63:  # a ring that is over: two crossings, a fifth of a millisecond apart
        strike.mark(sensor._codes, start - 2500 & 0x3FFFFFFF)
        strike.mark(sensor._codes, start - 2300 & 0x3FFFFFFF)
        sensor._peak = 4000
    struck = scan.hear(start)
    if tally.head(numbers, frame.message, scan.t, values, 128, 0, sensor.peak, sensor.offset_us):
        frame.fill(values)
        cobs.encode(frame.message, len(frame.message), line)
    tally.acknowledged(numbers, numbers[tally.SEQ] - 1 & 0xFFFF, 0)
    return struck

def run(n):
    found = 0
    before = gc.mem_alloc()
    while n:
        if one(n & 0xFFFF):
            found += 1
        n -= 1
    return gc.mem_alloc() - before, found

run(100)
gc.collect()
gc.disable()
grown, found = run(10000)
print(grown, found > 0, sum(numbers[tally.LATE : tally.LATE + 8]), numbers[tally.WORST], numbers[tally.SENT])
"""
MACHINE = """
PWRON_RESET = 1
def freq():
    return 125000000
class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    IRQ_FALLING = 4
    def __init__(self, *args, **kw):
        pass
    def irq(self, handler, trigger, hard=False):
        pass
class ADC:
    def __init__(self, pin):
        pass
    def read_u16(self):
        return 48
mem32 = {0x4001C004 + 4 * gpio: 0x56 for gpio in range(30)}
"""


def test_ten_thousand_frames_of_the_register_loop_allocate_nothing(mpy):
    assert mpy(LOOP, {"machine": MACHINE}).split() == ["0", "True", "10100", "511", "10100"]
