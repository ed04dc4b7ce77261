"""The sound in a process of its own: it sounds as it does here, and nothing of it is ever left hanging."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hearing import so_far
from patience import PATIENCE_S, until

from groundtone.errors import ToneError
from groundtone.tone import process, program
from groundtone.tone.commands import (
    CLOSE,
    HEARTBEAT,
    REST,
    SIGNAL,
    START,
    STOP,
    Unpacker,
    do,
    pack,
    pack_cues,
    pack_echo,
)
from groundtone.tone.echo import EchoPath
from groundtone.tone.player import Player
from groundtone.tone.process import ProcessPlayer
from groundtone.tone.program import SoundProgram
from groundtone.tone.synth import Synth
from groundtone.tone.voices import CUES

RATE = 48000
NAN = float("nan")


def path(n=200):
    t = np.arange(n) / 200
    return EchoPath(t, 0.5 + 0 * t, 0.5 + 0 * t, NAN, 0.5, "right")


def alive(pid):
    """Whether a process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def sounding(out, toes, trail):
    """What a main loop does at each frame."""
    out.heartbeat()
    out.set_cues({"toes": toes, "trail side": trail})
    out.advance(0.01)


def nobody_waits(seconds):
    raise AssertionError("it waits for a process that has ended")


@pytest.fixture
def playing(tmp_path):
    """A started player in a process, with a file."""
    out = ProcessPlayer(tmp_path / "a.wav", backend="null")
    out.start()
    yield out
    out.close()


def test_the_same_commands_give_the_same_samples_as_here():
    """Commands packed, cut at any byte, unpacked and done to a synthesiser, block by block."""
    random = np.random.default_rng(1)
    here, there = Synth(), Synth()
    unpacker = Unpacker()
    for i in range(400):
        commands = []
        if i < 300:
            here.heartbeat()
            commands.append(pack(HEARTBEAT))
            values = [float(x) for x in random.choice([0.0, 0.3, 1.0, NAN], 5)] if i < 100 or i > 250 else []
            sizes = dict(zip(CUES, values, strict=False))
            here.set_cues(sizes)
            commands.append(pack_cues(sizes))
        if i in (3, 50):
            here.signal("saved")
            commands.append(pack(SIGNAL, b"saved"))
        if i == 150:
            here.echo(path())
            commands.append(pack_echo(path()))
        if i == 220:
            here.rest()
            commands.append(pack(REST))
        data = b"".join(commands)
        cut = int(random.integers(0, len(data) + 1))
        for part in (data[:cut], data[cut:]):
            for letter, content in unpacker.feed(part):
                do(letter, content, there)
        a, b = here.render(480), there.render(480)
        assert np.array_equal(a, b)
    assert here.lost
    assert there.lost


def test_bytes_that_are_no_command_are_refused():
    with pytest.raises(ToneError, match="cannot understand"):
        list(Unpacker().feed(b"\xff\xff\xff\xffX"))
    with pytest.raises(ToneError, match="no command b'Z'"):
        do(b"Z", b"", Synth())
    with pytest.raises(ToneError, match="as many times"):
        pack_echo(EchoPath([0.0, 1.0], [0.5], [0.5], NAN, NAN))


def test_it_is_heard_in_the_file_and_ends_with_its_player(tmp_path):
    out = ProcessPlayer(tmp_path / "a.wav", backend="null")
    pid = out._child.pid
    assert "not heard" in out.description
    assert not out.heard
    out.start()
    until(lambda: (sounding(out, 1.0, 0.0), len(so_far(tmp_path / "a.wav")) > 0.5 * RATE)[1])
    out.stop()
    out.close()
    out.close()
    assert out.trouble is None
    assert not alive(pid)
    assert out._child.returncode == 0
    samples, rate = soundfile.read(tmp_path / "a.wav")
    assert rate == RATE
    assert len(samples) == out.status["rendered"] > 0.5 * RATE
    power = np.abs(np.fft.rfft(samples))
    hz = np.arange(len(power)) * RATE / len(samples)
    # Where the machine let the heartbeat wait, "lost" is in the file too.
    assert np.max(power[np.abs(hz - 1318.5) < 8]) > 300 * np.median(power)
    assert np.max(power[np.abs(hz - 220.0) < 8]) < 30 * np.median(power)  # the cue that was not set
    assert np.all(samples[-100:] == 0)
    with pytest.raises(ToneError, match="closed"):
        out.start()


