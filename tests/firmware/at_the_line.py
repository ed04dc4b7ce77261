"""A host at the firmware's line: messages by hand, without the host's codec."""

import functools
import struct
import time
import zlib
from pathlib import Path

import serial
from cobs import cobs
from patience import PATIENCE_S, until

HERE = Path(__file__).parent

ACK, REQUEST, REPLY, EVENT, FRAME, FEET = 0x12, 0x13, 0x14, 0x15, 0x11, 0x16
PING = 4


def message(body):
    return body + struct.pack("<I", zlib.crc32(body))


class Host:
    """The other end of the cable: pyserial, the cobs package, zlib and struct."""

    def __init__(self, port):
        self.serial = serial.Serial(port, timeout=0.02)
        self.rubbish = []
        self._buffer = b""
        self._id = 0
        self.frames = []
        self.feet = []  # as they came
        self.events = []
        self.event_us = []  # device times of all events so far

    def send(self, body):
        self.serial.write(cobs.encode(message(body)) + b"\0")

    def ack(self, seq, everything=0):
        self.send(struct.pack("<BHB", ACK, seq, everything))

    def ask(self, command, arguments=b"", timeout=PATIENCE_S):
        """(status, payload) of the one reply; frames and events on the way are kept."""
        self._id = self._id % 255 + 1
        self.send(bytes((REQUEST, self._id, command)) + arguments)
        end = time.monotonic() + timeout
        while time.monotonic() < end:
            got = self._next()
            if got and got[0] == REPLY:
                assert got[1:3] == bytes((self._id, command))
                return got[3], got[4:]
        raise AssertionError(f"no reply to command {command}")

    def device_us(self):
        """The mat's clock; everything that it sent before is here by then."""
        return struct.unpack("<I", self.ask(PING, b"ping")[1][4:])[0]

    def pass_until(self, device_us):
        """Wait until the mat's clock says so, however fast it goes."""
        until(lambda: self.device_us() >= device_us, "the mat's clock stands", 0.03)

    def frame(self, timeout=PATIENCE_S, ack=True):
        """The next frame as a namespace, or None."""
        end = time.monotonic() + timeout
        while not self.frames and time.monotonic() < end:
            self._next()
        if not self.frames:
            return None
        frame = self.frames.pop(0)
        if ack:
            self.ack(frame.seq)
        return frame

    def foot(self, timeout=PATIENCE_S):
        """The next feet message, acknowledged: (flags, seq, t_us, force, u, v of the left foot, of the right one)."""
        end = time.monotonic() + timeout
        while not self.feet and time.monotonic() < end:
            self._next()
        fields = struct.unpack_from("<xBHIHHBHHB", self.feet.pop(0))
        self.ack(fields[1])
        return fields

    def event(self, timeout=PATIENCE_S):
        end = time.monotonic() + timeout
        while not self.events and time.monotonic() < end:
            self._next()
        return self.events.pop(0) if self.events else None

    def _next(self):
        while b"\0" not in self._buffer:
            data = self.serial.read(max(1, self.serial.in_waiting))
            if not data:
                return None
            self._buffer += data
        raw, self._buffer = self._buffer.split(b"\0", 1)
        if not raw:
            return None
        try:
            got = cobs.decode(raw)
        except cobs.DecodeError:
            got = b""
        if len(got) == 20 and got[0] == FEET and zlib.crc32(got[:-2]) & 0xFFFF == int.from_bytes(got[-2:], "little"):
            self.feet.append(got)
            return got
        if len(got) < 5 or zlib.crc32(got[:-4]) != struct.unpack("<I", got[-4:])[0]:
            self.rubbish.append(raw)
            return None
        got = got[:-4]
        if got[0] == FRAME:
            self.frames.append(Frame(got))
        elif got[0] == EVENT:
            self.events.append((got[1], got[6:].decode()))
            self.event_us.append(struct.unpack_from("<I", got, 2)[0])
        return got


class Frame:
    """A frame without its checksum as fields; cells and bits follow from its length."""

    def __init__(self, got):
        self._got = got
        self.flags, self.seq, self.t_us, self.peak, self.offset, self.ref_a, self.ref_b = struct.unpack_from(
            "<xBHIHHHH", got
        )

    @functools.cached_property
    def cells(self):
        """Readings, unpacked when they are asked for: most tests want the times alone."""
        cells, bits = {224: (128, 14), 192: (128, 12), 105: (60, 14)}[len(self._got) - 16]
        packed = int.from_bytes(self._got[16:], "little")
        return [packed >> (i * bits) & ((1 << bits) - 1) for i in range(cells)]


def string(text):
    raw = text.encode()
    return bytes((len(raw),)) + raw


def put(host, key, value):
    return host.ask(8, string(key) + string(value))
