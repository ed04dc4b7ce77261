"""What can be heard in a WAV file, found without the program that made it."""

import numpy as np
import pytest
import soundfile

RATE = 48000
BANDS = {"toes": (1240, 1400), "trail side": (200, 240), "tick": (480, 570)}
WANTED = {"good": (), "toe_drift": ("toes",), "trail_hang": ("trail side",), "centred": (), "pitch": ()}
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


def practice_heard(samples, swings, begin_s=0.0, ready_s=0.56):
    """Asserts that a practice was answered as it must be: ready first, then each swing its cues and a tick, no more.

    `swings` are the twin's, on a clock that stood at `begin_s` when the sound began; what plays them does not matter.
    """
    found = stretches(samples)
    ready, found = found[0], found[1:]
    assert part_in(samples, *ready, 420, 680) > 0.5
    assert ready[1] - ready[0] == pytest.approx(ready_s, abs=0.03)
    for swing in swings:
        # A tone that lasts until the swing is over runs into the tick; pieces of it without and with the tick.
        impact_s = swing.impact_s - begin_s
        here = [s for s in found if impact_s - 1.0 < s[0] < impact_s + 2.2]
        loudest = [max(BANDS, key=lambda name: part_in(samples, a, b, *BANDS[name])) for a, b in here]
        assert set(loudest) - {"tick"} == set(WANTED[swing.style]), (swing, here, loudest)
        end = here[-1][1]
        assert part_in(samples, end - 0.04, end, *BANDS["tick"]) > 0.5
        assert 1.2 < end - impact_s < 1.6
        found = found[len(here) :]
    assert found == []


def pin_wav(changes, length_s, path):
    """What a pin does, as a file: (s, hertz, part of the time that it is high) from each change on.

    A capacitor takes the mean off.
    """
    at = np.array([round(t * RATE) for t, _, _ in changes] + [round(length_s * RATE)])
    hertz = np.repeat([h for _, h, _ in changes], np.diff(at))
    duty = np.repeat([d for _, _, d in changes], np.diff(at))
    pulse = (np.cumsum(hertz / RATE) % 1.0 < duty) - duty
    samples = np.concatenate([np.zeros(at[0]), np.where(duty > 0, pulse, 0.0)])
    soundfile.write(str(path), samples * 0.6, RATE, subtype="PCM_16")


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
