"""Bluetooth end to end without a radio: firmware, its radio's double, a virtual air, bleak and the real host code."""

import itertools
import statistics
import sys
import time
from pathlib import Path

import pytest
from air import mat_on_air
from patience import PATIENCE_S, until

sys.path.append(str(Path(__file__).parents[1] / "firmware"))  # so that the twin's process finds plain_world

from plain_world import cell

from groundtone.errors import LinkError, LostError, RequestError
from groundtone.link.ble_link import BleLink
from groundtone.link.scan import mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.wire.codec import string, strings
from groundtone.wire.messages import Ack, Command, Event, EventCode, Status

PLAIN = {"world": "plain_world:PlainWorld", "fast": True}
REAL = {"world": "plain_world:PlainWorld"}


def connected(radio):
    return BleLink(the_mat(mats_heard(radio, PATIENCE_S, "groundtone")), radio)


def coming(link, process=None, ahead=1):
    """Frames and events as they come; in fast time the mat may be so many scans ahead."""
    end = time.monotonic() + PATIENCE_S
    if process is not None:
        process.allow(ahead)
    for item in link.frames(0.02):
        if item is not None:
            yield item
        if process is not None and item is None:
            device_us(link)  # what is under way is here by then, and the mat has its acks
        if process is not None and not isinstance(item, Event) and not link._waiting:
            process.allow(1)  # also after a silence: a scan that was skipped for want of credit brings no frame
        assert time.monotonic() < end, "no more came"


def take(link, n, process=None, ahead=1):
    """The next n frames or events."""
    return list(itertools.islice(coming(link, process, ahead), n))


def device_us(link):
    """The mat's clock."""
    return int.from_bytes(link.request(Command.PING, b"ping")[4:], "little")


def taken(link):
    """(sent, skipped) since the start, by the mat."""
    payload = link.request(Command.STOP)
    link._running = False
    return tuple(int.from_bytes(payload[i : i + 4], "little") for i in (0, 4))


