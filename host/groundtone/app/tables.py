"""The tables at the end of a session."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.table import Table

from groundtone.app.judging import DemoResult
from groundtone.swing.summary import SwingSummary

_STYLE_WORDS = {
    "good": "good",
    "toe_drift": "runs to the toes",
    "trail_hang": "stays on the trail side",
    "none": "no swing",
}


def per_cent(value: float) -> str:
    """A share as a person reads it."""
    return "-" if math.isnan(value) else f"{100 * value:.0f}"


def place(value: float) -> str:
    """A heel-toe position as a person reads it."""
    return "-" if math.isnan(value) else f"{value:.2f}"


def heard_words(heard: Sequence[tuple[str, float, float]]) -> str:
    """Which cue sounded when, in s from impact."""
    return "\n".join(f"{cue} {begin:+.2f} … {end:+.2f} s" for cue, begin, end in heard) or "tick only"


def demo_table(result: DemoResult) -> Table:
    """What the twin did, what was heard, and true and measured values side by side."""
    table = Table(title="Each pair: true / measured. Lead share in per cent; position 0 heel edge, 1 toe edge.")
    for name in ("swing", "the twin did", "heard, from impact", "right"):
        table.add_column(name)
    for name in ("share\nsetup", "share\ntop*", "share\nimpact", "position\nsetup", "position\nimpact"):
        table.add_column(name, justify="right")
    for swing in result.swings:
        shares = (swing.share_setup, swing.share_top, swing.share_impact)
        places = (swing.position_setup, swing.position_impact)
        table.add_row(
            str(swing.number),
            _STYLE_WORDS.get(swing.style, swing.style),
            heard_words(swing.heard),
            "yes" if swing.right else "NO",
            *(f"{per_cent(true)} / {per_cent(measured)}" for true, measured in shares),
            *(f"{place(true)} / {place(measured)}" for true, measured in places),
        )
    table.caption = "* pressure alone cannot see the top of the swing: measured at an estimate, 0.25 s before impact"
    return table


def session_table(swings: Sequence[SwingSummary]) -> Table:
    """The swings of a session on a real mat."""
    table = Table(title="Lead share in per cent; position 0 heel edge, 1 toe edge.")
    for name in ("swing", "heard, from impact"):
        table.add_column(name)
    for name in ("share\nsetup", "share\ntop", "share\nimpact", "position\nsetup", "position\nimpact"):
        table.add_column(name, justify="right")
    for swing in swings:
        table.add_row(
            str(swing.number),
            heard_words(swing.heard),
            per_cent(swing.share_setup),
            per_cent(swing.share_top),
            per_cent(swing.share_impact),
            place(swing.position_setup),
            place(swing.position_impact),
        )
    return table
