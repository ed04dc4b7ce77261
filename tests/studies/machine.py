"""What the machine itself does: when it stood still, how it plays silence with nothing else to do, how long work takes.

`python -m studies.machine stalls CORE` wants to wake up every half millisecond and tells each wake-up that came late,
until its input ends. With the rights for it this watcher goes before all other programs, so that what holds it up is
the machine itself, such as the host of a virtual one, and no program on it.
`python -m studies.machine stream BUFFER_MS PERIODS` plays silence with a session's buffer until its input ends: what
underruns there is the machine's own.
"""

from __future__ import annotations

import contextlib
import os
import select
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.files import with_our_modules

_SLEEP_S = 0.0005
LATE_S = 0.002
"""A wake-up so much too late counts."""


@dataclass
class Stalls:
    """When and how long the machine stood still.

    Attributes
    ----------
    end_s, late_s : ndarray, shape (n,)
        Monotonic time of each late wake-up, in order, and by how much it was late, s.
    before_others : bool
        The watchers went before all other programs.
    """

    end_s: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    late_s: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    before_others: bool = False

    def near(self, at_s: float, before_s: float, after_s: float) -> bool:
        """Whether the machine stood still from so long before a moment until so long after it, or in between."""
        return bool(np.any((self.end_s >= at_s - before_s) & (self.end_s - self.late_s <= at_s + after_s)))

    def part(self, begin_s: float, end_s: float, before_s: float, after_s: float) -> float:
        """How much of a time lies `near` a stall, 0 to 1: so many moments do by chance."""
        order = np.argsort(self.end_s - self.late_s)
        begins = (self.end_s - self.late_s)[order] - after_s
        ends = np.maximum.accumulate(self.end_s[order] + before_s)
        begins = np.maximum(begins, np.concatenate([[begin_s], ends[:-1]])) if begins.size else begins
        return float(np.clip(np.minimum(ends, end_s) - begins, 0.0, None).sum() / (end_s - begin_s))


@contextlib.contextmanager
def watched() -> Iterator[Stalls]:
    """Watch every core meanwhile; the result is filled in at the end.

    Raises
    ------
    OSError
        No watcher can be started.
    """
    found = Stalls()
    children = [
        subprocess.Popen(
            [sys.executable, "-m", "studies.machine", "stalls", str(core)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=with_our_modules(),
        )
        for core in sorted(os.sched_getaffinity(0))
    ]  # fmt: skip
    try:
        yield found
    finally:
        lines = [child.communicate("")[0].split("\n") for child in children]
        told = [line.split() for each in lines for line in each[1:] if line]
        table = np.array(sorted((float(end), float(late)) for end, late in told)).reshape(-1, 2)
        found.end_s, found.late_s = table[:, 0], table[:, 1]
        found.before_others = all(each[0] == "first" for each in lines)


def play_silence(buffer_ms: int, periods: int) -> None:
    """Plays until the input ends."""
    from groundtone.tone.player import Player
    from groundtone.tone.synth import Synth

    player = Player(Synth(), None, None, buffer_ms, periods=periods)
    player.start()
    sys.stdin.read()
    player.close()


def watch(core: int) -> None:
    """Watches one core."""
    os.sched_setaffinity(0, {core})
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(5))
        print("first", flush=True)
    except PermissionError:
        print("like others", flush=True)
    stalls: list[str] = []
    poll: Any = select.poll()
    poll.register(0, select.POLLIN | select.POLLHUP)
    while not poll.poll(0):
        due = time.monotonic() + _SLEEP_S
        time.sleep(_SLEEP_S)
        now = time.monotonic()
        if now - due > LATE_S:
            stalls.append(f"{now:.6f} {now - due:.6f}")
    print("\n".join(stalls))


def seconds(work: Callable[[], object], repeats: int) -> list[float]:
    """Wall times of `repeats` runs after one that does not count."""
    work()
    out = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        out.append(time.perf_counter() - began)
    return out


def spread(times_s: list[float], per: int = 1) -> dict[str, float]:
    """Least, median and largest time in µs, each divided by `per`."""
    least, middle, most = np.percentile(np.array(times_s) * 1e6 / per, [0, 50, 100])
    return {"min us": round(float(least), 2), "median us": round(float(middle), 2), "max us": round(float(most), 2)}


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[2:]]
    if sys.argv[1] == "stalls":
        watch(*numbers)
    else:
        play_silence(*numbers)
