"""The binary for the mat: there and back, and everything that it is not."""

import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest

from groundtone.cue.rulefile import default_rules
from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import (
    ANY_TIME,
    CUES,
    ON_BOARD,
    OPEN,
    OnMat,
    PackError,
    electrical,
    limits_of,
    packed,
    places_of,
    unpacked,
)

LAYOUT = layout_of("reference-16x4")


def on_mat(**more):
    force = np.arange(16 * 8 * 61, dtype=np.uint16).reshape(16, 8, 61)
    limits, _ = limits_of(default_rules())
    usual = OnMat(
        "00112233445566aa", LAYOUT.id, 1, 200, 784.5, 1_800_000_000, 131.5, 147.25, 100.0, 1000.0, 1000.0, (16384,) * 8,
        limits, force, places_of(LAYOUT),
    )  # fmt: skip
    return replace(usual, **more)


def test_there_and_back():
    what = on_mat()
    back = unpacked(packed(what))
    for name in ("uid", "layout", "flags", "volume", "weight_n", "expires_s", "pulldown", "limits", "places"):
        assert getattr(back, name) == getattr(what, name)
    assert (back.force == what.force).all()
    # Resistances keep their 14 places.
    assert back.low_ohm == pytest.approx(131.5, abs=0.04)
    assert back.high_ohm == pytest.approx(147.25, abs=0.07)


@pytest.mark.parametrize("cut", [0, 3, 50, 200, 5000, 15000])
def test_cut_short_is_refused(cut):
    with pytest.raises(PackError):
        unpacked(packed(on_mat())[:cut])


def resealed(data):
    return bytes(data[:-4]) + struct.pack("<I", zlib.crc32(bytes(data[:-4])))


def test_what_makes_no_sense_is_refused_though_its_checksum_is_right():
    whole = packed(on_mat())
    many = bytearray(whole)
    many[120] = 255  # limits that are not there
    with pytest.raises(PackError, match="cut short"):
        unpacked(resealed(many))
    name = bytearray(whole)
    name[whole.index(LAYOUT.id.encode())] = 0xFF
    with pytest.raises(PackError, match="names no layout"):
        unpacked(resealed(name))


def test_every_flipped_byte_is_noticed():
    whole = packed(on_mat())
    for at in range(0, len(whole), 397):
        data = bytearray(whole)
        data[at] ^= 0x10
        with pytest.raises(PackError):
            unpacked(bytes(data))


def test_a_newer_version_is_named():
    data = bytearray(packed(on_mat()))
    data[4] = 2
    with pytest.raises(PackError, match="version 2"):
        unpacked(bytes(data))


def test_what_does_not_fit_is_told():
    with pytest.raises(PackError, match="does not fit"):
        packed(on_mat(weight_n=9000.0))


def test_the_rules_are_the_hosts():
    book = default_rules()
    limits, left = limits_of(book)
    assert {CUES[limit.cue] for limit in limits} == {"toes", "trail side"}
    trail = [limit for limit in limits if CUES[limit.cue] == "trail side"]
    band = book.band("trail")
    assert [(limit.low, limit.high) for limit in trail] == [(round(16384 * band.low), OPEN)]
    assert ON_BOARD[trail[0].measure] == "share"
    assert trail[0].when == 0b1100  # downswing and finish
    assert trail[0].from_turn_ms == round(1000 * band.from_turn_s)
    assert trail[0].from_impact_ms == ANY_TIME
    assert left == ()


def test_a_rule_that_the_board_cannot_hold_is_named():
    book = default_rules()
    slide = replace(book.rule("slide"), on=True)
    book = replace(book, rules=tuple(slide if rule.name == "slide" else rule for rule in book.rules))
    limits, left = limits_of(book)
    assert limits == limits_of(default_rules())[0]
    assert left == ("The mat alone has no sound for slide: it is silent there.",)


def test_habits_of_the_rules_that_stay_behind_are_named():
    book = default_rules()
    book = replace(book, tighten=replace(book.tighten, on=True), fade=replace(book.fade, on=True))
    assert ["limit" in sentence or "fade" in sentence for sentence in limits_of(book)[1]] == [True, True]


def test_with_a_putter_the_setup_alone_is_watched():
    limits, left = limits_of(replace(default_rules(), setup_only=True))
    assert [limit.when for limit in limits] == [1]
    assert left == ()


def test_exchanged_wires_are_undone():
    order = (1, 0, *range(2, 16))
    layout = replace(LAYOUT, rows_left=order, columns_order=(0, 1, 2, 3, 7, 5, 6, 4))
    force = np.zeros((16, 8, 61), np.uint16)
    force[:, :, 0] = np.arange(128).reshape(16, 8)
    lines = electrical(force, layout)[:, :, 0]
    assert lines[0, 0] == force[1, 0, 0]  # place 1 of the left panel hangs on line 0
    assert lines[0, 4] == force[0, 7, 0]
    left, right, across = places_of(layout)
    assert left == order
    assert right == tuple(range(16))
    assert across[7] == 4
