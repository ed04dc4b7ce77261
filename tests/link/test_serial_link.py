"""The serial link against a mat that does what a test tells it: noise, damage, gaps, wraps, refusals and silence."""

import itertools
import struct
import time
import zlib
from types import SimpleNamespace

import pytest
import serial
from patience import PATIENCE_S, until
from scripted_mat import EVENT, HELLO, PING, START, STOP, frame, line, message

from groundtone.errors import LinkError, LostError, RequestError, VersionError, WireError
from groundtone.link import serial_link, talk
from groundtone.link.base import Stamped
from groundtone.link.serial_link import SerialLink
from groundtone.record.feet_frames import feet_bytes
from groundtone.wire.messages import Ack, Command, Event, EventCode, Flag


def take(link, n):
    """The next n frames or events."""
    out, end = [], time.monotonic() + PATIENCE_S
    if not n:
        return out
    for item in link.frames(0.02):
        if item is not None:
            out.append(item)
        if len(out) == n:
            return out
        assert time.monotonic() < end, f"{len(out)} of {n} came"
    return out


def nothing(link, seconds=0.15):
    """Nothing comes for so long."""
    end = time.monotonic() + seconds
    for item in link.frames(0.02):
        assert item is None
        if time.monotonic() > end:
            return


def seqs(items):
    return [item.frame.seq for item in items]


def test_hello_is_read_field_by_field(scripted):
    mat = scripted(rows=16, columns=8, layout="reference-16x4", window=9, name="bench mat")
    with SerialLink(mat.port) as link:
        hello = link.hello
    assert (hello.rows, hello.columns, hello.bits, hello.window) == (16, 8, 14, 9)
    assert (hello.uid, hello.layout, hello.name) == ("67742d7477696e21", "reference-16x4", "bench mat")
    assert mat.requests[0][0] == STOP  # a mat left running is stopped before anything else


def test_a_frame_comes_with_its_values_and_times(scripted):
    mat = scripted()
    values = [(37 * i) % 16384 for i in range(60)]
    with SerialLink(mat.port) as link:
        assert link.start(100) == 10_000
        before = time.monotonic()
        mat.send(frame(0, 5_000_000, value=values, flags=8, refs=(3, 8123)))
        (item,) = take(link, 1)
        after = time.monotonic()
    assert item.frame.cells.tolist() == values
    assert (item.frame.flags, item.frame.ref_a, item.frame.ref_b) == (8, 3, 8123)
    assert item.device_us == 5_000_000
    assert before <= item.host_s <= after
    assert item.missed == 0


@pytest.mark.parametrize(
    ("what", "bad", "oversized", "unknown", "other"),
    [
        (b"MPY: soft reboot\r\n>>> \0", 1, 0, 0, 0),
        (b"\xff" * 3000 + b"\0", 0, 1, 0, 0),
        (line(frame(7, 70_000))[:50] + b"\0", 1, 0, 0, 0),
        (line(frame(7, 70_000, cells=59)), 1, 0, 0, 0),
        (line(frame(7, 70_000)[:-1] + b"?"), 1, 0, 0, 0),
        (line(message(1, b"")), 1, 0, 0, 0),
        (line(message(9, b"whatever")), 0, 0, 1, 0),
        (line(message(2, b"\0\0\0")), 0, 0, 1, 0),
        (line(message(1, bytes(100), version=2)), 0, 0, 0, 1),
        (b"\1\0", 1, 0, 0, 0),
        (b"\0\0\0", 0, 0, 0, 0),
    ],
    ids=[
        "banner", "oversized", "truncated", "frame of another size", "wrong checksum", "no body", "unknown type",
        "an ack from the mat", "version 2", "empty message", "bare zeros",
    ],
)  # fmt: skip
def test_what_is_no_message_is_counted_and_never_delivered(scripted, what, bad, oversized, unknown, other):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.raw(what)  # before, between and after
        mat.send(frame(0, 0), frame(1, 10_000))
        mat.raw(what)
        mat.send(frame(2, 20_000))
        mat.raw(what)
        assert seqs(take(link, 3)) == [0, 1, 2]
        nothing(link)
        counts = link.statistics.stream
        assert (counts.bad, counts.oversized, counts.unknown, counts.other_version) == (
            3 * bad,
            3 * oversized,
            3 * unknown,
            3 * other,
        )
        assert (link.statistics.frames, link.statistics.missed, link.statistics.repeated) == (3, 0, 0)


@pytest.mark.parametrize("noise", [b"\x07", b"\0", b"\xff\0\xff"])
def test_noise_inside_a_frame_costs_that_frame_alone(scripted, noise):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        whole = line(frame(1, 10_000, value=99))
        mat.send(frame(0, 0))
        mat.raw(whole[:40] + noise + whole[40:])
        mat.send(frame(2, 20_000))
        items = take(link, 2)
        assert seqs(items) == [0, 2]
        assert [item.missed for item in items] == [0, 1]
        assert link.statistics.stream.bad >= 1


