"""`groundtone sound`: cards listed, a choice remembered, every sound played with its name."""

import tomllib

import numpy as np
import pytest
import soundfile

from groundtone.app.tones import sound as sound_command
from groundtone.app.tones import sounding
from groundtone.app.tones.sound import SIGNAL_WORDS
from groundtone.cue.rulefile import cue_names, default_rules
from groundtone.errors import ToneError
from groundtone.tone.devices import SoundCard
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.player import Player
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.settings import SoundSettings, read_settings, settings_path, write_settings
from groundtone.tone.synth import Synth
from groundtone.tone.voices import CUES, SIGNALS


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def cards(monkeypatch):
    there = [SoundCard("USB Audio", "ALSA", 1), SoundCard("HDMI", "ALSA", 2)]
    monkeypatch.setattr(sound_command, "list_devices", lambda: there)


def test_a_choice_is_remembered_and_what_is_not_named_stays(groundtone, cards, home):
    said = groundtone("sound", "choose", "--device", "usb", "--level", 0.5, "--stereo")
    assert said.code == 0
    assert "device: USB Audio" in said.out
    assert f"Remembered in {home / 'sound.toml'}." in said.out
    groundtone("sound", "choose", "--buffer", 8, "--no-echo", "--slower", 3)
    assert tomllib.loads((home / "sound.toml").read_text()) == {
        "device": "USB Audio", "level": 0.5, "buffer_ms": 8, "periods": 2, "rate_hz": 48000, "stereo": True,
        "echo": False, "slower": 3.0, "words": "",
    }  # fmt: skip
    assert "buffer in all: 16 ms" in groundtone("sound", "show").out
    assert groundtone("sound", "list").out.splitlines() == ["* USB Audio (ALSA)", "  HDMI (ALSA)"]
    groundtone("sound", "choose", "--usual", "--device", "")
    assert read_settings() == SoundSettings()


def test_what_cannot_be_chosen_is_refused_and_nothing_is_remembered(groundtone, cards, home):
    said = groundtone("sound", "choose", "--device", "bell")
    assert said.code == 2
    assert said.err == "groundtone: No sound card's name fits 'bell'. Sound cards here: 'USB Audio', 'HDMI'.\n"
    assert groundtone("sound", "choose", "--level", 2).code == 2
    assert groundtone("sound", "choose", "--slower", 7).code == 2
    assert not (home / "sound.toml").exists()
    said = groundtone("sound", "play", "gong")
    assert said.code == 2
    assert "There is no sound 'gong'; there are toes, trail side," in said.err


def test_no_card_and_a_damaged_file_are_said(groundtone, monkeypatch, home):
    monkeypatch.setattr(sound_command, "list_devices", list)
    home.mkdir()
    settings_path().write_text("level = 7\n")
    said = groundtone("sound", "list")
    assert "No sound card: tones can be written to a file but not heard" in said.out
    assert "level goes from 0 to 1, not 7" in said.out
    said = groundtone("sound", "show")
    assert said.code == 2
    assert "Mend " in said.err


def test_every_sound_has_its_words():
    assert cue_names() == tuple(CUES)
    assert all(rule.words for rule in default_rules().rules)
    assert set(SIGNAL_WORDS) == set(SIGNALS)


def test_each_sound_is_played_with_its_name(groundtone, monkeypatch, tmp_path):
    wav = tmp_path / "a.wav"
    monkeypatch.setattr(sound_command, "live_output", lambda say: OfflinePlayer(Synth(), wav))
    monkeypatch.setattr(sound_command.time, "sleep", lambda seconds: None)
    said = groundtone("sound", "play", "trail side", "ready", "slow echo")
    assert said.code == 0
    assert said.out.splitlines()[1:] == [
        "trail side: the weight has not come across",
        "ready: the footprints have been found",
        "slow echo of an invented swing",
    ]
    x, rate = soundfile.read(wav)
    assert len(x) == round((2.0 + 3.2 + 1.4 + 7.5) * rate)
    # Each in its time: the cue for 2.5 s, the signal of 0.54 s, the echo of four times 1.695 s.
    sounds = np.abs(x) > 1e-4
    assert not sounds[: 2 * rate].any()
    assert np.flatnonzero(sounds[2 * rate : round(5.2 * rate)])[-1] / rate == pytest.approx(2.5, abs=0.25)
    assert np.flatnonzero(sounds[round(5.2 * rate) : round(6.6 * rate)])[-1] / rate == pytest.approx(0.54, abs=0.02)
    assert np.flatnonzero(sounds[round(6.6 * rate) :])[-1] / rate == pytest.approx(6.78, abs=0.05)


def test_a_session_sounds_as_remembered_and_from_a_process_of_its_own(monkeypatch):
    made = {}
    monkeypatch.setattr(sounding, "ProcessPlayer", lambda wav, **more: made.update(more, wav=wav))
    write_settings(SoundSettings("bell", 0.4, 7, 3, 44100, True, True, 5.0))
    sounding.live_output(lead="right")
    assert made == {
        "wav": None, "device": "bell", "level": 0.4, "buffer_ms": 7, "periods": 3, "rate_hz": 44100, "lead": "right",
        "slower": 5.0, "words": "", "insist": False,
    }  # fmt: skip


def test_a_remembered_card_that_is_gone_is_said_and_the_session_sounds(monkeypatch):
    write_settings(SoundSettings(device="bell"))
    out = sounding.live_output()
    assert isinstance(out, ProcessPlayer)
    assert "No sound card's name fits 'bell'." in str(out.trouble)
    out.start()
    out.signal("tick")
    out.close()


def test_settings_that_cannot_be_read_do_not_end_a_session(home):
    home.mkdir()
    settings_path().write_text("nonsense")
    said = []
    out = sounding.live_output(say=said.append)
    out.close()
    assert "cannot be read" in said[0]


def test_where_no_process_can_be_had_the_sound_is_made_here(monkeypatch):
    def refuse(*_, **__):
        raise ToneError("The sound's process could not be started (no memory); free some memory.")

    monkeypatch.setattr(sounding, "ProcessPlayer", refuse)
    said = []
    out = sounding.live_output(say=said.append)
    assert isinstance(out, Player)
    out.close()
    assert said[0].endswith("The sound is made in this process instead.")
