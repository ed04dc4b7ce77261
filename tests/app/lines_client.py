"""A client of docs/json-lines.md and firmware/WIRE.md that knows nothing else: no line of groundtone is imported here.

Its mat is faster than time: the twin's firmware, whose clock goes on by so many scans as it is let. A cable of the
client's own lies between mat and program; the acks on it say how many frames the program has taken, and so many more
are let come.
"""

import contextlib
import json
import os
import pty
import select
import struct
import subprocess
import sys
import time
import tty
import zlib

from cobs import cobs

PATIENCE_S = 240.0  # only a failure ever waits so long
FRAME, ACK, REQUEST = 0x11, 0x12, 0x13
START = 2
AHEAD = 12  # scans by which the mat may be ahead: inside the window, and both stay busy


class Messages:
    """The messages of one direction, as they come."""

    def __init__(self):
        self._line = b""

    def of(self, data):
        *whole, self._line = (self._line + data).split(b"\0")
        for raw in whole:
            try:
                message = cobs.decode(raw)
            except cobs.DecodeError:
                continue
            if len(message) > 4 and zlib.crc32(message[:-4]) == struct.unpack("<I", message[-4:])[0]:
                yield message[:-4]


class Mat:
    """A mat in a process of its own, and the cable to it."""

    def __init__(self, scenario):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "groundtone.twin.serve", str(scenario), "--fast"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        port = json.loads(self.process.stdout.readline())["port"]
        self.theirs = os.open(port, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self.theirs)
        self.ours, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.port = os.ttyname(self._slave)
        self.hello = None
        self._to_mat, self._to_host = Messages(), Messages()
        self._under_way, self._taken, self._allowed = [], 0, 0

    def say(self, words):
        self.process.stdin.write(words + "\n")
        self.process.stdin.flush()

    def carry(self, fd):
        """What has come at one end of the cable, on to the other."""
        data = os.read(fd, 65536)
        if fd == self.theirs:
            frames = [body for body in self._to_host.of(data) if body[0] == FRAME]
            self._under_way += [struct.unpack_from("<H", body, 2)[0] for body in frames]
            _write(self.ours, data)
            return
        bodies = list(self._to_mat.of(data))
        if any(body[0] == REQUEST and body[2] == START for body in bodies):
            self._take(len(self._under_way))
        _write(self.theirs, data)
        for body in bodies:
            (seq,) = struct.unpack_from("<H", body, 1)
            if body[0] == ACK and seq in self._under_way:
                self._take(self._under_way.index(seq) + 1)
        if bodies:
            self._go_on()

    def _take(self, number):
        del self._under_way[:number]
        self._taken += number

    def _go_on(self):
        """So many scans more as the program has taken frames."""
        more = self._taken + AHEAD - self._allowed
        if more > 0:
            self._allowed += more
            self.say(f"allow {more}")

    def close(self):
        self.process.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(10)
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()
        for fd in (self.theirs, self.ours, self._slave):
            os.close(fd)


def _write(fd, data):
    while data:
        data = data[os.write(fd, data) :]


class Client:
    """`groundtone … --json-lines --device-time` on a mat, line by line."""

    def __init__(self, mat, arguments, answers=True):
        self.mat, self.lines, self._rest = mat, [], b""
        command = [sys.executable, "-m", "groundtone", *map(str, arguments)]
        command += ["--port", mat.port, "--json-lines", "--device-time"]
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE if answers else subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )  # fmt: skip

    def answer(self, *texts):
        """Lines as they are."""
        self.process.stdin.write(b"".join(text.encode() + b"\n" for text in texts))
        self.process.stdin.flush()

    def hush(self):
        """The end of the answers."""
        self.process.stdin.close()

    def run(self, on_line=lambda line: None):
        """To the end: exit code."""
        end = time.monotonic() + PATIENCE_S
        out = self.process.stdout.fileno()
        going = True
        while going:
            assert time.monotonic() < end, self.lines[-5:]
            for fd in select.select([out, self.mat.theirs, self.mat.ours], [], [], 1.0)[0]:
                if fd != out:
                    self.mat.carry(fd)
                    continue
                data = os.read(out, 65536)
                going = bool(data)
                *whole, self._rest = (self._rest + data).split(b"\n")
                for raw in whole:
                    line = json.loads(raw.decode("ascii"))
                    assert isinstance(line, dict)
                    self.lines.append(line)
                    on_line(line)
        assert not self._rest
        said = self.process.stderr.read().decode()
        assert "Traceback" not in said, said
        return self.process.wait()

    def those(self, kind, value=None):
        """Lines of a kind."""
        return [line for line in self.lines if kind in line and value in (None, line[kind])]

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()
