"""The live path: message bytes in, cue decision out; memory; and demo sessions through the firmware."""

from __future__ import annotations

import contextlib
import gc
import io
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.app.live.demo import RATE_HZ, play, stance_of
from groundtone.app.live.practice_screen import PractiseScreen
from groundtone.calibration.profile import Profile
from groundtone.engine.live import LiveEngine
from groundtone.engine.practice import Practice
from groundtone.engine.recording import recording
from groundtone.link.base import Stamped
from groundtone.mat.layout import layout_of
from groundtone.record.session import About
from groundtone.review.settings import settings_of
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.synth import Synth
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Scenario, demo_scenario
from groundtone.wire.codec import decode, encode
from groundtone.wire.messages import Frame, Hello

HANDS = ("right", "left")
_BESIDE_HZ, _BESIDE_S = 200, 60.0


@dataclass(frozen=True)
class Outcome:
    """One demo session through the firmware."""

    seed: int
    hand: str
    right: bool
    missed: int
    share_error: float
    centre_error_mm: float


def sessions_of_seed(seed: int, hands: tuple[str, ...] = HANDS) -> list[Outcome]:
    """A demo session of each hand on the mat of one seed, over firmware, pseudo-terminal and serial link."""
    profile = quick_profile(demo_scenario(seed))
    out = []
    for hand in hands:
        _, result = play(demo_scenario(seed, hand), profile, OfflinePlayer(Synth()), fast=True)
        out.append(Outcome(seed, hand, result.right, result.missed, result.share_error, result.centre_error_mm))
    return out


def demo_sessions(seeds: Sequence[int], hands: tuple[str, ...] = HANDS) -> list[Outcome]:
    """Sessions of many seeds, two at a time."""
    with ProcessPoolExecutor(2) as pool:
        return [outcome for pair in pool.map(partial(sessions_of_seed, hands=hands), seeds) for outcome in pair]


def messages_of(scenario: Scenario) -> list[bytes]:
    """A session as wire messages."""
    return [encode(frame) for frame in InProcessMat(scenario).frames(RATE_HZ)]


def _steps(engine: LiveEngine, messages: list[bytes], count: int) -> Iterator[float]:
    """Seconds from message bytes to cue decision, `count` times; the session is repeated with time going on."""
    for i in range(count):
        began = time.perf_counter()
        message = decode(messages[i % len(messages)], 128, 14)
        assert isinstance(message, Frame)
        engine.take_frame(message, i * 1_000_000 // RATE_HZ)
        yield time.perf_counter() - began


def _beside(profile: Profile, messages: list[bytes], seconds: float) -> Iterator[float]:
    """Seconds from message bytes to cue decision in a practice at 200 Hz and in real time, recorded and shown.

    A message waits while the screen is drawn; that counts. What the system oversleeps does not.
    """
    layout = layout_of(demo_scenario(1).mat.layout)
    console = Console(file=io.StringIO(), force_terminal=True, width=120, height=40)
    with tempfile.TemporaryDirectory() as folder:
        hello = Hello(1, (0, 0, 0), "00" * 8, 16, 8, 14, 32, 1, 200, 0, 0, "bench", layout.id, "bench")
        about = About(hello, settings_of(rate_hz=_BESIDE_HZ), simulated=True)
        with contextlib.ExitStack() as held:
            log = held.enter_context(recording(Path(folder) / "live.mcap", about, threaded=True))
            screen = held.enter_context(PractiseScreen(console, ""))
            engine = LiveEngine(layout, profile.film, stance_of(demo_scenario(1)))
            output = held.enter_context(contextlib.closing(ProcessPlayer(backend="null")))
            output.start()
            practice = Practice(engine, output, log, about.block, settings=about.settings)
            zero = time.perf_counter()
            for i in range(round(seconds * _BESIDE_HZ)):
                due = zero + i / _BESIDE_HZ
                if (wait := due - time.perf_counter()) > 0:
                    time.sleep(wait)
                    due = time.perf_counter()
                raw = messages[i % len(messages)]
                message = decode(raw, 128, 14)
                assert isinstance(message, Frame)
                device_us = i * 1_000_000 // _BESIDE_HZ
                practice.take_item(Stamped(message, device_us, time.monotonic(), 0.0, 0, raw))
                yield time.perf_counter() - due
                if i % (_BESIDE_HZ // 10) == 0:
                    screen.show(practice.now())
                    console.file = io.StringIO()


def study_live(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for. `seeds` mats (20) for the sessions, both hands each."""
    seeds = seeds or 20
    scenario = demo_scenario(1)
    profile, messages = quick_profile(scenario), messages_of(scenario)
    engine = LiveEngine(layout_of(scenario.mat.layout), profile.film, stance_of(scenario))
    times = np.fromiter(_steps(engine, messages, 20_000), float)
    p50, p99, most = (float(v) * 1e3 for v in np.percentile(times, [50, 99, 100]))
    gc.collect()
    before = sys.getallocatedblocks()
    for _ in _steps(engine, messages, 100_000 - 20_000):
        pass
    gc.collect()
    growth = sys.getallocatedblocks() - before
    beside = np.fromiter(_beside(profile, messages, _BESIDE_S), float)
    beside_p50, beside_p99, beside_most = (float(v) * 1e3 for v in np.percentile(beside, [50, 99, 100]))
    outcomes = demo_sessions(range(1, seeds + 1))
    share = max(o.share_error for o in outcomes)
    centre = max(o.centre_error_mm for o in outcomes)
    wrong = [f"seed {o.seed} {o.hand}" for o in outcomes if not o.right]
    missed = sum(o.missed for o in outcomes)
    return {
        "message to decision, ms": {"p50": round(p50, 3), "p99": round(p99, 3), "max": round(most, 3)},
        "the same at 200 Hz in real time with recording, the sound's process and a screen, ms": {
            "p50": round(beside_p50, 3),
            "p99": round(beside_p99, 3),
            "max": round(beside_most, 3),
        },
        "memory blocks kept by the last 80,000 of 100,000 frames": growth,
        "demo sessions over the firmware": len(outcomes),
        "sessions with a wrong cue": wrong,
        "frames lost": missed,
        "lead share, worst session's 95 % error (0.02 asked)": round(share, 4),
        "centre of pressure along the foot, worst session's 95 % error, mm (5 asked)": round(centre, 2),
        "ok": p50 <= 1
        and p99 <= 3
        and beside_p99 <= 2
        and growth < 1000
        and not wrong
        and not missed
        and share <= 0.02
        and centre <= 5,
    }
