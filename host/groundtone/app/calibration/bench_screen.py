"""What a bench run shows: large words, the map of coverage, how far it is, and the newest remarks."""

from __future__ import annotations

from rich.console import Console, Group
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from groundtone.app.big_words import big
from groundtone.app.console import OnScreen, say
from groundtone.app.json_lines import line
from groundtone.app.language import tr
from groundtone.calibration.guided.bench_plan import PLACEMENT_S
from groundtone.calibration.guided.guide import BenchGuide
from groundtone.calibration.guided.remarks import FAULTS, Now, ask_words, minutes_words, remark_words
from groundtone.calibration.guided.worklist import coverage_lines, coverage_of

# Remarks that stay on the screen.
_REMARKS = 2
# Without a screen, the count is said after so many placements.
_EVERY = 10


class BenchScreen(OnScreen):
    """Shows a bench run. A context manager.

    Parameters
    ----------
    console : Console
        A terminal is drawn on; anything else gets lines.
    shape : (rows, columns)
    keys : bool
        Keys are listened to, and are named.
    """

    def __init__(
        self,
        console: Console,
        title: str,
        guide: BenchGuide,
        columns_per_panel: int,
        shape: tuple[int, int],
        keys: bool,
    ) -> None:
        super().__init__(console)
        self._title, self._guide = title, guide
        self._per_panel, self._shape, self._keys = columns_per_panel, shape, keys
        self._remarks: list[Text] = []
        self._asked = ""

    def note(self, sentence: str, fault: bool = False) -> None:
        """A sentence that is to be read."""
        text = Text(("! " if fault else "  ") + sentence, style="bold" if fault else "")
        self._remarks.append(text)
        if self._screen is None:
            say(self.console, text.plain.strip())

    def show(self, now: Now) -> None:
        """What follows from one frame; remarks are taken down, and the picture is drawn where something is new."""
        for remark in now.remarks:
            words, fault = remark_words(remark, self._per_panel), remark.what in FAULTS
            told = {"cells": remark.cells, "reads_n": remark.force_n, "fault": fault}
            if not line(self.console, "seen", remark.what.value, sentence=words, **told):
                self.note(words, fault)
        words, sentence = ask_words(now, self._per_panel)
        if self._screen is None:
            if not self._in_json(now, words, sentence):
                self._lines(now)
            return
        asked = f"{words} {sentence} {len(self._guide.taken)} {len(self._remarks)}"
        if asked == self._asked:
            return
        self._asked = asked
        named = now.step.cell if now.step is not None else None
        coverage = coverage_of(self._shape, self._guide.taken, self._guide.work.left, self._guide.left_out)
        picture = Text("\n".join(coverage_lines(coverage, self._per_panel, named)))
        # The map, its gap, the frame and its padding are 4 + 3 + 4 wide.
        room = self.console.width - 11 - max(len(line) for line in picture.plain.splitlines())
        large = big(tr(words))
        side = Group(
            Text("\n".join(large) if len(large[0]) <= room else tr(words).upper(), style="bold", no_wrap=True),
            Text(),
            Text(sentence, style="bold"),
            Text(),
            Text(self._how_far()),
            Text("keys: u takes the last one back, s skips the cell, q ends" if self._keys else "Ctrl-C ends"),
            Text(),
            *self._remarks[-_REMARKS:],
        )
        table = Table.grid(padding=(0, 3))
        table.add_column(no_wrap=True)
        table.add_column(ratio=1)
        table.add_row(picture, side)
        self.draw(Panel(table, title=self._title, title_align="left"), at_once=True)

    def _in_json(self, now: Now, words: str, sentence: str) -> bool:
        """What is new as lines, where lines are wanted."""
        if (taken := now.taken) is not None:
            line(
                self.console, "seen", "placement", row=taken.row, column=taken.column, force_n=taken.force_n,
                weight=now.words, falling=taken.falling, taken=len(self._guide.taken), left=len(self._guide.work.left),
            )  # fmt: skip
        row, column = now.step.cell if now.step is not None else (None, None)
        force_n, weight = (now.step.force_n, now.step.words) if now.step is not None else (None, None)
        return line(self.console, "ask", now.ask.value, words=words, sentence=sentence, row=row, column=column,
                    force_n=force_n, weight=weight)  # fmt: skip

    def _how_far(self) -> str:
        taken, left = len(self._guide.taken), len(self._guide.work.left)
        if not left:
            return f"{taken} placements taken, nothing is missing."
        return f"{taken} taken, {left} to go, {minutes_words(left * PLACEMENT_S)} more."

    def _lines(self, now: Now) -> None:
        """What is said where there is no screen: a new weight, and the count now and then."""
        if now.step is not None and now.step.words != self._asked:
            self._asked = now.step.words
            say(self.console, ask_words(now, self._per_panel)[0].capitalize() + f", {self._how_far()}")
        elif now.taken is not None and len(self._guide.taken) % _EVERY == 0:
            say(self.console, self._how_far())