def test_a_message_in_pieces_of_one_byte_is_whole(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        for byte in line(frame(0, 0, value=1234)):
            mat.raw(bytes([byte]))
        (item,) = take(link, 1)
    assert set(item.frame.cells.tolist()) == {1234}


def test_gaps_are_counted_and_repeats_are_not_counted_twice(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        order = [0, 1, 1, 2, 5, 4, 5, 6, 300]
        mat.send(*(frame(seq, 10_000 * seq) for seq in order))
        items = take(link, 6)
        assert seqs(items) == [0, 1, 2, 5, 6, 300]
        assert [item.missed for item in items] == [0, 0, 0, 2, 0, 293]
        nothing(link)
        counts = link.statistics
        assert (counts.frames, counts.missed, counts.repeated) == (6, 295, 3)


def test_sequence_and_clock_wrap(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        start_us = (1 << 32) - 15_000
        mat.send(*(frame(0xFFFE + i, start_us + 10_000 * i) for i in range(5)))
        items = take(link, 5)
    assert seqs(items) == [0xFFFE, 0xFFFF, 0, 1, 2]
    assert [item.device_us - start_us for item in items] == [0, 10_000, 20_000, 30_000, 40_000]
    assert link.statistics.missed == link.statistics.repeated == 0


def test_a_reply_to_another_id_or_command_is_not_ours(scripted):
    answers = {}
    mat = scripted(answers=answers)
    answers[PING] = lambda number, arguments: (
        mat.reply(number % 255 + 1, PING, payload=b"not ours") + mat.reply(number, PING, payload=arguments)
    )
    with SerialLink(mat.port) as link:
        assert link.request(Command.PING, b"ours") == b"ours"
        for off, command in ((1, PING), (0, STOP)):
            answers[PING] = lambda number, arguments, off=off, command=command: mat.reply(number + off, command)
            with pytest.raises(LinkError, match="did not answer: unplug it, plug it in again"):
                link.request(Command.PING, b"ours", patience_s=0.2)


def test_an_error_reply_is_the_mats_own_sentence(scripted):
    mat = scripted(answers={START: lambda n, a: mat.reply(n, START, 6, b"Rows 3 and 4 are joined: look for a short.")})
    with SerialLink(mat.port) as link, pytest.raises(RequestError, match="Rows 3 and 4 are joined") as caught:
        link.start(100)
    assert caught.value.status == 6


def test_an_error_reply_without_words_still_has_some(scripted):
    mat = scripted(answers={START: lambda n, a: mat.reply(n, START, 99)})
    with SerialLink(mat.port) as link, pytest.raises(RequestError, match=r"refused \(status 99\)"):
        link.start(100)


def test_frames_and_events_that_come_with_a_reply_are_kept(scripted):
    event = message(EVENT, struct.pack("<BI", 4, 0) + "défaut".encode())
    mat = scripted(
        answers={
            START: lambda n, a: (
                mat.reply(n, START, payload=struct.pack("<I", 10_000)) + line(frame(0, 10_000)) + line(event)
            )
        }
    )
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.send(frame(3, 40_000))
        first, said, second = take(link, 3)
        assert isinstance(said, Event)
        assert (said.code, said.text) == (4, "défaut")
        assert (first.frame.seq, second.frame.seq, second.missed) == (0, 3, 2)


@pytest.mark.parametrize(("text", "peak"), [(b"7000", 7000), (b"99999", 65535), (b"-5", 0), (b"loud", 0)])
def test_a_strike_comes_with_the_next_feet_and_fits_a_recording(scripted, text, peak):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.send(message(EVENT, struct.pack("<BI", EventCode.STRIKE, 1000) + text), feet(5, 3000))
        (item,) = take(link, 1)
    assert item.frame.strike_peak == peak
    assert bool(item.frame.flags & Flag.STRIKE) == bool(peak)
    assert feet_bytes(item.raw, item.frame)[20:22] == struct.pack("<H", peak)


@pytest.mark.parametrize(("later_us", "told_us"), [(65_000, 65_000), (120_000, 65_535), (250_000, None)])
def test_a_strike_whose_feet_come_late_is_told_as_far_back_as_a_frame_can_say(scripted, later_us, told_us):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.send(message(EVENT, struct.pack("<BI", EventCode.STRIKE, 1000) + b"7000"), feet(5, 1000 + later_us))
        (item,) = take(link, 1)
    assert (item.frame.strike_offset_us if item.frame.flags & Flag.STRIKE else None) == told_us


def test_frames_come_back_at_the_rate_that_was_asked_for(scripted):
    mat = scripted()
    mat._answers[Command.START_FEET] = lambda n, a: mat.reply(n, Command.START_FEET, payload=struct.pack("<I", 10_000))
    with SerialLink(mat.port) as link:
        link.start(200)
        link.feet(on=True)
        link.feet(on=False)
    asked = [(c, struct.unpack("<H", a)[0]) for c, a in mat.requests if c in (START, Command.START_FEET)]
    assert asked == [(START, 200), (Command.START_FEET, 100), (START, 200)]


def feet(seq, t_us):
    """A feet message's bytes; its checksum is the low half of the usual one."""
    whole = struct.pack("<BBHI10x", 0x16, 0, seq, t_us)
    return whole + struct.pack("<H", zlib.crc32(whole) & 0xFFFF)


def test_a_mat_that_never_answers_is_given_up_in_time(scripted):
    mat = scripted(silent=True)
    with pytest.raises(LinkError, match=f"at {mat.port} does not answer as a mat: check that it is one"):
        SerialLink(mat.port, hello_s=0.5)
    serial.Serial(mat.port, exclusive=True).close()  # it was let go


def test_a_mat_of_wire_version_2_is_refused_with_what_to_do(scripted):
    mat = scripted(version=2)
    with pytest.raises(VersionError, match="speaks wire version 2 and this program version 1: bring the older"):
        SerialLink(mat.port)


def test_a_mat_that_changes_its_version_while_running_is_refused_too(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.send(frame(0, 0))
        take(link, 1)

        def go_on():
            end = time.monotonic() + PATIENCE_S
            for _ in link.frames():
                mat.send(message(1, bytes(100), version=2))
                assert time.monotonic() < end

        with pytest.raises(LostError, match="wire version 2"):
            go_on()


@pytest.mark.parametrize(
    ("payload", "words"),
    [(b"\1\0\1", "hello is too short"), (bytes(25), "makes no sense: 0 rows"), (bytes(24), "ends within a text")],
)
def test_a_hello_that_makes_no_sense_is_refused(scripted, payload, words):
    mat = scripted(answers={HELLO: lambda n, a: mat.reply(n, HELLO, payload=payload)})
    with pytest.raises(WireError, match=words):
        SerialLink(mat.port, hello_s=0.5)


def test_a_mat_left_running_is_stopped_and_its_frames_are_not_called_damaged(scripted):
    under_way = b"".join(line(frame(i, 10_000 * i)) for i in range(40, 50))
    mat = scripted(answers={STOP: lambda n, a: under_way + mat.reply(n, STOP, payload=bytes(8))})
    with SerialLink(mat.port) as link:
        assert link.statistics.stream.bad == 0
        link.start(100)
        mat.send(frame(0, 0))
        assert seqs(take(link, 1)) == [0]
        assert link.statistics.missed == 0


@pytest.mark.parametrize("window", [2, 3, 4, 16, 32])
def test_a_mat_inside_its_window_never_waits_for_the_silence(scripted, window):
    """The mat sends whenever its window has room; every frame comes at once, and no `all` is ever needed."""
    mat = scripted(window=window)
    with SerialLink(mat.port) as link:
        link._silence_s = 1e9
        link.start(100)
        sent, newest, most = 0, -1, 0
        for item in link.frames(0.02):
            if isinstance(item, Stamped):
                most = max(most, sent - 1 - newest)
                if item.frame.seq == 59:
                    break
            newest = max([newest, *(seq for seq, _, _ in mat.acks)])
            while sent < 60 and sent - 1 - newest < window:
                mat.send(frame(sent, 10_000 * sent))
                sent += 1
        assert not any(everything for _, everything, _ in mat.acks)
        assert most <= window
        assert link.statistics.missed == 0


def test_only_frames_that_were_taken_are_acknowledged(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link._silence_s = 1e9
        link.start(100)
        mat.send(*(frame(i, 10_000 * i) for i in range(12)))
        taken = list(itertools.islice(link.frames(), 8))
        assert seqs(taken) == list(range(8))
        until(lambda: mat.acks)
        assert [(seq, everything) for seq, everything, _ in mat.acks] == [(3, 0)]  # the eighth is still in hand


def test_a_silent_mat_is_told_after_100_ms_that_nothing_is_under_way(scripted, monkeypatch):
    mat, now = scripted(), [1000.0]

    def clock():
        now[0] += 0.001  # a look at the clock takes so long, and nothing else does
        return now[0]

    with SerialLink(mat.port) as link:
        monkeypatch.setattr(talk, "time", SimpleNamespace(monotonic=clock))
        monkeypatch.setattr(serial_link, "time", SimpleNamespace(monotonic=clock))
        told, send = [], link._send
        link.start(100)
        mat.send(frame(0, 0), frame(1, 10_000))
        heard_s = [item.host_s for item in itertools.islice(filter(None, link.frames()), 2)][-1]
        monkeypatch.setattr(link, "_send", lambda ack: (told.append((ack, now[0])), send(ack)))
        for _ in link.frames(0.02):
            if now[0] > heard_s + 0.45:
                break
        monkeypatch.undo()
        until(lambda: len(mat.acks) == len(told))
    assert [ack for ack, _ in told] == [Ack(1, all=True)] * 4
    assert [at - heard_s for _, at in told] == pytest.approx([0.1, 0.2, 0.3, 0.4], abs=0.01)
    assert [(seq, everything) for seq, everything, _ in mat.acks] == [(1, 1)] * 4


def test_no_ack_goes_to_a_mat_that_was_not_started(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        nothing(link, 0.3)
    assert mat.acks == []


def test_stop_and_start_again_begins_anew(scripted):
    mat = scripted()
    with SerialLink(mat.port) as link:
        link.start(100)
        mat.send(*(frame(i, 10_000 * i) for i in range(8)))
        assert seqs(take(link, 3)) == [0, 1, 2]
        link.stop()  # five frames wait in the host
        link.start(100)
        mat.send(frame(0, 900_000), frame(1, 910_000))
        items = take(link, 2)
        assert seqs(items) == [0, 1]
        assert [item.missed for item in items] == [0, 0]
        assert [item.device_us for item in items] == [900_000, 910_000]


def test_a_port_can_be_closed_and_opened_again_and_closing_stops_the_mat(scripted):
    mat = scripted()
    for _ in range(2):
        with SerialLink(mat.port) as link:
            link.start(100)
            mat.send(frame(0, 0))
            assert seqs(take(link, 1)) == [0]
        assert mat.requests[-1][0] == STOP
        link.close()  # twice is no fault


def test_a_port_in_use_says_so(scripted):
    mat = scripted()
    with SerialLink(mat.port), pytest.raises(LinkError, match="in use by another program: close that one first"):
        SerialLink(mat.port)


@pytest.mark.parametrize("port", ["/dev/no-such-port", "/dev/null", "/", ""])
def test_a_port_that_is_none_says_so(port):
    with pytest.raises(LinkError, match="there is no mat at"):
        SerialLink(port)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("could not open port 'COM5': PermissionError(13, 'Access is denied.', None, 5)", "in use by another program"),
        ("[Errno 16] could not open port /dev/ttyACM0: [Errno 16] Device or resource busy", "in use by another"),
        ("[Errno 13] could not open port /dev/ttyACM0: [Errno 13] Permission denied", "may not be opened by this user"),
        ("could not open port 'COM9': FileNotFoundError(2, 'The system cannot find the file')", "no mat at COM5"),
    ],
)
def test_each_systems_words_are_understood(monkeypatch, said, words):
    def refuse(*args, **options):
        raise serial.SerialException(said)

    monkeypatch.setattr(serial_link.serial, "Serial", refuse)
    with pytest.raises(LinkError, match=words):
        SerialLink("COM5")


def test_a_mat_that_vanishes_is_said_to_be_gone_after_what_it_sent(scripted):
    mat = scripted()
    link = SerialLink(mat.port)
    link.start(100)
    mat.send(frame(0, 0), frame(1, 10_000))
    got = []

    def go_on():
        for item in link.frames():
            if item is not None:
                got.append(item)
            if len(got) == 2:
                mat.unplug()

    with pytest.raises(LostError, match=f"the mat at {mat.port} is gone: check its cable and power"):
        go_on()
    assert seqs(got) == [0, 1]
    with pytest.raises(LostError):
        link.request(Command.PING, b"abcd")
    link.close()


@pytest.mark.parametrize("rate", [0, -5, 70_000])
def test_a_rate_that_cannot_be_said_is_refused_before_it_is_sent(scripted, rate):
    mat = scripted()
    with SerialLink(mat.port) as link, pytest.raises(RequestError, match="choose 1 to 200"):
        link.start(rate)
    assert START not in [command for command, _ in mat.requests]


def test_a_late_frame_tells_how_late_it_is(scripted, monkeypatch):
    mat, now = scripted(), [1000.0]
    with SerialLink(mat.port) as link:
        monkeypatch.setattr(serial_link, "time", SimpleNamespace(monotonic=lambda: now[0]))
        link.start(100)
        ages = []
        for i, late_s in enumerate((0.004, 0.0, 0.002, 0.3, 0.001)):
            now[0] = 1000.0 + 0.01 * i + late_s
            mat.send(frame(i, 10_000 * i))
            ages += [item.age_s for item in take(link, 1)]
    # The quickest so far is what an age is counted from.
    assert ages == pytest.approx([0.0, 0.0, 0.002, 0.3, 0.001], abs=1e-6)
