"""A terminal as a person sits at it: the command in a pseudo-terminal, what it shows, keys and Ctrl-C."""

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

from patience import PATIENCE_S

_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\r")


class Terminal:
    """`groundtone …` in a terminal of so many columns and lines."""

    def __init__(self, arguments, env=None, size=(30, 100), cwd=None):
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
        self.raw = b""

        def own_terminal():
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)
            signal.signal(signal.SIGINT, signal.SIG_DFL)

        self.process = subprocess.Popen(
            [sys.executable, "-m", "groundtone", *map(str, arguments)],
            stdin=slave, stdout=slave, stderr=slave, cwd=cwd, preexec_fn=own_terminal,
            env={**os.environ, "TERM": "xterm-256color", **(env or {})},
        )  # fmt: skip
        os.close(slave)

    @property
    def text(self):
        """Everything shown so far, without escapes."""
        return _ESCAPES.sub("", self.raw.decode("utf-8", "replace"))

    def read(self, seconds=0.05):
        """Takes in what comes within so many seconds; False when the other end is closed."""
        ready, _, _ = select.select([self._master], [], [], seconds)
        if not ready:
            return True
        try:
            data = os.read(self._master, 65536)
        except OSError:
            return False
        self.raw += data
        return bool(data)

    def until(self, words):
        """Waits until the words have been shown."""
        end = time.monotonic() + PATIENCE_S
        while words not in self.text:
            assert time.monotonic() < end, f"{words!r} was not shown; shown was:\n{self.text[-3000:]}"
            if not self.read():
                assert words in self.text, f"it ended before {words!r}:\n{self.text[-3000:]}"

    def press(self, key):
        """Types."""
        os.write(self._master, key.encode())

    def interrupt(self):
        """Ctrl-C, by the terminal itself."""
        self.press("\x03")

    def end(self):
        """Waits for the end: exit code."""
        end = time.monotonic() + PATIENCE_S
        while self.read() and time.monotonic() < end:
            if self.process.poll() is not None and not select.select([self._master], [], [], 0.05)[0]:
                break
        code = self.process.wait(max(0.1, end - time.monotonic()))
        assert "Traceback" not in self.text, self.text
        return code

    def close(self):
        """Ends it, whatever it does."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        with contextlib.suppress(OSError):
            os.close(self._master)
