"""Frames of the chip's own instructions against the network's algebra: every count, every reference, every row."""

import numpy as np
import pytest
import truth


@pytest.mark.parametrize(("oversample", "bits"), [(2, 14), pytest.param(1, 12, marks=pytest.mark.whole)])
def test_every_count_of_a_loaded_mat_is_right(mat, board, oversample, bits):
    host = mat()
    host.hello()
    host.put("oversample", oversample)
    assert host.hello().bits == bits
    board.circuit(cells=truth.distinct(), settle=0.0)
    cells, even, odd = truth.frame(truth.distinct(), bits)
    host.start(200)
    frames = host.follow(200_000)
    assert len(frames) >= 37
    assert [f.seq for f in frames] == list(range(len(frames)))
    for frame in frames:
        assert (frame.cells == cells).all()
        assert (frame.refs == (odd if frame.seq & 1 else even)).all()
    assert host.stop()[1] == 0
    assert host.bad == 0
    assert len(set(cells)) > 100  # exchanged cells would show


def test_two_rows_are_never_high_together_and_all_end_low(mat, board):
    host = mat()
    host.hello()
    before = board.state()
    host.start(200)
    host.follow(50_000)
    host.stop()
    after = board.state()
    assert after["rows_high"] - before["rows_high"] >= 8 * 16
    assert after["two_high"] == before["two_high"]
    assert after["pins"][:16] == "L" * 16
    assert after["pins"][22] == "z"


@pytest.mark.parametrize("settle", [5, pytest.param(20, marks=pytest.mark.whole)])
def test_no_reading_comes_before_its_settle_time(mat, board, settle):
    host = mat()
    host.hello()
    host.put("settle_us", settle)
    host.start(100)
    host.follow(30_000)
    board.do("log", on=True)
    host.follow(30_000)
    log = board.do("log", on=False)["log"]
    since = np.array([min(moved) for _, kind, _, row, _, *moved in log if kind == 0 and row >= 0])
    assert len(since) > 2 * 128
    assert since.min() >= settle
    firsts = since[since < since.min() + 2]  # of each cell, not the readings after it
    assert len(firsts) >= 256
    assert firsts.max() <= settle + 1
