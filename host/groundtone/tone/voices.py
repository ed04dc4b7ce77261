"""Voices: what each cue and each signal sounds like, as data and as the arrays made from it.

The two main cues differ twice over, so that either difference is enough: the toes cue is high and quick (E6, about
eight short beeps a second), the trail-side cue is low and slow (A3 with its octave and fifths, about five long pulses
in two seconds). All of the trail cue lies under 900 Hz and all of the toes cue above 1 kHz. The harmonics of the trail
cue carry it on a speaker too small for its fundamental.
The other three are for those who choose them. Each has a region of its own, a fourth or more from its neighbours, and a
figure instead of an even beat: slide long-short (B5), finish threes (A6), heels pairs (D7, farthest from the toes).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.tone.ear import a_weight_db, note_hz

Samples = NDArray[np.float64]

LOUDNESS_SPAN_DB = 18.0  # from the smallest size that sounds to size 1; equal steps of size are equal steps in dB
CEILING = 10.0 ** (-6.0 / 20.0)  # the loudest sample there may be, whatever is asked for: 6 dB under full scale
SIGNAL_SHARE = 0.25  # part of the ceiling kept free for a signal, so that signals and cues add up without a limiter
CUE_SHARE = 1.0 - SIGNAL_SHARE  # what is left for cues, and for a slow echo while there is none


@dataclass(frozen=True)
class CueVoice:
    """One cue's sound.

    Attributes
    ----------
    note : str
        The fundamental, as a note of ISO 16.
    partials : tuple of float
        Amplitudes of the fundamental and its harmonics, relative to each other.
    phases : tuple of float
        Phase of each partial at the start, cycles; chosen for a low peak.
    beats_per_s : tuple of float
        Beats a second at size 0 and at size 1.
    pulses : tuple of (float, float)
        Where in a beat it sounds: begin and length of each pulse, parts of the beat. The lengths of every cue add up
        to the same, or equal levels would not be equally loud over time.
    ramp_s : float
        Raised-cosine rise and fall inside each pulse, s; never shorter than `groundtone.tone.cuevoice.RELEASE_S`.
    side : float
        Where it stands in stereo: -1 at the trail side, 0 in the middle, 1 at the lead side.
    """

    note: str
    partials: tuple[float, ...]
    phases: tuple[float, ...]
    beats_per_s: tuple[float, float]
    pulses: tuple[tuple[float, float], ...]
    ramp_s: float
    side: float = 0.0


@dataclass(frozen=True)
class Signal:
    """One signal: notes one after the other.

    Attributes
    ----------
    notes : tuple of (str, float)
        Each note and its length, s; "C5>C6" glides from one to the other and keeps its loudness until near its end.
    strength_db : float
        Level relative to the loudest signal, dB.
    """

    notes: tuple[tuple[str, float], ...]
    strength_db: float = 0.0


TOES = CueVoice("E6", (1.0,), (0.0,), (7.0, 9.0), ((0.0, 0.55),), 0.008)
TRAIL = CueVoice("A3", (0.7, 1.0, 0.7, 0.35), (0.0, 0.0, 0.5625, 0.0), (2.2, 2.8), ((0.0, 0.55),), 0.020, -0.8)
HEELS = CueVoice("D7", (1.0,), (0.0,), (1.6, 2.0), ((0.0, 0.275), (0.4, 0.275)), 0.015)
SLIDE = CueVoice("B5", (1.0,), (0.0,), (1.1, 1.4), ((0.0, 0.40), (0.55, 0.15)), 0.020, 0.8)
FINISH = CueVoice("A6", (1.0,), (0.0,), (1.0, 1.25), ((0.0, 0.19), (0.26, 0.18), (0.51, 0.18)), 0.015)

# In the order of their priority: where more than two are asked for, the first two sound.
CUES: dict[str, CueVoice] = {"toes": TOES, "trail side": TRAIL, "heels": HEELS, "slide": SLIDE, "finish": FINISH}
AT_MOST = 2

# The tick is lower and shorter than any beep of the toes cue and fades from its start, so as not to pass for one.
SIGNALS: dict[str, Signal] = {
    "tick": Signal((("C5", 0.04),), -6.0),
    "ready": Signal((("A4", 0.12), ("C#5", 0.12), ("E5", 0.30))),
    # To and fro and to again: nobody's feet are known before they have rocked.
    "rock": Signal((("C5", 0.14), ("G4", 0.14), ("C5", 0.14), ("G4", 0.22)), -3.0),
    "lost": Signal((("E5", 0.25), ("A4", 0.25), ("D4", 0.45))),
    "found": Signal((("D5", 0.10), ("A5", 0.25))),
    # A ball was heard and no swing seen: a question, two short notes and a higher one that stays.
    "unseen": Signal((("C5", 0.06), ("C5", 0.10), ("F5", 0.30)), -3.0),
    # For hands on weights: "again" is two equal low notes (not taken), "change" two equal high ones (another weight).
    "again": Signal((("D4", 0.14), ("D4", 0.22)), -3.0),
    "change": Signal((("A5", 0.09), ("A5", 0.18)), -6.0),
    # An answer with the foot: up and back is "taken", down is "taken back".
    "taken": Signal((("G4", 0.07), ("D5", 0.07), ("G4", 0.16)), -3.0),
    "undone": Signal((("A5", 0.08), ("D5", 0.18)), -3.0),
    # Down and home again, slowly: what was heard is on the disk. Steps that close in on each other: a tighter band.
    "saved": Signal((("C5", 0.15), ("G4", 0.15), ("C5", 0.40)), -3.0),
    "tightened": Signal((("A5", 0.09), ("A4", 0.09), ("F5", 0.09), ("C5", 0.09), ("D5", 0.25)), -3.0),
    # How near a try came to what was asked: up is near, up and back nearly, down far.
    "near": Signal((("C5", 0.06), ("E5", 0.06), ("G5", 0.06), ("C6", 0.16)), -3.0),
    "nearly": Signal((("C5", 0.06), ("E5", 0.06), ("G5", 0.06), ("E5", 0.16)), -3.0),
    "far": Signal((("C5", 0.06), ("A4", 0.06), ("F4", 0.06), ("C4", 0.16)), -3.0),
}

# Asking begins with two knocks, as no cue and no other signal does, and ends in glides where cues keep their pitch: how
# many tells the line (one heel-toe, two side, three where the club meets the ball), up or down the place.
_KNOCKS, _UP, _DOWN = (("E5", 0.05), ("E5", 0.07)), "C5>C6", "C6>C5"
ASKING: dict[str, Signal] = {
    "ask toes": Signal((*_KNOCKS, (_UP, 0.40)), -3.0),
    "ask heels": Signal((*_KNOCKS, (_DOWN, 0.40)), -3.0),
    "ask middle": Signal((*_KNOCKS, ("F#5>F#5", 0.40)), -3.0),
    "ask lead": Signal((*_KNOCKS, (_UP, 0.24), (_UP, 0.24)), -3.0),
    "ask trail": Signal((*_KNOCKS, (_DOWN, 0.24), (_DOWN, 0.24)), -3.0),
    "ask high": Signal((*_KNOCKS, (_UP, 0.18), (_UP, 0.18), (_UP, 0.18)), -3.0),
    "ask low": Signal((*_KNOCKS, (_DOWN, 0.18), (_DOWN, 0.18), (_DOWN, 0.18)), -3.0),
}
# Your typical good one comes now: a single glide up. Where was it? Two knocks, up and down.
# The next club: a long glide down, as many notes as its place in the plan.
MOST_CLUBS = 5
SIGNALS |= ASKING
SIGNALS["ask feel"] = Signal((*_KNOCKS, (_UP, 0.24), (_DOWN, 0.30)), -3.0)
SIGNALS["good one"] = Signal((("A4>E5", 0.35),), -3.0)
for _club in range(1, MOST_CLUBS + 1):
    SIGNALS[f"club {_club}"] = Signal((("A4>D4", 0.30), *((("A4", 0.10),) * _club)), -3.0)


def raised_cosine(n: int) -> Samples:
    """Gives a rise from 0 to 1 in the shape of half a cosine.

    Returns
    -------
    ndarray, shape (n,)
        Neither 0 nor 1 itself is among the values: they belong to the samples on both sides.
    """
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(n) + 0.5) / max(n, 1)), dtype=np.float64)


def beat_envelope(voice: CueVoice, size: float, rate_hz: int) -> Samples:
    """Gives the loudness of one beat over time: rise, hold, fall, rest.

    Parameters
    ----------
    size : float
        Size of the error, 0 to 1; the rhythm is modestly quicker for a larger one.

    Returns
    -------
    ndarray, shape (samples of one beat,)
        Values from 0 to 1.
    """
    slow, quick = voice.beats_per_s
    n = round(rate_hz / (slow + (quick - slow) * size))
    rise = raised_cosine(round(voice.ramp_s * rate_hz))
    out = np.zeros(n)
    for begin, length in voice.pulses:
        first, on = round(n * begin), round(n * length)
        out[first : first + on] = np.concatenate([rise, np.ones(on - 2 * len(rise)), rise[::-1]])
    return out


def carrier(voice: CueVoice, phase: float, n: int, rate_hz: int) -> Samples:
    """Gives the sum of a voice's partials.

    Parameters
    ----------
    phase : float
        Phase of the fundamental at the first sample, cycles.

    Returns
    -------
    ndarray, shape (n,)
        In the units of ``voice.partials``.
    """
    turns = phase + np.arange(n) * (note_hz(voice.note) / rate_hz)
    out = np.zeros(n)
    for k, (amplitude, offset) in enumerate(zip(voice.partials, voice.phases, strict=True), start=1):
        out += amplitude * np.sin(2.0 * np.pi * (k * turns + offset))
    return out


def weighted_rms(voice: CueVoice, rate_hz: int) -> float:
    """Gives the A-weighted effective value of a voice over its beats, at middle rhythm.

    Returns
    -------
    float
        In the units of ``voice.partials``. The rests between the beats are counted in.
    """
    amplitudes = np.asarray(voice.partials)
    weights = 10.0 ** (a_weight_db(note_hz(voice.note) * np.arange(1, len(amplitudes) + 1)) / 10.0)
    steady = float(np.sum(0.5 * amplitudes**2 * weights))
    return float(np.sqrt(steady * np.mean(beat_envelope(voice, 0.5, rate_hz) ** 2)))


def cue_loudness(rate_hz: int) -> float:
    """Gives the A-weighted effective value that every cue has at size 1: as loud as the ceiling allows.

    Returns
    -------
    float
        Full scale is 1. With any two cues at size 1, their largest possible sum and a signal on top stay within
        `CEILING`: nothing ever has to be limited, so nothing is distorted.
    """
    peaks = [
        float(np.max(np.abs(carrier(voice, 0.0, rate_hz, rate_hz)))) / weighted_rms(voice, rate_hz)
        for voice in CUES.values()
    ]
    return CUE_SHARE * CEILING / sum(sorted(peaks)[-AT_MOST:])


def cue_gains(rate_hz: int) -> dict[str, float]:
    """Gives the factors that make all cues equally loud at size 1.

    Returns
    -------
    dict of str to float
        By the names of `CUES`.
    """
    common = cue_loudness(rate_hz)
    return {name: common / weighted_rms(voice, rate_hz) for name, voice in CUES.items()}


def signal_wave(signal: Signal, rate_hz: int) -> Samples:
    """Makes the samples of one signal.

    Returns
    -------
    ndarray, shape (n,)
        At most the part of `CEILING` that is kept for signals. Every note starts and ends at nothing.
    """
    parts = []
    for note, length_s in signal.notes:
        n = round(length_s * rate_hz)
        rise = round(0.005 * rate_hz)
        begin, _, end = note.partition(">")
        fall = round(0.3 * n) if end else n - rise
        envelope = np.concatenate([raised_cosine(rise), np.ones(n - rise - fall), raised_cosine(fall)[::-1]])
        first, last = note_hz(begin), note_hz(end or begin)
        turns = np.cumsum(first * (last / first) ** (np.arange(n) / n)) / rate_hz
        parts.append(envelope * (np.sin(2 * np.pi * turns) + 0.25 * np.sin(4 * np.pi * turns)))
    wave = np.concatenate(parts)
    strength = 10.0 ** (signal.strength_db / 20.0) * SIGNAL_SHARE * CEILING
    return np.asarray(wave * (strength / np.max(np.abs(wave))), dtype=np.float64)
