"""From a scan to newtons in integers, on MicroPython, judged by the host's own inverse and the curves of the tables."""

import json

import numpy as np
import pytest

from groundtone.mat.network import Drivers, conductances, readings

ROWS, COLUMNS = 16, 8
NODES = np.array([(4 + k) * 2**octave for octave in range(15) for k in range(4)] + [4 * 2**15]) / 16384 * 1e-3
SCRIPT = """
import json
from array import array
from mat.alone import forces
plan = json.loads(open("plan.json").read())
board = forces.Forces(16, 8, array("H", plan["tables"]))
board.plan[forces.LOW] = plan["low"]
board.plan[forces.UNEQUAL] = plan["unequal"]
for values in plan["frames"]:
    board.frame(array("H", values))
    print(json.dumps([list(board.g), list(board.force), list(board.feet), board.plan[forces.HEAVY]]))
"""


def standing(frames, level_s, exponent, rng):
    """Conductances while pressure wanders from foot to foot and from heels to toes: smooth in time, wide in size."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    gain = level_s * np.exp(rng.normal(0, 0.35, (ROWS, COLUMNS)))
    force = np.zeros((frames, ROWS, COLUMNS))
    for i in range(frames):
        turn = 3 * np.pi * i / frames
        for foot, part in ((0, 0.5 + 0.35 * np.sin(turn)), (1, 0.5 - 0.35 * np.sin(turn))):
            middle = 7.5 + 4 * np.cos(turn)
            shape = np.exp(-(((row - middle) / 3.5) ** 2) - ((column - 4 * foot - 1.5) / 1.1) ** 2)
            shape *= column // 4 == foot
            force[i] += 800 * part * shape / shape.sum()
    return gain, gain * (force / 100) ** exponent


def tables_of(gain, exponent):
    """Node by node for each cell, 1/32 N."""
    force = 100 * (NODES / gain[..., None]) ** (1 / exponent)
    return np.minimum(np.round(32 * force), 65535).astype(int)


@pytest.fixture
def on_board(mpy, tmp_path):
    def run(frames, drivers, tables):
        low, high, pull = drivers.low_ohm[0], drivers.high_ohm[0], 1000.0
        plan = {
            "tables": tables.reshape(-1).tolist(),
            "low": round(16384 * low / pull),
            "unequal": 16384 + round(16384 * (low - high) / pull),
            "frames": frames.reshape(len(frames), -1).tolist(),
        }
        (tmp_path / "plan.json").write_text(json.dumps(plan))
        lines = [json.loads(line) for line in mpy(SCRIPT).splitlines()]
        g, force, feet, heavy = (np.array(column) for column in zip(*lines, strict=True))
        shape = (len(frames), ROWS, COLUMNS)
        return g.reshape(shape) / 16384 / pull, force.reshape(shape) / 32, feet, heavy

    return run


@pytest.mark.parametrize(("level_s", "exponent", "high", "low"), [(0.2e-3, 0.9, 160, 130), (1.1e-3, 0.75, 132, 150)])
def test_conductances_and_forces_are_the_hosts(on_board, level_s, exponent, high, low):
    gain, truth = standing(150, level_s, exponent, np.random.default_rng(3))
    drivers = Drivers.equal(ROWS, COLUMNS, high, low, 1000.0)
    counts = np.floor(readings(truth, drivers) * 16384).astype(int)
    theirs, _ = conductances(counts / 16384, drivers)
    g, force, feet, heavy = on_board(counts, drivers, tables_of(gain, exponent))
    wanted = 100 * (np.maximum(theirs, 0) / gain) ** (1 / exponent)
    after = slice(4, None)  # the first frames have no frame before them to go on from
    loaded = (wanted[after] > 5) & (theirs[after] > 0)
    off = np.abs(g[after][loaded] / theirs[after][loaded] - 1)
    assert np.quantile(off, 0.95) < 0.01
    assert off.max() < 0.03
    assert np.quantile(np.abs(force[after][loaded] / wanted[after][loaded] - 1), 0.95) < 0.01
    for foot, columns in ((0, slice(0, 4)), (1, slice(4, 8))):
        total = wanted[after][:, :, columns].sum((1, 2))
        along = (wanted[after][:, :, columns].sum(2) @ np.arange(ROWS)) / total
        mine = feet[after, 8 * foot] / 32
        assert np.abs(mine / total - 1).max() < 0.03
        assert np.abs(feet[after, 8 * foot + 1] / feet[after, 8 * foot] - along).max() < 0.06  # 1.2 mm
    assert not heavy.any()


def test_an_empty_mat_is_no_force(on_board):
    drivers = Drivers.equal(ROWS, COLUMNS, 140, 140, 1000.0)
    _, force, feet, _ = on_board(np.zeros((3, 128), int), drivers, tables_of(np.full((ROWS, COLUMNS), 1e-4), 0.9))
    assert not force.any()
    assert not feet.any()


def test_a_column_beyond_what_can_be_told_is_counted(on_board):
    drivers = Drivers.equal(ROWS, COLUMNS, 140, 140, 1000.0)
    counts = np.zeros((4, ROWS, COLUMNS), int)
    counts[:, :, 2] = 1020  # sixteen of them are 99.6 % of the supply
    _, _, _, heavy = on_board(counts, drivers, tables_of(np.full((ROWS, COLUMNS), 1e-4), 0.9))
    assert heavy[-1] == 1


def test_a_load_that_jumps_while_a_scan_is_under_way_puts_no_later_scan_wrong(on_board):
    gain, truth = standing(120, 1.1e-3, 0.75, np.random.default_rng(5))
    drivers = Drivers.equal(ROWS, COLUMNS, 130, 145, 1000.0)
    before, after = (readings(truth[i : i + 1], drivers)[0] for i in (0, 60))  # heels of one foot, toes of the other
    upper = np.arange(ROWS)[:, None]
    scans, torn = [], []
    for row in range(1, ROWS):
        scans += [before] * 5
        torn.append(len(scans))
        scans += [np.where(upper < row, after, before), *[after] * 5]
    counts = np.floor(np.array(scans) * 16384).astype(int)
    g, _, _, heavy = on_board(counts, drivers, tables_of(gain, 0.75))
    theirs, _ = conductances(counts / 16384, drivers)
    cannot = [i for i in torn if np.isnan(theirs[i]).any()]
    assert len(cannot) > 2
    assert all(heavy[i] for i in cannot)
    settled = [[i + k for i in torn] for k in range(1, 6)]
    assert not heavy[settled].any()
    total = g[settled].sum((2, 3)) / theirs[settled].sum((2, 3))
    for later, limit in zip(total, (0.5, 0.15, 0.05, 0.02, 0.01), strict=True):
        assert later == pytest.approx(np.ones(len(torn)), abs=limit)
