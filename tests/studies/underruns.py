"""Two hours of practice in real time: how often the sound card ran out of sound, by the sound server's own account.

A practice at 200 frames a second, recorded and shown, plays to a sound server of its own with a null sink. Beside it a
bare stream of silence with the same buffer plays to a second server, and a watcher on each core notes when the machine
stood still. What runs dry with such a stall is the machine's fault; the rest is the program's, at most as much as the
session's stream has beyond the bare one.
"""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from rich.console import Console

from groundtone.app.live.practice_screen import PractiseScreen
from groundtone.app.tones.latency_card import Underruns, missing_tools, playing_to, sound_server
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.engine.practice import Practice
from groundtone.engine.recording import recording
from groundtone.errors import GroundtoneError
from groundtone.files import with_our_modules
from groundtone.link.base import Stamped
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.session import About
from groundtone.review.settings import settings_of
from groundtone.tone.process import QUICK_BUFFER_MS, QUICK_PERIODS, ProcessPlayer
from studies.endurance import resident_mib
from studies.machine import watched
from studies.steady_mat import RATE_HZ, SteadyMat, messages

MINUTES = 120
# Streams fill their buffers first, s.
_SETTLED_S = 3.0
# An underrun is the machine's where it stood still so shortly before or after the server said so, s: the buffer has run
# dry some milliseconds after a stall began, and the word itself is late by a stall.
_BEFORE_S, _AFTER_S = 0.04, 0.005
_LOOKS = 10  # a second, as in a session


@contextlib.contextmanager
def bare_stream(env: dict[str, str], buffer_ms: int, periods: int) -> Iterator[None]:
    """A process that plays silence to the server of this environment."""
    child = subprocess.Popen(
        [sys.executable, "-m", "studies.machine", "stream", str(buffer_ms), str(periods)],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=with_our_modules(env),
    )  # fmt: skip
    try:
        yield
        if child.poll() is not None:
            raise GroundtoneError("the bare stream beside the session has ended by itself: nothing to compare with")
    finally:
        assert child.stdin is not None
        child.stdin.close()
        child.wait()


def practised(output: ProcessPlayer, seconds: float, folder: Path, settled: Callable[[], None]) -> dict[str, Any]:
    """A practice for so long in real time; `settled()` once the streams play."""
    whole = messages()
    console = Console(file=io.StringIO(), force_terminal=True, width=120, height=40)
    with contextlib.ExitStack() as held:
        mat = held.enter_context(SteadyMat(whole))
        layout, stance = layout_of(mat.hello.layout), Stance(LEFT, 400.0)
        about = About(mat.hello, settings_of(stance, RATE_HZ), simulated=True)
        log = held.enter_context(recording(folder / "underruns.mcap", about, threaded=True))
        screen = held.enter_context(PractiseScreen(console, ""))
        engine = LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), stance)
        practice = Practice(engine, output, log, about.block, settings=about.settings)
        output.start()
        mat.start(RATE_HZ)
        began, shown = time.monotonic(), 0
        waiting = True
        sizes = [resident_mib()]
        for item in mat.frames():
            practice.take_item(item)
            if not isinstance(item, Stamped):
                continue
            past = time.monotonic() - began
            if waiting and past > _SETTLED_S:
                waiting = False
                settled()
                sizes = [resident_mib()]
            if past * _LOOKS > shown:
                shown += 1
                screen.show(practice.now())
                console.file = io.StringIO()
            if past > seconds + _SETTLED_S:
                break
        sizes.append(resident_mib())
        output.stop()
        if output.trouble is not None:
            raise output.trouble
        return {
            "sound": output.description,
            "frames": mat.statistics.frames,
            "frames missed": mat.missed,
            "memory at the begin and the end, MiB": [round(size, 1) for size in sizes],
        }


def study_underruns(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` is the number of minutes (120), which pass in real time."""
    return underruns_in_practice(float(seeds or MINUTES))


def underruns_in_practice(
    minutes: float, buffer_ms: int = QUICK_BUFFER_MS, periods: int = QUICK_PERIODS
) -> dict[str, Any]:
    """A practice of so many minutes and a bare stream, and what their servers tell.

    Parameters
    ----------
    minutes : float
    buffer_ms, periods : int
        Of both streams.

    Raises
    ------
    GroundtoneError
        PulseAudio is not installed, or a server or a stream does not start.
    """
    if missing_tools():
        raise GroundtoneError(f"{', '.join(missing_tools())} is not installed here: install pulseaudio and its tools")

    def settled() -> None:
        for each in heard.values():
            each.at_s.clear()

    names, heard = ("session", "bare"), {name: Underruns() for name in ("session", "bare")}
    load = os.getloadavg()[0]
    with contextlib.ExitStack() as held:
        folder = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="groundtone-underruns-")))
        servers = {}
        for name in names:
            (folder / name).mkdir()
            servers[name] = held.enter_context(sound_server(folder / name, heard[name].hear))
        held.enter_context(bare_stream(servers["bare"], buffer_ms, periods))
        with playing_to(servers["session"]):
            output = ProcessPlayer(buffer_ms=buffer_ms, periods=periods)
        stalls, began = held.enter_context(watched()), time.monotonic()
        with contextlib.closing(output):
            figures = practised(output, 60.0 * minutes, folder, settled)
        over = time.monotonic()
        dry = {name: list(heard[name].at_s) for name in names}
    words = "times; of them while the machine did not stand still"
    own = {name: sum(not stalls.near(at, _BEFORE_S, _AFTER_S) for at in dry[name]) for name in names}
    figures |= {
        "longest that a block took to make, ms": output.status["longest_ms"],
        "minutes": minutes,
        "load average before and after": [round(load, 2), round(os.getloadavg()[0], 2)],
        "buffer, ms": buffer_ms * periods,
        "the machine stood still for 2 ms or more, times; longest, ms": (
            stalls.end_s.size, round(1e3 * float(stalls.late_s.max(initial=0.0)), 1),
        ),
        "part of all moments that lie beside such a stall": round(stalls.part(began, over, _BEFORE_S, _AFTER_S), 2),
        "watchers went before all other programs": stalls.before_others,
        f"underruns of the session's stream, {words}": (len(dry["session"]), own["session"]),
        f"underruns of a bare stream beside it, {words}": (len(dry["bare"]), own["bare"]),
    }  # fmt: skip
    figures["ok"] = own["session"] <= own["bare"]
    return figures
