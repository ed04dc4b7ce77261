"""The serial line: whatever comes between, inside or instead of messages, only whole and checked ones come out."""

import json
import random
import struct
import tracemalloc
import zlib
from pathlib import Path

import pytest
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from groundtone.wire.stream import StreamCounts, StreamDecoder, line_bytes

VECTORS = Path(__file__).parents[1] / "vectors"
MESSAGES = [
    bytes.fromhex(v["hex"])
    for name in ("frames", "requests", "replies")
    for v in json.loads((VECTORS / f"{name}.json").read_text())
]
SHORT = [m for m in MESSAGES if len(m) < 40]


def sealed(head, body=b""):
    raw = bytes([head]) + body
    return raw + struct.pack("<I", zlib.crc32(raw))


def decoded(*pieces):
    decoder = StreamDecoder()
    return [m for piece in pieces for m in decoder.feed(piece)], decoder


def test_a_line_by_hand():
    # Cheshire and Baker: a code byte counts to the next zero; the message ends with the only zero of the line.
    assert line_bytes(b"\x11\0\0\x22") == b"\x02\x11\x01\x02\x22\0"
    assert all(line_bytes(m).count(0) == 1 and len(line_bytes(m)) == len(m) + 2 for m in MESSAGES)


def test_all_vectors_in_one_stream():
    out, decoder = decoded(b"\0" + b"".join(map(line_bytes, MESSAGES)))
    assert out == MESSAGES
    assert decoder.counts == StreamCounts(messages=len(MESSAGES))
    assert decoder.refusal is None


def test_every_split_in_two():
    stream = b"\0" + b"".join(map(line_bytes, SHORT[:5]))
    for at in range(len(stream) + 1):
        assert decoded(stream[:at], stream[at:])[0] == SHORT[:5]


def test_byte_by_byte_and_empty_pieces():
    stream = b"".join(map(line_bytes, MESSAGES))
    out, decoder = decoded(*(piece for i in range(len(stream)) for piece in (b"", stream[i : i + 1])))
    assert out == MESSAGES
    assert decoder.counts.messages == len(MESSAGES)


def test_a_boot_banner_before_a_message():
    banner = b"MPY: soft reboot\r\nMicroPython v1.28.0\r\n>>> "
    # Without a zero between, the banner takes the first message with it; with the sender's zero it does not.
    assert decoded(banner + line_bytes(SHORT[0]) + line_bytes(SHORT[1]))[0] == [SHORT[1]]
    out, decoder = decoded(banner + b"\0" + line_bytes(SHORT[0]))
    assert out == [SHORT[0]]
    assert decoder.counts == StreamCounts(messages=1, bad=1)


def test_joining_in_the_middle_costs_one_message():
    stream = b"".join(map(line_bytes, SHORT))
    for at in range(1, len(line_bytes(SHORT[0]))):
        assert decoded(stream[at:])[0] == SHORT[1:]


@pytest.mark.parametrize("noise", [b"\x07", b"\xff", b"rubbish"])
def test_noise_inside_a_message_costs_that_message_alone(noise):
    line = line_bytes(SHORT[3])
    for at in range(1, len(line) - 1):
        out, decoder = decoded(line_bytes(SHORT[0]) + line[:at] + noise + line[at:] + line_bytes(SHORT[1]))
        assert out == [SHORT[0], SHORT[1]]
        assert decoder.counts.bad == 1


def test_a_message_cut_short_is_never_delivered_in_part():
    line = line_bytes(SHORT[3])
    for at in range(1, len(line) - 1):
        out, decoder = decoded(line[:at] + b"\0" + line_bytes(SHORT[0]))
        assert out == [SHORT[0]]
        assert decoder.counts.bad == 1


def test_bytes_lost_inside_a_message():
    line = line_bytes(SHORT[3])
    for at in range(len(line) - 1):
        assert decoded(line[:at] + line[at + 1 :] + line_bytes(SHORT[0]))[0] == [SHORT[0]]


