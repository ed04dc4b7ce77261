"""What goes wrong in the world, tried many times at random moments; docs/faults.md is the table of what came of it.

Processes that record and file are killed and stopped, disks are full, read-only and slow, clocks jump, cables are
pulled, two programs want one mat, and every reader is fed changed bytes. Tried is how often, survived is how often
everything that had been committed was there afterwards and what was missing was said, lost is what was not.
"""

from __future__ import annotations

import datetime
import json
import os
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import click

from groundtone.app.tones.latency import machine
from studies import mishaps_disk as disk
from studies import mishaps_ends as ends
from studies import mishaps_load as load
from studies.disconnects import study_disconnects
from studies.hostile import study_hostile
from studies.study import FOLDER, made_by

# What a kept result depends on.
_ROOMS = ("wire", "link", "mat", "record", "review", "engine")
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
        lost = "none" if not self.lost else "; ".join([f"**{len(self.lost)}**", *list(dict.fromkeys(self.lost))[:3]])
        how = f"{self.how}{'; ' if self.told else ''}{self.told}"
        return f"| {self.what} | {how} | {self.tried:,} | {self.survived:,} | {lost} |\n"


def _ended(
    what: str, how: str, times: int, one: Callable[[int, Path], list[str]], side_by_side: int = 1
) -> Callable[[], Tried]:
    """Tries one thing so many times, each in a folder of its own; what mostly waits, some side by side."""

    def try_(seed: int) -> list[str]:
        with tempfile.TemporaryDirectory(prefix="groundtone-mishap-") as folder:
            return one(seed, Path(folder))

    def all_of_them() -> Tried:
        with ThreadPoolExecutor(side_by_side) as pool:
            wrong = list(pool.map(try_, range(times)))
        return Tried(what, how, times, [f"seed {seed}: {each[0]}" for seed, each in enumerate(wrong) if each])

    return all_of_them


def _unplugged(unplugs: int) -> Callable[[], list[Tried]]:
    def all_of_them() -> list[Tried]:
        figures, out = study_disconnects(unplugs), []
        for word in ("cable", "radio"):
            each = figures[word]
            lost = ["not found again"] * (each["lost"] - each["found again"])
            lost += each["wrong in recordings or on the way"]
            most = each["cue silent after the last frame, ms: median, most"][1]
            told = f"the cue was silent after {most:.0f} ms at most"
            out.append(Tried(f"unplugged, {word}", "in real time, at random moments", each["lost"], lost, told))
        return out

    return all_of_them


def _beside(steps: int) -> Callable[[], list[Tried]]:
    def all_of_them() -> list[Tried]:
        out = []
        for processors in load.BESIDE:
            tried, lost, words = load.beside(processors, steps)
            out.append(Tried("load", f"foot to ear beside stress-ng --cpu {processors}", tried, lost, words))
        return out

    return all_of_them


def _changed(thousands: int) -> Callable[[], list[Tried]]:
    def all_of_them() -> list[Tried]:
        out = []
        for name, told in study_hostile(thousands).items():
            if isinstance(told, str) and " tried, " in told:
                tried, read, refused, fell = (int(part.split()[0]) for part in told.split(", "))
                words = f"{read:,} read, {refused:,} refused with a sentence"
                out.append(Tried("changed bytes", name, tried, ["a reader fell"] * fell, words))
        return out

    return all_of_them


