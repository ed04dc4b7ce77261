"""How a mat ages, by its checks: a small table with a mark for the change of its film."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich import box
from rich.table import Table

from groundtone.calibration.checking.check_log import KeptCheck

# The mark's line reaches so far to both sides, relative.
_REACH = 0.20
_LINE = 17
_SHORT = {"ready with correction": "corrected"}


def history_table(checks: Sequence[KeptCheck]) -> Table:
    """The checks, the oldest first."""
    # It has to go into 80 columns.
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 0, 0, 0), pad_edge=False)
    for name in ("checked", "verdict"):
        table.add_column(name, no_wrap=True)
    table.add_column("less    ┊    more", no_wrap=True)
    for name in ("all, %", "drifted", "dead", "share", "kg"):
        table.add_column(name, justify="right", no_wrap=True)
    for kept in checks:
        record = kept.record
        change = 1.0 / (1.0 + record.common) - 1.0
        table.add_row(
            record.date[:16].replace("T", " "),
            _SHORT.get(record.verdict, record.verdict),
            mark_line(change),
            "-" if math.isnan(change) else f"{100 * change:+.0f}",
            str(len(record.drifted) or "-"),
            str(len(record.dead) or "-"),
            "-" if math.isnan(record.share_u) else f"{2 * record.share_u:.3f}",
            "-" if math.isnan(kept.mass_kg) else f"{kept.mass_kg:.1f}",
        )
    table.caption = (
        "less, more, all: what the whole film reads less or more than when it was calibrated; corrected: ready with "
        "correction; drifted, dead: cells; share: the lead share's uncertainty (± 95 %)"
    )
    table.caption_justify = "left"
    return table


def mark_line(change: float) -> str:
    """A change as a mark on a line around nothing.

    Examples
    --------
    >>> mark_line(0.10)
    '········┊···█····'
    """
    line = ["·"] * _LINE
    line[_LINE // 2] = "┊"
    if not math.isnan(change):
        part = min(1.0, max(-1.0, change / _REACH))
        line[round((_LINE // 2) * (1 + part))] = "█"
    return "".join(line)