def test_a_slow_echo_comes_through_and_rest_ends_it(playing, tmp_path):
    def heard_s():
        playing.heartbeat()
        return np.sum(np.abs(so_far(tmp_path / "a.wav")) > 0.002) / RATE

    playing.heartbeat()
    playing.echo(path(600))  # 12 s as heard, cut at 8 s
    until(lambda: heard_s() > 0.1)
    playing.rest()
    rested = len(so_far(tmp_path / "a.wav"))
    until(lambda: len(so_far(tmp_path / "a.wav")) > rested + 0.5 * RATE)
    assert np.all(so_far(tmp_path / "a.wav")[-480:] == 0)


def test_a_parent_that_hangs_is_silence_within_250_ms_and_a_block(playing, tmp_path):
    playing.heartbeat()
    playing.set_cues({"trail side": 1.0})
    until(lambda: np.flatnonzero(np.abs(so_far(tmp_path / "a.wav")[: -round(0.5 * RATE)]) > 1e-4).any())
    playing.close()
    samples, _ = soundfile.read(tmp_path / "a.wav")
    first = np.flatnonzero(np.abs(samples) > 1e-4)[0]
    lost = samples[first + round(0.26 * RATE) : first + round(0.45 * RATE)]
    power = np.abs(np.fft.rfft(lost * np.hanning(len(lost)), 1 << 16))
    assert np.argmax(power) * RATE / (1 << 16) == pytest.approx(659.3, abs=6)  # "lost" alone, its first note


def test_a_parent_that_hangs_for_long_ends_the_process(monkeypatch, player):
    monkeypatch.setattr(program, "HUNG_S", 0.2)
    sound = SoundProgram(player, lambda news: None)
    time.sleep(0.3)
    assert not sound.hung  # it does not sound yet: the parent may think as long as it likes
    sound.take(START, b"")
    sound.heard_s = time.monotonic()
    sound.run()  # returns by itself
    with pytest.raises(ToneError, match="closed"):
        player.start()


