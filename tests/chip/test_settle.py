"""The self-test's word on the settle time against what frames are really wrong by, with a slow input at the ADC."""

import numpy as np
import pytest
import truth

SETTLE, COLUMNS_SETTLE = 11, 25


def worst_error(board, host, cells=None, **circuit):
    """Of a loaded mat's cells, as a share of the range."""
    cells = cells or truth.distinct()
    board.circuit(cells=cells, **circuit)
    host.start(100)
    frames = host.follow(45_000)
    host.stop()
    board.circuit(cells=[[0.0] * 8] * 16)
    return np.abs(np.array(frames[-1].cells) - truth.frame(cells)[0]).max() / (1 << 14)


def told(host):
    return {source: value for (code, source, _), value in host.self_test().items() if code == SETTLE}


@pytest.mark.parametrize("settle", [0.6, 3.0])
def test_a_time_constant_that_spoils_frames_is_told_and_what_is_told_is_enough(mat, board, settle):
    host = mat(settle=settle)
    host.hello()
    spoilt = worst_error(board, host, settle=settle)
    wrong = told(host)
    if settle < 1:
        assert spoilt < 0.002
        assert wrong == {}
        return
    assert spoilt > 0.01
    assert wrong
    host.put("settle_us", max(wrong.values()))
    assert told(host) == {}
    assert worst_error(board, host, settle=settle) < 0.003


@pytest.mark.parametrize("picofarads", [22, 100])
def test_the_films_capacitance_is_measured_and_waited_for(mat, board, picofarads):
    film = picofarads * 1e-12
    host = mat(film=film, noise=2.5)
    host.hello()
    tau_us = 1e9 * (16 * film + 100e-12)  # a column's kilo-ohm
    needed = host.self_test()[COLUMNS_SETTLE, 0, 0]
    assert 5 <= needed <= max(6, 13 * tau_us)
    board.circuit(noise=0.0)
    # One row loaded: columns that conduct are quicker than an empty one, so what is wrong shows beside it.
    cells = [[3e-4 * (r == 5)] * 8 for r in range(16)]
    measured = worst_error(board, host, cells, film=film)
    host.put("row_settle_us", 5)
    # Without noise it may say a step of its search less.
    assert told(host) == {} if needed == 5 else 0.6 * needed <= told(host)[2] <= needed
    hasty = worst_error(board, host, cells, film=film)
    print(f"{picofarads} pF a cell: {needed} us; off by {measured:.5f} of the range, with 5 us by {hasty:.5f}")
    assert measured < 0.0006
    assert hasty < 0.0006 if picofarads == 22 else hasty > 0.001
