"""Strikes on the chip: found wherever they fall in the period, with the size and the moment that the piezo had."""

import numpy as np
import pytest

REFERENCE = 3.27
WAY_US = 290  # the rings here begin at the disc; the firmware takes off what they need to come from the ball
SHARE = 0.15
# Volts at the ADC, Hz, first half-wave above or below 0 V.
RINGS = [(2.5, 3000, 1), (1.0, 2200, -1), (3.0, 3900, 1), (2.0, 2500, -1), (1.5, 1800, 1)]
# Light ones, from the places in the period where the ADC goes deaf on them, µs after a scan's start.
LIGHT = [(1800, 1, 1500), (2200, -1, 1500), (3000, -1, 1000), (1800, -1, 1000), (2500, 1, 1250), (3900, -1, 2000)]
LIGHT_SHARE = 0.18


def truth(volts, hz, sign, decay=3000.0):
    """Largest reading of a ring behind its clamp, as a share of the range."""
    t = np.arange(0, 3000.0, 1.0)
    v = volts * np.exp(-t / decay) * np.sin(2 * np.pi * hz * t / 1e6) * sign
    return min(3.27, v.max()) / REFERENCE


def play(board, host, rings):
    """[(told peak as a share, error of the moment in us, true peak)] of rings that wander through the period."""
    out = []
    for k, (volts, hz, sign) in enumerate(rings):
        host.follow(25_000)
        at = board.us + 4000 + 617 * k  # wherever that lies in a period
        board.do("strike", given={"at": at, "volts": volts, "hz": hz, "sign": sign})
        told = [f for f in host.follow(30_000) if f.flags & 1]
        assert len(told) == 1, (volts, hz, sign, len(told))
        out.append((told[0].peak / (1 << 14), told[0].t_us - told[0].offset + WAY_US - at, truth(volts, hz, sign)))
    return out


def test_every_ring_is_told_once_with_its_size_and_its_moment(mat, board):
    host = mat()
    host.hello()
    host.start(200)
    told = play(board, host, RINGS * 2)
    for peak, late_us, true in told:
        assert abs(peak / true - 1) <= SHARE, told
        assert abs(late_us) <= 300, told


def at_phase(board, host, us):
    """The next moment so long after a scan's start, some frames from now."""
    last = host.follow(25_000)[-1].t_us
    return last + 5000 * (int((board.us + 4000 - last) // 5000) + 1) + us


def test_a_light_ring_is_told_wherever_it_falls(mat, board):
    host = mat()
    host.hello()
    host.start(200)
    for hz, sign, phase in LIGHT:
        at = at_phase(board, host, phase)
        board.do("strike", given={"at": at, "volts": 0.75, "hz": hz, "sign": sign})
        told = [f for f in host.follow(30_000) if f.flags & 1]
        assert len(told) == 1, (hz, sign, phase)
        assert abs(told[0].peak / (1 << 14) / truth(0.75, hz, sign) - 1) <= LIGHT_SHARE, (hz, sign, phase)


@pytest.mark.parametrize(("lasts", "phase"), [(60_000, 0), (4000, 1300), (8000, 1600), (15_000, 2100)])
def test_a_push_is_no_strike(mat, board, lasts, phase):
    host = mat()
    host.hello()
    host.start(200)
    at = at_phase(board, host, phase)
    board.do("strike", given={"at": at, "volts": 1.5, "hz": 0, "lasts": lasts})
    assert sum(f.flags & 1 for f in host.follow(lasts + 60_000)) == 0
