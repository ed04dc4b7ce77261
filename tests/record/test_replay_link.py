"""A recording played again as a link gives the frames, the times and the missed scans that were recorded."""

import itertools
import time
from dataclasses import replace

import numpy as np
import pytest
from recorded import Clocks, about, record, stamped

from groundtone.errors import RecordError, RequestError
from groundtone.record.frames import Frames
from groundtone.record.replay_link import ReplayLink
from groundtone.wire.codec import encode
from groundtone.wire.messages import Flag


def test_all_frames_come_again_and_then_nothing(tmp_path):
    path = tmp_path / "session.mcap"
    clocks = Clocks()
    recorder = clocks.recorder(path, about())
    put = [stamped(n, host_s=0.01 * n) for n in (0, 1, 2, 5, 6)]
    for item in put:
        recorder.frame(item)
    recorder.close()
    with ReplayLink(path, fast=True) as link:
        assert link.hello == about().hello
        assert link.start(200) == 10_000  # the recording's own rate
        items = list(itertools.islice(link.frames(), 7))
        assert items[5:] == [None, None]
        for item, told in zip(items[:5], put, strict=True):
            assert item.raw == told.raw
            assert item.device_us == told.device_us
            assert np.array_equal(item.frame.cells, told.frame.cells)
        assert [item.missed for item in items[:5]] == [0, 0, 0, 2, 0]
        assert (link.statistics.frames, link.statistics.missed) == (5, 2)
        with pytest.raises(RequestError, match="a recording answers no requests"):
            link.request(4)
        with pytest.raises(RequestError, match="choose 1 to 200"):
            link.start(0)
    assert list(link.frames()) == []


def test_in_real_time_frames_keep_their_distances(tmp_path):
    path = tmp_path / "session.mcap"
    record(path, 31)
    with ReplayLink(path) as link:
        link.start(100)
        began = time.monotonic()
        items = [item for item in itertools.islice(link.frames(), 31) if item is not None]
        assert time.monotonic() - began >= 0.299
        assert [item.device_us for item in items] == [10_000 * n for n in range(31)]


def test_a_recording_without_frames_is_refused(tmp_path):
    path = tmp_path / "empty.mcap"
    record(path, 0)
    with pytest.raises(RecordError, match=r"empty\.mcap holds no frames: choose another"):
        ReplayLink(path)


def test_scans_between_two_starts_are_not_called_missed():
    """After a gap the mat counts its scans anew: from 40,000 to 0 is no loss of 25,000."""
    items = [stamped(n, seq=40_000 + n) for n in range(3)] + [stamped(n + 300, seq=n) for n in range(3)]
    items[3] = replace(items[3], frame=replace(items[3].frame, flags=int(Flag.FIRST)))
    raw = np.stack([np.frombuffer(encode(item.frame, 14), np.uint8) for item in items])
    assert Frames(raw, np.arange(6) * 10_000_000, 60, 14).missed.tolist() == [0] * 6
