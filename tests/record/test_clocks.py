"""Clocks that jump: the computer's is set, the mat's wraps or starts anew. Nothing is lost and time always rises."""

import numpy as np
import pytest
from mcap.reader import make_reader
from recorded import Clocks, stamped

from groundtone.link.clock import DeviceClock
from groundtone.record.frames import Frames
from groundtone.record.reader import open_recording
from groundtone.wire.codec import encode


def frames_at(t_us, host_ns=None, seq=None):
    from recorded import frame

    raw = [encode(frame(i, t, None if seq is None else seq[i]), 14) for i, t in enumerate(t_us)]
    host = np.arange(len(raw)) * 10_000_000 if host_ns is None else np.array(host_ns)
    return Frames(np.frombuffer(b"".join(raw), np.uint8).reshape(len(raw), -1), host.astype(np.int64), 60, 14)


def test_the_mats_clock_wraps_as_on_the_live_path():
    t_us = [(2**32 - 35_000 + 10_000 * i) % 2**32 for i in range(10)]
    frames = frames_at(t_us)
    clock = DeviceClock()
    assert frames.device_us.tolist() == [clock.unwrap(t) for t in t_us]
    assert np.diff(frames.device_us).tolist() == [10_000] * 9
    assert len(frames.jumps) == 0


def test_a_mat_started_anew_goes_on_by_the_computers_clock():
    t_us = [5_000_000, 5_010_000, 5_020_000, 100, 10_100, 20_100]
    host_ns = [0, 10_000_000, 20_000_000, 1_520_000_000, 1_530_000_000, 1_540_000_000]
    frames = frames_at(t_us, host_ns)
    assert (frames.device_us - 5_000_000).tolist() == [0, 10_000, 20_000, 1_520_000, 1_530_000, 1_540_000]
    assert frames.jumps.tolist() == [3]


def test_a_mat_started_anew_while_the_computers_clock_was_set_back_still_rises():
    frames = frames_at([5_000_000, 5_010_000, 100, 10_100], [0, 10_000_000, -3_600_000_000_000, -3_599_990_000_000])
    assert (np.diff(frames.device_us) > 0).all()
    assert frames.jumps.tolist() == [2]


def test_a_flip_far_ahead_is_not_believed():
    frames = frames_at([0, 10_000, 900_000_000, 900_010_000], [0, 10_000_000, 20_000_000, 30_000_000])
    assert frames.device_us.tolist() == [0, 10_000, 20_000, 30_000]


def test_a_long_gap_is_believed_when_both_clocks_saw_it():
    frames = frames_at([0, 10_000, 60_010_000], [0, 10_000_000, 60_012_000_000])
    assert frames.device_us.tolist() == [0, 10_000, 60_010_000]
    assert len(frames.jumps) == 0


def test_missed_scans_are_counted_over_the_wrap_of_their_number():
    frames = frames_at(range(0, 60_000, 10_000), seq=[65533, 65534, 2, 3, 3, 4])
    assert frames.missed.tolist() == [0, 0, 3, 0, 0, 0]


@pytest.mark.parametrize(("jump_s", "sign"), [(3600.0, "+3600.0"), (-7200.0, "-7200.0")])
def test_the_computers_clock_is_set_while_it_records(tmp_path, jump_s, sign):
    clocks = Clocks()
    recorder = clocks.recorder(tmp_path / "a.mcap")
    for number in range(300):
        if number == 150:
            clocks.wall_s += jump_s
        recorder.frame(stamped(number, host_s=clocks.steady_s))
        clocks.move(0.01)
        recorder.pump()
    recorder.close()
    got = open_recording(tmp_path / "a.mcap")
    assert got.lost == []
    assert len(got.frames) == 300
    assert (np.diff(got.frames.host_ns) > 0).all()
    assert got.frames.device_us.tolist() == [10_000 * i for i in range(300)]
    assert [entry.table["text"] for entry in got.events] == [f"the host's clock was set by {sign} s"]


def test_host_times_that_run_backwards_are_said(tmp_path):
    clocks = Clocks()
    recorder = clocks.recorder(tmp_path / "a.mcap")
    for number in range(5):
        recorder.frame(stamped(number, host_s=5.0 - number))
    recorder.close()
    got = open_recording(tmp_path / "a.mcap")
    assert got.lost == ["The computer's clock ran backwards while this was recorded: times of day in it are not sure."]
    assert len(got.frames) == 5


def test_what_is_said_between_frames_has_a_time_between_theirs(tmp_path):
    clocks = Clocks(steady_s=5.0)
    recorder = clocks.recorder(tmp_path / "a.mcap")
    for number in range(40):
        recorder.frame(stamped(number, host_s=clocks.steady_s))
        clocks.move(0.004)
        if number == 20:
            recorder.note("between")
        clocks.move(0.006)
        recorder.pump()
    recorder.close()
    with (tmp_path / "a.mcap").open("rb") as file:
        told = [(message.log_time, channel.topic) for _, channel, message in make_reader(file).iter_messages()]
    at = next(i for i, (_, topic) in enumerate(told) if topic.endswith("note"))
    assert told[at - 1][0] < told[at][0] < told[at + 1][0]
    assert told[at][0] == round(1_700_000_000.204 * 1e9)


@pytest.mark.parametrize(("jump_s", "said"), [(0.95, 0), (1.05, 1), (-0.95, 0), (-1.05, 1)])
def test_a_clock_that_moved_by_a_second_was_set(tmp_path, jump_s, said):
    clocks = Clocks()
    recorder = clocks.recorder(tmp_path / "a.mcap")
    for _ in range(2):  # said once
        clocks.move(0.6)
        clocks.wall_s, jump_s = clocks.wall_s + jump_s, 0.0
        recorder.pump()
    recorder.close()
    assert len(open_recording(tmp_path / "a.mcap").events) == said


def test_what_is_handed_over_is_on_the_disk_every_half_second(tmp_path):
    clocks = Clocks()
    recorder = clocks.recorder(tmp_path / "a.mcap")
    synced, file = [], recorder._file
    file.sync = lambda: synced.append(round(clocks.steady_s, 3))
    for _ in range(30):
        recorder.note("x")
        recorder.pump()
        clocks.move(0.05)
    assert synced == [0.5, 1.0]
    recorder.pump(now=True)
    assert synced == [0.5, 1.0, 1.5]


def test_work_goes_on_until_it_is_ended_or_nothing_is_recorded_any_more(tmp_path, monkeypatch):
    recorder = Clocks().recorder(tmp_path / "a.mcap")
    pumped, waited = [], []
    monkeypatch.setattr(recorder._wake, "wait", waited.append)

    def pump():
        pumped.append(1)
        if len(pumped) == 3:
            recorder.end_work()

    monkeypatch.setattr(recorder, "pump", pump)
    recorder.work()
    assert (len(pumped), set(waited)) == (3, {0.1})
    other = Clocks().recorder(tmp_path / "b.mcap")
    other._file = None
    monkeypatch.setattr(other, "pump", lambda: pytest.fail("nothing to write to"))
    other.work()
