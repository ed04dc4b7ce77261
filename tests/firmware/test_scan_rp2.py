"""The register loop: bit for bit on simulated registers, on the Unix port and as the chip's own instructions."""

import functools
import json

import pytest
import scan_model
from at_the_line import HERE

from studies.mpycode import compile_for, native_functions
from studies.scan import SWEEP, make_plan
from studies.scan_chip import ADC, HEARD, OUT, PLAN, SIO, Chip, call

FIRMWARE = HERE.parents[1] / "firmware"
MACHINE = """
PWRON_RESET = 1
WDT_RESET = 3
class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
class ADC:
    pass
"""
# A thread plays the chip on plain memory. Between two conversions the loop writes no register twice, so all that it has
# written stands there when it starts the next one; the thread takes it (address, then rows low, then rows high: the
# order itself is for the run of the chip's own instructions to show), waits, and answers with RESULT, then READY. The
# write that starts a conversion takes READY away by itself.
CODE = """
import _thread, json, micropython
from array import array
from mat import board, scan_rp2

@micropython.viper
def device(adc: ptr32, sio: ptr32, stride: int, state: ptr32, log: ptr32, slow: int):
    high = 0
    enabled = 0
    count = 0
    while True:
        cs = adc[0]
        if cs == 0xFFFF:
            state[0] = high
            state[1] = enabled
            state[2] = count
            return
        if cs & 4:
            high = (high ^ sio[2 * stride]) & ~sio[stride] | sio[0]
            enabled = (enabled | sio[4 * stride]) & ~sio[5 * stride]
            i = 0
            while i < 6:
                sio[i * stride] = 0
                i += 1
            channel = cs >> 12 & 15
            log[3 * count] = high
            log[3 * count + 1] = enabled
            log[3 * count + 2] = channel
            code = (high & 0xFFFF) * 5 + (high >> 16 & 15) * 291 + (enabled >> 22 & 1) * 1000
            code += channel * 77 + count * 13
            count += 1
            i = slow * (count % 5)
            while i > 0:
                i -= 1
            adc[1] = code & 4095
            adc[0] = 1 | 256

def run(rows, columns, readings, bits, stride, odd, slow, above):
    plan = array("i", [0] * 52)
    scan_rp2.fill_plan(plan, board.here(), rows, columns, readings, bits, stride)
    plan[8] = 1
    plan[9] = 1 << 29
    cells = rows * columns + 2
    out = array("H", bytes(2 * cells))
    heard = array("i", [0, 2500, 1200, above, 0] + [0] * 8)
    adc, sio = array("I", [0, 0]), array("I", [0] * 16)
    log = array("I", [0] * (3 * cells * 9))
    state = array("i", [0, 0, 0])
    _thread.start_new_thread(device, (adc, sio, stride, state, log, slow))
    value = scan_rp2.sweep(adc, sio, plan, out, heard, odd)
    adc[0] = 0xFFFF
    while state[2] == 0:
        pass
    high = (state[0] ^ sio[2 * stride]) & ~sio[stride] | sio[0]
    enabled = (state[1] | sio[4 * stride]) & ~sio[5 * stride]
    return [value, list(out), list(log)[: 3 * state[2]], list(heard), plan[13], high, enabled]

for arguments in json.load(open("cases")):
    print(json.dumps(run(*arguments)))
"""
CASES = [
    # rows, columns, readings, bits, stride, odd, slowness of READY, above
    (16, 8, 1, 12, 1, 0, 0, 0),
    (5, 4, 2, 14, 2, 1, 300, 1),
    (10, 6, 4, 14, 1, 1, 0, 0),
    (3, 8, 8, 14, 2, 0, 5, 1),
    (2, 2, 2, 14, 1, 0, 3000, 0),
]


@functools.cache
def functions():
    return native_functions(compile_for("armv6m", FIRMWARE / "mat" / "scan_rp2.py"))


def chip(stride=1, conversion=250):
    counted = iter(range(1 << 20))
    seen = []

    def reading(high, enabled, adc):
        seen.append((high, enabled, adc))
        return scan_model.code(high, enabled, adc, next(counted))

    return Chip(reading, conversion, stride), seen


def test_the_unix_ports_run_is_the_models_bit_for_bit(mpy, tmp_path):
    (tmp_path / "cases").write_text(json.dumps(CASES))
    lines = mpy(CODE, {"machine": MACHINE}).splitlines()
    for (rows, columns, readings, bits, _, odd, _, above), line in zip(CASES, lines, strict=True):
        value, out, log, heard, ceiling, high, enabled = json.loads(line)
        values, pins, peak, up, marks, full = scan_model.scan(rows, columns, readings, bits, odd, 2500, 1200, above)
        assert value == 0
        assert out == values
        assert [tuple(log[i : i + 3]) for i in range(0, len(log), 3)] == pins
        assert heard[:1] + heard[3:5] == [peak, up, len(marks)]
        assert heard[5 : 5 + len(marks)] == marks
        assert (ceiling, high, enabled) == (full, 0, 0)


