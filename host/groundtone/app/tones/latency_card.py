"""A sound card whose stream can be read: PulseAudio with a null sink of its own, its monitor recorded with times."""

from __future__ import annotations

import contextlib
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import GroundtoneError
from groundtone.files import with_our_modules

RATE_HZ = 48000
_TOOLS = ("pulseaudio", "parec", "pactl")
_CHUNK = struct.Struct("<dI")
_READY_S = 10.0
# What the server writes each time sound comes again after a stream has run dry.
_AGAIN = "Requesting rewind due to end of underrun"
_QUIET: dict[str, Any] = {
    "stdin": subprocess.DEVNULL,
    "stdout": subprocess.DEVNULL,
    "stderr": subprocess.DEVNULL,
}
_SCRIPT = """load-module module-native-protocol-unix socket={socket} auth-anonymous=1
load-module module-null-sink sink_name=measured rate={rate} channels=2
set-default-sink measured
"""


def missing_tools() -> list[str]:
    """The programs that are not installed here; none on a machine where the stream can be read."""
    return [name for name in _TOOLS if shutil.which(name) is None]


@contextlib.contextmanager
def sound_server(folder: Path, hear: Callable[[str], None]) -> Iterator[dict[str, str]]:
    """Run a sound server that is nobody's but ours, with a null sink for its card; gone at the end.

    Parameters
    ----------
    folder : Path
        Its own, empty.
    hear : callable
        Takes each line that the server has to say, at once, in a thread of its own.

    Yields
    ------
    dict
        The environment of a process that plays there or listens.

    Raises
    ------
    GroundtoneError
        The server does not start.
    """
    name, socket, script = str(folder), folder / "socket", folder / "script.pa"
    script.write_text(_SCRIPT.format(socket=socket, rate=RATE_HZ), encoding="utf-8")
    env = dict(os.environ, XDG_RUNTIME_DIR=name, PULSE_RUNTIME_PATH=name, PULSE_SERVER=f"unix:{socket}", HOME=name)
    server = subprocess.Popen(
        ["pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no", "--use-pid-file=no", "-F", str(script),
         "--log-level=debug", "--log-target=stderr"],
        env=env, start_new_session=True, text=True, **(_QUIET | {"stderr": subprocess.PIPE}),
    )  # fmt: skip
    listener = threading.Thread(target=_listen, args=(server, hear), daemon=True)
    listener.start()
    try:
        _until_ready(server, env)
        yield env
    finally:
        server.terminate()
        server.wait()
        listener.join()


def _listen(server: subprocess.Popen[str], hear: Callable[[str], None]) -> None:
    assert server.stderr is not None
    for line in server.stderr:
        hear(line)


@contextlib.contextmanager
def playing_to(env: dict[str, str]) -> Iterator[None]:
    """What is started meanwhile plays to the server of this environment."""
    before = os.environ.get("PULSE_SERVER")
    os.environ["PULSE_SERVER"] = env["PULSE_SERVER"]
    try:
        yield
    finally:
        if before is None:
            os.environ.pop("PULSE_SERVER", None)
        else:
            os.environ["PULSE_SERVER"] = before


class Underruns:
    """When a stream of a server had run dry, by what the server says: monotonic times in `at_s`."""

    def __init__(self) -> None:
        self.at_s: list[float] = []

    def hear(self, line: str) -> None:
        """One line of the server."""
        if _AGAIN in line:
            self.at_s.append(time.monotonic())


@contextlib.contextmanager
def readable_card(dry: Underruns) -> Iterator[Path]:
    """Run a sound server of our own and record what its card plays; gone at the end.

    Parameters
    ----------
    dry : Underruns
        Hears the server.

    Yields
    ------
    Path
        The recording as it grows, for `read_stream`.

    Raises
    ------
    GroundtoneError
        The server does not start.
    """
    with tempfile.TemporaryDirectory(prefix="groundtone-sound-") as name:
        folder = Path(name)
        stream = folder / "stream"
        with sound_server(folder, dry.hear) as env, playing_to(env):
            recorder = subprocess.Popen(
                [sys.executable, "-m", "groundtone.app.tones.latency_card", str(stream)],
                env=with_our_modules(env), **_QUIET,
            )  # fmt: skip
            try:
                yield stream
            finally:
                recorder.terminate()
                recorder.wait()


def _until_ready(server: subprocess.Popen[str], env: dict[str, str]) -> None:
    until = time.monotonic() + _READY_S
    while time.monotonic() < until and server.poll() is None:
        asked = subprocess.run(["pactl", "list", "short", "sinks"], env=env, capture_output=True, check=False)
        if b"measured" in asked.stdout:
            return
        time.sleep(0.1)
    raise GroundtoneError("the sound server for the measurement does not start: measure with --card null")


def read_stream(path: Path) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Read a recording.

    Returns
    -------
    samples : ndarray, shape (n,)
        Full scale is 1.
    arrived_s : ndarray, shape (m,)
        Host time at which each piece had come out of the card's stream, s.
    ends : ndarray, shape (m,)
        Samples up to the end of each piece.
    """
    data = path.read_bytes()
    arrived, ends, parts, at = [], [], [], 0
    while at + _CHUNK.size <= len(data):
        host_s, length = _CHUNK.unpack_from(data, at)
        parts.append(data[at + _CHUNK.size : at + _CHUNK.size + length])
        if len(parts[-1]) < length:
            parts.pop()
            break
        arrived.append(host_s)
        ends.append(length // 2)
        at += _CHUNK.size + length
    samples = np.frombuffer(b"".join(parts), "<i2").astype(np.float64) / 32768.0
    return samples, np.array(arrived), np.cumsum(np.array(ends, dtype=np.int64))


def record(path: Path) -> None:
    """Write what the card plays, each piece with the time at which it could be read; runs until it is ended."""
    tool = subprocess.Popen(
        ["parec", "-d", "measured.monitor", "--format=s16le", f"--rate={RATE_HZ}", "--channels=1", "--raw",
         "--latency-msec=1"],
        stdout=subprocess.PIPE,
    )  # fmt: skip
    assert tool.stdout is not None
    left = b""
    try:
        with path.open("wb", buffering=0) as file:
            while data := os.read(tool.stdout.fileno(), 1 << 16):
                now = time.monotonic()
                data = left + data
                whole = len(data) // 2 * 2
                left = data[whole:]
                file.write(_CHUNK.pack(now, whole) + data[:whole])
    finally:
        tool.terminate()
        tool.wait()


if __name__ == "__main__":
    import signal

    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    record(Path(sys.argv[1]))
