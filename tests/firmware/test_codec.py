"""The firmware's codec on MicroPython against the shared vectors, the cobs package and zlib."""

import random
import zlib

import pytest
from cobs import cobs
from codec_pieces import DECODE, ENCODE, FRAMES, REPLIES, VECTORS, load


def test_frames_are_packed_as_the_vectors_say(mpy):
    lines = mpy(FRAMES.format(path=str(VECTORS / "frames.json"))).splitlines()
    got = {name: (text, sound) for name, text, sound in (line.split("|") for line in lines)}
    assert {name: text for name, (text, _) in got.items()} == {v["name"]: v["hex"] for v in load("frames.json")}
    assert {sound for _, sound in got.values()} == {"True"}


def test_replies_and_events_are_built_as_the_vectors_say(mpy):
    code = REPLIES.format(path=str(VECTORS / "replies.json"))
    assert mpy(code).split() == [v["hex"] for v in load("replies.json")]


def test_requests_arrive_whole_and_sound(mpy, tmp_path):
    messages = [bytes.fromhex(v["hex"]) for v in load("requests.json")]
    (tmp_path / "line").write_bytes(b"".join(cobs.encode(m) + b"\0" for m in messages))
    lines = mpy(DECODE.format(path=str(tmp_path / "line"))).splitlines()
    assert lines == [f"{m.hex()} True" for m in messages] + ["dropped 0"]


def test_crc_of_the_check_text_and_of_many_lengths(mpy):
    code = """
from mat import wire
for n in (9, 0, 1, 2, 3, 17, 240):
    data = bytearray(b"123456789" if n == 9 else bytes([(7 * i + n) & 255 for i in range(n)]))
    buf = data + bytearray(4)
    wire.seal(buf, n)
    print("".join("%02x" % b for b in reversed(buf[n:])))
"""
    expected = [zlib.crc32(bytes((7 * i + n) & 255 for i in range(n))) for n in (0, 1, 2, 3, 17, 240)]
    assert mpy(code).split() == ["cbf43926"] + [f"{crc:08x}" for crc in expected]


def test_every_single_bit_error_is_found(mpy):
    code = """
from mat import wire
m = wire.message(wire.REQUEST, bytes(range(30)))
missed = 0
for bit in range(8 * len(m)):
    m[bit >> 3] ^= 1 << (bit & 7)
    missed += wire.sound(m, len(m))
    m[bit >> 3] ^= 1 << (bit & 7)
print(missed, wire.sound(m, len(m)), wire.sound(m, 4))
"""
    assert mpy(code).split() == ["0", "True", "False"]


def test_cobs_encodes_like_the_package(mpy, tmp_path):
    draw = random.Random(5)
    texts = [b"", b"\0", b"\0\0", b"\1", bytes(range(256)) * 3, b"x" * 253, b"x" * 254, b"x" * 255, b"x" * 254 + b"\0"]
    for _ in range(60):
        texts.append(bytes(draw.choice((0, 0, 1, 255, draw.randrange(256))) for _ in range(draw.randrange(600))))
    (tmp_path / "texts").write_text("\n".join(t.hex() for t in texts) + "\n")
    code = ENCODE.format(path=str(tmp_path / "texts"))
    assert mpy(code).splitlines() == [(cobs.encode(t) + b"\0").hex() for t in texts]


def test_the_decoder_is_bounded_and_finds_the_next_message(mpy, tmp_path):
    good = [bytes.fromhex(v["hex"]) for v in load("requests.json")][:3]
    whole = b"\1" * 240 + zlib.crc32(b"\1" * 240).to_bytes(4, "little")
    line = (
        b"MPY: soft reboot\r\n\0"  # a banner: its code bytes run past its end
        + cobs.encode(good[0]) + b"\0"
        + cobs.encode(b"y" * 245) + b"\0"  # one byte too long
        + cobs.encode(good[1]) + b"\0"
        + b"\2" * 5000 + b"\0"  # endless
        + cobs.encode(good[2])[:-2] + b"\0"  # cut short
        + b"\0\0" + cobs.encode(whole) + b"\0"  # as long as a message may be
    )  # fmt: skip
    (tmp_path / "line").write_bytes(line)
    lines = mpy(DECODE.format(path=str(tmp_path / "line"))).splitlines()
    assert lines == [f"{good[0].hex()} True", f"{good[1].hex()} True", f"{whole.hex()} True", "dropped 4"]


