"""Settle time and readings a value: what a cell is wrong by against what the scan takes.

How: the scan's time is that of `groundtone build scan` (on the emulated chip a scan of 128 cells with 5 µs and two
readings took 1.44 ms, here 1.43). What is wrong: what is left of a full step after the settle time, by the column's
time constant (the description's line and the film's crossings, or three times that for a longer cable), once; and the
noise of one reading by the root of the readings, with a rounding of a 12-bit step. Both in parts of the ADC's range.
The noise of a reading is the description's, not measured.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from groundtone.build.board_limits import MULTIPLEXER
from groundtone.build.mat_file import Mat, read_mat
from groundtone.build.scan_budget import budget, column_farad

STEPS = 4096
SETTLES_US = (2, 3, 5, 8, 12, 20)
READINGS = (1, 2, 4, 8)
FREE = 0.5
"""Part of the period that a scan at 200 Hz may leave at least, with its message and an acknowledgement."""
AFTER_US = 660.0
"""What follows a scan on the emulated chip: 45 % of 5 ms are not left, of which the scan takes 1.44 ms, and reserve."""
ASKED = 1e-3
"""So much of a step may be left, as a part of the range (chosen by us); a slower mat is told by its self-test."""


def wrong_by(mat: Mat, longer: float = 1.0) -> tuple[float, float]:
    """What is left of a full step, and the noise of a value, both as parts of the range."""
    tau_us = longer * (mat.electrical.pulldown_ohm + MULTIPLEXER.on_ohm) * column_farad(mat) * 1e6
    noise = math.hypot(mat.electrical.adc_noise_lsb, 12**-0.5) / math.sqrt(mat.scan.oversample) / STEPS
    return math.exp(-mat.scan.settle_us / tau_us), noise


def study_settle(seeds: int | None = None) -> dict[str, Any]:
    """The table; `ok`: the default is the quickest settle time that serves the described time constant, with the most
    readings that leave half the time at 200 Hz. `seeds` is not used: nothing is drawn."""
    mat = read_mat("reference")
    table, fit = {}, []
    for settle in SETTLES_US:
        for readings in READINGS:
            tried = replace(mat, scan=replace(mat.scan, settle_us=float(settle), oversample=readings))
            scan_us = budget(tried).scan_us
            (left, noise), (worse, _) = wrong_by(tried), wrong_by(tried, 3.0)
            table[f"{settle} µs, {readings}"] = (
                f"{scan_us / 1000:.2f} ms; left of a step {left:.1e}, at three times the time constant {worse:.1e}; "
                f"noise {noise:.1e}"
            )
            if left <= ASKED and (scan_us + AFTER_US) / 5000 <= 1 - FREE:
                fit.append((settle, -readings))
    chosen = (int(mat.scan.settle_us), -mat.scan.oversample)
    return {
        "what this is": "128 cells; by formula, no chip and no film was measured",
        "scan; what a cell is wrong by, parts of the range": table,
        "default": f"{chosen[0]} µs, {-chosen[1]} readings",
        "quickest settle time that serves, with the most readings": str(min(fit, default=None)),
        "ok": bool(fit) and min(fit) == chosen,
    }
