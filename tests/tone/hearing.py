"""What the tests of the sound hear with: written without the code that makes the sound."""

import numpy as np
from scipy import signal

RATE = 48000


def so_far(path):
    """The samples of a mono file that is still being written."""
    return np.frombuffer(path.read_bytes()[44:], np.int16) / 32767


def a_power(f):
    """IEC 61672-1, annex E, as the product of its poles on the complex plane."""
    s = 2j * np.pi * f
    w1, w2, w3, w4 = (2 * np.pi * p for p in (20.598997, 107.65265, 737.86223, 12194.217))
    h = s**4 / ((s + w1) ** 2 * (s + w2) * (s + w3) * (s + w4) ** 2)
    s0 = 2j * np.pi * 1000.0
    h0 = s0**4 / ((s0 + w1) ** 2 * (s0 + w2) * (s0 + w3) * (s0 + w4) ** 2)
    return np.abs(h / h0) ** 2


def a_level_db(x, rate=RATE):
    """A-weighted level of a mono sound, dB re full scale squared."""
    power = np.abs(np.fft.rfft(x)) ** 2
    return 10 * np.log10(2 * np.sum(power * a_power(np.fft.rfftfreq(len(x), 1 / rate))) / len(x) ** 2)


def strongest_hz(x, rate=RATE):
    lines = np.abs(np.fft.rfft(x * np.hanning(len(x)), 4 * len(x)))
    return float(np.argmax(lines) * rate / (4 * len(x)))


def telephone(x, rate=RATE):
    """Only 300 to 3400 Hz."""
    return signal.sosfilt(signal.butter(4, (300, 3400), "bandpass", fs=rate, output="sos"), x)


def envelope(x, rate=RATE):
    """Loudness over time, smoothed over 10 ms."""
    n = rate // 100
    return np.convolve(np.abs(x), np.ones(n) / n, "same")


def pulses(x, rate=RATE, part=0.4):
    """(begin, end) in s of what is louder than a part of the loudest."""
    e = envelope(x, rate)
    loud = np.concatenate([[0], (e > part * e.max()).astype(int), [0]])
    edges = np.flatnonzero(np.diff(loud)) / rate
    return list(zip(edges[::2], edges[1::2], strict=True))


def excess_step(x, highest_hz, rate=RATE):
    """The largest step between samples beyond a sine's own of the same peak, relative to the peak, dB."""
    peak = np.max(np.abs(x))
    own = peak * 2 * np.sin(np.pi * highest_hz / rate)
    return float(20 * np.log10(max(np.max(np.abs(np.diff(x))) - own, 1e-12) / peak))
