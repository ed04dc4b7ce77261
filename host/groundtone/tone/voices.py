"""Voices: what each cue and each signal sounds like, as data and as the arrays made from it.

The two cues differ twice over, so that either difference is enough: the toes cue is high and quick (E6, about eight
short beeps a second), the trail-side cue is low and slow (A3 with its octave and fifths, about five long pulses in
two seconds). All of the trail cue lies under 1 kHz and all of the toes cue above it. The harmonics of the trail cue
carry it on a speaker too small for its fundamental.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.tone.weighting import a_weight_db, note_hz

Samples = NDArray[np.float64]

LOUDNESS_SPAN_DB = 18.0  # from the smallest size that sounds to size 1; equal steps of size are equal steps in dB
CEILING = 10.0 ** (-6.0 / 20.0)  # the loudest sample there may be, whatever is asked for: 6 dB under full scale
_SIGNAL_SHARE = 0.25  # part of the ceiling kept free for a signal, so that signals and cues add up without a limiter


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
    duty : float
        Part of a beat that sounds. Equal for both cues, or equal levels would not be equally loud over time.
    ramp_s : float
        Raised-cosine rise and fall inside the sounding part, s.
    """

    note: str
    partials: tuple[float, ...]
    phases: tuple[float, ...]
    beats_per_s: tuple[float, float]
    duty: float
    ramp_s: float


@dataclass(frozen=True)
class Signal:
    """One signal: notes one after the other.

    Attributes
    ----------
    notes : tuple of (str, float)
        Each note and its length, s.
    strength_db : float
        Level relative to the loudest signal, dB.
    """

    notes: tuple[tuple[str, float], ...]
    strength_db: float = 0.0


TOES = CueVoice("E6", (1.0,), (0.0,), (7.0, 9.0), 0.55, 0.008)
TRAIL = CueVoice("A3", (0.7, 1.0, 0.7, 0.35), (0.0, 0.0, 0.5625, 0.0), (2.2, 2.8), 0.55, 0.020)

# The tick is lower and shorter than any beep of the toes cue and fades from its start, so as not to pass for one.
SIGNALS: dict[str, Signal] = {
    "tick": Signal((("C5", 0.04),), -6.0),
    "ready": Signal((("A4", 0.12), ("C#5", 0.12), ("E5", 0.30))),
    "lost": Signal((("E5", 0.25), ("A4", 0.25), ("D4", 0.45))),
    "found": Signal((("D5", 0.10), ("A5", 0.25))),
    # For hands on weights: "again" is two equal low notes (not taken), "change" two equal high ones (another weight).
    "again": Signal((("D4", 0.14), ("D4", 0.22)), -3.0),
    "change": Signal((("A5", 0.09), ("A5", 0.18)), -6.0),
}


def raised_cosine(n: int) -> Samples:
    """Give a rise from 0 to 1 in the shape of half a cosine.

    Parameters
    ----------
    n : int
        Number of samples.

    Returns
    -------
    ndarray, shape (n,)
        Neither 0 nor 1 itself is among the values: they belong to the samples on both sides.
    """
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(n) + 0.5) / max(n, 1)), dtype=np.float64)


def beat_envelope(voice: CueVoice, size: float, rate_hz: int) -> Samples:
    """Give the loudness of one beat over time: rise, hold, fall, rest.

    Parameters
    ----------
    voice : CueVoice
        The cue.
    size : float
        Size of the error, 0 to 1; the rhythm is modestly quicker for a larger one.
    rate_hz : int
        Sample rate, Hz.

    Returns
    -------
    ndarray, shape (samples of one beat,)
        Values from 0 to 1.
    """
    slow, quick = voice.beats_per_s
    n = round(rate_hz / (slow + (quick - slow) * size))
    on, ramp = round(n * voice.duty), round(voice.ramp_s * rate_hz)
    rise = raised_cosine(ramp)
    return np.concatenate([rise, np.ones(on - 2 * ramp), rise[::-1], np.zeros(n - on)])


def carrier(voice: CueVoice, phase: float, n: int, rate_hz: int) -> Samples:
    """Give the sum of a voice's partials.

    Parameters
    ----------
    voice : CueVoice
        The cue.
    phase : float
        Phase of the fundamental at the first sample, cycles.
    n : int
        Number of samples.
    rate_hz : int
        Sample rate, Hz.

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
    """Give the A-weighted effective value of a voice over its beats, at middle rhythm.

    Parameters
    ----------
    voice : CueVoice
        The cue.
    rate_hz : int
        Sample rate, Hz.

    Returns
    -------
    float
        In the units of ``voice.partials``. The rests between the beats are counted in.
    """
    amplitudes = np.asarray(voice.partials)
    weights = 10.0 ** (a_weight_db(note_hz(voice.note) * np.arange(1, len(amplitudes) + 1)) / 10.0)
    steady = float(np.sum(0.5 * amplitudes**2 * weights))
    return float(np.sqrt(steady * np.mean(beat_envelope(voice, 0.5, rate_hz) ** 2)))


def cue_gains(rate_hz: int) -> tuple[float, float]:
    """Give the factors that make both cues equally loud at size 1 and as loud as the ceiling allows.

    Parameters
    ----------
    rate_hz : int
        Sample rate, Hz.

    Returns
    -------
    tuple of float
        For the toes and for the trail side. With both cues at size 1, their largest possible sum and a signal on top
        just reach `CEILING`: nothing ever has to be limited, so nothing is distorted.
    """
    voices = (TOES, TRAIL)
    loudness = [weighted_rms(v, rate_hz) for v in voices]
    peaks = [float(np.max(np.abs(carrier(v, 0.0, rate_hz, rate_hz)))) for v in voices]
    total = sum(p / q for p, q in zip(peaks, loudness, strict=True))
    common = (1.0 - _SIGNAL_SHARE) * CEILING / total
    return common / loudness[0], common / loudness[1]


def signal_wave(signal: Signal, rate_hz: int) -> Samples:
    """Make the samples of one signal.

    Parameters
    ----------
    signal : Signal
        What to play.
    rate_hz : int
        Sample rate, Hz.

    Returns
    -------
    ndarray, shape (n,)
        At most the part of `CEILING` that is kept for signals. Every note starts and ends at nothing.
    """
    parts = []
    for note, length_s in signal.notes:
        n = round(length_s * rate_hz)
        rise = round(0.005 * rate_hz)
        envelope = np.concatenate([raised_cosine(rise), raised_cosine(n - rise)[::-1]])
        turns = np.arange(n) * (note_hz(note) / rate_hz)
        parts.append(envelope * (np.sin(2 * np.pi * turns) + 0.25 * np.sin(4 * np.pi * turns)))
    wave = np.concatenate(parts)
    strength = 10.0 ** (signal.strength_db / 20.0) * _SIGNAL_SHARE * CEILING
    return np.asarray(wave * (strength / np.max(np.abs(wave))), dtype=np.float64)
