"""Twenty minutes of device time: the counter of microseconds wraps after 17.9 and compares over less than 8.95 only."""

import struct

import pytest
from patience import until

# The mat's own loop, a turn every five seconds while nothing is to be done, then as always.
PROGRAM = """
import time
from mat import app, board
mat = app.App(board.here())
mat.link.open()
mat.prove_rows()
passed = 0
while passed < {minutes} * 60:
    time.sleep_us(5000000)
    passed += 5
    mat.turn()
while True:
    mat.turn()
"""


@pytest.mark.parametrize("minutes", [1, 10, 16, 20])
def test_a_host_that_has_long_gone_does_not_own_the_mat_again(mpy, minutes):
    code = f"""
import time
from mat import clock, hosts
Far = type("Far", (), {{}})
now = clock.Clock()
links = hosts.Hosts(False, "", b"", now)
links.owner = Far()
links.credit.window = 0  # used up
links._heard = now.tenths
for _ in range({minutes} * 12):
    time.raw += 5000000
    now.now()
    print(links.claimed() == "")
"""
    time = """
raw = 0
def ticks_us():
    return raw & ((1 << 30) - 1)
def ticks_diff(a, b):
    return ((a - b + (1 << 29)) & ((1 << 30) - 1)) - (1 << 29)
"""
    assert set(mpy(code, {"time": time, "machine": "class Pin:\n    pass\n"}).split()) == {"True"}


RING = """
for t in range(0, 2000, 50):
    machine.code = 3000 if t % 400 < 200 else 0
    time.raw += 50
    s.sample()
machine.code = 0
for _ in range(60):
    time.raw += 50
    s.sample()
print(s.take(time.ticks_us()), s.peak)
"""


@pytest.mark.parametrize("minutes", [1, 10, 16, 20])
def test_a_strike_long_after_the_last_one_is_told(mpy, minutes):
    code = f"""
import time, machine
from mat import board, strike
s = strike.Strike(board.here())
s.dense = True
{RING}
for _ in range({minutes} * 3000):
    time.raw += 20000
    s.take(time.ticks_us())
{RING}
"""
    time = """
raw = 0
def ticks_us():
    return raw & ((1 << 30) - 1)
def ticks_diff(a, b):
    return ((a - b + (1 << 29)) & ((1 << 30) - 1)) - (1 << 29)
def ticks_add(a, b):
    return (a + b) & ((1 << 30) - 1)
"""
    machine = """
code = 0
class Pin:
    IN = PULL_UP = IRQ_FALLING = 1
    def __init__(self, *args, **kw):
        pass
    def irq(self, handler, trigger):
        pass
class ADC:
    def __init__(self, pin):
        pass
    def read_u16(self):
        return code << 4
"""
    assert mpy(code, {"time": time, "machine": machine}).splitlines() == ["True 3000"] * 2


def test_a_fault_after_any_time_starts_the_board_anew(mat, tmp_path):
    """Before its first turn a fault goes to whoever started it; after it, the board starts again, however old it is."""
    for name, turns in (("at once", 0), ("soon", 1), ("after 14 minutes", 170)):
        kept = tmp_path / name
        kept.mkdir()
        (kept / "failing.py").write_text(f"""
import time
from mat import app, board
mat = app.App(board.here())
turns = 0
def turn():
    global turns
    if turns == {turns}:
        raise ValueError("broken")
    turns += 1
    time.sleep_us(5000000)
    mat.clock.now()
mat.turn = turn
mat.run()
""")
        process, _ = mat(settings=kept, program=kept / "failing.py")
        until((kept / "fault.txt").exists)
        if turns:
            until((kept / "rebooted.txt").exists, process.log)
        process.close()
        assert (kept / "rebooted.txt").exists() == (turns > 0), name


def test_twenty_minutes_of_a_slow_run_end_with_a_mat_that_answers(mat, tmp_path):
    (tmp_path / "long.py").write_text(PROGRAM.format(minutes=20))
    _, host = mat(program=tmp_path / "long.py", ticks0=(1 << 30) - 600_000_000)
    end = (1 << 30) - 600_000_000 + 20 * 60_000_000 - 1_000_000
    until(lambda: struct.unpack("<I", host.ask(4, b"abcd")[1][4:])[0] >= end)
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
