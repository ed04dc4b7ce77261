"""The simulated mat as a process of its own, held by one handle: start it, open its serial port, pull its cable."""

from __future__ import annotations

import contextlib
import json
import os
import select
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from groundtone.files import with_our_modules
from groundtone.twin.errors import TwinError
from groundtone.twin.serve import micropython_command


class HasJson(Protocol):
    """Anything that can write itself as JSON; a `groundtone.twin.scenario.Scenario` is meant."""

    def to_json(self) -> str:
        """Text."""


class MatProcess:
    """Firmware, MicroPython and twin behind a serial port. A context manager; nothing of it outlives `close`.

    Parameters
    ----------
    scenario : Scenario or str
        What the mat is and what happens on it (str: as JSON).
    fast : bool
        Virtual time: it stands still until `allow` or `free`.
    ticks0 : int
        The device's raw microsecond counter at power-up.
    settings : Path or None
        Folder that keeps the mat's settings over several starts; None starts with a new mat each time.
    world : str or None
        "module:name" of another world than the twin's own (for tests).
    program : Path or None
        MicroPython file to run instead of the firmware's main.py (for tests).
    start_timeout_s : float
        How long the start may take.
    radio : bool
        The board has a radio; `radio_socket` is then where the air is (see `groundtone.twin.central`).

    Attributes
    ----------
    port : str
        Name of the serial port; changes at `plug`, and is "" while unplugged.

    Raises
    ------
    TwinError
        From `start`: no MicroPython, Windows, or the process ended (its own words are in the sentence).
    """

    def __init__(
        self, scenario: HasJson | str, fast: bool = False, ticks0: int = 0, settings: Path | None = None,
        world: str | None = None, program: Path | None = None, start_timeout_s: float = 30.0, radio: bool = False,
    ) -> None:  # fmt: skip
        self._scenario = scenario if isinstance(scenario, str) else scenario.to_json()
        self._options = ["--fast"] if fast else []
        self._options += ["--ticks0", str(ticks0)]
        self._options += ["--settings", str(settings)] if settings else []
        self._options += ["--world", world] if world else []
        self._options += ["--program", str(program)] if program else []
        self._timeout_s = start_timeout_s
        self._radio = radio
        self.radio_socket = ""
        self._child: subprocess.Popen[bytes] | None = None
        self._folder: Path | None = None
        self.port = ""
        self.ticks0 = ticks0

    def start(self) -> Self:
        """Start the process and wait for its port."""
        if sys.platform == "win32":
            raise TwinError("Windows has no pseudo-terminals: the in-process twin is used instead.")
        if self._child is not None:
            raise TwinError("This mat is running already.")
        micropython_command()  # say what is missing before anything is started
        self._folder = Path(tempfile.mkdtemp(prefix="groundtone-"))
        scenario = self._folder / "scenario.json"
        scenario.write_text(self._scenario, encoding="utf-8")
        if self._radio:
            self.radio_socket = str(self._folder / "air")
        options = [*self._options, *(["--radio", self.radio_socket] if self._radio else [])]
        with (self._folder / "log").open("wb") as log:
            self._child = subprocess.Popen(
                [sys.executable, "-m", "groundtone.twin.serve", str(scenario), *options],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log,
                env=with_our_modules(),
            )  # fmt: skip
        try:
            self._take_port()
        except BaseException:
            self.close()
            raise
        return self

    def allow(self, tables: int) -> None:
        """Fast mode: let so many more scans happen."""
        self._say(f"allow {tables}")

    def free(self) -> None:
        """Fast mode: let virtual time run as fast as the machine can."""
        self._say("free")

    def unplug(self) -> None:
        """Pull the cable; the mat goes on."""
        self._say("unplug")
        self.port = ""

    def plug(self) -> None:
        """Put the cable in again; waits for the port, which may have another name."""
        self._say("plug")
        self._take_port()

    def away(self) -> None:
        """Take the mat out of the radio's reach."""
        self._say("away")

    def back(self) -> None:
        """Bring it back."""
        self._say("back")

    def press(self) -> None:
        """Hold the mat's button down."""
        self._say("press")

    def release(self) -> None:
        """Let the button go."""
        self._say("release")

    def do(self, action: str) -> None:
        """Tell the hands of a `Hands` act what to do (see `groundtone.twin.hands.parse_action`)."""
        self._say(f"do {action}")

    def log(self) -> str:
        """What the process and the firmware have said on their error output."""
        path = None if self._folder is None else self._folder / "log"
        return path.read_text(encoding="utf-8", errors="replace") if path is not None and path.exists() else ""

    def close(self) -> None:
        """End the process and its children. May be called twice."""
        child, self._child = self._child, None
        if child is not None:
            assert child.stdin is not None
            assert child.stdout is not None
            with contextlib.suppress(OSError, subprocess.TimeoutExpired):
                child.stdin.close()  # its input ends: it kills the firmware and goes
                child.wait(timeout=3)
            child.stdout.close()
            if child.poll() is None:
                child.kill()
                child.wait()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
            self._folder = None
        self.port = ""

    def __enter__(self) -> Self:
        return self.start() if self._child is None else self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _say(self, line: str) -> None:
        if self._child is None or self._child.stdin is None:
            raise TwinError("The simulated mat is not running.")
        try:
            self._child.stdin.write(f"{line}\n".encode())
            self._child.stdin.flush()
        except OSError as error:
            raise TwinError(f"The simulated mat has ended. It said: {self._last_words()}") from error

    def _take_port(self) -> None:
        assert self._child is not None
        assert self._child.stdout is not None
        pipe = self._child.stdout.fileno()
        line, end = b"", time.monotonic() + self._timeout_s
        while not line.endswith(b"\n"):
            ready, _, _ = select.select([pipe], [], [], max(0.0, end - time.monotonic()))
            if not ready:
                raise TwinError(f"The simulated mat gave no port within {self._timeout_s:g} s.")
            data = os.read(pipe, 1024)
            if not data:
                raise TwinError(f"The simulated mat did not start. It said: {self._last_words()}")
            line += data
        answer = json.loads(line)
        self.port, self.ticks0 = answer["port"], answer["ticks0"]

    def _last_words(self) -> str:
        lines = self.log().strip().splitlines()
        return lines[-1] if lines else "nothing"
