"""The network inverse: exactness, one frame, blocks; against dense solves in the same run."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.network import Drivers, conductances, readings
from studies.machine import seconds, spread

BLOCK = 1000


def grids(count: int, logarithmic: bool, seed: int = 1) -> NDArray[np.float64]:
    """Random 16 × 8 grids, 1 µS to 0.5 mS, evenly or evenly in the logarithm."""
    rng = np.random.default_rng(seed)
    if logarithmic:
        return np.exp(rng.uniform(np.log(1e-6), np.log(5e-4), (count, 16, 8)))
    return rng.uniform(1e-6, 5e-4, (count, 16, 8))


def drivers(seed: int = 2) -> Drivers:
    """Around 140 Ω, unequal high and low and from row to row."""
    rng = np.random.default_rng(seed)
    return Drivers(rng.uniform(130, 165, 16), rng.uniform(115, 150, 16), np.full(8, 1000.0))


def dense_inverse(reading: NDArray[np.float64], lines: Drivers, turns: int) -> NDArray[np.float64]:
    """The plain way, to compare with: row voltages from the cells, then one dense 16 × 16 solve a column, repeated."""
    rows = reading.shape[1]
    low, high, pulldown = 1 / lines.low_ohm, 1 / lines.high_ohm, 1 / lines.pulldown_ohm
    eye = np.eye(rows)
    driver = np.where(eye > 0, high, low)
    cells: NDArray[np.float64] = pulldown * reading / (1 - reading.sum(1, keepdims=True))
    for _ in range(turns):
        volts = (eye * high + reading @ cells.transpose(0, 2, 1)) / (driver + cells.sum(2)[:, None, :])
        matrix = volts[:, None] - reading.transpose(0, 2, 1)[:, :, :, None]
        right = (pulldown[:, None] * reading.transpose(0, 2, 1))[..., None]
        cells = np.linalg.solve(matrix, right)[..., 0].transpose(0, 2, 1)
    return cells


def study_network(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for."""
    lines = drivers()
    out: dict[str, Any] = {}
    worst = 0.0
    for name, logarithmic in (("even", False), ("logarithmic", True)):
        cells = grids(200, logarithmic)
        error = float(np.abs(conductances(readings(cells, lines), lines)[0] / cells - 1).max())
        out[f"largest relative error, 200 {name} grids"] = error
        worst = max(worst, error)
    cells = grids(BLOCK, True)
    reading = readings(cells, lines)
    ours = seconds(lambda: conductances(reading, lines), 9)
    forward = seconds(lambda: readings(cells, lines), 9)
    turns = next(
        t for t in range(2, 40) if np.abs(dense_inverse(reading[:100], lines, t) / cells[:100] - 1).max() < 1e-6
    )
    dense = seconds(lambda: dense_inverse(reading, lines, turns), 3)
    single = seconds(lambda: conductances(reading[:1], lines), 300)
    out[f"a frame, blocks of {BLOCK}"] = spread(ours, BLOCK)
    out["a frame, dense forward solve"] = spread(forward, BLOCK)
    out[f"a frame, dense iteration to 1e-6 ({turns} turns)"] = spread(dense, BLOCK)
    out["one frame alone, cold start"] = spread(single)
    against_forward = float(np.median(forward) / np.median(ours))
    against_dense = float(np.median(dense) / np.median(ours))
    out["times as fast as one dense forward solve (1.5 asked)"] = round(against_forward, 2)
    out["times as fast as the dense iteration (10 asked)"] = round(against_dense, 1)
    exact = worst <= 1e-6 and float(np.median(single)) <= 500e-6
    out["ok"] = exact and against_forward >= 1.5 and against_dense >= 10
    return out
