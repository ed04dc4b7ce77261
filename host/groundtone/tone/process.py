"""The player for practice: the sound is made in a process of its own, so that no busy thread here makes it late."""

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from groundtone.errors import ToneError
from groundtone.files import with_our_modules
from groundtone.tone.commands import (
    CLOSE,
    HEARTBEAT,
    REST,
    SIGNAL,
    START,
    STOP,
    pack,
    pack_cues,
    pack_echo,
    read_now,
    unblock,
)
from groundtone.tone.ear import Side
from groundtone.tone.echo import USUAL_SLOWER, EchoPath
from groundtone.tone.synth import check_signal

QUICK_BUFFER_MS, QUICK_PERIODS = 5, 2  # nothing but sound is made in that process, so this little is enough
_OPEN_S = 20.0  # a slow disk and a busy machine; usual is under half a second
_STOP_S = 3.0  # longer than the longest fade
_CLOSE_S = 5.0
_BACKLOG = 1 << 20  # bytes that wait for a process that takes nothing in
_STARTS = 2  # a process that has died is started once more, not for ever


class ProcessPlayer:
    """Plays on a sound card from another process; the same calls sound as those of `groundtone.tone.player.Player`.

    Parameters
    ----------
    out : Path or None
        A WAV file to write beside.
    rate_hz, level, lead, slower, words
        As for `groundtone.tone.synth.Synth`.
    device, insist, buffer_ms, periods, backend
        As for `groundtone.tone.player.Player`.
    keep_calls : bool
        After `close` the status holds ``"calls"``, the audio callbacks of `Player.calls` (for measuring).

    Raises
    ------
    ToneError
        If the process cannot be started, the named device is not there, or the file cannot be written.
    """

    def __init__(
        self,
        out: Path | None = None,
        *,
        rate_hz: int = 48000,
        level: float = 1.0,
        lead: Side | None = None,
        slower: float = USUAL_SLOWER,
        words: str = "",
        device: str | None = None,
        insist: bool = True,
        buffer_ms: int = QUICK_BUFFER_MS,
        periods: int = QUICK_PERIODS,
        backend: Literal["auto", "null"] = "auto",
        keep_calls: bool = False,
    ) -> None:
        self._wish: dict[str, Any] = {
            "synth": {"rate_hz": rate_hz, "level": level, "lead": lead, "slower": slower, "words": words},
            "out": None if out is None else str(out.absolute()),
            "device": device,
            "insist": insist,
            "buffer_ms": buffer_ms,
            "periods": periods,
            "backend": backend,
            "keep_calls": keep_calls,
        }
        self.rate_hz = rate_hz
        self._status: dict[str, Any] = {"description": "the sound is being opened", "trouble": None, "heard": False}
        self._gone: str | None = None
        self._running = self._closed = False
        self._starts = 0
        self._child = self._launch()
        if not self._wait_for("opened", _OPEN_S):
            refused = self._status.get("refused") or "The sound's process could not be started; install it again."
            self._end()
            raise ToneError(refused)

    @property
    def description(self) -> str:
        """Where the sound goes, as words for the reader."""
        return str(self._status["description"])

    @property
    def trouble(self) -> ToneError | None:
        """See `groundtone.tone.output.Output.trouble`."""
        what = self._gone or self._status["trouble"]
        return None if what is None else ToneError(what)

    @property
    def told(self) -> str | None:
        """See `groundtone.tone.output.Output.told`."""
        return self._status.get("told")

    @property
    def heard(self) -> bool:
        """Whether a sound card plays it, rather than a clock alone."""
        return bool(self._status["heard"])

    @property
    def status(self) -> dict[str, Any]:
        """What the process said last: samples rendered, blocks dropped, gaps heard."""
        return dict(self._status)

    def start(self) -> None:
        """Begins to sound; does nothing while it sounds."""
        if self._closed:
            raise ToneError("This player is closed; make a new one.")
        self._running = True
        self._say(pack(START))

    def stop(self) -> None:
        """Lets the cues fall silent and a signal that has begun end, then stops the device."""
        if not self._running:
            return
        self._running = False
        self._status.pop("stopped", None)
        self._say(pack(STOP))
        self._wait_for("stopped", _STOP_S)

    def close(self) -> None:
        """Stop, let the process write the rest of the sound and end; a second call does nothing."""
        if self._closed:
            return
        self._closed, self._running = True, False
        self._say(pack(CLOSE))
        self._wait_for("closed", _CLOSE_S)
        self._end()

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Hands on to `groundtone.tone.synth.Synth.set_cues` before the next block; dropped while stopped."""
        if self._running:
            self._say(pack_cues(sizes))

    def signal(self, name: str) -> None:
        """Hands on to `groundtone.tone.synth.Synth.signal` before the next block.

        Raises
        ------
        ToneError
            If there is no signal of that name.
        """
        check_signal(name)
        self._say(pack(SIGNAL, name.encode("utf-8")))

    def heartbeat(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.heartbeat` before the next block; dropped while stopped."""
        if self._running:
            self._say(pack(HEARTBEAT))

    def rest(self) -> None:
        """Hands on to `groundtone.tone.synth.Synth.rest` before the next block."""
        self._say(pack(REST))

    def echo(self, path: EchoPath) -> None:
        """Hands a slow echo on; its samples are made in the other process. Dropped while stopped."""
        if self._running:
            self._say(pack_echo(path))

    def advance(self, seconds: float) -> None:
        """Does what a main loop owes the player; the time itself passes by itself."""
        self.drain()

    def drain(self) -> None:
        """Takes in what the process has to tell, and sees whether it is still there.

        To be called about ten times a second from the main loop. The file is written in the other process.
        """
        self._say(b"")
        self._take_in()
        if not self._closed and self._child.poll() is not None:
            self._died("The sound's process has ended by itself")

    def _launch(self) -> "subprocess.Popen[bytes]":
        self._starts += 1
        self._unsent, self._unread = b"", b""
        alone: dict[str, Any] = (
            {
                "creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
                | getattr(subprocess, "CREATE_NO_WINDOW", 0)
            }
            if sys.platform == "win32"
            else {"start_new_session": True}  # out of reach of the terminal's Ctrl-C
        )
        try:
            child = subprocess.Popen(
                [sys.executable, "-m", "groundtone.tone.program", json.dumps(self._wish)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=0,
                env=with_our_modules(), **alone,
            )  # fmt: skip
        except OSError as why:
            raise ToneError(f"The sound's process could not be started ({why}); free some memory.") from why
        assert child.stdin is not None
        assert child.stdout is not None
        unblock(child.stdin.fileno())
        unblock(child.stdout.fileno())
        return child

    def _say(self, command: bytes) -> None:
        """Hands a command over without ever waiting; what does not fit into the pipe now goes with the next one."""
        if self._gone is not None and self._child.poll() is not None:
            return
        assert self._child.stdin is not None
        self._unsent += command
        try:
            while self._unsent:
                self._unsent = self._unsent[os.write(self._child.stdin.fileno(), self._unsent) :]
        except BlockingIOError:
            if len(self._unsent) > _BACKLOG:
                self._child.kill()
                self._died("The sound's process takes nothing in any more")
        except (OSError, ValueError):
            if not self._closed:
                self._died("The sound's process has ended by itself")

    def _take_in(self) -> None:
        assert self._child.stdout is not None
        with contextlib.suppress(OSError, ValueError):
            self._unread += read_now(self._child.stdout.fileno())
        *lines, self._unread = self._unread.split(b"\n")
        for line in lines:
            with contextlib.suppress(ValueError):
                self._status.update(json.loads(line))

    def _wait_for(self, key: str, patience_s: float) -> bool:
        """Whether the process has said this within a time; False at once when it has ended without."""
        until = time.monotonic() + patience_s
        while time.monotonic() < until:
            over = self._child.poll() is not None
            self._say(b"")
            self._take_in()
            if self._status.get(key):
                return True
            if over:
                return False
            time.sleep(0.002)
        return False

    def _died(self, what: str) -> None:
        """Says what has happened, and starts the process once more; the file ends with the first one."""
        self._end()
        file = "" if self._wish["out"] is None else ", and the file of the sound ends here"
        if self._closed or self._starts >= _STARTS:
            self._gone = f"{what}; tones are not heard any more{file}. End the session and start anew."
            return
        self._gone = f"{what}; it was started again{file}."
        self._wish["out"] = None
        self._wish["insist"] = False
        self._child = self._launch()
        if self._running:
            self._say(pack(START))

    def _end(self) -> None:
        """Lets the process go, and makes sure that nothing is left of it."""
        for pipe in (self._child.stdin, self._child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        try:
            self._child.wait(timeout=_CLOSE_S)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()

    def __del__(self) -> None:
        child = getattr(self, "_child", None)
        if child is not None and child.poll() is None:
            self._end()  # it falls silent and ends its file, as when its parent dies
