"""Two hours of practice in real time: how often the sound card ran out of sound, by the sound server's own account.

A practice at 200 frames a second, recorded and shown, plays to a sound server of its own with a null sink. Beside it a
bare stream of silence with the same buffer plays to a second server: what runs dry there is the machine's fault. What
the session's stream has beyond it is the program's.
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

from groundtone.app.bench.endurance import resident_mib
from groundtone.app.bench.steady_mat import RATE_HZ, SteadyMat, messages
from groundtone.app.live.recording import recording
from groundtone.app.practice.practice import Practice
from groundtone.app.practice.screen import PractiseScreen
from groundtone.app.tones.latency_card import missing_tools, playing_to, sound_server, with_our_modules
from groundtone.calibration.curve import typical_curves
from groundtone.calibration.film import Film
from groundtone.cue.live import LiveEngine
from groundtone.errors import GroundtoneError
from groundtone.link.base import Stamped
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.about import About, Settings
from groundtone.tone.process import QUICK_BUFFER_MS, QUICK_PERIODS, ProcessPlayer

MINUTES = 120
# What the server writes each time sound comes again after a stream has run dry.
_AGAIN = "Requesting rewind due to end of underrun"
# Streams fill their buffers first, s.
_SETTLED_S = 3.0
_LOOKS = 10  # a second, as in a session


@contextlib.contextmanager
def bare_stream(env: dict[str, str]) -> Iterator[None]:
    """A process that plays silence to the server of this environment."""
    child = subprocess.Popen(
        [sys.executable, "-m", "groundtone.app.bench.bare_stream", str(QUICK_BUFFER_MS), str(QUICK_PERIODS)],
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


def underruns_in(log: Path) -> int:
    """How often a stream of a server had run dry, by its log."""
    return log.read_text("utf-8", errors="replace").count(_AGAIN)


def practised(seconds: float, folder: Path, settled: Callable[[], None]) -> dict[str, Any]:
    """A practice for so long in real time, its sound in a process of its own; `settled()` once the streams play."""
    whole = messages()
    console = Console(file=io.StringIO(), force_terminal=True, width=120, height=40)
    with contextlib.ExitStack() as held:
        mat = held.enter_context(SteadyMat(whole))
        layout, stance = layout_of(mat.hello.layout), Stance(LEFT, 400.0)
        about = About(mat.hello, Settings(stance, RATE_HZ), simulated=True)
        log = held.enter_context(recording(folder / "underruns.mcap", about, threaded=True))
        screen = held.enter_context(PractiseScreen(console, ""))
        output = ProcessPlayer()
        held.callback(output.close)
        engine = LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), stance)
        practice = Practice(engine, output, log, about.block, settings=about.settings)
        output.start()
        mat.start(RATE_HZ)
        began, shown = time.monotonic(), 0
        waiting = True
        sizes = [resident_mib()]
        for item in mat.frames():
            practice.take(item)
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
        output.close()
        if output.trouble is not None:
            raise output.trouble
        status = output.status
        return {
            "sound": output.description,
            "frames": mat.statistics.frames,
            "frames missed": mat.missed,
            "callbacks later than the buffer lasts": status["late"],
            "longest that a block took to make, ms": status["longest_ms"],
            "memory at the begin and the end, MiB": [round(size, 1) for size in sizes],
        }


def bench_underruns(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` is the number of minutes (120), which pass in real time."""
    return underruns_in_practice(float(seeds or MINUTES))


def underruns_in_practice(minutes: float) -> dict[str, Any]:
    """A practice of so many minutes and a bare stream, and what their servers tell.

    Raises
    ------
    GroundtoneError
        PulseAudio is not installed, or a server or a stream does not start.
    """
    if missing_tools():
        raise GroundtoneError(f"{', '.join(missing_tools())} is not installed here: install pulseaudio and its tools")
    with contextlib.ExitStack() as held:
        folder = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="groundtone-underruns-")))
        logs = {name: folder / f"{name}.log" for name in ("session", "bare")}
        servers = {}
        for name, log in logs.items():
            (folder / name).mkdir()
            servers[name] = held.enter_context(sound_server(folder / name, log))
        held.enter_context(bare_stream(servers["bare"]))
        before: dict[str, int] = {}
        load = os.getloadavg()[0]
        with playing_to(servers["session"]):
            figures = practised(
                60.0 * minutes, folder, lambda: before.update({name: underruns_in(log) for name, log in logs.items()})
            )
        dry = {name: underruns_in(log) - before[name] for name, log in logs.items()}
    figures |= {
        "minutes": minutes,
        "load average before and after": [round(load, 2), round(os.getloadavg()[0], 2)],
        "buffer, ms": QUICK_BUFFER_MS * QUICK_PERIODS,
        "underruns of the session's stream": dry["session"],
        "underruns of a bare stream beside it": dry["bare"],
    }
    figures["ok"] = (
        dry["session"] <= dry["bare"] and figures["longest that a block took to make, ms"] < figures["buffer, ms"]
    )
    return figures
