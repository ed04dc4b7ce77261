"""Settle time and readings a value: what a cell is wrong by against what the scan takes.

How: the scan's time is that of `groundtone build scan` (on the emulated chip a scan of 128 cells with 5 µs and two
readings took 1.44 ms, here 1.43 without what the columns take after a row). What is left of a whole step: of the first
column of a row, which is waited for once a row, and of a column after another one, by the two capacitances of
`groundtone.build.protection`; and the noise of one reading by the root of the readings, with a rounding of a 12-bit
step. All in parts of the ADC's range. Crossings of 10, 22 and 100 pF; the noise of a reading is the description's.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from groundtone.build.mat_file import Mat, read_mat
from groundtone.build.protection import settling
from groundtone.build.scan_budget import budget

STEPS = 4096
SETTLES_US = (3, 4, 5, 6, 8, 12)
READINGS = (1, 2, 4, 8)
CELLS_PF = (10.0, 22.0, 100.0)
FREE = 0.5
"""Part of the period that a scan at 200 Hz may leave at least, with its message and an acknowledgement."""
AFTER_US = 660.0
"""What follows a scan on the emulated chip: 45 % of 5 ms are not left, of which the scan takes 1.44 ms, and reserve."""
ASKED = 1e-3
"""So much of a step may be left of a film of 22 pF a cell, and three times that of 100 pF (chosen by us)."""


def as_described(mat: Mat, cell_pf: float, settle_us: float, readings: int, row_us: float = 0.0) -> Mat:
    """The mat with another film and other waits; `row_us` 0 is what the mat measures."""
    scan = replace(mat.scan, settle_us=settle_us, oversample=readings, row_settle_us=row_us)
    return replace(mat, scan=scan, electrical=replace(mat.electrical, cell_pf=cell_pf))


def study_settle(seeds: int | None = None) -> dict[str, Any]:
    """The tables; `ok`: the default is the quickest settle time that serves 22 pF a cell, with the most readings that
    leave half the time at 200 Hz. `seeds` is not used: nothing is drawn."""
    mat = read_mat("reference")
    rows, table, fit = {}, {}, []
    for pf in CELLS_PF:
        for row_us in (5.0, 0.0):
            tried = as_described(mat, pf, mat.scan.settle_us, mat.scan.oversample, row_us)
            found = budget(tried)
            rows[f"{pf:g} pF, {'as measured' if not row_us else '5 µs as before'}"] = (
                f"{found.settling.row_wait_us:g} µs a row, scan {found.scan_us / 1000:.2f} ms; left of a step: first "
                f"column {found.settling.row_left:.1e}, others {found.settling.cell_left:.1e}"
            )
    for settle in SETTLES_US:
        for readings in READINGS:
            tried = as_described(mat, 22.0, float(settle), readings)
            scan_us, left = budget(tried).scan_us, settling(tried, 12).cell_left
            noise = math.hypot(mat.electrical.adc_noise_lsb, 12**-0.5) / math.sqrt(readings) / STEPS
            slow = settling(as_described(mat, 100.0, float(settle), readings), 12).cell_left
            table[f"{settle} µs, {readings}"] = (
                f"{scan_us / 1000:.2f} ms; left of a step {left:.1e}, of 100 pF a cell {slow:.1e}; noise {noise:.1e}"
            )
            if max(left, slow / 3) <= ASKED and (scan_us + AFTER_US) / 5000 <= 1 - FREE:
                fit.append((settle, -readings))
    chosen = (int(mat.scan.settle_us), -mat.scan.oversample)
    return {
        "what this is": "128 cells; by formula, no chip and no film was measured",
        "wait after a row, what it costs and what is left, parts of the range": rows,
        "scan; what a cell is wrong by, parts of the range": table,
        "default": f"{chosen[0]} µs, {-chosen[1]} readings",
        "quickest settle time that serves, with the most readings": str(min(fit, default=None)),
        "ok": bool(fit) and min(fit) == chosen,
    }
