"""Recording: what it costs the live loop, an hour read and measured again, and how soon a large library is open."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.app.live.demo import stance_of
from groundtone.calibration.profile import Profile, profile_text
from groundtone.files import with_our_modules
from groundtone.link.base import Stamped
from groundtone.record.contents import put
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import About, Block, Golfer
from groundtone.record.swing_rows import FindingRow, SwingRow
from groundtone.review.settings import settings_of
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Scenario, demo_scenario
from groundtone.wire.codec import decode, encode
from groundtone.wire.messages import Frame, Hello

RATE_HZ = 200
HOUR = 3600 * RATE_HZ
_COST_FRAMES = 2000
_SWINGS, _IN_A_SESSION = 5000, 50


def about_of(scenario: Scenario, profile: Profile, name: str = "bench") -> About:
    """What a recording of the twin says of itself."""
    mat = scenario.mat
    hello = Hello(
        1, (0, 0, 0), mat.uid, mat.rows, 2 * mat.columns_per_panel, 14, 32, 1, 400, 0, 0,
        "simulated in process", mat.layout, "twin",
    )  # fmt: skip
    return About(
        hello,
        settings_of(stance_of(scenario), RATE_HZ),
        Golfer(name),
        profile_text=profile_text(profile),
        simulated=True,
    )


def messages_of(scenario: Scenario) -> list[bytes]:
    """A session of the twin as wire messages at `RATE_HZ`."""
    return [encode(frame) for frame in InProcessMat(scenario).frames(RATE_HZ)]


def moved(message: bytes, number: int) -> bytes:
    """A frame's message with another number and time, as if it were the `number`-th at `RATE_HZ`."""
    body = bytearray(message[:-4])
    struct.pack_into("<HI", body, 2, number & 0xFFFF, number * 1_000_000 // RATE_HZ & 0xFFFFFFFF)
    return bytes(body) + struct.pack("<I", crc32(body))


def cost_of_a_frame(folder: Path, about: About, messages: list[bytes]) -> tuple[list[float], float]:
    """Seconds the live loop spends on each frame, in real time with the writer's thread; and of the thread, a frame."""
    hello = about.hello
    items = [moved(messages[i % len(messages)], i) for i in range(_COST_FRAMES)]
    frames = [decode(item, hello.cells, hello.bits) for item in items]
    recorder = begin(folder / "cost.mcap", about)
    worker = threading.Thread(target=recorder.work)
    worker.start()
    times, next_s = [], time.monotonic()
    for i, (raw, frame) in enumerate(zip(items, frames, strict=True)):
        assert isinstance(frame, Frame)
        item = Stamped(frame, i * 1_000_000 // RATE_HZ, time.monotonic(), 0.0, 0, raw)
        began = time.perf_counter()
        recorder.frame(item)
        times.append(time.perf_counter() - began)
        next_s += 1 / RATE_HZ
        time.sleep(max(0.0, next_s - time.monotonic()))
    recorder.end_work()
    worker.join()
    recorder.close()
    alone = begin(folder / "alone.mcap", about)
    for i, raw in enumerate(items):
        alone.frame(Stamped(frames[i], i, 0.0, 0.0, 0, raw))  # type: ignore[arg-type]
    began = time.perf_counter()
    alone.pump()
    took = (time.perf_counter() - began) / _COST_FRAMES
    alone.close()
    return times, took


def write_hour(path: Path, about: About, messages: list[bytes], frames: int = HOUR) -> None:
    """A recording of a session of the twin, repeated until it is an hour long."""
    recorder = begin(path, about)
    began_s = time.monotonic()
    for i in range(frames):
        raw = moved(messages[i % len(messages)], i)
        recorder.frame(Stamped(None, i * 5000, began_s + i / RATE_HZ, 0.0, 0, raw))  # type: ignore[arg-type]
        if i % 100 == 0:
            recorder.pump()
    recorder.close()


# In a program of its own that imports what reading and reviewing needs, so that its memory is its own.
_AGAIN = """
import json, resource, sys, time
from pathlib import Path
from groundtone.record.reader import open_recording
from groundtone.review.session_review import analysed
began, busy = time.perf_counter(), time.process_time()
swings, _ = analysed(open_recording(Path(sys.argv[1])))
took, busy = time.perf_counter() - began, time.process_time() - busy
most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
print(json.dumps([took, busy, most / 2**20, len(swings)]))
"""


def measure_hour(path: Path) -> tuple[float, float, float, int]:
    """Seconds, processor seconds and MiB that reading a recording and reviewing its swings takes, and the swings."""
    env = with_our_modules(os.environ | {"OPENBLAS_NUM_THREADS": "1"})
    said = subprocess.run([sys.executable, "-c", _AGAIN, str(path)], env=env, stdout=subprocess.PIPE, check=True).stdout
    took, busy, memory, swings = json.loads(said)
    return took, busy, memory, swings


def fill_library(folder: Path, about: About, messages: list[bytes], swings: int = _SWINGS) -> None:
    """A library of so many swings with thirty measures each, in sessions of fifty."""
    with Library(folder) as library:
        for number in range(swings // _IN_A_SESSION):
            told = About(about.hello, about.settings, Golfer(f"golfer {number % 20}"), Block(), about.profile_text)
            path = library.recordings / f"{number}.mcap"
            write_hour(path, told, messages, 10)
            measures = {f"measure {i}": (0.5, 0.01, "") for i in range(30)}
            findings = [FindingRow(f"finding {i}", 0.5, 0.1, {"sentence": "invented"}) for i in range(2)]
            rows = [
                SwingRow(i, "swing", float(i), {"impact": (float(i), "pressure", 0.03)}, measures, findings)
                for i in range(_IN_A_SESSION)
            ]
            put(library, open_recording(path), rows, [])


def opening_s(folder: Path, repeats: int = 7) -> list[float]:
    """Seconds to open a library and list everybody with the number of their swings."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        with Library(folder) as library:
            known = library.golfers()
        times.append(time.perf_counter() - began)
        assert known
    return times


def study_record(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for."""
    scenario = demo_scenario(1)
    about, messages = about_of(scenario, quick_profile(scenario)), messages_of(scenario)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        times, thread = cost_of_a_frame(folder, about, messages)
        p50, p99, most = (float(v) * 1e6 for v in np.percentile(times, [50, 99, 100]))
        write_hour(folder / "hour.mcap", about, messages)
        size = (folder / "hour.mcap").stat().st_size / 2**20
        took, busy, memory, swings = measure_hour(folder / "hour.mcap")
        (folder / "hour.mcap").unlink()
        fill_library(folder / "library", about, messages)
        opening = opening_s(folder / "library")
    return {
        "handing a frame over, us": {"p50": round(p50, 1), "p99": round(p99, 1), "max": round(most, 1)},
        "the writer's thread, us a frame": round(thread * 1e6, 1),
        "an hour at 200 Hz, MiB": round(size, 1),
        "the same read and measured again, s": round(took, 1),
        "processor time of that, s (20 asked)": round(busy, 1),
        "memory at most, MiB (512 asked)": round(memory),
        "swings found in it": swings,
        "opening a library of 5,000 swings, s (0.3 asked)": {
            "min": round(min(opening), 4),
            "max": round(max(opening), 4),
        },
        "ok": p99 <= 1000 and busy <= 20 and memory <= 512 and max(opening) <= 0.3,
    }
