"""A link that comes back: the same mat only, no frame twice, time that goes on, and nothing left open."""

import struct
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from patience import PATIENCE_S
from scripted_mat import START, frame

from groundtone.errors import LinkError, LostError
from groundtone.link.base import Gap, Stamped
from groundtone.link.lasting_link import LastingLink
from groundtone.link.serial_link import SerialLink


@pytest.fixture
def pool():
    with ThreadPoolExecutor(1) as threads:
        yield threads


class Ports:
    """Where the mat is to be found; nothing is there at first after it was pulled."""

    def __init__(self):
        self.mats = []
        self.asked = []

    def find(self, uid):
        self.asked.append(uid)
        if not self.mats:
            raise LinkError("no mat was found")
        return SerialLink(self.mats[0].port)


def follow(link, until):
    """What comes until `until(items)` says so, the silences left out."""
    out, end = [], time.monotonic() + PATIENCE_S
    for item in link.frames(0.02):
        if item is not None:
            out.append(item)
        if until(out):
            return out
        assert time.monotonic() < end, out


def frames_of(items):
    return [item for item in items if isinstance(item, Stamped)]


def some(n):
    return lambda items: len(frames_of(items)) >= n


def gaps(n):
    return lambda items: len([item for item in items if isinstance(item, Gap)]) >= n


def test_a_pulled_cable_is_a_gap_and_the_mat_goes_on_from_where_it_is_found(scripted, pool):
    first, ports = scripted(), Ports()
    with LastingLink(SerialLink(first.port), ports.find, pool) as link:
        link.start(100)
        first.send(*(frame(i, 5_000_000 + 10_000 * i) for i in range(6)))
        got = follow(link, some(6))
        first.unplug()
        got += follow(link, gaps(1))
        assert isinstance(got[-1], Gap)
        assert got[-1].lost
        assert got[-1].at_s == frames_of(got)[-1].host_s
        assert "is gone: check its cable and power" in got[-1].why
        with pytest.raises(LostError):
            link.request(4, b"abcd")
        second = scripted()
        ports.mats.append(second)
        got += follow(link, gaps(1))
        assert not got[-1].lost
        assert (second.requests[-1], link.why_not) == ((START, struct.pack("<H", 100)), "")
        # The mat was not switched off: its clock ran on for 1.5 s, its sequence begins anew.
        second.send(*(frame(i, 6_550_000 + 10_000 * i, flags=8 * (i == 0)) for i in range(4)))
        got += follow(link, some(4))
        items = frames_of(got)
        assert [item.device_us for item in items] == [5_000_000 + 10_000 * i for i in (*range(6), *range(155, 159))]
        assert [item.missed for item in items] == [0] * 10
        assert (link.statistics.frames, link.statistics.repeated, link.statistics.gaps) == (10, 0, 1)
        assert set(ports.asked) == {link.hello.uid}


def test_a_mat_that_was_switched_off_begins_its_clock_anew_and_time_goes_on_by_the_hosts(scripted, pool):
    first, ports = scripted(), Ports()
    with LastingLink(SerialLink(first.port), ports.find, pool) as link:
        link.start(100)
        first.send(*(frame(i, 900_000_000 + 10_000 * i) for i in range(3)))
        got = follow(link, some(3))
        first.unplug()
        second = scripted()
        ports.mats.append(second)
        follow(link, gaps(2))
        second.send(*(frame(i, 2_000_000 + 10_000 * i, flags=8 * (i == 0)) for i in range(3)))
        items = frames_of(got + follow(link, some(3)))
        apart_s = items[3].host_s - items[2].host_s
        assert items[3].device_us - items[2].device_us == pytest.approx(max(1000, apart_s * 1e6), abs=2)
        assert [b.device_us - a.device_us for a, b in zip(items[3:], items[4:], strict=False)] == [10_000, 10_000]
        assert items[3].frame.t_us == 2_000_000  # what came is recorded as it came


def test_another_mat_is_not_taken_for_this_one(scripted, pool):
    first, ports = scripted(), Ports()
    with LastingLink(SerialLink(first.port), ports.find, pool) as link:
        link.start(100)
        first.unplug()
        follow(link, gaps(1))
        other = scripted(uid=bytes(range(8)))
        ports.mats.append(other)
        follow(link, lambda _: len(ports.asked) > 2)
        assert "this is mat 0001020304050607 and no longer 67742d7477696e21" in link.why_not
        assert not other.started.is_set()
        right = scripted()
        ports.mats[:] = [right]
        (found,) = follow(link, gaps(1))
        assert not found.lost
        assert right.started.is_set()


