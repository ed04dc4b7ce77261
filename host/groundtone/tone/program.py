"""The process that makes the sound: run as `python -m groundtone.tone.program`, told what to do on its input.

The parent is watched three ways. No frame for 250 ms: the synthesiser falls silent by itself. The input ends: the
parent is gone, so this ends too. Not a word for a minute while it sounds: the parent hangs, so this ends as well.
"""

import json
import os
import queue
import signal
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from groundtone.errors import ToneError
from groundtone.tone.commands import CLOSE, ECHO, REST, START, STOP, Unpacker, do
from groundtone.tone.echo import EchoPath
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth

HUNG_S = 60.0
_LOOK_S = 0.05
_CHUNK = 1 << 16
_SWITCH_S = 0.0005  # the audio callback gets the interpreter within half a millisecond


class SoundProgram:
    """A player, the commands that come for it, and what there is to tell the parent.

    Parameters
    ----------
    tell : callable
        Takes a dict for the parent.
    """

    def __init__(self, player: Player, tell: Any) -> None:
        self.player, self._tell = player, tell
        self._lock = threading.Lock()  # start, stop and the look at the file and the card exclude each other
        self._echoes: queue.Queue[tuple[int, EchoPath]] = queue.Queue()
        self._rests = 0
        self._told: dict[str, Any] = {}
        self._trouble: ToneError | None = None
        self._running = False
        self.heard_s = time.monotonic()
        self.ended = threading.Event()

    def read(self, fd: int) -> None:
        """Does what the parent says until its end of the pipe closes, or it says close."""
        unpacker = Unpacker()
        try:
            while data := os.read(fd, _CHUNK):
                self.heard_s = time.monotonic()
                for letter, content in unpacker.feed(data):
                    if letter == CLOSE:
                        return
                    self.take(letter, content)
        except OSError:
            pass
        except ToneError as why:
            self._trouble = why
        finally:
            self.ended.set()

    def take(self, letter: bytes, content: bytes) -> None:
        """Does one command."""
        try:
            if letter == START:
                with self._lock:
                    self.player.start()
                self._running = True
            elif letter == STOP:
                self._rests += 1
                self._running = False
                with self._lock:
                    self.player.stop()
                self._tell({"stopped": True, **self.status()})
            else:
                self._rests += letter == REST
                do(letter, content, self if letter == ECHO else self.player)
        except ToneError as why:
            self._trouble = why

    def echo(self, path: EchoPath) -> None:
        """Leaves a slow echo to the other thread: to make its samples takes longer than a cue may wait."""
        self._echoes.put((self._rests, path))

    def set_cues(self, sizes: Mapping[str, float]) -> None:
        """Hands on to the player."""
        self.player.set_cues(sizes)

    def heartbeat(self) -> None:
        """Hands on to the player."""
        self.player.heartbeat()

    def rest(self) -> None:
        """Hands on to the player."""
        self.player.rest()

    def signal(self, name: str) -> None:
        """Hands on to the player."""
        self.player.signal(name)

    def status(self) -> dict[str, Any]:
        """What the parent wants to know."""
        trouble = self._trouble or self.player.trouble
        return {
            "description": self.player.description,
            "heard": self.player.heard,
            "trouble": None if trouble is None else str(trouble),
            "told": self.player.told,
            "rendered": self.player.rendered,
            "dropped": self.player.dropped_blocks,
            "late": self.player.late,
            "longest_ms": round(1e3 * self.player.longest_s, 2),
        }

    def look(self) -> None:
        """Writes the file on, looks after the card, makes echoes, tells what is new; called twenty times a second."""
        with self._lock:
            self.player.drain()
        while not self._echoes.empty():
            rests, path = self._echoes.get()
            try:
                wave = self.player.echo_samples(path)
            except ToneError as why:
                self._trouble = why
                continue
            if rests == self._rests:
                self.player.play_echo(wave)
        status = self.status()
        news = {key: status[key] for key in ("description", "heard", "trouble", "told")}
        if news != self._told:
            self._told = news
            self._tell(status)

    @property
    def hung(self) -> bool:
        """Whether the parent has not said a word for a long time though it sounds."""
        return self._running and time.monotonic() - self.heard_s > HUNG_S

    def run(self) -> None:
        """Looks after everything until it is over, then falls silent and ends the file."""
        while not self.ended.wait(_LOOK_S):
            self.look()
            if self.hung:
                break
        with self._lock:
            self.player.close()


def main() -> int:
    """Runs until the parent says close, or is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's: it says when the sound ends
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # no library's remark may come between the answers
    sys.setswitchinterval(_SWITCH_S)

    def tell(news: dict[str, Any]) -> None:
        try:
            answers.write(json.dumps(news) + "\n")
            answers.flush()
        except OSError:
            program.ended.set()

    wish = json.loads(sys.argv[1])
    out, keep_calls = wish.pop("out"), wish.pop("keep_calls")
    try:
        synth = Synth(**wish.pop("synth"))
        player = Player(synth, None if out is None else Path(out), seek=True, **wish)
    except ToneError as why:
        answers.write(json.dumps({"refused": str(why)}) + "\n")
        answers.flush()
        return 0
    program = SoundProgram(player, tell)
    tell({"opened": True, **program.status()})
    threading.Thread(target=program.read, args=(0,), daemon=True).start()
    try:
        program.run()
    except ToneError as why:  # the file could not be ended
        tell({**program.status(), "trouble": str(why)})
    calls = list(player.calls) if keep_calls else []
    tell({"closed": True, **program.status(), "calls": calls})
    return 0


if __name__ == "__main__":
    code = 1
    try:
        code = main()
    finally:
        # Whatever has happened, the card's thread must not keep a process alive that nobody tells anything any more.
        os._exit(code)
