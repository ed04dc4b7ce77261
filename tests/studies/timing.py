"""Timing by repeats."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np


def seconds(work: Callable[[], object], repeats: int) -> list[float]:
    """Wall times of `repeats` runs after one that does not count."""
    work()
    out = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        out.append(time.perf_counter() - began)
    return out


def spread(times_s: list[float], per: int = 1) -> dict[str, float]:
    """Least, median and largest time in µs, each divided by `per`."""
    least, middle, most = np.percentile(np.array(times_s) * 1e6 / per, [0, 50, 100])
    return {"min us": round(float(least), 2), "median us": round(float(middle), 2), "max us": round(float(most), 2)}
