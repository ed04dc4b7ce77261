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
