"""How quick the board is: every figure with the flash's cache modelled, and without a cache beside it (-s)."""

import numpy as np
import pytest
import truth
from wire_host import PING, Host

# Runs the mat as fast as it can: the period is shorter than any turn.
SATURATED = """
from mat import app, board
class Fast(app.App):
    def start(self, rate):
        return super().start(2000)
Fast(board.here()).run()
"""
COUNTING = """
import gc
from mat import app, board, tally
mat = app.App(board.here())
mat.link.open()
mat.prove_rows()
def until(n):
    while mat.tally[tally.SENT] < n:
        mat.turn()
until(40)
gc.collect(); gc.disable()
mat.turn()
before = gc.mem_alloc()
until(140)
grown = gc.mem_alloc() - before
gc.enable()
mat.event(200, str(grown))
mat.run()
"""
CACHES = [True, pytest.param(False, marks=pytest.mark.whole)]


def tell(cache, what, value):
    print(f"[{'cache' if cache else 'no cache'}] {what}: {value}")


def listening(log):
    """Share of the time in which the strike sensor was read without a gap: what the board has left."""
    at, kind = np.array([r[:2] for r in log], dtype=float).T
    gaps = np.diff(at)
    return gaps[(kind[1:] == 1) & (kind[:-1] == 1) & (gaps < 6)].sum() / (at[-1] - at[0])


def scans(log):
    """When row 0 rose for each scan, us."""
    cells = [r for r in log if r[1] == 0]
    return np.array([b[0] - b[5] for a, b in zip(cells, cells[1:], strict=False) if b[0] - a[0] > 300])


@pytest.mark.parametrize("cache", CACHES)
def test_at_200_hz(mat, board, cache):
    host = mat(cache)
    host.hello()
    power_up = board.us
    board.circuit(cells=truth.distinct(), settle=0.0)
    left = {}
    for every in (4, 1):
        host.start(200)
        host.follow(30_000, every)
        board.do("log", on=True)
        frames = host.follow(200_000, every)
        log = board.do("log", on=False)["log"]
        left[every] = listening(log)
        starts = scans(log)
        late = starts - starts[0] - 5000 * np.round((starts - starts[0]) / 5000)
        stamped = np.array([f.t_us for f in frames], dtype=float)
        off = [np.min(np.abs(stamped - s)) for s in starts[:-2]]
        on_its_way = max(f.came_us - f.t_us for f in frames)
        assert host.stop()[1] == 0
    ack_us = (left[4] - left[1]) * 5000 / (1 - 1 / 4)
    tell(cache, "power-up to hello, s", round(power_up / 1e6, 3))
    tell(cache, "time left at 200 Hz, an ack every 4th frame; every frame", [round(left[k], 3) for k in (4, 1)])
    tell(cache, "one ack, us", round(ack_us))
    tell(cache, "start of a scan after its due time, sd us", round(float(late.std()), 2))
    tell(cache, "t_us from row 0's rise, at most us", round(max(off), 1))
    tell(cache, "frame with the host after its scan began, at most us", round(on_its_way))
    assert round(power_up, -4) <= 600_000
    assert left[4] >= 0.5
    assert ack_us <= 250
    assert late.std() <= 10
    assert max(off) <= 10
    assert on_its_way <= 3000


@pytest.mark.parametrize("cache", CACHES)
def test_saturated(mat, board, cache):
    mat()
    rates = {}
    for every in (4, 1):
        board.prompt(board.flash, cache)
        board.paste(SATURATED)
        host = Host(board)
        host.hello()
        host.start(200)
        host.follow(50_000, every)
        frames = host.follow(250_000, every)
        rates[every] = 1e6 * (len(frames) - 1) / (frames[-1].came_us - frames[0].came_us)
        assert host.bad == 0
    tell(cache, "saturated, an ack every 4th frame; every frame, Hz", [round(rates[k], 1) for k in (4, 1)])
    assert rates[4] >= 430
    assert rates[1] >= 400


def test_frames_take_nothing_from_the_heap(mat, board):
    mat()
    board.prompt(board.flash, cache=False)
    board.paste(COUNTING)
    host = Host(board)
    host.hello()
    host.start(200)
    while not host.events:
        host.follow(20_000)
    assert host.events == [(200, "0")]


def test_a_running_mat_leaves_memory(mat):
    host = mat()
    host.hello()
    free = host.self_test()[17, 0, 0] * 16
    tell(True, "free memory after the self-test, bytes", free)
    assert free >= 169_000  # 170 kB were asked


def test_half_a_message_never_stops_the_scan(mat, board):
    host = mat()
    host.hello()
    host.start(100)
    host.follow(30_000)
    board.type(b"\x05\x12\x01")
    frames = host.follow(120_000, every=0)
    assert len(frames) >= 11
    board.type(b"\0")
    assert host.ask(PING, b"abcd")[0] == 0
