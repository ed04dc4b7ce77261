"""Placements found in a synthetic bench run: creep tails, unloading steps, noise, and miscounts that are named."""

import math

import numpy as np
import pytest

from groundtone.calibration.fitting.capture import placements_from
from groundtone.errors import CalibrationError

ROWS, COLUMNS = 4, 4
WEIGHTS = (20.0, 60.0, 180.0, 60.0)
CREEP, BEGIN_S = 0.03, 0.02
GAIN = 2.5e-6


def bench_run(cells, weights=WEIGHTS, rate_hz=10.0, on_s=1.0, off_s=0.4, noise=0.3e-6, creep=CREEP, beside=0.0):
    """Time and conductances; a lighter weight than the one before is reached by taking off, without a gap.

    Each step of load brings a step of conductance that creeps on with the logarithm of time, and goes the same way.
    """
    steps, now = [], 1.0
    for cell in cells:
        on_it = 0.0
        for i, weight in enumerate(weights):
            steps.append((now, cell, GAIN * (weight - on_it)))
            on_it = weight
            now += on_s
            if not (i + 1 < len(weights) and weights[i + 1] < weight):
                steps.append((now, cell, -GAIN * on_it))
                on_it = 0.0
                now += off_s
    t = np.arange(0, now + 0.5, 1 / rate_hz)
    g = np.random.default_rng(4).normal(0, noise, (t.size, ROWS, COLUMNS))
    for at, (row, column), size in steps:
        since = np.maximum(t - at, 0.0)
        grown = size * (1 + creep * np.log10(1 + since / BEGIN_S)) * (t >= at)
        g[:, row, column] += (1 - beside) * grown
        g[:, row, (column + 1) % COLUMNS] += beside * grown
    return t, g


@pytest.mark.parametrize("rate_hz", [10.0, 25.0])
def test_every_placement_is_found_where_it_is(rate_hz):
    cells = [(1, 2), (0, 0), (3, 3), (3, 2)]
    t, g = bench_run(cells, rate_hz=rate_hz)
    found = placements_from(t, g, WEIGHTS)
    assert [(p.row, p.column, p.force_n) for p in found] == [(*cell, w) for cell in sorted(cells) for w in WEIGHTS]
    assert [p.falling for p in found] == [False, False, False, True] * 4
    for p in found:
        if not p.falling:
            # The dwell begins 0.45 s after the first frame with the load, which comes up to a frame late.
            grown = 1 + CREEP * math.log10(0.75 / BEGIN_S)
            assert p.conductance_s[p.row, p.column] == pytest.approx(GAIN * p.force_n * grown, rel=0.012, abs=0.8e-6)
            assert t[p.dwell].size == pytest.approx(0.5 * rate_hz, abs=1)
    heavy = [p for p in found if p.force_n == 180.0]
    # ln of reading grows by about c / (1 + c log) a decade.
    assert np.mean([p.drift for p in heavy]) == pytest.approx(CREEP / (1 + 1.5 * CREEP), rel=0.25)
    assert all(math.isnan(p.drift) for p in found if p.falling)


def test_a_tail_above_the_loaded_level_is_no_placement():
    # 400 N for 4 s leave more than 5 µS behind for a second: still it is one placement, and the next cell is seen.
    t, g = bench_run([(0, 0), (2, 1)], weights=(400.0, 401.0), on_s=4.0, off_s=0.4, creep=0.05)
    after = np.searchsorted(t, 5.3)
    assert g[after, 0, 0] > 15e-6
    found = placements_from(t, g, (400.0, 401.0))
    assert [(p.row, p.column) for p in found] == [(0, 0), (0, 0), (2, 1), (2, 1)]


def test_a_neighbour_that_carries_a_part_is_seen_and_is_no_placement():
    t, g = bench_run([(1, 2)], beside=0.2)
    found = placements_from(t, g, WEIGHTS)
    assert len(found) == 4
    for p in found[:3]:
        assert p.conductance_s[1, 3] / p.conductance_s[1, 2] == pytest.approx(0.25, abs=0.05)


def test_two_steps_down():
    weights = (30.0, 180.0, 90.0, 40.0)
    found = placements_from(*bench_run([(1, 1)], weights=weights), weights)
    assert [p.falling for p in found] == [False, False, True, True]
    got = [p.conductance_s[1, 1] / GAIN for p in found]
    # Creep adds 5 % at each level, and what is left of the 180 N that lay there adds to the lighter ones.
    assert got == pytest.approx(weights, rel=0.12)


@pytest.mark.parametrize(("named", "seen"), [((20.0, 60.0, 180.0), 4), ((20.0, 60.0, 180.0, 60.0, 20.0), 4)])
def test_a_wrong_count_names_the_first_such_cell(named, seen):
    t, g = bench_run([(1, 2), (0, 3)])
    with pytest.raises(CalibrationError, match=f"row 0, column 3 was loaded {seen} times where {len(named)}"):
        placements_from(t, g, named)


def test_a_cell_that_was_forgotten_once():
    t, g = bench_run([(0, 0), (2, 1), (3, 3)])
    # The second weight on (2, 1) never came: it would have lain from 9.2 s on.
    first = 1.0 + 5.2 + 1.4
    g[(t > first - 0.05) & (t < first + 1.39), 2, 1] = 0.0
    with pytest.raises(CalibrationError, match="row 2, column 1 was loaded 3 times where 4 weights were named: repeat"):
        placements_from(t, g, WEIGHTS)


def test_an_empty_run_is_refused():
    t = np.arange(0, 10, 0.1)
    for g in (np.zeros((100, ROWS, COLUMNS)), np.full((100, ROWS, COLUMNS), np.nan)):
        with pytest.raises(CalibrationError, match="no loaded cell"):
            placements_from(t, g, WEIGHTS)


def test_lost_frames_between_weights_change_nothing():
    t, g = bench_run([(1, 2), (0, 0)])
    g[:8] = np.nan
    g[np.searchsorted(t, 6.1)] = np.nan
    assert len(placements_from(t, g, WEIGHTS)) == 8
