"""What goes wrong in the world, tried many times at random moments; docs/faults.md is the table of what came of it.

Processes that record and file are killed and stopped, disks are full, read-only and slow, clocks jump, cables are
pulled, two programs want one mat, and every reader is fed changed bytes. Tried is how often, survived is how often
everything that had been committed was there afterwards and what was missing was said, lost is what was not.
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from groundtone.app.tones.latency import machine
from studies import mishaps_disk as disk
from studies import mishaps_ends as ends
from studies.disconnects import study_disconnects
from studies.hostile import study_hostile

WRITTEN = Path(__file__).parents[2] / "docs" / "faults.md"

HEAD = """# What goes wrong, and what came of it

Made by `make study NAME=mishaps` on {date}; do not edit it. {machine}.

Each line was tried so many times at random moments (seeded). **Survived** means: everything that had been committed was
there afterwards and the same, what was missing was said, no process stayed, nothing hung. **Lost** is what was not.
Committed is a frame half a second and the disk's own time after it came, and a library's change whose command had
returned. Tried on software: no real plug, radio or power cut.

| what | how | tried | survived | lost |
|---|---|---|---|---|
"""


@dataclass
class Tried:
    """One line of the table.

    Attributes
    ----------
    lost : list of str
        What went wrong, a sentence each.
    told : str
        What is worth saying besides.
    """

    what: str
    how: str
    tried: int = 0
    lost: list[str] = field(default_factory=list)
    told: str = ""

    @property
    def survived(self) -> int:
        """Tries without a loss; a try that lost twice counts once at least."""
        return self.tried - min(self.tried, len(self.lost))

    def line(self) -> str:
        """The row."""
        lost = "none" if not self.lost else "; ".join([f"**{len(self.lost)}**", *self.lost[:3]])
        how = f"{self.how}{'; ' if self.told else ''}{self.told}"
        return f"| {self.what} | {how} | {self.tried:,} | {self.survived:,} | {lost} |\n"


def _ended(what: str, how: str, times: int, one: Callable[[int, Path], list[str]]) -> Tried:
    """Tries one thing so many times, each in a folder of its own."""
    out = Tried(what, how)
    for seed in range(times):
        with tempfile.TemporaryDirectory(prefix="groundtone-mishap-") as folder:
            out.tried += 1
            if wrong := one(seed, Path(folder)):
                out.lost.append(f"seed {seed}: {wrong[0]}")
    return out


def rows(times: int, unplugs: int, thousands: int) -> list[Tried]:
    """All lines: `times` of each ending and fault, so many unplugs, and so many thousand inputs over all readers."""
    out = [
        _ended("kill -9", "while a session is recorded", times, ends.recording_killed),
        _ended("SIGTERM", "while a session is recorded", times, ends.recording_stopped),
        _ended("kill -9", "while sessions are put into the library and people are renamed", times, ends.library_killed),
        _ended("SIGTERM", "the same", times, ends.library_stopped),
        _ended("kill -9", "the window, somebody practising in it", max(1, times // 20), ends.window_killed),
        _ended("SIGTERM", "the same", max(1, times // 20), ends.window_stopped),
        _ended("disk full", "while a session is recorded, a write cut anywhere", times, disk.full),
        _ended("read-only disk", "from a moment on, while a session is recorded", times, disk.read_only),
        _ended("slow disk", "a write takes up to 90 s of the session's time", times, disk.slow),
        _ended("host's clock set", "by up to a day, forwards or backwards, up to five times", times, disk.clock_set),
        _ended("two programs, one mat", "a second one opens the port", max(1, times // 5), ends.two_programs),
    ]
    figures = study_disconnects(unplugs)
    for word in ("cable", "radio"):
        each = figures[word]
        line = Tried(f"unplugged, {word}", "in real time, at random moments", each["lost"])
        line.lost += [*each["wrong in recordings or on the way"]]
        line.lost += ["not found again"] * (each["lost"] - each["found again"])
        most = each["cue silent after the last frame, ms: median, most"][1]
        line.told = f"the cue was silent after {most:.0f} ms at most"
        out.append(line)
    for name, told in study_hostile(thousands).items():
        if isinstance(told, str) and " tried, " in told:
            numbers = [int(part.split()[0]) for part in told.split(", ")]
            line = Tried("changed bytes", name, numbers[0], ["a reader fell"] * numbers[3])
            line.told = f"{numbers[1]:,} read, {numbers[2]:,} refused with a sentence"
            out.append(line)
    return out


def text(lines: list[Tried], about: dict[str, Any], date: str) -> str:
    """The document."""
    on = f"{about['processor']}, {about['cores']} cores, {about['system']}, Python {about['python']}"
    return HEAD.format(date=date, machine=on) + "".join(line.line() for line in lines)


def study_mishaps(seeds: int | None = None) -> dict[str, Any]:
    """The table written anew; `seeds` is how often each ending is tried (200), unplugs and inputs in proportion."""
    times = seeds or 200
    lines = rows(times, 5 * times, times)
    WRITTEN.write_text(text(lines, machine(), datetime.date.today().isoformat()), encoding="utf-8")
    out: dict[str, Any] = {f"{t.what}, {t.how}": f"{t.tried} tried, {t.survived} survived {t.lost[:2]}" for t in lines}
    return out | {"ok": not any(line.lost for line in lines)}
