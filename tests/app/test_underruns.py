"""The sound server's own account: what buffer it gave, and how often a stream ran dry."""

import re
import time
from pathlib import Path

import miniaudio
import pytest

from groundtone.app.bench import underruns
from groundtone.app.bench.underruns import underruns_in, underruns_in_practice
from groundtone.app.tones.latency_card import playing_to, sound_server
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth


def server_log(folder: Path, play) -> str:
    """What a sound server says while `play` plays to it."""
    own = folder / "server"
    own.mkdir()
    with sound_server(own, folder / "log") as env, playing_to(env):
        play()
    return (folder / "log").read_text("utf-8", errors="replace")


@pytest.mark.parametrize(("buffer_ms", "periods", "kept_ms"), [(5, 2, 10), (10, 3, 30)])
def test_the_server_keeps_as_much_sound_as_was_wished_for(tmp_path, buffer_ms, periods, kept_ms):
    def play():
        out = Player(Synth(), buffer_ms=buffer_ms, periods=periods)
        out.start()
        time.sleep(0.3)
        out.close()

    said = re.findall(r"Requested tlength=([0-9.]+) ms", server_log(tmp_path, play))
    assert [float(ms) for ms in said] == [kept_ms]


def test_a_stream_that_stalls_has_run_dry(tmp_path):
    """Five stalls of a fifth of a second with a buffer of 100 ms; a machine that is busy may add its own."""

    def stalling():
        n, calls = (yield b""), 0
        began = time.monotonic()
        stalls = 0
        while True:
            calls += 1
            if stalls < 5 and time.monotonic() - began > 0.6 * (stalls + 1):
                stalls += 1
                time.sleep(0.2)
            n = yield b"\0" * 4 * n

    def play():
        device = miniaudio.PlaybackDevice(miniaudio.SampleFormat.FLOAT32, 1, 48000, 100, callback_periods=2)
        feed = stalling()
        next(feed)
        device.start(feed)
        time.sleep(4.0)
        device.close()

    server_log(tmp_path, play)
    assert 5 <= underruns_in(tmp_path / "log") <= 9


def test_a_few_seconds_of_the_study(monkeypatch):
    monkeypatch.setattr(underruns, "_SETTLED_S", 1.0)
    figures = underruns_in_practice(0.05)
    assert figures["sound"] == "the system's sound card (PulseAudio, 10 ms)"
    assert figures["frames"] > 600
    assert figures["underruns of the session's stream"] >= 0
    assert figures["longest that a block took to make, ms"] > 0
