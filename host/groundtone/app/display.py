"""The text display: a few large words and two bars, readable at a glance; one line a swing where there is no screen."""

from __future__ import annotations

import math

from rich.console import Console, Group
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from groundtone.app.console import OnScreen, say
from groundtone.app.language import tr
from groundtone.app.tables import seconds
from groundtone.engine.live import Live
from groundtone.swing.events import Phase
from groundtone.swing.summary import SwingSummary

_BAR = 41
_WORDS = {
    Phase.AWAY: "step on",
    Phase.STANDING: "take your setup",
    Phase.SETUP: "setup",
    Phase.BACKSWING: "backswing",
    Phase.DOWNSWING: "downswing",
    Phase.FINISH: "finish",
}


def cue_words(live: Live) -> str:
    """What sounds now, in words."""
    return " + ".join(tr(cue).upper() for cue in live.sizes) or "silence"


def phase_words(live: Live, ready: bool) -> str:
    """What the golfer is doing, or should do next."""
    if live.phase is Phase.AWAY and live.feet.total_n > 100 and not ready:
        return "rock slowly from heels to toes"
    return _WORDS[live.phase]


def bar(value: float, left: str, right: str) -> Text:
    """A 0-1 value as a mark on a line between two words."""
    line = ["·"] * _BAR
    line[_BAR // 2] = "┊"
    if not math.isnan(value):
        line[round(min(1.0, max(0.0, value)) * (_BAR - 1))] = "█"
    return Text(f"{tr(left):>6} {''.join(line)} {tr(right)}")


def swing_line(swing: SwingSummary) -> str:
    """One swing in one line: the lead foot's share at three moments, and the cues in s from impact."""
    heard = ", ".join(f"{cue} {seconds(begin, end)} s" for cue, begin, end in swing.heard) or "tick only"
    return (
        f"swing {swing.number}: lead {_cent(swing.share_setup)} setup, {_cent(swing.share_top)} top, "
        f"{_cent(swing.share_impact)} impact; {heard}"
    )


def _cent(value: float) -> str:
    return "-" if math.isnan(value) else f"{100 * value:.0f} %"


class Display(OnScreen):
    """Shows a session as it runs. A context manager.

    Parameters
    ----------
    live : bool
        False, or a console that is no terminal, prints swings only.
    """

    def __init__(self, console: Console, title: str, live: bool = True) -> None:
        super().__init__(console, refresh_hz=10.0, on=live)
        self._title = title
        self._last: list[str] = []

    def show(self, live: Live, ready: bool) -> None:
        """Draws the newest frame."""
        if self._screen is None:
            return
        cue = cue_words(live)
        words = Table.grid(padding=(0, 3))
        words.add_row(
            Text(tr(phase_words(live, ready)).upper(), style="bold"),
            Text(cue, style="bold reverse" * (cue != "silence")),
        )
        body = Group(
            words,
            Text(),
            bar(live.share, "trail", "lead"),
            bar(live.overall, "heels", "toes"),
            Text(),
            *(Text(line) for line in self._last[-6:]),
        )
        self.draw(Panel(body, title=self._title, title_align="left"))

    def swing(self, swing: SwingSummary) -> None:
        """Takes down a swing that has ended."""
        line = swing_line(swing)
        self._last.append(line)
        if self._screen is None:
            say(self.console, line)

    def note(self, text: str) -> None:
        """Says something above the picture."""
        say(self.console, text)
