"""Notes against ISO 16, weighting against IEC 61672-1, and a written file against outside readers."""

import wave
from pathlib import Path

import numpy as np
import pytest
import scipy.io.wavfile
import soundfile

from groundtone.tone.ear import a_weight_db, note_hz
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.tone.voices import TOES, TRAIL


@pytest.mark.parametrize(
    ("name", "hz"),
    # ISO 16: A4 = 440 Hz; the others by equal temperament, two decimals (from memory of any table of notes).
    [("A4", 440.0), ("A3", 220.0), ("A5", 880.0), ("C5", 523.25), ("C#5", 554.37), ("E5", 659.26), ("E6", 1318.51)],
)
def test_notes(name: str, hz: float) -> None:
    assert note_hz(name) == pytest.approx(hz, abs=0.005)


@pytest.mark.parametrize("bad", ["", "H4", "A", "A#", "4", "Bb3"])
def test_what_is_not_a_note_is_refused(bad: str) -> None:
    with pytest.raises(ValueError, match="is not a note"):
        note_hz(bad)


def test_the_cues_lie_where_the_documents_say() -> None:
    assert 880.0 <= note_hz(TOES.note) <= 1760.0
    assert note_hz(TRAIL.note) == 220.0


@pytest.mark.parametrize(
    ("hz", "db"),
    # IEC 61672-1, table of design goals at the exact frequencies 10^(n/10), rounded there to a tenth (from memory).
    [
        (10**1.5, -39.4), (10**1.8, -26.2), (100, -19.1), (10**2.1, -16.1), (10**2.4, -8.6), (10**2.7, -3.2),
        (1000, 0.0), (10**3.3, 1.2), (10**3.6, 1.0), (10**3.9, -1.1), (10**4.2, -6.6),
    ],
)  # fmt: skip
def test_a_weighting_table(hz: float, db: float) -> None:
    assert float(a_weight_db(hz)) == pytest.approx(db, abs=0.06)


def test_outside_readers_agree_about_a_written_file(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    out = OfflinePlayer(Synth(), path)
    out.start()
    for _ in range(300):
        out.heartbeat()
        out.set_cues({"trail side": 1.0})
        out.advance(0.01)
    out.close()
    with wave.open(str(path)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (48000, 1, 2)
        plain = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
    rate, by_scipy = scipy.io.wavfile.read(path)
    by_soundfile, _ = soundfile.read(path, dtype="int16")
    assert rate == 48000
    assert len(plain) == 144000
    assert np.array_equal(plain, by_scipy)
    assert np.array_equal(plain, by_soundfile)
    assert np.max(np.abs(plain)) <= 32767 * 10 ** (-6 / 20)
    # The repetition period by autocorrelation, which knows nothing of spectra: A3 repeats every 218.18 samples.
    x = plain[96000:].astype(float)
    lags = np.array([np.dot(x[:-lag], x[lag:]) / (len(x) - lag) for lag in range(150, 300)])
    assert 150 + int(np.argmax(lags)) == pytest.approx(48000 / 220, abs=0.6)
