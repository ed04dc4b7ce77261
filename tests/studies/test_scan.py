"""The scan's design figures, and the counter behind them: its instructions, flags and cycles by hand."""

import pytest

from groundtone.errors import GroundtoneError
from studies.mpycode import native_functions
from studies.scan import study_scan
from studies.thumb import Core


def run(*halfwords, registers=(), memory=None):
    memory = {} if memory is None else memory
    code = b"".join(word.to_bytes(2, "little") for word in halfwords)
    core = Core(
        code, lambda at, n: (memory.get(at, 0), 0), lambda at, n, v: memory.__setitem__(at, v) or 0, lambda at, r: at
    )
    for i, value in enumerate(registers):
        core.r[i] = value
    core.run(len(code))
    return core


def test_a_loop_takes_what_the_manual_says():
    # movs r0, #5; 1: subs r0, #1; bne 1b; nop: 1 + 5 subtractions + 4 branches taken (2) + 1 not taken + 1
    core = run(0x2005, 0x3801, 0xD1FD, 0xBF00)
    assert (core.r[0], core.cycles) == (0, 1 + 5 + 4 * 2 + 1 + 1)


def test_memory_takes_two_and_push_and_pop_one_more_than_they_move():
    memory = {}
    core = run(0x6008, 0x680A, 0xB403, 0xBC0C, registers=(7, 0x100, 0, 0), memory=memory)  # str, ldr, push 2, pop 2
    assert core.r[2:4] == [7, 0x100]
    assert core.cycles == 2 + 2 + 3 + 3


@pytest.mark.parametrize(
    ("op", "a", "b", "out", "flags"),
    [
        (0x1840, 0xFFFFFFFF, 1, 0, "ZC"),  # adds
        (0x1840, 0x7FFFFFFF, 1, 0x80000000, "NV"),
        (0x1A40, 1, 2, 0xFFFFFFFF, "N"),  # subs
        (0x1A40, 0x80000000, 1, 0x7FFFFFFF, "CV"),
        (0x4348, 0xFFFF, 0x10001, 0xFFFFFFFF, "N"),  # muls
        (0x4088, 3, 31, 0x80000000, "NC"),  # lsls
        (0x4108, 0x80000000, 4, 0xF8000000, "N"),  # asrs
        (0x40C8, 0x80000000, 32, 0, "ZC"),  # lsrs
        (0x4248, 0, 5, 0xFFFFFFFB, "N"),  # rsbs r0, r1, #0
    ],
)
def test_results_and_flags(op, a, b, out, flags):
    core = run(op, registers=(a, b))
    assert core.r[0] == out
    assert "".join(name for name, on in zip("NZCV", (core.n, core.z, core.c, core.v), strict=True) if on) == flags


def test_what_it_does_not_know_is_refused():
    with pytest.raises(GroundtoneError, match="0xbe00 at 0x0 is not one the counter knows"):
        run(0xBE00)
    with pytest.raises(GroundtoneError, match="not a compiled MicroPython file"):
        native_functions(b"M\x05\x00\x1f")
    with pytest.raises(GroundtoneError, match="ends early"):
        native_functions(b"M\x06\x00\x1f")


def test_the_design_meets_what_is_asked():
    figures = study_scan()
    assert figures["ok"]
    assert "not on a chip" in figures["what this is"]
    # 130 cells, each two conversions of 2 us at the least; 0.55 ms of them leave the rest for instructions.
    assert 0.55 < figures["frame ms, 1 reading"] <= 1.3
    assert figures["shortest settle us"] >= 3
    assert figures["frame ms, portable loop (reckoned)"] > 3 * figures["frame ms, 1 reading"]
