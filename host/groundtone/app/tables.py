"""The tables at the end of a session, narrow enough for a terminal of 80 columns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

from groundtone.swing.summary import SwingSummary

if TYPE_CHECKING:
    from groundtone.app.live.judging import DemoResult

STYLE_WORDS = {
    "good": "good",
    "toe_drift": "toe drift",
    "trail_hang": "hangs back",
    "centred": "centred",
    "pitch": "pitch",
    "none": "no swing",
}
"""How the twin swung, in words."""
_SCALES = "Share: lead foot, %", "place: 0 heel edge to 100 toe edge."


def per_cent(value: float) -> str:
    """A value of 0-1 as a person reads it, in per cent."""
    return "-" if math.isnan(value) else f"{100 * value:.0f}"


def pair(values: tuple[float, float]) -> str:
    """True and measured value side by side."""
    return "/".join(map(per_cent, values))


def seconds(begin: float, end: float) -> str:
    """A stretch of time, s from impact; what lies before impact has a minus."""
    return f"{_second(begin)} to {_second(end)}"


def _second(value: float) -> str:
    # -0.001 must not be read as "-0.00".
    return f"{round(value, 2) + 0.0:.2f}"


def heard_words(heard: Sequence[tuple[str, float, float]]) -> str:
    """Which cue sounded when, in s from impact."""
    return "\n".join(f"{cue}\n{seconds(begin, end)}" for cue, begin, end in heard) or "tick only"


def _table(title: str, words: Sequence[str], figures: Sequence[str]) -> Table:
    table = Table(title=title, box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0), title_justify="left")
    table.caption_justify = "left"
    for name in words:
        table.add_column(name, no_wrap=True)
    for name in figures:
        table.add_column(name, justify="right", no_wrap=True)
    return table


def demo_table(result: DemoResult) -> Table:
    """What the twin did, what was heard, and true and measured values side by side."""
    table = _table(
        "True/measured. " + "; ".join(_SCALES),
        ("no.", "the twin", "heard, s\nfrom impact", "right"),
        ("share\nsetup", "share\ntop*", "share\nimpact", "place\nsetup", "place\nimpact"),
    )
    for swing in result.swings:
        pairs = (swing.share_setup, swing.share_top, swing.share_impact, swing.position_setup, swing.position_impact)
        table.add_row(
            str(swing.number),
            STYLE_WORDS.get(swing.style, swing.style),
            heard_words(swing.heard),
            "yes" if swing.right else "NO",
            *map(pair, pairs),
        )
    table.caption = (
        "* Pressure alone cannot see the top of the swing:\n  measured at an estimate, 0.25 s before impact."
    )
    return table


def session_table(swings: Sequence[SwingSummary]) -> Table:
    """The swings of a session on a real mat."""
    table = _table(
        ";\n".join(_SCALES),
        ("no.", "heard, s\nfrom impact"),
        ("share\nsetup", "share\ntop*", "share\nimpact", "place\nsetup", "place\nimpact"),
    )
    for swing in swings:
        values = (swing.share_setup, swing.share_top, swing.share_impact, swing.position_setup, swing.position_impact)
        table.add_row(str(swing.number), heard_words(swing.heard), *map(per_cent, values))
    table.caption = "* An estimate: pressure alone\n  cannot see the top of the swing."
    return table
