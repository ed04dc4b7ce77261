"""Frames end to end: the firmware on MicroPython, the plain world's numbers, and a host of independent parts."""

import itertools
import struct

import pytest
from at_the_line import put
from plain_world import FULL, cell


def start(host, rate=100):
    status, payload = host.ask(2, struct.pack("<H", rate))
    assert status == 0
    return struct.unpack("<I", payload)[0]


def take(process, host, n, allow=8):
    """n frames, a few allowed ahead, each acknowledged."""
    process.allow(min(allow, n))
    frames = []
    for i in range(n):
        frame = host.frame()
        assert frame is not None, f"frame {i} did not come: {process.log()}"
        frames.append(frame)
        if i + allow < n:
            process.allow(1)
    return frames


@pytest.mark.parametrize(("oversample", "scale", "first"), [(4, 4, 6), (8, 4, 6)])
def test_every_cell_and_reference_comes_where_it_belongs(mat, oversample, scale, first):
    # Four conversions v, v+1, v+2, v+3: their mean is v + 1.5, at 14 bits 4 v + 6, wherever the reading starts.
    process, host = mat()
    assert put(host, "oversample", str(oversample)) == (0, b"\x01%d" % oversample)
    start(host)
    frames = take(process, host, 4)
    expected = [scale * cell(row, column) + first for row in range(16) for column in range(8)]
    for frame in frames:
        assert frame.cells == expected
        pair = ("supply", "tap_low") if frame.seq & 1 else ("zero", "tap_high")
        assert (frame.ref_a, frame.ref_b) == tuple(scale * FULL[name] + first for name in pair)


def test_a_single_reading_has_12_bits_and_two_have_14(mat):
    process, host = mat()
    put(host, "oversample", "1")
    assert host.ask(1)[1][14] == 12
    start(host)
    (frame,) = take(process, host, 1)
    rest = [frame.cells[8 * row + column] - cell(row, column) for row in range(16) for column in range(8)]
    assert set(rest) == {0, 1, 2, 3}
    host.ask(3)
    put(host, "oversample", "2")
    assert host.ask(1)[1][14] == 14
    start(host)
    (frame,) = take(process, host, 1)
    rest = [frame.cells[8 * row + column] - 4 * cell(row, column) for row in range(16) for column in range(8)]
    # (v + v+1) / 2 or (v+2 + v+3) / 2, or those a conversion later, times four
    assert set(rest) <= {2, 6, 10}
    assert len(rest) == 128


def test_the_starter_build_scans_ten_rows_of_six(mat):
    process, host = mat({"rows": 10, "layout": "starter-10x3"})
    hello = host.ask(1)[1]
    assert hello[12:15] == bytes((10, 6, 14))
    put(host, "oversample", "4")
    start(host)
    (frame,) = take(process, host, 1)
    assert frame.cells == [4 * cell(row, column) + 6 for row in range(10) for column in range(6)]


def test_the_ceiling_is_flagged(mat):
    process, host = mat({"ceiling": True})
    put(host, "oversample", "8")  # every one of the four conversions is seen
    start(host)
    assert [f.flags for f in take(process, host, 3)] == [8 | 4, 4, 4]


@pytest.mark.parametrize("rate", [1, 3, 100, 200])
def test_scans_start_at_their_due_times_without_drift(mat, rate):
    process, host = mat()
    period = start(host, rate)
    assert period == 1_000_000 // rate
    n = 3 if rate < 10 else 400
    frames = take(process, host, n)
    first = frames[0].t_us
    # The fast clock moves 10 us at each look: some looks lie between the due time and the stamp.
    assert max(abs(f.t_us - first - i * period) for i, f in enumerate(frames)) <= 40
    assert [f.seq for f in frames] == list(range(n))


