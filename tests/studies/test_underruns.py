"""The sound server's own account: what buffer it gave, and how often a stream ran dry."""

import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import miniaudio
import numpy as np
import pytest
from patience import until

from groundtone.app.tones.latency_card import Underruns, playing_to, sound_server
from groundtone.files import with_our_modules
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from studies import underruns
from studies.machine import LATE_S, Stalls, watched
from studies.underruns import underruns_in_practice


def told_by_the_server(folder: Path, play) -> list[str]:
    """What a sound server says while `play` plays to it."""
    lines = []
    with sound_server(folder, lines.append) as env, playing_to(env):
        play()
    return lines


@pytest.mark.parametrize(("buffer_ms", "periods", "kept_ms"), [(5, 2, 10), (10, 3, 30)])
def test_the_server_keeps_as_much_sound_as_was_wished_for(tmp_path, buffer_ms, periods, kept_ms):
    def play():
        out = Player(Synth(), buffer_ms=buffer_ms, periods=periods)
        out.start()
        time.sleep(0.3)
        out.close()

    said = re.findall(r"Requested tlength=([0-9.]+) ms", "".join(told_by_the_server(tmp_path, play)))
    assert [float(ms) for ms in said] == [kept_ms]


def test_a_stream_that_stalls_has_run_dry(tmp_path):
    """Five stalls of a fifth of a second with a buffer of 100 ms; a machine that is busy may add its own."""
    stalls = []

    def stalling():
        n = yield b""
        began = time.monotonic()
        while True:
            if len(stalls) < 5 and time.monotonic() - began > 0.6 * (len(stalls) + 1):
                stalls.append(time.monotonic())
                time.sleep(0.2)
            n = yield b"\0" * 4 * n

    def play():
        device = miniaudio.PlaybackDevice(miniaudio.SampleFormat.FLOAT32, 1, 48000, 100, callback_periods=2)
        feed = stalling()
        next(feed)
        device.start(feed)
        until(lambda: len(stalls) == 5)
        time.sleep(1.0)
        device.close()

    dry = Underruns()
    for line in told_by_the_server(tmp_path, play):
        dry.hear(line)
    assert len(dry.at_s) >= 5


def test_an_underrun_is_the_machines_only_beside_a_stall():
    stalls = Stalls(np.array([10.0, 20.0]), np.array([0.012, 0.003]))
    # The machine stood still from 9.988 to 10.0 s.
    assert [stalls.near(at, 0.04, 0.005) for at in (9.98, 9.984, 9.995, 10.03, 10.05)] == [
        False, True, True, True, False,
    ]  # fmt: skip
    assert not Stalls().near(10.0, 0.04, 0.005)


def test_how_much_of_the_time_lies_beside_a_stall():
    # Of 5 to 15 s: 9.983 to 10.04 s, and the second lies within that; 14.983 to 15 s is cut at the end.
    stalls = Stalls(np.array([10.0, 10.0, 15.0]), np.array([0.012, 0.003, 0.012]))
    assert stalls.part(5.0, 15.0, 0.04, 0.005) == pytest.approx((0.057 + 0.017) / 10.0)
    assert Stalls().part(5.0, 15.0, 0.04, 0.005) == 0.0


def test_a_watcher_tells_when_it_was_held_up():
    child = subprocess.Popen(
        [sys.executable, "-m", "studies.machine", "stalls", "0"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=with_our_modules(),
    )  # fmt: skip
    first = child.stdout.readline().strip()
    time.sleep(0.2)
    child.send_signal(signal.SIGSTOP)
    began = time.monotonic()
    time.sleep(0.1)
    child.send_signal(signal.SIGCONT)
    time.sleep(0.2)
    stalls = [tuple(float(word) for word in line.split()) for line in child.communicate("")[0].splitlines()]
    assert first in ("first", "like others")
    assert any(late > 0.09 and end - began > 0.09 for end, late in stalls)


def test_every_core_is_watched():
    with watched() as stalls:
        time.sleep(0.5)
    assert np.all(np.diff(stalls.end_s) >= 0)
    assert np.all(stalls.late_s > LATE_S)


def test_a_few_seconds_of_the_study(monkeypatch):
    monkeypatch.setattr(underruns, "_SETTLED_S", 1.0)
    figures = underruns_in_practice(0.05)
    # A busy machine is given a larger buffer on the way.
    assert re.fullmatch(r"the system's sound card \(PulseAudio, (10|20|40) ms\)", figures["sound"])
    assert figures["frames"] > 30
    count, own = next(each for name, each in figures.items() if name.startswith("underruns of the session's stream"))
    assert 0 <= own <= count
    assert figures["longest that a block took to make, ms"] > 0
