"""The rendered cues judged by sox: where their spectra lie, how high their peaks are, and over a telephone."""

import subprocess

import numpy as np
import pytest
import soundfile

from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth

CUES = ("toes", "trail side", "heels", "slide", "finish")
# By hand from A4 = 440 Hz: E6, A3 with its octave (the strongest), D7, B5, A6.
HZ = {"toes": 1318.5, "trail side": 440.0, "heels": 2349.3, "slide": 987.8, "finish": 1760.0}


def sox(*arguments):
    """What sox says on its error output, where it puts its figures."""
    return subprocess.run(["sox", *map(str, arguments)], capture_output=True, text=True, check=True, timeout=60).stderr


def figures(said):
    """Lines "name: value" as a dict."""
    return {
        name.strip(): float(value)
        for name, _, value in (line.partition(":") for line in said.splitlines())
        if value.strip()
    }


def spectrum(path):
    """sox's own power spectrum: strength by frequency, summed over its blocks of 4096 samples."""
    pairs = [line.split() for line in sox(path, "-n", "stat", "-freq").splitlines()]
    lines = np.array([[float(a), float(b)] for a, b in (p for p in pairs if len(p) == 2 and ":" not in p[0])])
    hz = np.unique(lines[:, 0])
    return hz, np.bincount(np.searchsorted(hz, lines[:, 0]), lines[:, 1])


@pytest.fixture(scope="module")
def cues(tmp_path_factory):
    """Each cue for 4 s at full size, after the soft start."""
    folder = tmp_path_factory.mktemp("cues")
    for name in CUES:
        out = OfflinePlayer(Synth(), folder / "all.wav")
        out.start()
        out.heartbeat()
        out.rest()
        out.advance(2.0)
        for _ in range(400):
            out.heartbeat()
            out.set_cues({name: 1.0})
            out.advance(0.01)
        out.close()
        sox(folder / "all.wav", folder / f"{name}.wav", "trim", "2.0")
    return folder


@pytest.mark.parametrize("name", CUES)
def test_sox_finds_each_cue_in_its_region(cues, name):
    hz, power = spectrum(cues / f"{name}.wav")
    assert hz[np.argmax(power)] == pytest.approx(HZ[name], abs=48000 / 4096)
    low, high = (150, 930) if name == "trail side" else (HZ[name] / 1.15, HZ[name] * 1.15)
    # sox's window is soft: its sides are worth a per cent.
    assert power[(hz > low) & (hz < high)].sum() > 0.98 * power.sum()


@pytest.mark.parametrize("name", CUES)
def test_sox_finds_no_peak_above_minus_6_dbfs_and_no_offset(cues, name):
    said = figures(sox(cues / f"{name}.wav", "-n", "stat"))
    assert 0.05 < said["Maximum amplitude"] <= 10 ** (-6 / 20)
    assert -(10 ** (-6 / 20)) <= said["Minimum amplitude"] < -0.05
    assert abs(said["Mean    amplitude"]) < 1e-3
    assert said["Length (seconds)"] == pytest.approx(4.0)


def test_over_soxs_telephone_the_rhythm_tells_toes_from_trail_side(cues):
    rates = {}
    for name in ("toes", "trail side"):
        path = cues / f"{name}-telephone.wav"
        sox(cues / f"{name}.wav", "-r", "8000", path, "sinc", "300-3400")
        x, rate = soundfile.read(path)
        assert rate == 8000
        loud = np.convolve(np.abs(x), np.ones(80) / 80, "same")
        over = loud > 0.4 * loud.max()
        rates[name] = np.count_nonzero(over[1:] & ~over[:-1]) / 4.0
    assert rates["toes"] == pytest.approx(9.0, abs=0.3)
    assert rates["trail side"] == pytest.approx(2.8, abs=0.3)
