"""What can be heard in a WAV file, found without the program that made it."""

import numpy as np
import soundfile

RATE = 48000
LOST = (("E", 659.255, 0.25), ("A", 440.0, 0.25), ("D", 293.665, 0.45))


def read(path):
    """Samples as 16-bit steps."""
    samples, rate = soundfile.read(str(path), dtype="int16")
    assert rate == RATE
    assert samples.ndim == 1
    return samples.astype(np.float64)


def stretches(samples, least=2.0, gap_s=0.30):
    """(begin, end) in s of what sounds; pauses shorter than `gap_s` belong to a rhythm."""
    loud = np.flatnonzero(np.abs(samples) > least)
    if not loud.size:
        return []
    breaks = np.flatnonzero(np.diff(loud) > gap_s * RATE)
    begins = loud[np.r_[0, breaks + 1]]
    ends = loud[np.r_[breaks, loud.size - 1]]
    return [(b / RATE, (e + 1) / RATE) for b, e in zip(begins, ends, strict=True)]


def part_in(samples, begin_s, end_s, low_hz, high_hz):
    """Part of the energy between two times that lies in a band of frequencies, 0 to 1."""
    piece = samples[round(begin_s * RATE) : round(end_s * RATE)]
    power = np.abs(np.fft.rfft(piece * np.hanning(piece.size))) ** 2
    hz = np.fft.rfftfreq(piece.size, 1 / RATE)
    return float(power[(hz >= low_hz) & (hz < high_hz)].sum() / power.sum())


def loudest_hz(samples, begin_s, end_s):
    """The strongest frequency between two times."""
    piece = samples[round(begin_s * RATE) : round(end_s * RATE)]
    power = np.abs(np.fft.rfft(piece * np.hanning(piece.size), 4 * piece.size))
    return float(np.argmax(power) * RATE / (4 * piece.size))


def is_lost_sound(samples, begin_s):
    """Do the three falling notes of "lost" begin there?"""
    at = begin_s
    for _, hz, length_s in LOST:
        if abs(loudest_hz(samples, at + 0.02, at + length_s - 0.02) - hz) > 6.0:
            return False
        at += length_s
    return True
