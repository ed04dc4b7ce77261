"""Messages out of notifications: whole ones, parts that join, and what is counted and never delivered."""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scripted_mat import frame, message

from groundtone.link import ble_link
from groundtone.link.base import Stamped
from groundtone.link.ble_link import BleLink, PartsDecoder, _Mailbox
from groundtone.link.clock import RateWatch
from groundtone.link.serial_link import SerialLink


def split(whole, size):
    """A message in parts of `size` bytes, as WIRE.md says, by hand."""
    pieces = [whole[i : i + size] for i in range(0, len(whole), size)]
    left = len(pieces) - 1
    return [bytes([(0xE0 if i == 0 else 0xF0) | left - i]) + piece for i, piece in enumerate(pieces)]


@given(length=st.integers(0, 239), size=st.integers(19, 243))
def test_parts_of_any_size_join_to_the_message(length, size):
    whole = message(1, bytes(i * 5 & 255 for i in range(length)))
    decoder = PartsDecoder()
    out = [decoder.feed(part) for part in split(whole, size)]
    assert out == [None] * (len(out) - 1) + [whole]
    assert (decoder.counts.messages, decoder.counts.bad) == (1, 0)


def test_the_longest_message_makes_thirteen_parts_at_mtu_23():
    assert len(split(bytes(244), 19)) == 13


@pytest.mark.parametrize(
    ("order", "good", "bad"),
    [
        ("012 w", 2, 0),
        ("01 w", 1, 1),  # the end is missing
        ("02 w", 1, 1),  # the middle is missing
        ("12 w", 1, 0),  # the beginning is missing: nothing to tell which message it was
        ("0 012", 1, 1),  # begun again
        ("0112", 0, 1),  # a part twice
        ("w 012 w", 3, 0),
    ],
)
def test_what_does_not_continue_ends_that_message_alone(order, good, bad):
    whole = frame(3, 30_000)
    parts = split(whole, 50)
    assert len(parts) == 3
    decoder = PartsDecoder()
    fed = [decoder.feed(whole if c == "w" else parts[int(c)]) for c in order.replace(" ", "")]
    assert [item for item in fed if item is not None] == [whole] * good
    assert (decoder.counts.messages, decoder.counts.bad) == (good, bad)


@pytest.mark.parametrize(
    ("data", "counted"),
    [
        (b"", "bad"), (b"\x11abc", "bad"), (message(1, b"x")[:-1] + b"?", "bad"), (message(9, b"later"), "unknown"),
        (message(1, b"x", version=2), "other_version"),
    ],
)  # fmt: skip
def test_what_is_no_message_is_counted(data, counted):
    decoder = PartsDecoder()
    assert decoder.feed(data) is None
    assert getattr(decoder.counts, counted) == 1
    assert (decoder.refusal is not None) == (counted == "other_version")


def test_a_full_mailbox_drops_and_counts(monkeypatch):
    monkeypatch.setattr(ble_link, "_QUEUE", 3)
    box = _Mailbox()
    for i in range(5):
        box.put(bytes([i]))
    assert [data for _, data in box.take(0.0)] == [b"\0", b"\1", b"\2"]
    assert box.dropped == 2
    box.end("gone")
    box.end("another reason")
    assert (box.gone, box.take(5.0)) == ("gone", [])  # nobody waits for a mat that has gone


def at(device_us):
    return Stamped(SimpleNamespace(), device_us, 0.0, 0.0, 0)


def test_below_fifty_frames_a_second_no_cue_sounds_and_it_is_said_once_each_way():
    watch, said = RateWatch(), []
    t_us = 0
    for step_us, count in ((10_000, 300), (40_000, 100), (21_500, 200), (20_000, 150), (5_000_000, 2), (20_000, 100)):
        for _ in range(count):
            t_us += step_us
            sentence = watch.sentence_at(at(t_us))
            if sentence:
                said.append((round(t_us * 1e-6), sentence))
    assert [when for when, _ in said] == [4, 12]
    assert said[0][1].startswith("Only 25 frames a second come, and below 50 no cue sounds")
    assert said[1][1].endswith("the cues sound again.")
    assert not watch.too_slow
    assert watch.hz == pytest.approx(50, abs=0.1)


def test_half_of_a_hundred_frames_is_not_too_slow_and_a_third_is():
    for every, slow in ((2, False), (3, True)):
        watch = RateWatch()
        for i in range(0, 400, every):
            watch.sentence_at(at(10_000 * i))
        assert watch.too_slow is slow


def test_a_cable_is_told_of_the_computer_and_a_radio_of_the_way():
    for by_radio, remedy in ((True, "come closer or use the cable"), (False, "close other programs")):
        watch = RateWatch(by_radio=by_radio)
        (said,) = filter(None, (watch.sentence_at(at(40_000 * i)) for i in range(100)))
        assert remedy in said
        assert ("cable" in said) is by_radio
    assert (BleLink.by_radio, SerialLink.by_radio) == (True, False)
