"""Timing by repeats, and the machine it was done on."""

from __future__ import annotations

import os
import platform
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np


def machine() -> dict[str, str | int]:
    """What the figures were measured on."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        model = names[0] if names else model
    return {
        "processor": model,
        "cores": os.cpu_count() or 0,
        "system": platform.platform(terse=True),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "blas core": os.environ.get("OPENBLAS_CORETYPE", "chosen by the library"),
    }


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
