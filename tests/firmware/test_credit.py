"""Credit: the ring against a plain model, and the window over the cable."""

import random
import struct


def test_the_ring_against_a_list(mpy):
    draw = random.Random(8)
    seq, under_way, plan, expected = 65500, [], [], []
    for _ in range(600):
        kind = draw.choice("ssssaaz")
        if kind == "s":
            if len(under_way) < 5:
                under_way.append(seq)
                plan.append((0, seq))
                seq = (seq + draw.choice((1, 1, 1, 7))) & 0xFFFF
            else:
                plan.append((3, 0))
        elif kind == "a":
            # Mostly a frame under way; sometimes one long acknowledged or never sent.
            ack = draw.choice([*under_way, (seq - 40) & 0xFFFF, (seq + 9) & 0xFFFF])
            if ack in under_way:
                under_way = under_way[under_way.index(ack) + 1 :]
            plan.append((1, ack))
        elif draw.random() < 0.2:
            under_way = []
            plan.append((2, 0))
        else:
            continue
        expected.append(f"{len(under_way)} {len(under_way) < 5}")
    code = f"""
from array import array
from mat import credit, tally
c = credit.Credit(5)
message, values = bytearray(16), array("H", [0, 0])
for kind, seq in {plan}:
    if kind == 0:
        c.numbers[tally.SEQ] = seq
        assert tally.head(c.numbers, message, message, values, 0, 0, 0, 0)
    elif kind == 1:
        c.ack(seq, 0)
    elif kind == 2:
        c.ack(0, 1)
    print(c.numbers[tally.UNDER_WAY], c.room())
"""
    assert mpy(code).splitlines() == expected


def test_the_mat_sends_its_window_then_skips_and_says_so(mat):
    process, host = mat()
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
    process.allow(50)
    first = [host.frame(ack=False) for _ in range(16)]
    assert [f.seq for f in first] == list(range(16))
    assert [f.flags for f in first] == [8] + [0] * 15
    scan_us = [first[0].t_us + 10_000 * i for i in range(80)]
    host.pass_until(scan_us[49])
    assert host.frames == []
    host.ack(3)  # four of sixteen are taken
    process.allow(10)
    more = [host.frame(ack=False) for _ in range(4)]
    assert [f.seq for f in more] == [50, 51, 52, 53]
    assert [f.flags for f in more] == [2, 0, 0, 0]
    host.pass_until(scan_us[59])
    assert host.frames == []
    host.ack(9999)  # never sent: gives nothing
    process.allow(1)
    host.pass_until(scan_us[60])
    assert host.frames == []
    host.ack(0, everything=1)
    process.allow(17)
    last = [host.frame(ack=False) for _ in range(16)]
    assert [f.seq for f in last] == list(range(61, 77))
    assert last[0].flags == 2
    host.pass_until(scan_us[77])
    assert host.frames == []
    status, payload = host.ask(3)
    assert (status, struct.unpack("<II", payload)) == (0, (36, 42))


def test_the_window_setting_is_obeyed_and_an_old_ack_gives_no_credit_after_a_start(mat):
    process, host = mat()
    assert host.ask(8, b"\x06window\x013") == (0, b"\x013")
    host.ask(2, struct.pack("<H", 100))
    process.allow(9)
    first = [host.frame(ack=False) for _ in range(3)]
    assert [f.seq for f in first] == [0, 1, 2]
    host.pass_until(first[0].t_us + 8 * 10_000)
    assert host.frames == []
    host.ask(3)
    host.ask(2, struct.pack("<H", 100))
    host.ack(2)
    process.allow(4)
    again = [host.frame(ack=False) for _ in range(3)]
    assert [f.seq for f in again] == [0, 1, 2]
    host.pass_until(again[0].t_us + 3 * 10_000)
    assert host.frames == []