def parts(times: int, unplugs: int, thousands: int) -> dict[str, Callable[[], Tried | list[Tried]]]:
    """Lines by name: `times` of each ending and fault, so many unplugs, and so many thousand inputs."""
    seldom = max(1, times // 20)
    return {
        "recording killed": _ended("kill -9", "while a session is recorded", times, ends.recording_killed, 4),
        "recording stopped": _ended("SIGTERM", "while a session is recorded", times, ends.recording_stopped, 4),
        "library killed": _ended(
            "kill -9", "while sessions are filed and people renamed in the library", times, ends.library_killed, 2
        ),
        "library stopped": _ended("SIGTERM", "the same", times, ends.library_stopped, 2),
        "full": _ended("disk full", "while a session is recorded, a write cut anywhere", times, disk.full),
        "read-only": _ended("read-only disk", "from a moment on while a session is recorded", times, disk.read_only),
        "two programs on one mat": _ended(
            "two programs, one mat", "a second one opens the port", max(1, times // 5), ends.two_programs, 4
        ),
        # Not under the name of an earlier judge, which counted as survived what nobody had measured.
        "beside load": _beside(60),
        "window killed": _ended("kill -9", "the window, somebody practising in it", seldom, ends.window_killed),
        "window stopped": _ended("SIGTERM", "the same", seldom, ends.window_stopped),
        "unplugged": _unplugged(unplugs),
        "slow": _ended("slow disk", "a write takes up to 90 s of the session's time", max(1, times // 4), disk.slow),
        "clock": _ended("host's clock set", "by up to a day either way, up to five times", times, disk.clock_set),
        "bytes": _changed(thousands),
    }


def rows(times: int, unplugs: int, thousands: int) -> list[Tried]:
    """All lines; what a folder GROUNDTONE_STUDY holds of the same code and counts is not tried again."""
    folder = os.environ.get(FOLDER)
    out: list[Tried] = []
    counts = {"unplugged": unplugs, "bytes": thousands}
    of_all = parts(times, unplugs, thousands)
    for number, (name, part) in enumerate(of_all.items()):
        # A study that is cut leaves what it has, what earlier code left, and says what is missing.
        _left(out, list(of_all)[number:], folder)
        digest = f"{made_by(_ROOMS)} {counts.get(name, times)}"
        kept = Path(folder) / f"mishaps-{name.replace(' ', '-')}.json" if folder else None
        if kept is not None and kept.exists() and (found := json.loads(kept.read_text("utf-8")))["of"] == digest:
            out += [Tried(**line) for line in found["lines"]]
            continue
        click.echo(f"mishaps: {name}", err=True)
        made = part()
        lines = made if isinstance(made, list) else [made]
        out += lines
        if kept is not None:
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_text(json.dumps({"of": digest, "lines": [asdict(line) for line in lines]}), "utf-8")
    _write(out, [])
    return out


def _left(lines: list[Tried], missing: list[str], folder: str | None) -> None:
    """The document of a study that is not done: what is missing as earlier code left it, where that was kept."""
    earlier: list[Tried] = []
    for name in list(missing):
        kept = Path(folder or "") / f"mishaps-{name.replace(' ', '-')}.json"
        if folder and kept.exists():
            found = [Tried(**line) for line in json.loads(kept.read_text("utf-8"))["lines"]]
            earlier += [replace(line, how=f"{line.how} (earlier code)") for line in found]
            missing.remove(name)
    _write(lines + earlier, missing)


def _write(lines: list[Tried], missing: list[str]) -> None:
    WRITTEN.write_text(text(lines, missing, machine(), datetime.date.today().isoformat()), encoding="utf-8")


def text(lines: list[Tried], missing: list[str], about: dict[str, Any], date: str) -> str:
    """The document."""
    left = f"\nThe study was cut; not tried in this run: {', '.join(missing)}.\n" if missing else ""
    on = f"{about['processor']}, {about['cores']} cores, {about['system']}, Python {about['python']}"
    return HEAD.format(date=date, machine=on) + "".join(line.line() for line in lines) + left


def study_mishaps(seeds: int | None = None) -> dict[str, Any]:
    """The table written anew; `seeds`: each ending so many times (200), as many unplugs, a thousandfold of inputs."""
    times = seeds or 200
    lines = rows(times, times, times)
    out: dict[str, Any] = {f"{t.what}, {t.how}": f"{t.tried} tried, {t.survived} survived {t.lost[:2]}" for t in lines}
    return out | {"ok": not any(line.lost for line in lines)}
