"""Measures the way from a step in force on the simulated mat to the sample in the sound card's stream, part by part."""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from groundtone.app.tones.latency_card import RATE_HZ, Underruns, read_stream, readable_card
from groundtone.app.tones.latency_world import BETWEEN, FIRST_S, Task, read_scans, step_times
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.foot_to_ear import Measured, Turn, asks_ms, sounded_by_clock, sounded_in_stream, stages_of
from groundtone.engine.live import LiveEngine
from groundtone.errors import GroundtoneError
from groundtone.link.base import Stamped
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.settings import SoundSettings
from groundtone.twin.mat_process import MatProcess

_DRAIN_EVERY = 20


def measure(steps: int, rate_hz: int, settings: SoundSettings, card: str, seed: int = 1) -> Measured:
    """Measure in real time; takes about a third of a second for each step.

    Parameters
    ----------
    rate_hz : int
        Frames a second.
    settings : SoundSettings
        Buffer and sample rate.
    card : {"pulse", "null"}
        A null sink of PulseAudio whose monitor is recorded, or a clock that keeps time without a sound system.
    seed : int
        Draws the steps' moments.

    Raises
    ------
    GroundtoneError
        The mat or the sound cannot be started, or nothing was heard.
    """
    load_before = _load()
    with contextlib.ExitStack() as held:
        folder = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="groundtone-latency-")))
        underruns = Underruns()
        stream = held.enter_context(readable_card(underruns)) if card == "pulse" else None
        wav = folder / "sound.wav" if stream is None else None
        output = ProcessPlayer(
            wav,
            rate_hz=settings.rate_hz,
            buffer_ms=settings.buffer_ms,
            periods=settings.periods,
            backend="auto" if stream is not None else "null",
            keep_calls=True,
        )
        held.callback(output.close)
        task = Task(str(folder / "scans"), steps, seed)
        mat = held.enter_context(MatProcess(task.to_json(), world="groundtone.app.tones.latency_world:StepWorld"))
        link = held.enter_context(SerialLink(mat.port))
        frames, size, turns = _follow(link, output, rate_hz, step_times(steps, seed)[-1] + 0.4)
        missed, description = link.statistics.missed, output.description
        output.close()
        if output.trouble is not None:
            raise output.trouble
        scans = read_scans(folder / "scans")
        onsets = _onsets(stream or wav, stream is not None, output, settings, turns)
    stages = stages_of(turns, onsets, scans, step_times(steps, seed))
    heard = len(stages["total"])
    if not heard:
        raise GroundtoneError("nothing was heard of any step: the machine is too busy to measure on, try again later")
    how = "read from the monitor of a null sink" if stream is not None else "counted in the null backend's callbacks"
    if stream is not None:
        dry = sum(at_s > turns[0].read_s for at_s in underruns.at_s)
    else:
        dry = int(output.status.get("late", 0))
    return Measured(
        stages,
        steps,
        steps - heard,
        frames,
        missed,
        dry,
        description,
        asks_ms(np.array(output.status["calls"]), output.rate_hz),
        how,
        rate_hz,
        size,
        (load_before, _load()),
        output.told,
    )


def _load() -> float:
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")


def _follow(link: SerialLink, output: ProcessPlayer, rate_hz: int, end_s: float) -> tuple[int, int, list[Turn]]:
    """Follows the mat as a session does, with the engine's whole work: frames, their bytes, and the turns.

    The one thing that differs from a cue is the rule: it has no dwell, for that is wanted and no delay.
    """
    layout = layout_of(link.hello.layout)
    engine = LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), Stance(LEFT, 400.0))
    frames = size = 0
    turns: list[Turn] = []
    sounded = False
    link.start(rate_hz)
    output.start()
    for item in link.frames():
        if not isinstance(item, Stamped):
            output.drain()
            continue
        taken_s = time.monotonic()
        sounds = engine.take_frame(item.frame, item.device_us).overall > BETWEEN and item.device_us * 1e-6 > FIRST_S
        decided_s = time.monotonic()
        output.heartbeat()
        output.set_cues({"toes": 1.0} if sounds else {})
        device_s = item.device_us * 1e-6
        if sounds and not sounded:
            turns.append(Turn(item.host_s, taken_s, decided_s))
        sounded = sounds
        frames += 1
        size = len(item.raw)
        if frames % _DRAIN_EVERY == 0:
            output.drain()
        if device_s > end_s:
            break
    return frames, size, turns


def _onsets(
    path: Path | None, recorded: bool, output: ProcessPlayer, settings: SoundSettings, turns: list[Turn]
) -> NDArray[np.float64]:
    """Host time at which each turn's first sample sounded, from the recorded stream or the clock's callbacks."""
    assert path is not None
    if recorded:
        return sounded_in_stream(*read_stream(path), RATE_HZ, turns)
    if output.status.get("dropped"):
        raise GroundtoneError("the sound's file has gaps, so no sample can be told: the disk is too slow, try again")
    samples, _ = soundfile.read(path)
    return sounded_by_clock(samples, np.array(output.status["calls"]), settings, turns)
