"""The host's codec: the shared vectors both ways, and that nothing odd goes out or comes in."""

import dataclasses
import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hello_bytes import hello_payload
from hypothesis import given
from hypothesis import strategies as st

from groundtone.errors import VersionError, WireError
from groundtone.wire.codec import (
    UnknownTypeError,
    check,
    decode,
    encode,
    findings_from,
    hello_from,
    parse,
    string,
    strings,
)
from groundtone.wire.messages import (
    FRAME_DTYPE,
    FRAME_STRUCT,
    Ack,
    Event,
    Feet,
    Finding,
    Frame,
    Hello,
    Reply,
    Request,
    Type,
)
from groundtone.wire.stream import StreamDecoder, line_bytes

VECTORS = Path(__file__).parents[1] / "vectors"
ALL = [v for name in ("frames", "requests", "replies") for v in json.loads((VECTORS / f"{name}.json").read_text())]
FRAME = Frame(1, 258, 16909060, 0x1122, 0x3344, 0x5566 & 0x3FFF, 0x0778, np.arange(6, dtype=np.uint16))
HELLO = Hello(1, (0, 1, 2), "00112233445566ff", 16, 8, 14, 16, 1, 200, 0, 2, "board", "reference-16x4", "Übungsplatz")


def from_vector(fields):
    """The message that a vector describes."""
    kind = fields["type"]
    rest = {name: value for name, value in fields.items() if name != "type"}
    for name in ("arguments", "payload"):
        if name in rest:
            rest[name] = bytes.fromhex(rest[name])
    if kind == "frame":
        rest["cells"] = np.array(rest["cells"], dtype=np.uint16)
    return {"frame": Frame, "ack": Ack, "request": Request, "reply": Reply, "event": Event}[kind](**rest)


def as_fields(message):
    """Plain values, so that two messages can be compared."""
    return {name: value.tolist() if isinstance(value, np.ndarray) else value for name, value in vars(message).items()}


def sealed(head, body=b""):
    """Any head and body with a right checksum, made without the codec."""
    raw = bytes([head]) + body
    return raw + struct.pack("<I", zlib.crc32(raw))


def test_a_frame_by_hand():
    # Six cells of 12 bits, 0 to 5, two in three bytes, the first in the lowest bits.
    raw = encode(FRAME, 12)
    assert raw[:16].hex(" ") == "11 01 02 01 04 03 02 01 22 11 44 33 66 15 78 07"
    assert raw[16:-4].hex(" ") == "00 10 00 02 30 00 04 50 00"
    assert raw[-4:] == zlib.crc32(raw[:-4]).to_bytes(4, "little")


def test_hello_by_hand():
    raw = hello_payload(HELLO)
    fixed = "01 00 01 02 00 11 22 33 44 55 66 ff 10 08 0e 10 01 00 c8 00 00 02"
    texts = b"\x05board" + b"\x0ereference-16x4" + b"\x0c\xc3\x9cbungsplatz"
    assert raw == bytes.fromhex(fixed) + texts
    assert hello_from(raw) == HELLO
    assert hello_from(raw).cells == 128


@pytest.mark.parametrize("end", range(len(hello_payload(HELLO))))
def test_a_hello_cut_off_anywhere_is_refused(end):
    with pytest.raises(WireError, match="different versions"):
        hello_from(hello_payload(HELLO)[:end])


@pytest.mark.parametrize("change", [{"bits": 13}, {"rows": 0}, {"columns": 0}, {"columns": 7}])
def test_a_hello_that_makes_no_sense_is_refused(change):
    with pytest.raises(WireError, match="no sense"):
        hello_from(hello_payload(dataclasses.replace(HELLO, **change)))


@pytest.mark.parametrize(
    "change", [{"uid": "0011"}, {"rows": 256}, {"rate_max_hz": 65536}, {"version": (0, 256, 0)}, {"window": -1}]
)
def test_a_hello_with_a_field_that_does_not_fit_is_not_sent(change):
    with pytest.raises(ValueError, match="fit"):
        hello_payload(dataclasses.replace(HELLO, **change))