@pytest.mark.parametrize("args", ["", "05616263", "026162ff", "01ff"])
def test_strings_cut_short_or_not_utf8_are_refused(mpy, args):
    code = f"""
from mat import wire
raw = {bytes.fromhex(args)!r}
try:
    text, end = wire.take_string(raw, 0)
    print("taken" if end == len(raw) else "rest")
except ValueError:
    print("refused")
"""
    assert mpy(code).strip() == {"026162ff": "rest"}.get(args, "refused")


def test_what_a_message_may_be_at_the_least_and_at_the_most(mpy):
    code = """
from mat import wire
bare = wire.message(wire.ACK, b"")
print(len(bare), wire.sound(bare, 5))
for n in (244, 245):
    m = bytearray(n)
    wire.seal(m, n - 4)
    print(n, wire.sound(m, n))
for cells, bits in ((128, 14), (149, 12), (150, 12), (129, 14)):
    try:
        print(cells, len(wire.Frame(cells, bits).message))
    except ValueError:
        print(cells, "refused")
print(wire.u16(b"\\x07\\x34\\x12", 1) == 0x1234)
print([wire.FRAME, wire.ACK, wire.REQUEST, wire.REPLY, wire.EVENT, wire.FLAG_STRIKE, wire.FLAG_SKIPPED])
print([wire.FLAG_CEILING, wire.FLAG_FIRST])
"""
    assert mpy(code).splitlines() == [
        "5 True", "244 True", "245 False", "128 244", "149 244", "150 refused", "129 refused", "True",
        "[1, 2, 3, 4, 5, 1, 2]", "[4, 8]",
    ]  # fmt: skip


def test_a_sentence_is_cut_between_characters(mpy):
    code = """
from mat import wire
for room in (6, 5, 4, 3, 2, 1, 0):
    print(wire.sentence("a\u00f6b\u00e4", room).decode())
print(wire.take_string(b"\\x05\\x02abx", 1), wire.take_string(b"\\x00", 0), wire.string("\u00f6"))
"""
    assert mpy(code).splitlines() == [
        "a\u00f6b\u00e4", "a\u00f6b", "a\u00f6b", "a\u00f6", "a", "a", "",
        "('ab', 4) ('', 1) b'\\x02\\xc3\\xb6'",
    ]  # fmt: skip


def test_cells_of_odd_number_end_with_what_is_left(mpy):
    """Three of 12 bits take 4.5 bytes, four of 14 take seven: the last byte is written only where something is left."""
    code = """
from array import array
from mat import wire
for bits, values in ((12, (0xabc, 0x123, 0xfed)), (14, (0x3fff, 0, 0x2aaa, 0x1555)), (12, (0xabc, 0x123))):
    out = bytearray(b"\\x5a" * 8)
    wire.pack(array("H", values), out, len(values), bits)
    print("".join("%02x" % b for b in out))
"""
    wanted = []
    for bits, values in ((12, (0xABC, 0x123, 0xFED)), (14, (0x3FFF, 0, 0x2AAA, 0x1555)), (12, (0xABC, 0x123))):
        size = -(-bits * len(values) // 8)
        whole = sum(value << bits * i for i, value in enumerate(values)).to_bytes(size, "little")
        wanted.append((whole + b"\x5a" * (8 - size)).hex())
    assert mpy(code).splitlines() == wanted