def test_longest_and_too_long():
    longest = sealed(0x14, bytes(range(1, 240)))
    assert len(longest) == 244
    for size, counts in (
        (239, StreamCounts(messages=2)),
        (240, StreamCounts(messages=1, bad=1)),
        (241, StreamCounts(messages=1, oversized=1)),
        (5000, StreamCounts(messages=1, oversized=1)),
    ):
        body = (bytes(range(1, 240)) * 30)[:size]
        out, decoder = decoded(line_bytes(sealed(0x14, body)) + line_bytes(SHORT[0]))
        assert out[-1] == SHORT[0]
        assert decoder.counts == counts


def test_unknown_types_are_skipped_and_counted():
    out, decoder = decoded(line_bytes(sealed(0x1E, b"later")) + line_bytes(SHORT[0]))
    assert out == [SHORT[0]]
    assert decoder.counts == StreamCounts(messages=1, unknown=1)


def test_another_version_is_refused_with_a_sentence_that_stays():
    out, decoder = decoded(line_bytes(sealed(0x21, bytes(30))))
    assert out == []
    assert decoder.counts == StreamCounts(other_version=1)
    assert "version 2" in decoder.refusal
    assert "version 1" in decoder.refusal
    assert decoder.feed(line_bytes(SHORT[0])) == [SHORT[0]]
    assert "version 2" in decoder.refusal


@given(
    lines=st.lists(
        st.tuples(st.sampled_from(SHORT), st.sets(st.tuples(st.integers(0, 39), st.integers(0, 7)), max_size=3)),
        max_size=8,
    ),
    size=st.integers(1, 60),
)
def test_flipped_bits_are_never_delivered(lines, size):
    """A line with flipped bits brings nothing (a flip to or from zero joins or splits lines, and still brings none)."""
    stream, sent = bytearray(), set()
    for message, flips in lines:
        line = bytearray(line_bytes(message))
        for at, bit in flips:
            line[at % len(line)] ^= 1 << bit
        if bytes(line) == line_bytes(message):
            sent.add(message)
        stream += line
    out, decoder = decoded(*(bytes(stream[i : i + size]) for i in range(0, len(stream), size)))
    assert set(out) <= sent
    assert decoder.counts.messages == len(out)


@given(rubbish=st.binary(max_size=600), size=st.integers(1, 300))
def test_rubbish_is_never_delivered_and_ends_at_the_next_zero(rubbish, size):
    stream = rubbish + b"\0" + line_bytes(SHORT[0])
    out, decoder = decoded(*(stream[i : i + size] for i in range(0, len(stream), size)))
    assert out == [SHORT[0]]
    wrong = sum(1 for line in rubbish.split(b"\0") if line)
    counts = decoder.counts
    assert counts.bad + counts.oversized + counts.unknown + counts.other_version == wrong


def test_every_single_byte_of_a_line_replaced():
    line, number = line_bytes(SHORT[2]), random.Random(1)
    for at in range(len(line)):
        for _ in range(8):
            other = number.randrange(256)
            if other != line[at]:
                assert decoded(line[:at] + bytes([other]) + line[at + 1 :] + b"\0")[0] == []


def test_endless_rubbish_without_a_zero_takes_no_memory():
    decoder, piece = StreamDecoder(), b"\x55" * 1000
    tracemalloc.start()
    decoder.feed(b"\x55" * 1_000_000)
    for _ in range(3000):
        decoder.feed(piece)
    held, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert held < 5000
    assert decoder.feed(b"\0" + line_bytes(SHORT[0])) == [SHORT[0]]
    assert decoder.counts == StreamCounts(messages=1, oversized=1)


def test_the_cobs_package_reads_our_lines():
    assert [cobs.decode(line_bytes(m)[:-1]) for m in MESSAGES] == MESSAGES
