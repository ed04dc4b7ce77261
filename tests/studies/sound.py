"""The sound's figures: loudness, peak, clicks, what tells the cues apart, and how late the audio callbacks come."""

from __future__ import annotations

import itertools
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import signal

from groundtone.app.tones.sound import invented_swing
from groundtone.tone.ear import note_hz
from groundtone.tone.player import Player
from groundtone.tone.process import QUICK_BUFFER_MS, ProcessPlayer
from groundtone.tone.synth import Synth
from groundtone.tone.voices import CEILING, CUES, SIGNALS

RATE_HZ = 48000
_SIZES = (0.15, 0.6, 1.0)
_BUSY_S = 6.0
Floats = NDArray[np.float64]


def study_sound(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for. `seeds` random sessions (20) look for the peak."""
    spread_db = max(_spread_db(size) for size in _SIZES)
    peak_db, clipped = _peak(seeds or 20)
    step_db = {name: round(_worst_step_db(i), 1) for i, name in enumerate(CUES)}
    rhythm, region = _told_apart()
    opened = [_opened_s() for _ in range(5)]
    block_us = _block_us()
    began = time.perf_counter()
    Synth(RATE_HZ).echo_samples(invented_swing())
    echo_ms = 1e3 * (time.perf_counter() - began)
    alone = _lateness(lambda: ProcessPlayer(backend="null", keep_calls=True), busy=False)
    process = _lateness(lambda: ProcessPlayer(backend="null", keep_calls=True), busy=True)
    plain = _lateness(lambda: Player(Synth(), backend="null"), busy=True)
    silent_ms = _silent_ms()
    return {
        "A-weighted level, largest difference of the five cues at equal size, dB (1.5 each way asked)": round(
            spread_db, 2
        ),
        "largest peak over random sessions, dBFS (-6 asked)": round(peak_db, 2),
        "samples at the ceiling": clipped,
        "largest step of a sample beyond the tone's own, relative to its peak, dB (-40 asked)": step_db,
        "over a telephone's 300 to 3400 Hz: pulses a second of the toes over the trail side's": round(rhythm, 2),
        "over a telephone, pulses cut out: middle of the spectrum, toes over trail side": round(region, 2),
        "process opened, s": {"median": round(float(np.median(opened)), 3), "most": round(max(opened), 3)},
        f"rendering {QUICK_BUFFER_MS} ms with two cues, us": block_us,
        "making a slow echo, ms (not in the audio thread)": round(echo_ms, 1),
        "callback later than its time, ms: process, nothing else to do": alone,
        "callback later than its time, ms: process, this program busy": process,
        "callback later than its time, ms: player in this process, this program busy": plain,
        "cue silent after the last heartbeat of a program that hangs, ms (250 and a block asked)": round(silent_ms, 1),
        "ok": spread_db <= 3.0
        and peak_db <= -6.0
        and not clipped
        and max(step_db.values()) < -40.0
        and rhythm > 2.0
        and region > 2.0
        and silent_ms <= 250.0 + QUICK_BUFFER_MS * 2,
    }


def _awake() -> Synth:
    synth = Synth(RATE_HZ)
    synth.render(2 * RATE_HZ)
    synth.heartbeat()
    return synth


def _steady(cue: int, size: float, seconds: float) -> Floats:
    """A cue at one size, with a frame every 10 ms."""
    synth, blocks = _awake(), []
    name = list(CUES)[cue]
    for _ in range(round(seconds * 100)):
        synth.heartbeat()
        synth.set_cues({name: size})
        blocks.append(synth.render(RATE_HZ // 100))
    return np.concatenate(blocks).astype(np.float64)


def _a_level_db(x: Floats) -> float:
    """By IEC 61672-1's poles, written out here anew so that the voices do not judge themselves."""
    f = np.fft.rfftfreq(len(x), 1 / RATE_HZ)[1:]
    poles = (20.598997, 20.598997, 107.65265, 737.86223, 12194.217, 12194.217)
    gain = f**4 / np.prod([np.hypot(f, p) for p in poles], axis=0)
    at_1k = 1000.0**4 / np.prod([np.hypot(1000.0, p) for p in poles])
    power = np.abs(np.fft.rfft(x)[1:] * gain / at_1k) ** 2
    return float(10.0 * np.log10(2.0 * np.sum(power) / len(x) ** 2))


def _spread_db(size: float) -> float:
    levels = [_a_level_db(_steady(i, size, 10.0)) for i in range(len(CUES))]
    return max(levels) - min(levels)


def _peak(sessions: int) -> tuple[float, int]:
    """The largest sample over sessions in which everything changes, dBFS, and how many samples sit at the ceiling."""
    most, clipped = 0.0, 0
    for seed in range(sessions):
        random = np.random.default_rng(seed)
        synth = _awake()
        for _ in range(400):
            synth.heartbeat()
            synth.set_cues(dict(zip(CUES, random.choice([0.0, 0.5, 1.0], len(CUES)), strict=True)))
            if random.random() < 0.1:
                synth.signal(str(random.choice(list(SIGNALS))))
            x = np.abs(synth.render(int(random.integers(48, 960))))
            most = max(most, float(x.max()))
            clipped += int(np.sum(x >= CEILING - 1e-6))
    return float(20.0 * np.log10(most)), clipped


def _worst_step_db(cue: int) -> float:
    """The largest step between samples while the size jumps, beyond a sine's own, relative to the peak."""
    random = np.random.default_rng(cue)
    synth, blocks = _awake(), []
    for _ in range(400):
        synth.heartbeat()
        size = float(random.choice([0.0, 0.15, 1.0]))
        synth.set_cues({list(CUES)[cue]: size})
        blocks.append(synth.render(int(random.integers(48, 3000))))
    x = np.concatenate(blocks).astype(np.float64)
    voice = list(CUES.values())[cue]
    own = 2.0 * np.sin(np.pi * note_hz(voice.note) * len(voice.partials) / RATE_HZ)
    peak = float(np.max(np.abs(x)))
    beyond = float(np.max(np.abs(np.diff(x)))) / peak - own
    return float(20.0 * np.log10(max(beyond, 1e-6)))


def _told_apart() -> tuple[float, float]:
    """Toes over trail side: pulses a second, and the middle of the spectrum with the rhythm taken out."""
    band = signal.butter(4, (300, 3400), "bandpass", fs=RATE_HZ, output="sos")
    rates, middles = [], []
    for cue in (0, 1):
        x = np.asarray(signal.sosfilt(band, _steady(cue, 0.5, 8.0)))
        loud = np.convolve(np.abs(x), np.ones(480) / 480, "same")
        edges = np.flatnonzero(np.diff((loud > 0.4 * loud.max()).astype(int)))
        begins = [b for b, _ in itertools.pairwise(edges) if loud[b + 100] > 0.4 * loud.max()]
        rates.append(len(begins) / 8.0)
        flat = np.concatenate([x[b + 960 : b + 2880] for b in begins[1:-1]])
        power = np.abs(np.fft.rfft(flat * np.hanning(len(flat))))[1:] ** 2
        f = np.fft.rfftfreq(len(flat), 1 / RATE_HZ)[1:]
        middles.append(float(np.exp(np.sum(power * np.log(f)) / np.sum(power))))
    return rates[0] / rates[1], middles[0] / middles[1]


def _opened_s() -> float:
    began = time.perf_counter()
    player = ProcessPlayer(backend="null")
    took = time.perf_counter() - began
    player.close()
    return took


def _block_us() -> dict[str, float]:
    synth, n = _awake(), RATE_HZ * QUICK_BUFFER_MS // 1000
    times = []
    for _ in range(4000):
        synth.heartbeat()
        synth.set_cues({"toes": 0.7, "trail side": 0.7})
        began = time.perf_counter()
        synth.render(n)
        times.append(time.perf_counter() - began)
    p50, p99 = np.percentile(np.array(times) * 1e6, [50, 99])
    return {"p50": round(float(p50), 1), "p99": round(float(p99), 1)}


def _lateness(make: Callable[[], ProcessPlayer | Player], *, busy: bool) -> dict[str, float]:
    """How much later than the null backend's clock the callbacks come, while this program works or does nothing."""
    player = make()
    over = threading.Event()
    work = threading.Thread(target=_work, args=(over,), daemon=True)
    player.start()
    if busy:
        work.start()
    until = time.monotonic() + _BUSY_S
    while time.monotonic() < until:
        player.heartbeat()
        player.set_cues({"toes": 0.5, "trail side": 0.5})
        time.sleep(0.005)
    over.set()
    player.close()
    calls = np.array(player.status["calls"] if isinstance(player, ProcessPlayer) else player.calls)
    # The clock asks for what has been played; several periods at once count as one call.
    times = calls[np.concatenate([[True], np.diff(calls[:, 0]) > 1e-3]), 0]
    gaps = np.diff(times[5:-1])
    late = 1e3 * (gaps - np.median(gaps))
    p99, most = np.percentile(late, [99, 100])
    return {"p99": round(float(p99), 2), "most": round(float(most), 2)}


def _work(over: threading.Event) -> None:
    """Python code without a pause: what a screen, a recording and an analysis do at the worst."""
    x = 0
    while not over.is_set():
        for i in range(20_000):
            x ^= i * i


def _silent_ms() -> float:
    """The length of a toes cue whose program hangs after its first frame, in the file that was written."""
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "a.wav"
        player = ProcessPlayer(wav, backend="null")
        player.start()
        player.heartbeat()
        player.set_cues({"toes": 1.0})
        time.sleep(0.6)
        player.close()
        x, _ = soundfile.read(wav)
    loud = np.flatnonzero(np.abs(x) > 2e-5)
    # "lost" begins with E5, which the toes cue has not: where its line comes up, the cue is over.
    first, n = int(loud[0]), RATE_HZ // 50
    tone = np.exp(-2j * np.pi * note_hz("E5") * np.arange(n) / RATE_HZ) * np.hanning(n)
    for at in range(first + n, len(x) - n, 48):
        piece = x[at : at + n]
        if abs(np.sum(piece * tone)) > 0.45 * np.sqrt(np.sum(piece**2) * np.sum(np.hanning(n) ** 2)) > 0:
            return 1e3 * (at - first) / RATE_HZ
    return float("nan")
