"""A mat that does exactly what a test tells it, right or wrong: a pseudo-terminal, a thread, and bytes made by hand.

Nothing of the host's codec is used here: messages are made and read with struct, zlib and the cobs package.
"""

import os
import pty
import select
import struct
import threading
import time
import tty
import zlib

import pytest
from cobs import cobs
from patience import until

FRAME, ACK, REQUEST, REPLY, EVENT = 1, 2, 3, 4, 5
HELLO, START, STOP, PING = 1, 2, 3, 4
UID = bytes.fromhex("67742d7477696e21")


def message(kind, body, version=1):
    """Head, body and checksum."""
    whole = bytes([version << 4 | kind]) + body
    return whole + struct.pack("<I", zlib.crc32(whole))


def line(whole):
    """A message as it goes over the cable."""
    return cobs.encode(whole) + b"\0"


def frame(seq, t_us, cells=60, bits=14, flags=0, value=0, refs=(0, 0), strike=(0, 0)):
    """A frame's message; `value` is one reading for all cells or a list of them."""
    values = [value] * cells if isinstance(value, int) else value
    packed = sum(int(v) << (i * bits) for i, v in enumerate(values)).to_bytes((cells * bits + 7) // 8, "little")
    return message(FRAME, struct.pack("<BHIHHHH", flags, seq & 0xFFFF, t_us & 0xFFFFFFFF, *strike, *refs) + packed)


def text(words):
    """`length u8, UTF-8`."""
    return bytes([len(words.encode())]) + words.encode()


def hello(rows=10, columns=6, layout="starter-10x3", window=16, uid=UID, state=0, name="scripted", wire=1):
    """The payload of a hello reply."""
    fixed = struct.pack("<BBBB8sBBBBHHBB", wire, 0, 2, 0, uid, rows, columns, 14, window, 1, 200, state, 0)
    return fixed + text("by hand") + text(layout) + text(name)


class ScriptedMat:
    """A port, and what came in through it.

    Parameters
    ----------
    silent : bool
        Answers nothing at all.
    version : int
        Wire version of everything it says.
    answers : dict of int to callable, optional
        command -> function(id, arguments) that gives bytes to put on the line; replaces the usual answer.
    **of_hello
        See `hello`.
    """

    def __init__(self, silent=False, version=1, answers=None, **of_hello):
        self.master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.port = os.ttyname(self._slave)
        self.hello = hello(**of_hello)
        self.version = version
        self.acks = []  # (seq, all, monotonic s)
        self.requests = []  # (command, arguments)
        self.started = threading.Event()
        self.stopped = False
        self._silent = silent
        self._answers = {} if answers is None else answers
        self._ending, self._wake = os.pipe()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def send(self, *messages):
        """Put messages on the line in one write."""
        self.raw(b"".join(map(line, messages)))

    def raw(self, data):
        """Put bytes on the line."""
        while data:
            data = data[os.write(self.master, data) :]

    def reply(self, number, command, status=0, payload=b""):
        """A reply's bytes on the line."""
        return line(message(REPLY, bytes([number, command, status]) + payload, self.version))

    def wait_for(self, condition):
        """Wait until something is so."""
        until(condition, step_s=0.002)

    def play(self, frames, window=16, pace_s=0.0):
        """Send frames (seq, message) inside the window, `pace_s` apart or as fast as they are taken, until a stop."""
        due = time.monotonic()
        for seq, whole in frames:
            due += pace_s
            time.sleep(max(0.0, due - time.monotonic()))
            self.wait_for(lambda seq=seq: self.stopped or seq - max([-1, *(ack[0] for ack in self.acks)]) <= window)
            if self.stopped:
                return
            self.send(whole)

    def unplug(self):
        """Pull the cable; whoever has the port open is hung up on."""
        if self.master < 0:
            return
        os.write(self._wake, b"!")
        self._thread.join()
        for fd in (self.master, self._slave, self._ending, self._wake):
            os.close(fd)
        self.master = -1

    def _read(self):
        pending = b""
        while True:
            ready, _, _ = select.select([self.master, self._ending], [], [])
            if self._ending in ready:
                return
            pending += os.read(self.master, 4096)
            *whole, pending = pending.split(b"\0")
            for encoded in filter(None, whole):
                self._take(cobs.decode(encoded))

    def _take(self, got):
        assert struct.pack("<I", zlib.crc32(got[:-4])) == got[-4:], "the host sent a damaged message"
        kind, body = got[0] & 15, got[1:-4]
        if kind == ACK:
            self.acks.append((*struct.unpack("<HB", body), time.monotonic()))
        if kind != REQUEST or self._silent:
            return
        number, command, arguments = body[0], body[1], body[2:]
        self.requests.append((command, arguments))
        if command in self._answers:
            self.raw(self._answers[command](number, arguments))
            return
        payload = {
            HELLO: lambda: self.hello,
            START: lambda: struct.pack("<I", 1_000_000 // struct.unpack("<H", arguments)[0]),
            STOP: lambda: struct.pack("<II", 0, 0),
            PING: lambda: arguments + struct.pack("<I", 0),
        }[command]()
        self.raw(self.reply(number, command, payload=payload))
        self.stopped = command == STOP or (self.stopped and command != START)
        if command == START:
            self.started.set()


@pytest.fixture
def scripted():
    """Makes scripted mats: scripted(rows=10, ...); all are unplugged with the test's end."""
    opened = []

    def make(**options):
        opened.append(ScriptedMat(**options))
        return opened[-1]

    yield make
    for mat in opened:
        mat.unplug()
