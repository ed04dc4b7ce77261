"""The self-test's word on the settle time against what frames are really wrong by, with a slow input at the ADC."""

import numpy as np
import pytest
import truth

SETTLE = 11


def worst_error(board, host, settle):
    """Of a loaded mat's cells, as a share of the range."""
    board.circuit(cells=truth.distinct(), settle=settle)
    host.start(100)
    frames = host.follow(45_000)
    host.stop()
    board.circuit(cells=[[0.0] * 8] * 16)
    return np.abs(np.array(frames[-1].cells) - truth.frame(truth.distinct())[0]).max() / (1 << 14)


def told(host):
    return {source: value for (code, source, _), value in host.self_test().items() if code == SETTLE}


@pytest.mark.parametrize("settle", [0.6, 3.0])
def test_a_time_constant_that_spoils_frames_is_told_and_what_is_told_is_enough(mat, board, settle):
    host = mat(settle=settle)
    host.hello()
    spoilt = worst_error(board, host, settle)
    wrong = told(host)
    if settle < 1:
        assert spoilt < 0.002
        assert wrong == {}
        return
    assert spoilt > 0.01
    assert wrong
    host.put("settle_us", max(wrong.values()))
    assert told(host) == {}
    assert worst_error(board, host, settle) < 0.003