def test_findings_by_hand():
    payload = bytes.fromhex("02 03 00 00 ff 00 05 07 00 10 27")
    assert findings_from(payload) == [Finding(3, 0, 0, 255), Finding(5, 7, 0, 10000)]
    assert findings_from(b"\0") == []
    for wrong in (b"", payload[:-1], payload + b"\0", b"\x01"):
        with pytest.raises(WireError, match="self-test"):
            findings_from(wrong)


def test_texts_by_hand():
    assert string("Öl") == b"\x03\xc3\x96l"
    assert strings(b"\x03\xc3\x96l\x00\x01x", 3) == ["Öl", "", "x"]
    with pytest.raises(WireError, match="255"):
        string("x" * 256)
    with pytest.raises(WireError, match="within a text"):
        strings(b"\x04abc", 1)


@pytest.mark.parametrize(
    "message",
    [
        dataclasses.replace(FRAME, seq=65536),
        dataclasses.replace(FRAME, seq=-1),
        dataclasses.replace(FRAME, t_us=2**32),
        dataclasses.replace(FRAME, flags=256),
        dataclasses.replace(FRAME, strike_peak=65536),
        dataclasses.replace(FRAME, strike_offset_us=65536),
        dataclasses.replace(FRAME, ref_a=-1),
        dataclasses.replace(FRAME, ref_b=65536),
        dataclasses.replace(FRAME, cells=np.array([4096])),
        dataclasses.replace(FRAME, cells=np.array([-1])),
        Ack(65536),
        Request(256, 1),
        Request(1, -1),
        Reply(1, 256, 0),
        Reply(1, 1, 256),
        Event(256, 0),
        Event(1, 2**32),
    ],
    ids=repr,
)
def test_fields_that_do_not_fit_are_refused(message):
    with pytest.raises(ValueError, match=r"fit|range"):
        encode(message, 12)


def test_the_longest_message_goes_and_one_more_byte_does_not():
    # 244 bytes: head 1, id, command and status 3, checksum 4.
    longest = Reply(1, 1, 0, bytes(236))
    assert len(encode(longest)) == 244
    assert decode(encode(longest)) == longest
    with pytest.raises(WireError, match="245"):
        encode(Reply(1, 1, 0, bytes(237)))
    # 128 cells of 14 bits fill a frame exactly; 130 are too many.
    assert len(encode(dataclasses.replace(FRAME, cells=np.zeros(128, int)), 14)) == 244
    with pytest.raises(WireError, match="exceeds 244"):
        encode(dataclasses.replace(FRAME, cells=np.zeros(130, int)), 14)


@pytest.mark.parametrize("length", [0, 1, 4, 245, 1000])
def test_lengths_that_are_no_message(length):
    with pytest.raises(WireError, match=f"{length} bytes"):
        check(bytes(length))


def test_checksum_comes_before_version_and_version_before_type():
    stranger = sealed(0x2F, b"abc")
    with pytest.raises(VersionError, match="version 2"):
        check(stranger)
    with pytest.raises(WireError, match="checksum"):
        check(stranger[:-1] + bytes([stranger[-1] ^ 1]))
    with pytest.raises(WireError, match="feet message of 8 bytes"):
        check(sealed(0x16, b"abc"))
    for low in (0, *range(7, 16)):
        with pytest.raises(UnknownTypeError, match=f"type {low} "):
            check(sealed(0x10 | low, b"abc"))
    assert [check(sealed(0x10 | kind)) for kind in (1, 2, 3, 4, 5)] == [kind for kind in Type if kind is not Type.FEET]


@pytest.mark.parametrize(
    ("head", "body"),
    [(0x12, b""), (0x12, bytes(2)), (0x12, bytes(4)), (0x13, b"\1"), (0x14, b"\1\2"), (0x15, bytes(4))],
)
def test_bodies_of_a_wrong_length_are_refused(head, body):
    with pytest.raises(WireError, match="wrong length"):
        decode(sealed(head, body))


def test_a_frame_of_another_layout_is_refused():
    raw = encode(FRAME, 12)
    for cells, bits in ((7, 12), (6, 14), (8, 12)):
        with pytest.raises(WireError, match="layouts differ"):
            decode(raw, cells, bits)


