"""A disk that is full ends the written sound and says so; the tones go on."""

import numpy as np
import pytest
import soundfile
from patience import until

from groundtone.errors import ToneError
from groundtone.tone.output import OfflinePlayer, WavWriter
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth


@pytest.fixture
def room(monkeypatch):
    """The disk takes so many blocks, then it is full."""
    left = [30]
    real = soundfile.SoundFile.write

    def write(self, data):
        left[0] -= 1
        if left[0] < 0:
            raise soundfile.LibsndfileError(2)
        return real(self, data)

    monkeypatch.setattr(soundfile.SoundFile, "write", write)
    return left


def test_the_writer_says_it_and_what_was_written_is_there(tmp_path, room):
    room[0] = 2
    with WavWriter(tmp_path / "a.wav", 48000) as wav:
        wav.write(np.ones(480, np.float32))
        wav.write(np.ones(480, np.float32))
        with pytest.raises(ToneError, match=r"can no longer be written to .*a\.wav .*Free some space on the disk\."):
            wav.write(np.ones(480, np.float32))
    assert soundfile.info(tmp_path / "a.wav").frames == 960


def test_offline_the_sound_goes_on_without_its_file(tmp_path, room):
    out = OfflinePlayer(Synth(), tmp_path / "a.wav")
    out.start()
    out.advance(0.3)
    assert out.trouble is None
    out.advance(0.3)
    assert "can no longer be written" in str(out.trouble)
    out.signal("tick")
    out.advance(1.0)
    out.close()
    assert room[0] == -1  # tried once and never again
    assert soundfile.info(tmp_path / "a.wav").frames == 30 * 480


def test_live_the_sound_goes_on_without_its_file(tmp_path, room):
    out = Player(Synth(), tmp_path / "a.wav", backend="null")
    out.start()
    until(lambda: (out.drain(), out.trouble)[1])
    assert "can no longer be written" in str(out.trouble)
    rendered = out.rendered
    until(lambda: out.rendered > rendered + 2000)
    out.close()
    assert room[0] == -1
