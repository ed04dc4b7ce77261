"""Practice on a terminal: a few very large words, readable from the ball; lines where there is no screen."""

from __future__ import annotations

from collections.abc import Sequence

from rich.align import Align
from rich.console import Console, Group
from rich.panel import Panel
from rich.text import Text

from groundtone.app.big_words import huge
from groundtone.app.console import OnScreen, say
from groundtone.app.display import swing_line
from groundtone.app.json_lines import ask, at, line
from groundtone.app.language import tr
from groundtone.engine.live import Live
from groundtone.engine.practice_state import Counts, Now, Said, State, sounding
from groundtone.swing.summary import SwingSummary

KEYS = (
    "1-9 place on the face, c t f o s contact, u take back; space pause, q end. "
    "A presenter's remote: forward centre, toe, heel; back fat, thin."
)
_REMARKS = 3
# Lines of the panel that are not large words.
_OTHER_LINES = 15


def counts_line(counts: Counts) -> str:
    """Swings so far in one line."""
    if not counts.swings:
        return "no swing yet"
    swings = "swing" if counts.swings == 1 else "swings"
    words = [f"{counts.swings} {swings}", f"{counts.swings - counts.inside} of {counts.swings} outside"]
    if counts.told:
        words.append(f"{counts.centre} of {counts.told} inside the centre circle")
    return ", ".join(words)


def _plain(swing: SwingSummary) -> dict[str, object]:
    impact = swing.impact
    return {
        "number": swing.number, "share_setup": swing.share_setup, "share_top": swing.share_top,
        "share_impact": swing.share_impact, "place_setup": swing.position_setup, "place_impact": swing.position_impact,
        "impact_s": impact.t_s if impact is not None else None,
        "heard": [{"cue": cue, "begin_s": begin, "end_s": end} for cue, begin, end in swing.heard],
    }  # fmt: skip


class PractiseScreen(OnScreen):
    """Shows a practice. A context manager; anything that is no terminal gets a line for each swing and each change."""

    def __init__(self, console: Console, title: str) -> None:
        super().__init__(console)
        self._title = title
        self._remarks: list[str] = []
        self._state: State | None = None
        self._swings = 0
        self._told = ""
        self._sounding: frozenset[str] = frozenset()

    def say(self, said: Said) -> None:
        """A sentence to tell once."""
        self._remarks.append(said.text)
        if self._screen is None:
            say(self.console, said.text)

    def heard(self, live: Live) -> None:
        """What begins and ends to sound with a frame."""
        at(self.console, live.t_s)
        now = frozenset(live.sizes)
        for cue in sorted(now ^ self._sounding):
            line(self.console, "seen", "cue", cue=cue, sounds=cue in now)
        self._sounding = now

    def swings(self, swings: Sequence[SwingSummary]) -> None:
        """Those so far: every new one is told, however many come between two looks at the screen."""
        for each in swings[self._swings :] if self._screen is None else ():
            self._told = ""
            if not line(self.console, "seen", "swing", **_plain(each)):
                say(self.console, swing_line(each))
        self._swings = len(swings)

    def wait(self, words: str, sentence: str) -> None:
        """Before there is a mat."""
        if self._screen is not None:
            self.draw(self._panel(words, sentence, "", ""), at_once=True)

    def show(self, now: Now) -> None:
        """What a moment is."""
        if self._screen is None:
            self._line(now)
            return
        last = swing_line(now.last) if now.last is not None else ""
        told = f"strike: {now.told}" if now.told else ""
        below = "\n".join(filter(None, (last, told)))
        heard = now.state is State.PLAY and now.live is not None and bool(sounding(now.live))
        panel = self._panel(now.words, now.sentence, counts_line(now.counts), below, heard=heard)
        self.draw(panel, at_once=True)

    def _line(self, now: Now) -> None:
        if now.state is not self._state:
            self._state = now.state
            ask(self.console, now.state.value, now.sentence)
        if now.told != self._told:
            self._told = now.told
            if not line(self.console, "seen", "strike", number=now.counts.swings, told=now.told or None):
                say(self.console, f"swing {now.counts.swings}: {now.told or 'taken back'}")

    def _panel(self, words: str, sentence: str, counts: str, last: str, *, heard: bool = False) -> Panel:
        width, height = max(20, self.console.width - 6), max(3, self.console.height - _OTHER_LINES)
        body = Group(
            Text(),
            Align.center(
                Text("\n".join(huge(tr(words), width, height)), style="bold reverse" if heard else "bold", no_wrap=True)
            ),
            Text(),
            Align.center(Text(sentence, style="bold")),
            Text(),
            Text(counts),
            Text(last),
            *(Text(remark) for remark in self._remarks[-_REMARKS:]),
            Text(),
            Text(KEYS, style="dim"),
        )
        return Panel(body, title=self._title, title_align="left")