def test_hello_and_500_frames_at_mtu_247_and_a_new_connection():
    with mat_on_air({}, **PLAIN) as (process, radio):
        (heard,) = mats_heard(radio, PATIENCE_S, "060708")
        assert heard.name == "groundtone 060708"
        link = BleLink(heard, radio)
        assert (link.hello.uid, link.hello.window, link.mtu) == ("0102030405060708", 6, 247)
        assert link.start(200) == 10_000  # the radio carries no more than 100 Hz
        frames = take(link, 500, process, ahead=3)
        # A scan may have been skipped before the ack was there; what was sent has come, once and in order.
        sent, skipped = taken(link)
        counts = link.statistics
        assert counts.frames == sent >= 500
        assert counts.missed <= skipped
        assert (counts.repeated, counts.dropped, counts.surplus, counts.stream.bad) == (0, 0, 0, 0)
        seqs = [item.frame.seq for item in frames]
        assert seqs == sorted(set(seqs))
        assert seqs[0] == 0
        steps = [b.device_us - a.device_us for a, b in itertools.pairwise(frames)]
        assert statistics.median(steps) == pytest.approx(10_000, abs=200)
        # Two readings of each cell, the mean of codes that are 0 to 3 above the first, in 14 bits.
        first = [int(v) // 4 for v in frames[0].frame.cells]
        assert all(0 <= first[8 * row + column] - cell(row, column) <= 3 for row in range(16) for column in range(8))
        link.close()
        with pytest.raises(LostError, match=r"has been let go|is gone"):
            link.request(Command.PING, b"abcd")
        with connected(radio) as again:  # the service is set up anew, and the sequence begins with it
            assert again.start(50) == 20_000
            assert take(again, 5, process)[0].frame.seq == 0


def test_parts_at_mtu_23_carry_every_frame_and_long_texts_both_ways():
    with mat_on_air({}, mtu=23, **PLAIN) as (process, radio), connected(radio) as link:
        assert (link.mtu, link.hello.window) == (23, 2)
        name = "on the lawn, left bay"[:20]
        assert strings(link.request(Command.SET, string("name") + string(name)), 1) == [name]
        with pytest.raises(RequestError, match="one of 1, 2, 4, 8"):
            link.request(Command.SET, string("oversample") + string("3" * 60))
        link.start(100)
        take(link, 30, process)
        assert link.statistics.frames == taken(link)[0]  # all that was sent, put together again
        assert link.statistics.stream.bad == 0


def test_a_host_that_stalls_gets_its_window_and_no_more():
    with mat_on_air({}, **PLAIN) as (process, radio), connected(radio) as link:
        link.start(100)
        (first,) = take(link, 1, process)  # the first frame is not acknowledged before the next is asked for
        process.allow(30)
        until(lambda: device_us(link) >= first.device_us + 300_000)
        assert len(link._waiting) == 5  # with the first, a window of six
        sent, skipped = taken(link)
        assert sent == 6
        assert skipped >= 20


def test_the_rate_steps_down_when_credit_is_short_and_up_again():
    with mat_on_air({}, **PLAIN) as (process, radio), connected(radio) as link:
        assert link.start(100) == 10_000
        process.allow(200)  # two seconds of the mat's time, in which no ack comes
        until(lambda: len(link._box._items) == 7)
        items = take(link, 7)
        assert [item.frame.seq for item in items[:6]] == list(range(6))
        assert (items[-1].code, items[-1].text) == (EventCode.RATE, "50 Hz: the radio carries no more")
        slow = take(link, 10, process)
        assert {item.frame.flags & 48 for item in slow} == {16}
        assert [b.device_us - a.device_us for a, b in itertools.pairwise(slow)] == pytest.approx([20_000] * 9, abs=300)
        # Ten seconds of the mat's time without a skipped scan, then it tries again.
        for item in coming(link, process):
            slow.append(item)
            if isinstance(item, Event):
                break
        assert (slow[-1].code, slow[-1].text) == (EventCode.RATE, "100 Hz: the radio carries more again")
        assert slow[-2].device_us - slow[0].device_us >= 9_900_000
        assert {item.frame.flags & 48 for item in take(link, 3, process)} == {0}


def test_two_hosts_the_one_that_says_start_owns_the_mat():
    with mat_on_air({}, **REAL) as (process, radio), connected(radio) as link:
        with SerialLink(process.port) as cable:
            link.start(50)
            for command, arguments in ((Command.START, b"\x32\0"), (Command.STOP, b""), (Command.SELF_TEST, b"")):
                with pytest.raises(RequestError, match="in use by another program over Bluetooth") as refused:
                    cable.request(command, arguments)
                assert refused.value.status == Status.CLAIMED
            cable._send(Ack(0, all=True))  # not its frames
            assert len(cable.request(Command.PING, b"abcd")) == 8
            seqs = [item.frame.seq for item in take(link, 10)]
            assert seqs == sorted(set(seqs))
            assert seqs[0] == 0
            link.stop()
            cable.start(50)
            with pytest.raises(RequestError, match="in use by another program over USB: end that one first"):
                link.start(50)
            assert len(take(cable, 5)) == 5
        process.away()
        with pytest.raises(LostError, match="is gone: come closer"):
            take(link, 1)


def test_a_central_that_takes_nothing_any_more_is_let_go_and_the_mat_calls_again():
    with mat_on_air({}, **PLAIN) as (process, radio), connected(radio) as link:
        link.start(100)
        last = take(link, 3, process)[-1]  # connected, and no ack from here on
        with SerialLink(process.port) as cable:
            for seconds, gone in ((2.8, False), (3.2, True)):
                while (now_us := device_us(cable)) < last.device_us + seconds * 1e6:
                    process.allow(1)
                    until(lambda now_us=now_us: device_us(cable) > now_us + 5_000, step_s=0.0)
                if gone:
                    until(lambda: link._box.gone is not None)
                assert (link._box.gone is not None) == gone
        assert mats_heard(radio, PATIENCE_S, "groundtone")


def test_no_mat_is_heard_and_one_out_of_reach_is_not_connected_to():
    with mat_on_air({}, **REAL) as (process, radio):
        heard = the_mat(mats_heard(radio, PATIENCE_S, "groundtone"))
        process.away()
        time.sleep(0.2)
        assert mats_heard(radio, 0.3) == []
        with pytest.raises(LinkError, match="no mat is heard on Bluetooth: switch it on"):
            the_mat([])
        process.back()
        assert the_mat(mats_heard(radio, PATIENCE_S, "groundtone")).address == heard.address


def test_a_pause_on_the_air_gives_no_credit_before_a_second_has_passed():
    """What is late is still under way: told otherwise too soon, the mat would put more and more behind it."""
    with mat_on_air({}, **PLAIN) as (process, radio), connected(radio) as link:
        began = time.monotonic()
        link.start(100)
        process.allow(30)
        until(lambda: len(link._box._items) == 6)
        link._box._items.clear()  # six frames that are late
        assert take(link, 1, process)[0].frame.seq > 6
        assert time.monotonic() - began > 1.0
