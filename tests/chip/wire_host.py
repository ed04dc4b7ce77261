"""A host that knows firmware/WIRE.md and nothing of the project's codec; its time is the emulated board's."""

import struct
import zlib
from dataclasses import dataclass

from cobs import cobs

ACK, REQUEST, FRAME, REPLY, EVENT = 0x12, 0x13, 0x11, 0x14, 0x15
HELLO, START, STOP, PING, SELF_TEST, GET, SET, PROMPT = 1, 2, 3, 4, 6, 7, 8, 10


@dataclass
class Frame:
    """One scan, and when its last byte was with the host."""

    flags: int
    seq: int
    t_us: int
    peak: int
    offset: int
    refs: tuple
    cells: list
    came_us: float


@dataclass
class Hello:
    """What the mat says of itself."""

    shape: tuple
    bits: int
    window: int
    state: int
    restart: int
    board: str
    layout: str
    name: str


def text(value):
    raw = value.encode()
    return bytes((len(raw),)) + raw


class Host:
    """Frames, events and replies of one board, sorted as they come."""

    def __init__(self, board):
        self.board = board
        self.frames, self.events = [], []
        self.bad = 0
        self.first_us = None
        self.shape, self.bits = (16, 8), 14
        self._line = bytearray(board.heard)
        self._replies = []
        self._number = 0

    def send(self, body):
        message = body + struct.pack("<I", zlib.crc32(body))
        self.board.type(cobs.encode(message) + b"\0")

    def ack(self, seq, everything=0):
        self.send(struct.pack("<BHB", ACK, seq & 0xFFFF, everything))

    def listen(self, us, **until):
        """Let time go by and take what comes."""
        for at, data in self.board.run(us, **until):
            self._line += data
            while b"\0" in self._line:
                raw, _, rest = bytes(self._line).partition(b"\0")
                self._line = bytearray(rest)
                if raw:
                    self._take(raw, at)

    def _take(self, raw, at):
        try:
            message = cobs.decode(raw)
        except cobs.DecodeError:
            message = b""
        if len(message) < 5 or zlib.crc32(message[:-4]) != struct.unpack("<I", message[-4:])[0]:
            self.bad += 1
            return
        body = message[:-4]
        if body[0] == FRAME:
            self.frames.append(self._frame(body, at))
        elif body[0] == REPLY:
            self._replies.append(body)
        elif body[0] == EVENT:
            self.events.append((body[1], body[6:].decode()))

    def _frame(self, body, at):
        flags, seq, t_us, peak, offset, a, b = struct.unpack_from("<xBHIHHHH", body)
        packed = int.from_bytes(body[16:], "little")
        count = self.shape[0] * self.shape[1]
        cells = [packed >> i * self.bits & (1 << self.bits) - 1 for i in range(count)]
        return Frame(flags, seq, t_us, peak, offset, (a, b), cells, at)

    def ask(self, command, arguments=b"", us=5e6):
        """(status, payload) of the reply."""
        self._number = self._number % 255 + 1
        asked = bytes((self._number, command))
        self.send(bytes((REQUEST,)) + asked + arguments)
        end = self.board.us + us
        while self.board.us < end:
            self.listen(min(20_000, end - self.board.us), until_zeros=1)
            for reply in self._replies:
                if reply[1:3] == asked:
                    self._replies.clear()
                    return reply[3], reply[4:]
        raise AssertionError(f"no reply to command {command}; {bytes(self._line[-300:])!r}")

    def hello(self, us=8e6, every_us=None):
        """What the mat says of itself; asked again and again until it answers, as a host does at a port that opens."""
        end = self.board.us + us
        while True:
            try:
                status, p = self.ask(HELLO, us=every_us or us)
                break
            except AssertionError:
                if self.board.us >= end:
                    raise
        assert status == 0
        texts, at = [], 22
        while at < len(p):
            texts.append(p[at + 1 : at + 1 + p[at]].decode())
            at += 1 + p[at]
        self.shape, self.bits = (p[12], p[13]), p[14]
        return Hello(self.shape, self.bits, p[15], p[20], p[21], *texts)

    def start(self, rate=200):
        status, payload = self.ask(START, struct.pack("<H", rate))
        assert status == 0, payload
        self.frames.clear()

    def stop(self):
        """(sent, skipped)."""
        status, payload = self.ask(STOP)
        assert status == 0, payload
        return struct.unpack("<II", payload)

    def put(self, key, value):
        status, payload = self.ask(SET, text(key) + text(str(value)))
        assert status == 0, payload

    def follow(self, us, every=4):
        """Frames of so much time, every fourth one acknowledged as the project's host does; 0: none is."""
        begun = len(self.frames)
        acked = begun
        end = self.board.us + us
        while self.board.us < end:
            self.listen(min(20_000, end - self.board.us), until_zeros=1)
            if every and len(self.frames) - acked >= every:
                acked = len(self.frames)
                self.ack(self.frames[-1].seq)
        return self.frames[begun:]

    def self_test(self):
        """{(code, a, b): value}."""
        status, p = self.ask(SELF_TEST, us=60e6)
        assert status == 0, p
        found = [struct.unpack_from("<BBBH", p, 1 + 5 * i) for i in range(p[0])]
        return {f[:3]: f[3] for f in found}