def test_a_mat_that_refuses_to_start_is_asked_again_and_says_why(scripted, pool):
    first, ports = scripted(), Ports()
    with LastingLink(SerialLink(first.port), ports.find, pool) as link:
        link.start(100)
        first.unplug()
        follow(link, gaps(1))
        answers = {}
        mat = scripted(answers=answers)
        answers[START] = lambda n, a: mat.reply(n, START, 6, b"Rows cannot be proven apart: step off.")
        ports.mats.append(mat)
        follow(link, lambda _: "step off" in link.why_not)
        del answers[START]
        follow(link, gaps(1))
        assert mat.started.wait(PATIENCE_S)


def test_a_line_that_is_there_and_brings_nothing_is_a_gap_too(scripted, pool):
    first, ports = scripted(), Ports()
    ports.mats.append(first)
    with LastingLink(SerialLink(first.port), ports.find, pool, stall_s=0.3) as link:
        link.start(100)
        first.send(frame(0, 0))
        got = follow(link, gaps(2))
        assert [item.lost for item in got[1:]] == [True, False]
        assert "has stopped sending" in got[1].why
        follow(link, some(0))
        first.send(frame(0, 700_000))
        (item,) = frames_of(follow(link, some(1)))
        assert item.device_us == 700_000


def test_a_request_under_way_when_the_cable_is_pulled_is_refused_and_the_gap_is_told(scripted, pool):
    asked = threading.Event()
    first, ports = scripted(answers={4: lambda n, a: asked.set() or b""}), Ports()
    with LastingLink(SerialLink(first.port), ports.find, pool) as link:
        link.start(100)
        threading.Thread(target=lambda: asked.wait(PATIENCE_S) and first.unplug()).start()
        with pytest.raises(LostError, match="is gone"):  # and not that it did not answer, after its patience
            link.request(4, b"abcd")
        (lost,) = follow(link, gaps(1))
        assert lost.lost


def test_a_computer_that_slept_is_a_gap_though_the_line_held(scripted, pool):
    mat, asleep = scripted(), [0.0]
    with LastingLink(
        SerialLink(mat.port), Ports().find, pool, with_sleep_s=lambda: time.monotonic() + asleep[0]
    ) as link:
        link.start(100)
        mat.send(frame(0, 1_000_000), frame(1, 1_010_000))
        follow(link, some(2))
        asleep[0] = 600.0
        # The mat waited for credit and its clock ran on; the host's stood still.
        mat.send(frame(60_001, 601_010_000), frame(60_002, 601_020_000))
        lost, found, one, two = follow(link, some(2))
        assert (lost.lost, found.lost) == (True, False)
        assert lost.why == "the computer slept for 600 s"
        assert 1_010_000 < one.device_us < 3_000_000  # as a reader of the recording will find
        assert two.device_us - one.device_us == 10_000


def test_frames_far_apart_are_a_gap_and_a_skipped_scan_is_none(scripted, pool):
    mat = scripted()
    with LastingLink(SerialLink(mat.port), Ports().find, pool) as link:
        link.start(100)
        mat.send(frame(0, 0), frame(9, 90_000), frame(140, 1_400_000))
        items = follow(link, some(3))
        assert [type(item).__name__ for item in items] == ["Stamped", "Stamped", "Gap", "Gap", "Stamped"]
        assert items[2].why == "no frames came for 1.3 s"
        assert [item.missed for item in frames_of(items)] == [0, 8, 130]


def test_an_end_while_it_is_looked_for_leaves_nothing_open(scripted):
    first, found, go = scripted(), [], threading.Event()

    def find(uid):
        go.wait(PATIENCE_S)
        found.append(SerialLink(second.port))
        return found[0]

    with ThreadPoolExecutor(1) as threads:
        link = LastingLink(SerialLink(first.port), find, threads)
        link.start(100)
        first.unplug()
        second = scripted()
        items = follow(link, gaps(1))
        frames = link.frames(0.01)
        for _ in range(5):
            assert next(frames) is None
        frames.close()
        link.close()
        go.set()
        assert items[0].lost
    assert found
    with pytest.raises(LostError):
        found[0].request(4, b"abcd")


def test_a_mat_that_sends_faster_than_asked_is_counted_and_thinned_out(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        assert link.start(100) == 10_000
        # Twice as fast as it said: every second frame is too many once the slack is used up.
        fast = [(i, frame(i, 5_000 * i)) for i in range(100)]
        sender = threading.Thread(target=mat.play, args=(fast,), daemon=True)
        sender.start()
        got = []
        for item in link.frames(0.05):
            if item is None and not sender.is_alive():
                break
            got += [item] if item is not None else []
        counts = link.statistics
        assert (counts.frames, counts.missed) == (100, 0)
        assert len(got) == 100 - counts.surplus
        assert 54 <= len(got) <= 60  # half of them, and the slack
        assert [item.missed for item in got] == [0] * len(got)
