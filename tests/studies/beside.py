"""What groundtone does beside what people would otherwise take, in the same run; docs/benchmarks.md is made of it.

Every row has both measured on this machine, in turn, and the ratio of each pair. Where ours is not ahead, it says so.
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.app.tones.latency import machine
from groundtone.app.tones.latency_card import missing_tools
from studies import beside_parts as parts
from studies import beside_way as way
from studies.beside_parts import Beside

WRITTEN = Path(__file__).parents[2] / "docs" / "benchmarks.md"
RUNS, STEPS = 9, 60
# A ratio nearer to one than this is no difference.
_SAME = 0.05

HEAD = """# Beside what people would take

Made by `make study NAME=beside` on {date}; do not edit it.
{machine}.

Each row was measured for both in the same run, in turn, {runs} times where it scatters (slow ones three times; foot to
ear: {steps} steps; the scan: {scans} scans, in the emulated chip's own time). Times of computation are processor time.
Less is better everywhere; "times" is the other's over ours in each pair of runs: least / median / most. Input is
invented or the simulated mat's. What is not in a row was not compared.

| part | what | beside | ours | the other | times | |
|---|---|---|---|---|---|---|
"""


def verdict(row: Beside) -> str:
    """Who is ahead, by the median pair."""
    middle = float(np.median(row.ratio()))
    if abs(middle - 1) <= _SAME:
        return "no difference"
    return "ahead" if middle > 1 else "**behind**"


def told(value: float) -> str:
    """Three figures, without an exponent where a person would not write one."""
    if not np.isfinite(value):
        return "none of ours"
    return f"{value:.2e}" if 0 < abs(value) < 1e-3 else f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"


def _three(values: Iterable[float]) -> str:
    kept = np.array(list(values))
    return told(float(kept[0])) if kept.size == 1 else " / ".join(told(v) for v in np.percentile(kept, [0, 50, 100]))


def text(rows: list[Beside], about: dict[str, Any], left_out: list[str], date: str) -> str:
    """The document."""
    on = f"{about['processor']}, {about['cores']} cores, {about['system']}, Python {about['python']}"
    out = HEAD.format(date=date, machine=on, runs=RUNS, steps=STEPS, scans=way.SCANS)
    for row in rows:
        out += (
            f"| {row.part} | {row.what}, {row.unit} | {row.other} | {_three(row.ours)} | {_three(row.others)} "
            f"| {_three(row.ratio())} | {verdict(row)} |\n"
        )
    out += "\n## Where ours is not ahead\n\n"
    behind = [row for row in rows if verdict(row) != "ahead"]
    for row in behind:
        times = told(float(1 / np.median(row.ratio())))
        out += f"- {row.part}: {row.what}, beside {row.other}: ours takes {times} times as much.\n"
    out += "" if behind else "In none of these rows.\n"
    for name in left_out:
        out += f"- {name}\n"
    return out


def study_beside(seeds: int | None = None) -> dict[str, Any]:
    """The rows, and docs/benchmarks.md written anew; `seeds` is the number of runs (9)."""
    runs = seeds or RUNS
    rows: list[Beside] = []
    left_out = []
    with tempfile.TemporaryDirectory() as folder:
        for each in (
            parts.network(runs), parts.calibration(runs), parts.centre(runs), parts.wire(runs),
            parts.recording(max(3, runs // 3), Path(folder)),
        ):  # fmt: skip
            rows += each
    if missing_tools():
        left_out.append("foot to ear was not measured: pulseaudio is not installed here")
    rows += way.foot_to_ear(STEPS)
    if way.chip_is_here():
        rows += way.scan()
    else:
        left_out.append("the scan was not measured: the emulated chip is not here (`make chip`)")
    WRITTEN.write_text(text(rows, machine(), left_out, datetime.date.today().isoformat()), encoding="utf-8")
    out: dict[str, Any] = {f"{r.part}: {r.what} beside {r.other}": f"{_three(r.ratio())}, {verdict(r)}" for r in rows}
    return out | {"written": str(WRITTEN), "ok": not left_out}