def test_text_that_is_no_utf8_does_not_stop_anything():
    assert decode(sealed(0x15, b"\1\0\0\0\0\xffjoined")).text == "�joined"


WORD = st.integers(0, 0xFFFF)
BYTE = st.integers(0, 255)


@given(
    flags=BYTE, seq=WORD, t_us=st.integers(0, 2**32 - 1), peak=WORD, offset=WORD, a=WORD, b=WORD, data=st.data(),
    bits=st.sampled_from([12, 14]),
)  # fmt: skip
def test_any_frame_comes_back(flags, seq, t_us, peak, offset, a, b, data, bits):
    cells = data.draw(st.lists(st.integers(0, 2**bits - 1), min_size=1, max_size=128))
    frame = Frame(flags, seq, t_us, peak, offset, a, b, np.array(cells, dtype=np.uint16))
    assert as_fields(decode(encode(frame, bits), len(cells), bits)) == as_fields(frame)


@given(number=BYTE, command=BYTE, status=BYTE, raw=st.binary(max_size=236), text=st.text(max_size=50))
def test_any_other_message_comes_back(number, command, status, raw, text):
    messages = (Ack(number * command, bool(status & 1)), Request(number, command, raw))
    for message in (*messages, Reply(number, command, status, raw), Event(number, command, text)):
        assert decode(encode(message)) == message


@given(message=st.sampled_from(ALL), data=st.data())
def test_a_flipped_bit_never_passes(message, data):
    raw = bytearray.fromhex(message["hex"])
    for bit in data.draw(st.sets(st.integers(0, 8 * len(raw) - 1), min_size=1, max_size=3)):
        raw[bit // 8] ^= 1 << bit % 8
    # CRC-32 finds every error of up to three bits in messages of this length.
    with pytest.raises(WireError, match="checksum"):
        check(bytes(raw))


def test_what_a_decoder_has_checked_is_not_checked_again(monkeypatch):
    counted = []
    monkeypatch.setattr("groundtone.wire.codec.crc32", lambda raw: counted.append(len(raw)) or zlib.crc32(raw))
    line = line_bytes(encode(FRAME, 12))
    counted.clear()
    (message,) = StreamDecoder().feed(line)
    assert as_fields(parse(message, 6, 12)) == as_fields(FRAME)
    assert counted == [len(message) - 4]


def test_a_frame_as_an_array_reads_as_one_frame_does():
    header = np.frombuffer(encode(FRAME, 12), FRAME_DTYPE, 1)[0]
    assert {name: int(header[name]) for name in FRAME_DTYPE.names[1:]} | {"cells": [0, 1, 2, 3, 4, 5]} == as_fields(
        FRAME
    )
    assert FRAME_DTYPE.itemsize == FRAME_STRUCT.size == 16


def test_a_feet_message_by_hand():
    """Version 1, type 6; nine numbers; the lower half of the checksum of what stands before it."""
    feet = Feet(0x21, 0x0102, 0x03040506, 0x0708, 0x090A, 0x0B, 0x0C0D, 0x0E0F, 0x10)
    raw = encode(feet)
    assert raw[:-2].hex(" ") == "16 21 02 01 06 05 04 03 08 07 0a 09 0b 0d 0c 0f 0e 10"
    assert raw[-2:] == (zlib.crc32(raw[:-2]) & 0xFFFF).to_bytes(2, "little")
    assert check(raw) is Type.FEET
    assert decode(raw) == feet
    for bit in range(8 * len(raw)):
        wrong = bytearray(raw)
        wrong[bit // 8] ^= 1 << bit % 8
        with pytest.raises(WireError):
            check(bytes(wrong))


def test_another_message_as_long_as_one_of_feet_has_its_whole_checksum():
    reply = Reply(1, 2, 0, bytes(12))
    assert len(encode(reply)) == 20
    assert decode(encode(reply)) == reply


def test_a_text_of_255_bytes_still_fits():
    assert string("x" * 255) == b"\xff" + b"x" * 255
    with pytest.raises(WireError, match="within a text"):
        strings(b"", 1)
