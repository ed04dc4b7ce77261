"""One test of what a link is: the scripted mat, the firmware by cable and by radio, and the twin in this process."""

import contextlib
import itertools
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from air import mat_on_air
from patience import PATIENCE_S
from scripted_mat import frame

from groundtone.errors import LinkError, RequestError
from groundtone.link.base import Stamped
from groundtone.link.ble_link import BleLink
from groundtone.link.find import ask, find_mat, usb_ports
from groundtone.link.lasting_link import LastingLink
from groundtone.link.scan import mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.link.twin_link import TwinLink
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

STARTER = MatSpec.reference(rows=10, columns_per_panel=3, layout="starter-10x3")


@contextlib.contextmanager
def over_a_script(scripted):
    mat = scripted(rows=10, columns=6)
    sent = itertools.count()

    def allow(n):
        for i in itertools.islice(sent, n):
            mat.send(frame(i, 10_000 * (i + 1), flags=8 if i == 0 else 0))

    with SerialLink(mat.port) as link:
        yield link, allow


@contextlib.contextmanager
def over_firmware(scripted):
    with MatProcess(Scenario(STARTER, Empty(30.0)), fast=True) as process, SerialLink(process.port) as link:
        yield link, process.allow


@contextlib.contextmanager
def over_the_air(scripted):
    with (
        mat_on_air(Scenario(STARTER, Empty(30.0)).to_json(), fast=True) as (process, radio),
        BleLink(the_mat(mats_heard(radio, PATIENCE_S, "groundtone")), radio) as link,
    ):
        yield link, process.allow


@contextlib.contextmanager
def that_comes_back(scripted):
    with (
        ThreadPoolExecutor(1) as pool,
        MatProcess(Scenario(STARTER, Empty(30.0)), fast=True) as process,
        LastingLink(SerialLink(process.port), lambda uid: SerialLink(process.port), pool) as link,
    ):
        yield link, process.allow


@contextlib.contextmanager
def in_process(scripted):
    with TwinLink(Scenario(STARTER, Empty(30.0)), fast=True) as link:
        yield link, lambda n: None


def take(link, allow, n, ahead=2):
    """The next n frames of a mat that is let so many scans ahead."""
    allow(ahead)
    items = []
    for item in link.frames(0.05):
        assert item is None or isinstance(item, Stamped)
        if item is not None:
            items.append(item)
            allow(1)
        if len(items) == n:
            return items


@pytest.mark.parametrize("make", [over_a_script, over_firmware, over_the_air, that_comes_back, in_process])
def test_every_link_is_alike(make, scripted):
    with make(scripted) as (link, allow):
        assert (link.hello.rows, link.hello.columns, link.hello.cells, link.hello.bits) == (10, 6, 60, 14)
        assert link.hello.layout == "starter-10x3"
        with pytest.raises(RequestError, match="choose 1 to"):
            link.start(0)
        assert link.start(100) == 10_000
        before_s = time.monotonic()
        items = take(link, allow, 50)
        after_s = time.monotonic()
        link.stop()
        assert [item.frame.seq for item in items] == list(range(50))
        assert [item.missed for item in items] == [0] * 50
        assert items[0].frame.flags & 8
        assert all(item.frame.cells.shape == (60,) for item in items)
        steps = [b.device_us - a.device_us for a, b in itertools.pairwise(items)]
        assert steps == pytest.approx([10_000] * 49, abs=100)
        hosts = [item.host_s for item in items]
        assert hosts == sorted(hosts)
        assert before_s <= hosts[0] <= hosts[-1] <= after_s
        assert all(item.age_s >= 0.0 for item in items)
        counts = link.statistics
        assert counts.frames >= 50
        assert (counts.missed, counts.repeated, counts.surplus, counts.dropped, counts.stream.bad) == (0, 0, 0, 0, 0)


def test_the_twin_in_this_process_is_no_faster_than_time():
    with TwinLink(Scenario(STARTER, Empty(30.0))) as link:
        link.start(100)
        began = time.monotonic()
        items = take(link, lambda n: None, 30)
        assert items[-1].device_us * 1e-6 <= items[-1].host_s - began <= time.monotonic() - began


def test_the_firmware_starts_again_over_a_new_link_after_the_cable_was_out():
    with MatProcess(Scenario(STARTER, Empty(30.0)), fast=True) as process:
        link = SerialLink(process.port)
        link.start(100)
        process.allow(20)
        process.unplug()
        process.plug()
        link.close()
        with SerialLink(process.port) as again:  # the mat scans on: it is stopped and started anew
            assert again.start(50) == 20_000
            items = take(again, process.allow, 5)
            assert [item.frame.seq for item in items] == [0, 1, 2, 3, 4]
            assert items[0].frame.flags & 8


def test_a_thousand_frames_at_200_hz_lose_none():
    with (
        MatProcess(Scenario(MatSpec.reference(), Empty(30.0)), fast=True) as process,
        SerialLink(process.port) as link,
    ):
        assert link.start(200) == 5_000
        items = take(link, process.allow, 1000, ahead=6)
        counts = link.statistics
        assert counts.missed == counts.repeated == counts.stream.bad == 0
        assert [item.frame.seq for item in items] == list(range(1000))
        assert items[-1].device_us - items[0].device_us == pytest.approx(999 * 5_000, abs=100)


class Port:
    """What pyserial tells of a port."""

    def __init__(self, device, vid=0x2E8A, description="board"):
        self.device, self.vid, self.description = device, vid, description

    def __lt__(self, other):
        return self.device < other.device


def ports(monkeypatch, *which):
    monkeypatch.setattr("groundtone.link.find.list_ports.comports", lambda: list(which))


def test_only_ports_on_usb_are_ever_written_to(monkeypatch, scripted):
    other, mat = scripted(), scripted(name="mine")
    ports(monkeypatch, Port(other.port, vid=None), Port(mat.port))
    assert usb_ports() == [(mat.port, "board")]
    assert find_mat() == mat.port
    assert other.requests == []


def test_no_mat_two_mats_and_a_stranger(monkeypatch, scripted):
    ports(monkeypatch)
    with pytest.raises(LinkError, match=r"no mat was found \(no serial port on USB\): plug it in, or name its port"):
        find_mat()
    stranger, one, two = scripted(silent=True), scripted(name="one"), scripted(name="two")
    answer = ask(stranger.port, "a printer", patience_s=0.3)
    assert answer.hello is None
    assert "does not answer as a mat" in answer.why_not
    ports(monkeypatch, Port(one.port), Port(two.port))
    with pytest.raises(LinkError, match=r"more than one mat is there .*\(one\).*\(two\).*: choose one with --port"):
        find_mat()
