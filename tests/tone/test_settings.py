"""What is remembered of the sound: it comes back as it was written, and what cannot be is one sentence."""

from dataclasses import replace

import pytest

from groundtone.errors import ToneError
from groundtone.tone.settings import SoundSettings, read_settings, settings_or_usual, settings_path, write_settings


def test_nothing_remembered_is_the_usual_sound(tmp_path):
    assert read_settings(tmp_path / "none.toml") == SoundSettings()
    assert SoundSettings().echo
    assert not SoundSettings().stereo


def test_what_is_written_is_read(tmp_path):
    odd = SoundSettings('Küche "2"\\\tünï\x01', 0.25, 7, 3, 44100, True, False, 3.5)
    path = write_settings(odd, tmp_path / "folder" / "sound.toml")
    assert read_settings(path) == odd
    assert settings_or_usual(path) == (odd, None)


def test_it_lies_in_the_data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    assert settings_path() == tmp_path / "sound.toml"
    write_settings(replace(SoundSettings(), level=0.5))
    assert read_settings().level == 0.5


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("level = 2.0", "level goes from 0 to 1, not 2.0"),
        ("level = nan", "level goes from 0 to 1, not nan"),
        ("level = true", "level is a number, not True"),
        ("buffer_ms = 5.5", "buffer_ms is a whole number, not 5.5"),
        ("buffer_ms = 0", "buffer_ms goes from 1 to 200 ms, not 0"),
        ("periods = 9", "periods goes from 1 to 8, not 9"),
        ("slower = 10", "slower goes from 3 to 5 times, not 10"),
        ("stereo = 1", "stereo is true or false, not 1"),
        ("device = 5", "device is text, not 5"),
        ("rate_hz = 100", "rate_hz goes from 8000 to 192000 Hz, not 100"),
        ("volume = 1.0", "do not know volume"),
        ("level = ", "cannot be read"),
        ("\udcff", "cannot be read"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_the_usual_sound(tmp_path, text, says):
    path = tmp_path / "sound.toml"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(ToneError, match=says):
        read_settings(path)
    usual, sentence = settings_or_usual(path)
    assert usual == SoundSettings()
    assert str(path) in sentence
    assert sentence.endswith("The usual sound is taken.")


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ToneError, match="cannot be written to"):
        write_settings(SoundSettings(), tmp_path / "file" / "sound.toml")
