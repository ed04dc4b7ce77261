"""What goes onto the mat, on MicroPython: the host's bytes are read or refused, and never replace others in part."""

import json
from dataclasses import replace

import numpy as np
import pytest

from groundtone.cue.rulefile import default_rules
from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import OnMat, limits_of, packed, places_of

LAYOUT = layout_of("reference-16x4")
UID = "00112233445566aa"
HEAD = f"""
import json
from array import array
from mat.alone import forces, onmat
uid, layout = bytes.fromhex("{UID}"), "reference-16x4"
data = open("sent.bin", "rb").read()
def sent(pieces=230, stop=None):
    box = onmat.Inbox(uid, layout)
    box.begin(len(data))
    for at in range(0, len(data), pieces):
        if stop is not None and at >= stop:
            return None
        box.put(at, data[at:at + pieces])
    return box.end()
def refused(what, *args):
    try:
        what(*args)
    except onmat.OnMatError as error:
        return str(error)
    return ""
"""


def what(**more):
    force = (np.arange(16 * 8 * 61) % 60000).astype(np.uint16).reshape(16, 8, 61)
    limits, _ = limits_of(default_rules())
    usual = OnMat(
        UID, LAYOUT.id, 1, 200, 784.5, 1_800_000_000, 131.5, 147.25, 100.0, 1000.0, 1000.0, (16384, 16300) * 4,
        limits, force, places_of(LAYOUT),
    )  # fmt: skip
    return replace(usual, **more)


@pytest.fixture
def board(mpy, tmp_path):
    def run(code, data):
        (tmp_path / "sent.bin").write_bytes(data)
        return mpy(HEAD + code)

    return run


def test_what_was_sent_is_there_as_it_was(board):
    sent = what()
    out = board(
        """
found = sent()
again = onmat.read(uid, layout)
plan = again.forces.plan
print(json.dumps([again.flags, again.volume, again.weight, again.expires, plan[forces.LOW], plan[forces.UNEQUAL],
                  [plan[forces.PULLDOWN + c] for c in range(8)], again.limits,
                  list(array("H", bytes(again.forces.tables[-10:]))), list(again.forces.places[:16]),
                  list(again.forces.places[32:]), onmat.digest()]))
""",
        packed(sent),
    )
    flags, volume, weight, expires, low, unequal, pulls, limits, last, left, across, digest = json.loads(out)
    assert (flags, volume, weight, expires) == (1, 200, 7845, 1_800_000_000)
    assert low == round(16384 * 0.1315)
    assert unequal == 16384 + round(16384 * -0.01575)
    assert pulls == [16384, 16300] * 4
    assert limits == [[getattr(limit, name) for name in limit.__dataclass_fields__] for limit in sent.limits]
    assert last == sent.force.ravel()[-5:].tolist()
    assert left == list(range(16))
    assert across == list(range(8))
    assert digest == int.from_bytes(packed(sent)[-4:], "little")


@pytest.mark.parametrize("stop", [0, 230, 4600, 15000])
def test_a_cut_on_the_way_leaves_the_old_one(board, stop):
    out = board(
        f"""
sent()
before = onmat.digest()
sent(stop={stop})
print(onmat.digest() == before, onmat.read(uid, layout).weight)
""",
        packed(what()),
    )
    assert out.split() == ["True", "7845"]


def test_damage_on_the_way_is_refused_and_the_old_one_stays(board):
    out = board(
        """
sent()
data = bytearray(data)
data[9000] ^= 4
print(refused(sent))
print(onmat.read(uid, layout).volume)
""",
        packed(what()),
    )
    said, volume = out.splitlines()
    assert "damaged" in said
    assert volume == "200"


@pytest.mark.parametrize(
    ("more", "words"),
    [({"uid": "ffffffffffffffff"}, "another mat"), ({"layout": "starter-10x3"}, "another layout")],
)
def test_another_mats_is_refused(board, more, words):
    assert words in board("print(refused(sent))", packed(what(**more)))


def test_newer_foreign_and_short_bytes_are_refused(board):
    whole = packed(what())
    assert "version 2" in board("print(refused(sent))", whole[:4] + b"\2" + whole[5:])
    assert "nothing that goes onto a mat" in board("print(refused(sent))", b"\0" * 400)
    assert "cut short" in board("print(refused(sent))", whole[:-200])
    assert "do not fit" in board("print(refused(sent))", b"GTAM" + bytes(30_000))


def test_pieces_that_do_not_follow_are_refused_and_repeated_ones_are_not(board):
    out = board(
        """
box = onmat.Inbox(uid, layout)
box.begin(len(data))
box.put(0, data[:230])
box.put(0, data[:230])
print(refused(box.put, 460, data[460:690]))
print(refused(box.end))
box.drop()
print(refused(box.put, 230, data[230:460]))
""",
        packed(what()),
    )
    gap, short, dropped = out.splitlines()
    assert "begin again" in gap
    assert "230 of" in short
    assert "begin again" in dropped


def test_nothing_there_is_told_and_taken_off(board):
    out = board(
        """
print(refused(onmat.read, uid, layout), onmat.digest())
sent()
onmat.erase()
print(refused(onmat.read, uid, layout), onmat.digest())
""",
        packed(what()),
    )
    for line in out.splitlines():
        assert line.startswith("nothing is on the mat")
        assert line.endswith(" 0")
