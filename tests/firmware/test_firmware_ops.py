"""The twin's end of the pipe by itself: time over the counter's wraps, and how many scans may follow."""

import struct

import pytest
from plain_world import PlainWorld

from groundtone.twin.firmware_ops import GO_AHEAD, REAL_TIME, STAND_STILL, FirmwareOps, TicksToFilm


@pytest.mark.parametrize("bits", [30, 32])
def test_film_time_is_the_sum_of_the_counters_steps(bits):
    clock = TicksToFilm(bits)
    start = (1 << bits) - 1000
    clock.boot(start)
    now, seen = 0, []
    for step in (0, 700, 700, -300, (1 << bits - 1) - 1, 5, (1 << bits - 1) - 1, 12):
        now += step
        seen.append((clock.at((start + now) % (1 << bits)), now))
    assert all(got == expected for got, expected in seen), seen


def ask(ops, op, ticks=0):
    return ops.answer(op + bytes(3) + struct.pack("<I", ticks) + bytes(8))


def test_waits_stand_still_until_scans_are_allowed_and_are_real_when_nothing_scans():
    ops = FirmwareOps(PlainWorld("{}"), gated=True)
    ask(ops, b"B", 500)
    assert ask(ops, b"W", 600) == bytes((STAND_STILL,))
    ops.allow(2)
    assert ask(ops, b"W", 700) == bytes((REAL_TIME,))  # nothing has scanned yet
    first = ask(ops, b"T", 1000)
    assert (first[0], len(first)) == (1, 1 + 18 * 16 * 4 * 2)
    assert ask(ops, b"W", 2000) == bytes((GO_AHEAD,))
    assert ask(ops, b"W", 1_200_000) == bytes((REAL_TIME,))
    assert ask(ops, b"T", 1_300_000)[0] == 0  # the last one that was allowed
    assert ask(ops, b"W", 1_300_100) == bytes((STAND_STILL,))
    ops.allow(None)
    assert ask(ops, b"T", 1_300_200)[0] == 1
    assert (ops.tables, ops.film_us) == (3, 1_299_700)


def test_a_firmware_that_scans_without_leave_is_held_back_in_the_end():
    ops = FirmwareOps(PlainWorld("{}"), gated=True)
    request = b"T" + bytes(15)
    served = 0
    while not ops.held(request):
        ops.answer(request)
        served += 1
    assert served == 64
    ops.allow(1)
    assert not ops.held(request)


def test_the_button_shows_in_the_answers():
    ops = FirmwareOps(PlainWorld("{}"))
    assert ask(ops, b"D") == b"\0"
    ops.button = True
    assert ask(ops, b"D") == b"\2"
    assert ask(ops, b"T")[0] == 3
    with pytest.raises(ValueError, match="does not know"):
        ask(ops, b"X")