def test_a_scan_longer_than_its_period_skips_whole_periods(mat):
    process, host = mat()
    put(host, "settle_us", "100")  # 130 settles: 13 ms and more a scan, at a period of 5 ms
    period = start(host, 200)
    process.allow(150)  # a scan takes more than one table here
    frames = [host.frame(ack=False) for _ in range(16)]
    # Due times that passed without a scan are told three times: in seq, in the flags, in what stop counts.
    passed = [b.seq - a.seq - 1 for a, b in itertools.pairwise(frames)]
    assert sum(passed) > 10
    assert set(passed) <= {0, 1, 2}
    assert [f.flags >> 1 & 1 for f in frames[1:]] == [int(n > 0) for n in passed]
    for _ in range(3):
        host.ack(frames[-1].seq)
    status, payload = host.ask(3)
    sent, skipped = struct.unpack("<II", payload)
    assert (status, sent + skipped > frames[-1].seq) == (0, True)
    assert skipped >= sum(passed)
    _, payload = host.ask(6)
    findings = [struct.unpack_from("<BBBH", payload, 1 + 5 * i) for i in range(payload[0])]
    assert [f[3] >= sum(passed) for f in findings if f[0] == 24] == [True]
    steps = [b.t_us - a.t_us for a, b in itertools.pairwise(frames)]
    # A scan takes 13.3 ms. It starts at once when its due time is past by less than a period; else the time moves on by
    # whole periods: the due times stay on the grid, so the starts are never nearer than a scan, never 4 periods apart.
    assert 13_000 <= min(steps) <= max(steps) < 4 * period


@pytest.mark.parametrize("ticks0", [(1 << 30) - 1_500_000, (1 << 32) - 1_500_000])
def test_device_time_runs_over_the_counters_wraps(mat, ticks0):
    process, host = mat(ticks0=ticks0)
    assert process.ticks0 == ticks0
    period = start(host, 100)
    frames = take(process, host, 300)
    times = [f.t_us for f in frames]
    first = times[0]
    assert 0 <= first - ticks0 < 200_000
    off = [(t - first - i * period + (1 << 31)) % (1 << 32) - (1 << 31) for i, t in enumerate(times)]
    assert max(map(abs, off)) <= 40
    if ticks0 > 1 << 31:
        assert times[-1] < 1 << 30
    else:
        assert times[-1] > 1 << 30


def test_a_strike_is_told_with_its_moment(mat):
    process, host = mat({"strikes": [[1_503_300, 2900, 700], [1_900_000, 150, 700]]})
    start(host)
    frames = take(process, host, 250)
    struck = [f for f in frames if f.flags & 1]
    assert len(struck) == 1
    # The portable loop reads the ring every 0.15 ms or so, and may miss its tops.
    assert 492 * 4 <= struck[0].peak <= 2900 * 4
    # Film time 0 is the clock's start at power-up; readings come every 150 us in the wait for the next scan.
    assert abs(struck[0].t_us - struck[0].offset - 1_503_300) <= 500
    assert all(f.peak == f.offset == 0 for f in frames if not f.flags & 1)


def test_every_strike_is_told_once_wherever_it_falls_between_scans(mat):
    moments = [500_000 + 103_700 * i for i in range(20)]  # 3.7 ms further on in the period each time
    process, host = mat({"strikes": [[t, 2900, 2500] for t in moments]})
    start(host)
    frames = take(process, host, 270)
    told = [f.t_us - f.offset for f in frames if f.flags & 1]
    assert len(told) == len(moments)
    assert max(abs(a - b) for a, b in zip(told, moments, strict=True)) <= 500


def test_after_a_stall_the_due_times_are_the_old_grid(mat, tmp_path):
    (tmp_path / "stalling.py").write_text("""
import time
from mat import app, board
mat = app.App(board.here())
mat.link.open()
mat.prove_rows()
while mat.tally[3] < 5:
    mat.turn()
time.sleep_us(53000)
while True:
    mat.turn()
""")
    process, host = mat(program=tmp_path / "stalling.py")
    start(host)
    times = [f.t_us for f in take(process, host, 12)]
    since = [t - times[0] for t in times]
    # Five on time, one at once when the stall ends, then the next due times: none is made up for.
    due = [0, 10_000, 20_000, 30_000, 40_000, None, 100_000, 110_000, 120_000, 130_000, 140_000, 150_000]
    assert all(d is None or abs(s - d) <= 40 for s, d in zip(since, due, strict=True)), since
    assert 90_000 < since[5] < 98_000


def test_in_real_time_no_scan_comes_before_it_is_due(mat):
    """How well a rate is kept there is the machine's matter, and a study's."""
    _, host = mat(fast=False)
    before_us = host.device_us()
    period = start(host, 50)
    frames = [host.frame() for _ in range(30)]
    seqs = [f.seq for f in frames]
    assert seqs == sorted(set(seqs))
    assert seqs[0] == 0
    assert all(f.t_us >= before_us + (f.seq + 1) * period for f in frames)
    assert frames[-1].t_us <= host.device_us()
