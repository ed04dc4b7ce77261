"""Leads a person through a procedure on the mat: frames in, large words, sounds and a bar out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray
from rich.console import Console, Group
from rich.panel import Panel
from rich.text import Text

from groundtone.app.big_words import big
from groundtone.app.console import OnScreen
from groundtone.app.json_lines import ask, at, ended, frames_begin, line
from groundtone.app.language import tr
from groundtone.app.mat import OpenMat
from groundtone.link.base import Stamped
from groundtone.mat.conductance import ConductanceMeter
from groundtone.tone.output import Output

_BAR = 30


@dataclass(frozen=True)
class Wanted:
    """What a person is to do now.

    Attributes
    ----------
    words, sentence : str
        A few large words, and one sentence.
    progress : float
        Of the whole, 0 to 1.
    done : bool
        Enough has been gathered.
    """

    words: str
    sentence: str
    progress: float
    done: bool = False


class PersonScreen(OnScreen):
    """Shows what is wanted. A context manager; anything that is no terminal gets a line for each new wish."""

    def __init__(self, console: Console, title: str) -> None:
        super().__init__(console)
        self._title = title
        self._shown: tuple[str, str, int] | None = None

    def show(self, wanted: Wanted) -> None:
        """Draws what is new."""
        filled = round(_BAR * min(1.0, max(0.0, wanted.progress)))
        shown = (wanted.words, wanted.sentence, filled)
        if shown == self._shown:
            return
        new = self._shown is None or self._shown[:2] != shown[:2]
        self._shown = shown
        if self._screen is None:
            if new:
                ask(self.console, wanted.words, wanted.sentence)
            line(self.console, "seen", "progress", part=filled / _BAR)
            return
        body = Group(
            Text("\n".join(big(tr(wanted.words))), style="bold", no_wrap=True),
            Text(),
            Text(wanted.sentence, style="bold"),
            Text(),
            Text("█" * filled + "·" * (_BAR - filled)),
        )
        self.draw(Panel(body, title=self._title, title_align="left"), at_once=True)


class Over(Enum):
    """Why it is over: enough was gathered, Ctrl-C or an answer ended it, or nothing more happens on the twin."""

    ENOUGH = "enough"
    ENDED = "ended"
    FILM = "film"


def follow(
    opened: OpenMat,
    rate_hz: int,
    take: Callable[[float, NDArray[np.float64]], Wanted],
    output: Output,
    screen: PersonScreen,
) -> Over:
    """Follows a mat until enough has been gathered, the person ends it, or the twin's film is over.

    Parameters
    ----------
    opened : OpenMat
        Started here.
    take : callable
        Takes device time (s) and conductances (S, rows × columns) of a frame and says what is wanted.
    output : Output
        Started. A new wish sounds "change", the end "ready".
    screen : PersonScreen
        Entered.

    Raises
    ------
    LostError
        The mat is gone.
    """
    meter = ConductanceMeter(opened.layout)
    last_s: float | None = None
    words = ""
    opened.begin()
    opened.link.start(rate_hz)
    frames_begin(screen.console, opened.link.hello, opened.layout, rate_hz)
    try:
        # Who stands there does not stand still while the mat is looked for.
        for item in opened.items(search_s=0.0):
            if not isinstance(item, Stamped):
                output.drain()
                continue
            t_s = item.device_us * 1e-6
            at(screen.console, t_s)
            wanted = take(t_s, meter.measure(item.frame))
            opened.took()
            output.advance(t_s - last_s if last_s is not None and t_s > last_s else 0.0)
            output.heartbeat()
            last_s = t_s
            if wanted.done:
                output.signal("ready")
            elif words and wanted.words != words:
                output.signal("change")
            words = wanted.words
            screen.show(wanted)
            if wanted.done:
                output.advance(1.0)
                return Over.ENOUGH
            if ended(screen.console):
                return Over.ENDED
            if opened.over(item):
                return Over.FILM
    except KeyboardInterrupt:
        return Over.ENDED
    finally:
        output.rest()
    raise AssertionError("a link brings something for ever")
