"""One test of what a link is: the scripted mat, the firmware by cable and by radio, and the twin in this process."""

import contextlib
import itertools
import statistics
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from air import mat_on_air
from scripted_mat import frame

from groundtone.errors import LinkError, RequestError
from groundtone.link.again import Again
from groundtone.link.base import Stamped
from groundtone.link.ble_link import BleLink
from groundtone.link.find import ask, find_mat, usb_ports
from groundtone.link.scan import mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.link.twin_link import TwinLink
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

STARTER = MatSpec(rows=10, columns_per_panel=3, layout="starter-10x3")


@contextlib.contextmanager
def over_a_script(scripted):
    mat = scripted(rows=10, columns=6)

    def play():
        assert mat.started.wait(5)
        for i in range(60):
            with contextlib.suppress(OSError):
                mat.send(frame(i, 10_000 * (i + 1), flags=8 if i == 0 else 0))
            time.sleep(0.01)

    player = threading.Thread(target=play, daemon=True)
    player.start()
    with SerialLink(mat.port) as link:
        yield link
    player.join()


@contextlib.contextmanager
def over_firmware(scripted):
    with MatProcess(Scenario(STARTER, Empty(30.0))) as process, SerialLink(process.port) as link:
        yield link


@contextlib.contextmanager
def over_the_air(scripted):
    with (
        mat_on_air(Scenario(STARTER, Empty(30.0)).to_json()) as (_, radio),
        BleLink(the_mat(mats_heard(radio, 5.0, "groundtone")), radio) as link,
    ):
        yield link


@contextlib.contextmanager
def that_comes_back(scripted):
    with (
        ThreadPoolExecutor(1) as pool,
        MatProcess(Scenario(STARTER, Empty(30.0))) as process,
        Again(SerialLink(process.port), lambda uid: SerialLink(process.port), pool) as link,
    ):
        yield link


@contextlib.contextmanager
def in_process(scripted):
    with TwinLink(Scenario(STARTER, Empty(30.0))) as link:
        yield link


@pytest.mark.parametrize("make", [over_a_script, over_firmware, over_the_air, that_comes_back, in_process])
def test_every_link_is_alike(make, scripted):
    with make(scripted) as link:
        assert (link.hello.rows, link.hello.columns, link.hello.cells, link.hello.bits) == (10, 6, 60, 14)
        assert link.hello.layout == "starter-10x3"
        with pytest.raises(RequestError, match="choose 1 to"):
            link.start(0)
        assert link.start(100) == 10_000
        began = time.monotonic()
        items = []
        for item in link.frames(0.05):
            assert item is None or isinstance(item, Stamped)
            if item is not None:
                items.append(item)
            if len(items) == 50:
                break
        took = time.monotonic() - began
        link.stop()
        # A busy machine may let a mat skip a scan for want of credit; what came is told apart from what did not.
        seqs = [item.frame.seq for item in items]
        assert seqs[0] == 0
        assert [b - a - 1 for a, b in itertools.pairwise(seqs)] == [item.missed for item in items[1:]]
        assert sum(item.missed for item in items) <= 10
        assert items[0].frame.flags & 8
        assert all(item.frame.cells.shape == (60,) for item in items)
        # Real time on both clocks: scans 10 ms apart, and the host's clock agrees.
        steps = [b.device_us - a.device_us for a, b in itertools.pairwise(items) if not b.missed]
        assert statistics.median(steps) == pytest.approx(10_000, abs=500)
        passed_s = (items[-1].device_us - items[0].device_us) * 1e-6
        assert passed_s >= 0.48
        assert took == pytest.approx(passed_s, abs=0.4)
        hosts = [item.host_s for item in items]
        assert hosts == sorted(hosts)
        assert all(0.0 <= item.age_s < 0.4 for item in items)
        counts = link.statistics
        assert counts.frames >= 50
        assert (counts.repeated, counts.surplus, counts.dropped, counts.stream.bad) == (0, 0, 0, 0)


def test_the_firmware_starts_again_over_a_new_link_after_the_cable_was_out():
    with MatProcess(Scenario(STARTER, Empty(30.0))) as process:
        link = SerialLink(process.port)
        link.start(100)
        process.unplug()
        time.sleep(0.2)
        process.plug()
        link.close()
        with SerialLink(process.port) as again:  # the mat scans on: it is stopped and started anew
            assert again.start(50) == 20_000
            items = [item for item, _ in zip(again.frames(), range(5), strict=False) if item is not None]
            assert items[0].frame.seq == 0
            assert items[0].frame.flags & 8


def test_200_frames_a_second_for_five_seconds_lose_none():
    with MatProcess(Scenario(act=Empty(30.0))) as process, SerialLink(process.port) as link:
        assert link.start(200) == 5_000
        first = last = None
        for item in link.frames():
            if item is None:
                continue
            first, last = first or item, item
            if item.device_us - first.device_us >= 5_000_000:
                break
        counts = link.statistics
        assert counts.missed == counts.repeated == counts.stream.bad == 0
        # What came with the last one in one piece has been counted too.
        assert 0 <= counts.frames - 1 - (last.frame.seq - first.frame.seq) <= 32
        # A busy machine makes scans late and leaves some out; those are no frames and are not lost.
        assert 500 <= counts.frames <= 1002


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