@pytest.mark.parametrize(("case", "conversion"), [*((i, 250) for i in range(5)), (1, 1), (1, 3000)])
def test_the_chips_own_instructions_do_the_same(case, conversion):
    rows, columns, readings, bits, stride, odd, _, above = CASES[case]
    board, pins = chip(stride, conversion)
    plan = make_plan(rows, columns, readings, bits, stride, wait=1)
    heard = [0, 2500, 1200, above, 0] + [0] * 8
    size = rows * columns + 2
    run = call(functions()[SWEEP].code, board, [ADC, SIO, PLAN, OUT, HEARD, odd], plan, heard, size)
    values, expected, peak, up, marks, full = scan_model.scan(rows, columns, readings, bits, odd, 2500, 1200, above)
    assert (run.value, run.out, pins) == (0, values, expected)
    assert [run.heard[0], *run.heard[3:5]] == [peak, up, len(marks)]
    assert run.heard[5 : 5 + len(marks)] == marks
    assert (run.plan[13], board.high, board.enabled) == (full, 0, 0)


def test_two_rows_are_never_high_together_and_ref_leads_only_in_the_references():
    board, pins = chip()
    call(functions()[SWEEP].code, board, [ADC, SIO, PLAN, OUT, HEARD, 1], make_plan(16, 8, 1, 12, 1, 0), [0] * 13, 130)
    high = enabled = 0
    for name, value in board.log:
        high, enabled = {
            "set": (high | value, enabled), "clear": (high & ~value, enabled), "toggle": (high ^ value, enabled),
            "enable": (high, enabled | value), "disable": (high, enabled & ~value), "convert": (high, enabled),
        }[name]  # fmt: skip
        assert (high & 0xFFFF).bit_count() <= 1
        assert enabled in (0, 1 << 22)
    assert [e for _, e, _ in pins].count(1 << 22) == 4
    assert sum(name == "toggle" for name, _ in board.log) == 130  # one write moves the address


@pytest.mark.parametrize("settle", [1, 3, 5, 8, 20, 80])
def test_no_reading_comes_before_its_settle_time(mpy, settle):
    code = f"""
from mat import board, scan_rp2
print([scan_rp2.settle_turns(board.CHIPS[c]["cycles"], {settle}, m) for c, m in (('RP2040', 125), ('RP2350', 150))])
"""
    turns, other = json.loads(mpy(code, {"machine": MACHINE}))
    assert other >= turns
    board, _ = chip()
    plan = make_plan(16, 8, 1, 12, 1, turns)
    call(functions()[SWEEP].code, board, [ADC, SIO, PLAN, OUT, HEARD, 0], plan, [0, 4095, 0, 0, 0] + [0] * 8, 130)
    moved = sorted(t for t, name in board.writes if name in ("set", "toggle", "enable"))
    waits = []
    for started, word in board.conversions:
        if word >> 12 & 15 == 0:
            waits.append((started - max(t for t in moved if t < started)) / 125)
    assert len(waits) == 130
    assert settle <= min(waits)
    assert max(waits) <= max(settle, 3.6) + 1.0


def test_an_adc_that_never_is_ready_ends_the_scan_with_every_row_low(mpy):
    code = """
from array import array
from mat import board, listen_rp2, scan_rp2
plan = array("i", [0] * 52)
scan_rp2.fill_plan(plan, board.here(), 16, 8, 1, 12, 1)
adc, sio = array("I", [0, 0]), array("I", [0] * 16)
out, heard = array("H", bytes(260)), array("i", [0] * 13)
print(scan_rp2.sweep(adc, sio, plan, out, heard, 0), sio[1] == 0xFFFF | 1 << 22, sio[5] == 1 << 22)
print(listen_rp2.wait(array("I", [0]), adc, plan, heard, array("i", [0] * 15), 9000, 3))
"""
    assert mpy(code, {"machine": MACHINE}).split() == ["-1", "True", "True", "-1"]


def test_listening_marks_the_moments_that_cross_and_ends_on_time(mpy):
    """A thread plays ADC and counter: each conversion is a code of the list and takes 3 us."""
    code = """
import _thread, micropython
from array import array
from mat import listen_rp2

@micropython.viper
def device(adc: ptr32, timer: ptr32, codes: ptr16, done: ptr32):
    i = 0
    while not done[0]:
        if adc[0] & 4:
            timer[0] = timer[0] + 3
            adc[1] = codes[i]
            i += 1
            adc[0] = 256
        elif done[1]:
            timer[0] = timer[0] + 1
            done[1] = 0

codes = array("H", [0, 100, 400, 390, 150, 90, 500, 99, 210, 3000, 4095, 50])
adc, timer, done = array("I", [0, 0]), array("I", [1000]), array("I", [0, 0])
plan = array("i", [0] * 52)
plan[4], plan[9] = 4, 1 << 29
heard, found = array("i", [0, 205, 102, 0, 0] + [0] * 9), array("i", [0] * 16)
_thread.start_new_thread(device, (adc, timer, codes, done))
print(listen_rp2.wait(timer, adc, plan, heard, found, 9000, 12))
print(found[0], list(found[4:8]), timer[0], found[14] - timer[0] == listen_rp2.LEAD_US, heard[3])
done[0] = 1
"""
    lines = mpy(code, {"machine": MACHINE}).splitlines()
    assert lines == ["0", "4095 [3, 1009, 1021, 1027] 1036 True 0"]
