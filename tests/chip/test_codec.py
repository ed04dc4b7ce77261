"""The chip's own instructions for packing, CRC and COBS against the shared vectors, the cobs package and zlib."""

import json
import random
import zlib

import flashes
import pytest
from cobs import cobs
from codec_pieces import DECODE, ENCODE, FRAMES, REPLIES, load

ASSEMBLED = """
from mat import cobs, line_rp2, wire
print(wire.pack is line_rp2.pack, wire.crc is line_rp2.crc, cobs.encode is line_rp2.encode)
"""
SEALED = """
from mat import wire
for n in {lengths}:
    buf = bytearray([(7 * i + n) & 255 for i in range(n)]) + bytearray(4)
    wire.seal(buf, n)
    print("".join("%02x" % b for b in reversed(buf[n:])))
"""


def texts():
    """Edge cases of COBS, and drawn ones full of zeros and of none."""
    draw = random.Random(5)
    out = [b"\0", b"\0\0", b"\1", bytes(range(256)) * 2, b"x" * 253, b"x" * 254, b"x" * 255, b"x" * 254 + b"\0"]
    for _ in range(25):
        out.append(bytes(draw.choice((0, 0, 1, 255, draw.randrange(256))) for _ in range(draw.randrange(1, 500))))
    return out


@pytest.fixture(scope="module")
def prompt(board):
    """The raw prompt of a board on which firmware and vectors lie."""
    lines = b"".join(cobs.encode(bytes.fromhex(v["hex"])) + b"\0" for v in load("requests.json"))
    kept = {name: json.dumps(load(name), separators=(",", ":")).encode() for name in ("frames.json", "replies.json")}
    kept |= {"line": lines, "texts": "\n".join(t.hex() for t in texts()).encode()}
    board.prompt(flashes.flash(board, extra=kept))
    return board


def test_it_is_the_chips_own_instructions_that_are_tried(prompt):
    assert prompt.python(ASSEMBLED).split() == ["True"] * 3


def test_frames_are_packed_and_sealed_as_the_vectors_say(prompt):
    got = [line.split("|") for line in prompt.python(FRAMES.format(path="frames.json")).splitlines()]
    assert got == [[v["name"], v["hex"], "True"] for v in load("frames.json")]


def test_replies_and_events_are_built_as_the_vectors_say(prompt):
    assert prompt.python(REPLIES.format(path="replies.json")).split() == [v["hex"] for v in load("replies.json")]


def test_requests_arrive_whole_and_sound(prompt):
    lines = prompt.python(DECODE.format(path="line")).splitlines()
    assert lines == [f"{v['hex']} True" for v in load("requests.json")] + ["dropped 0"]


def test_the_sum_over_every_length_of_a_message(prompt):
    lengths = [0, 1, 2, 3, 17, 105, 192, 224, 240]
    expected = [zlib.crc32(bytes((7 * i + n) & 255 for i in range(n))) for n in lengths]
    assert prompt.python(SEALED.format(lengths=lengths)).split() == [f"{crc:08x}" for crc in expected]


def test_cobs_encodes_like_the_package(prompt):
    lines = prompt.python(ENCODE.format(path="texts")).splitlines()
    assert lines == [(cobs.encode(t) + b"\0").hex() for t in texts()]
