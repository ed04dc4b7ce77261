"""The 32-bit device time against plain arithmetic, over the wraps at 2**30 and 2**32."""

import random
import struct

import pytest

TIME = """
raw = 0
def ticks_us():
    return raw & {mask}
def ticks_diff(a, b):
    return ((a - b + {half}) & {mask}) - {half}
"""

CODE = """
import gc, time
from mat import clock
time.raw = {start}
c = clock.Clock()
out = bytearray(6)
gc.collect(); gc.disable()
for step in {steps}:
    time.raw += step
    raw = c.now()
    c.stamp(out, 1)
    print(raw, "".join("%02x" % b for b in out))
"""


@pytest.mark.parametrize("bits", [30, 62])
@pytest.mark.parametrize("start", [0, 5, (1 << 30) - 700_000])
def test_time_goes_on_over_both_wraps(mpy, bits, start):
    draw = random.Random(start + bits)
    # More than 2**32 us in all, each step shorter than half a wrap of the chip's counter, and a few tiny ones.
    steps = [draw.randrange(1 << 29) for _ in range(40)] + [1, 0, 2, (1 << 29) - 1]
    if bits == 62:  # a computer's counter does not wrap and starts beyond the chip's range
        start += 5 << 30
    mask = (1 << bits) - 1
    lines = mpy(
        CODE.format(start=start, steps=steps), modules={"time": TIME.format(mask=mask, half=(mask + 1) // 2)}
    ).splitlines()
    now = start
    expected = []
    for step in steps:
        now += step
        expected.append(f"{now & mask} 00{struct.pack('<I', ((start & mask) + now - start) & 0xFFFFFFFF).hex()}00")
    assert now - start > 1 << 32
    assert lines == expected
