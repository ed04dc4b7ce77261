"""Measures the way from a step in force on the simulated mat to the sample in the sound card's stream, part by part."""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from groundtone.app.tones.latency_card import RATE_HZ, Underruns, read_stream, readable_card
from groundtone.app.tones.latency_world import BETWEEN, FIRST_S, Task, read_scans, step_times
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.errors import GroundtoneError
from groundtone.link.base import Stamped
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.settings import SoundSettings
from groundtone.twin.mat_process import MatProcess

STAGES = ("scan", "link", "queue", "compute", "sound")
_ONSET = 0.02  # part of the cue's peak: half a millisecond into its rise of 8 ms
_SOON_S = 0.150  # a step is answered within this time or not at all
_DRAIN_EVERY = 20
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Turn:
    """One decision to sound: host times, s, at which its frame was read and taken up, and it was made."""

    read_s: float
    taken_s: float
    decided_s: float


@dataclass(frozen=True)
class Measured:
    """What came out.

    Attributes
    ----------
    stages : dict of str to ndarray
        Seconds of each step that was heard, by `STAGES` and "total".
    steps, unheard : int
        Steps in force, and those without a sound within 150 ms.
    frames, missed, dry : int
        Frames read, frames that did not arrive, times the sound ran dry: by the sound server's own account; where a
        clock stands in for it, callbacks later than the buffer lasts.
    card : str
        What played it.
    asks_ms : float
        Sound that the card asks for at a time, ms, in the middle: what the system grants of the buffer that was wished.
    how : str
        How the sample's time was found.
    rate_hz : int
    message_bytes : int
        Of a frame.
    load : (float, float)
        The machine's load average of a minute, before and after.
    """

    stages: dict[str, Floats]
    steps: int
    unheard: int
    frames: int
    missed: int
    dry: int
    card: str
    asks_ms: float
    how: str
    rate_hz: int
    message_bytes: int
    load: tuple[float, float]


def measure(steps: int, rate_hz: int, settings: SoundSettings, card: str, seed: int = 1) -> Measured:
    """Measure in real time; takes about a third of a second for each step.

    Parameters
    ----------
    steps : int
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
        onsets = _in_stream(stream, turns) if stream is not None else _in_clock(wav, output, settings, turns)
    stages = _stages(turns, onsets, scans, step_times(steps, seed))
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
        _asks_ms(output),
        how,
        rate_hz,
        size,
        (load_before, _load()),
    )


def _asks_ms(output: ProcessPlayer) -> float:
    """The middle of what the card asks for at a time; calls within a millisecond are one."""
    calls = np.array(output.status["calls"])
    firsts = calls[np.concatenate([[True], np.diff(calls[:, 0]) > 1e-3])]
    return float(1e3 * np.median(np.diff(firsts[:, 1])) / output.rate_hz)


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


def _in_stream(path: Path, turns: list[Turn]) -> Floats:
    """Host time at which each turn's first sample had come out of the card's stream, NaN where none did."""
    samples, arrived_s, ends = read_stream(path)
    loud = np.abs(samples) > _ONSET * np.percentile(np.abs(samples), 99.9)
    out = np.full(len(turns), np.nan)
    for i, turn in enumerate(turns):
        piece = int(np.searchsorted(arrived_s, turn.decided_s))
        first = int(ends[piece - 1]) if piece else 0
        window = loud[first : first + round(_SOON_S * RATE_HZ)]
        if window.any():
            out[i] = arrived_s[np.searchsorted(ends, first + int(np.argmax(window)), side="right")]
    return out


def _in_clock(wav: Path | None, output: ProcessPlayer, settings: SoundSettings, turns: list[Turn]) -> Floats:
    """Host time at which each turn's first sample is due after its callback and the periods before it."""
    assert wav is not None
    if output.status.get("dropped"):
        raise GroundtoneError("the sound's file has gaps, so no sample can be told: the disk is too slow, try again")
    samples, _ = soundfile.read(wav)
    calls = np.array(output.status["calls"])
    loud = np.abs(samples) > _ONSET * np.percentile(np.abs(samples), 99.9)
    out = np.full(len(turns), np.nan)
    for i, turn in enumerate(turns):
        call = int(np.searchsorted(calls[:, 0], turn.decided_s))
        if call >= len(calls):
            continue
        first = int(calls[call, 1])
        window = loud[first : first + round(_SOON_S * settings.rate_hz)]
        if window.any():
            sample = first + int(np.argmax(window))
            by = int(np.searchsorted(calls[:, 1], sample, side="right")) - 1
            before_s = (settings.periods - 1) * settings.buffer_ms * 1e-3
            out[i] = calls[by, 0] + before_s + (sample - calls[by, 1]) / settings.rate_hz
    return out


def _stages(turns: list[Turn], onsets: Floats, scans: Floats, steps_s: Floats) -> dict[str, Floats]:
    """Seconds of each part for each step that was answered.

    Film's and host's clock differ by a constant: the quickest way of a reading from one to the other.
    """
    film_s, host_s = scans[:, 0], scans[:, 1]
    film_to_host = float(np.min(host_s - film_s))
    reads_s = np.array([turn.read_s for turn in turns])
    rows = []
    for step_s in steps_s:
        scan = int(np.searchsorted(film_s, step_s))
        if scan >= len(scans):
            continue
        i = int(np.searchsorted(reads_s, host_s[scan]))
        if i >= len(turns) or reads_s[i] - host_s[scan] > _SOON_S or np.isnan(onsets[i]):
            continue
        turn = turns[i]
        marks = [step_s + film_to_host, host_s[scan], turn.read_s, turn.taken_s, turn.decided_s, onsets[i]]
        rows.append(np.diff(marks))
    table = np.array(rows).reshape(-1, len(STAGES))
    return {**{name: table[:, i] for i, name in enumerate(STAGES)}, "total": table.sum(axis=1)}