PARENT = """
import sys, time
from groundtone.tone.process import ProcessPlayer
from pathlib import Path
out = ProcessPlayer(Path(sys.argv[1]), backend="null")
out.start()
print(out._child.pid, flush=True)
while True:
    out.heartbeat(); out.set_cues({"toes": 1.0}); out.drain(); time.sleep(0.01)
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_a_parent_that_dies_takes_the_sound_with_it(tmp_path, how):
    # A suite that runs in the background has Ctrl-C ignored, and its children would inherit that.
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, tmp_path / "a.wav"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    pid = int(parent.stdout.readline())
    until(lambda: len(so_far(tmp_path / "a.wav")) > 0.2 * RATE)
    parent.send_signal(how)
    parent.wait(PATIENCE_S)
    parent.stdout.close()
    until(lambda: not alive(pid))
    samples, _ = soundfile.read(tmp_path / "a.wav")  # ended and whole
    assert len(samples) > 0.15 * RATE
    assert np.max(np.abs(samples)) > 0.003
    assert np.all(samples[-48:] == 0)


def test_ctrl_c_does_not_reach_it(playing):
    os.kill(playing._child.pid, signal.SIGINT)
    time.sleep(0.2)
    playing.stop()
    until(lambda: (playing.drain(), playing.status.get("stopped"))[1])
    assert playing._child.poll() is None
    assert os.getsid(playing._child.pid) != os.getsid(0)


def test_a_process_that_dies_is_started_once_more_and_then_no_more(monkeypatch):
    out = ProcessPlayer(backend="null")
    out.start()
    pids = [out._child.pid]
    os.kill(pids[0], signal.SIGKILL)
    until(lambda: (out.heartbeat(), out.drain(), out._child.pid != pids[0])[2])
    assert "has ended by itself; it was started again." in str(out.trouble)
    pids.append(out._child.pid)
    until(lambda: (out.drain(), "rendered" in out.status and out.status["description"])[1])
    out.heartbeat()
    out.set_cues({"toes": 1.0})
    os.kill(pids[1], signal.SIGKILL)
    until(lambda: (out.heartbeat(), out.drain(), "not heard any more" in str(out.trouble))[2])
    monkeypatch.setattr(process.time, "sleep", nobody_waits)
    out.signal("tick")
    out.rest()
    out.echo(path())
    out.stop()
    out.close()
    assert not any(alive(pid) for pid in pids)


def test_a_process_that_takes_nothing_in_holds_nobody_up(monkeypatch):
    monkeypatch.setattr(process, "_BACKLOG", 20_000)
    monkeypatch.setattr(process, "_STARTS", 1)
    out = ProcessPlayer(backend="null")
    out.start()
    os.kill(out._child.pid, signal.SIGSTOP)
    for _ in range(4000):  # a write that waits would wait for ever
        out.set_cues({"toes": 1.0})
        if out.trouble is not None:
            break
    assert "takes nothing in any more; tones are not heard any more" in str(out.trouble)
    out.close()
    assert out._child.returncode == -signal.SIGKILL


def test_what_cannot_be_opened_is_refused_here_as_in_the_plain_player(tmp_path):
    with pytest.raises(ToneError, match="cannot be written"):
        ProcessPlayer(tmp_path / "no" / "a.wav", backend="null")
    with pytest.raises(ToneError, match="1 to 200 ms"):
        ProcessPlayer(buffer_ms=0, backend="null")
    with pytest.raises(ToneError, match="from 0 to 1"):
        ProcessPlayer(level=3.0, backend="null")
    out = ProcessPlayer(backend="null")
    with pytest.raises(ToneError, match="no signal 'gong'"):
        out.signal("gong")
    out.close()


def test_stereo_at_another_rate_goes_into_the_file(tmp_path):
    out = ProcessPlayer(tmp_path / "a.wav", backend="null", lead="left", rate_hz=44100)
    out.start()
    until(lambda: (sounding(out, 0.0, 1.0), len(so_far(tmp_path / "a.wav")) > 2 * 0.25 * 44100)[1])
    out.close()
    samples, rate = soundfile.read(tmp_path / "a.wav")
    assert rate == 44100
    samples = samples[: np.flatnonzero(samples[:, 1])[0] + round(0.24 * rate)]  # before "lost", which has no side
    power = np.sum(samples**2, axis=0)
    assert power[1] > 20 * power[0] > 0


@pytest.fixture
def player():
    """A plain player, closed whatever happens: a device left running keeps the interpreter from ending."""
    out = Player(Synth(), backend="null")
    yield out
    out.close()


def test_rest_while_an_echo_is_being_made_drops_it(player):
    told = []
    sound = SoundProgram(player, told.append)
    sound.take(START, b"")
    sound.take(*next(Unpacker().feed(pack_echo(path()))))
    sound.take(REST, b"")
    sound.look()
    until(lambda: not player._commands)
    time.sleep(0.05)
    assert player._synth.silent
    sound.take(*next(Unpacker().feed(pack_echo(path()))))
    sound.look()
    until(lambda: not player._synth.silent)
    sound.take(*next(Unpacker().feed(pack_echo(EchoPath([1.0, 0.0], [0.5, 0.5], [0.5, 0.5], NAN, NAN)))))
    sound.look()
    assert "must increase" in told[-1]["trouble"]
    sound.take(STOP, b"")
    assert told[-1]["stopped"]


def test_the_end_of_the_pipe_and_close_both_end_it():
    for last in (b"", pack(CLOSE)):
        player = Player(Synth(), backend="null")
        sound = SoundProgram(player, lambda news: None)
        read, write = os.pipe()
        os.write(write, pack(START) + pack(HEARTBEAT) + last)
        if not last:
            os.close(write)
        sound.read(read)
        assert sound.ended.is_set()
        sound.run()
        for fd in (read, write):
            with contextlib.suppress(OSError):
                os.close(fd)


def test_its_answers_are_lines_of_json_and_nothing_else(tmp_path):
    wish = {
        "synth": {"rate_hz": 48000, "level": 1.0, "lead": None, "slower": 4.0},
        "out": None, "device": None, "insist": True, "buffer_ms": 10, "periods": 2, "backend": "null",
        "keep_calls": True,
    }  # fmt: skip
    said = subprocess.run(
        [sys.executable, "-m", "groundtone.tone.program", json.dumps(wish)],
        input=pack(START) + pack(HEARTBEAT) + pack(STOP) + pack(CLOSE),
        capture_output=True,
        timeout=PATIENCE_S,
        check=True,
    )
    answers = [json.loads(line) for line in said.stdout.splitlines()]
    assert answers[0]["opened"]
    assert answers[-1]["closed"]
    assert len(answers[-1]["calls"]) * 480 == answers[-1]["rendered"]
    assert said.stderr == b""
