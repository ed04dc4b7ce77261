"""The frame path takes nothing from the heap: ten thousand frames, with acks coming in and strikes, collector off."""

import ast
import struct
from pathlib import Path

import pytest
from at_the_line import HERE

FIRMWARE = Path(__file__).parents[2] / "firmware"


def test_ten_thousand_frames_allocate_nothing(mat):
    # The first falls into the frames that are not counted: what a strike needs is made once.
    strikes = [[t, 3000, 600] for t in range(600_000, 60_000_000, 700_000)]
    process, host = mat({"strikes": strikes}, program=HERE / "counting_main.py")
    host.ask(2, struct.pack("<H", 200))
    process.allow(8)
    seqs, struck, last_us = [], 0, 0
    for i in range(10_200):
        frame = host.frame(ack=i % 4 == 3)
        assert frame is not None, process.log()
        seqs.append(frame.seq)
        struck += frame.flags & 1
        last_us = frame.t_us
        if i % 4 == 3:
            process.allow(4)
    assert host.event() == (200, "0 bytes in 10000 frames sent, 0 skipped")
    assert seqs == list(range(10_200))
    assert struck == sum(1 for t, _, _ in strikes if t < last_us)


@pytest.mark.parametrize("path", sorted(FIRMWARE.rglob("*.py")), ids=lambda p: p.name)
def test_no_number_of_two_to_the_thirty_stands_in_the_firmware(path):
    """On the chip such a constant is an object on the heap, and viper code cannot use it."""
    numbers = [n.value for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Constant)]
    assert [n for n in numbers if isinstance(n, int) and n >= 1 << 30] == []


@pytest.mark.parametrize("path", sorted(FIRMWARE.rglob("*.py")), ids=lambda p: p.name)
def test_the_chips_allocating_crc_is_not_used(path):
    assert "crc32" not in path.read_text()
