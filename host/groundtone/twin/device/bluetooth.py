# The chip's bluetooth module, played by the twin: a peripheral whose radio is at the other end of a pair of pipes.
#
# GROUNDTONE_RADIO names the two inherited descriptors, "7,8"; without it this board has no radio.
# A packet is an operation, a length of two bytes, and so many bytes; the operations are those of twin/radio_end.py.
import os
import struct

import machine
import uselect

_pipes = os.getenv("GROUNDTONE_RADIO")
if not _pipes:
    raise ImportError("no module named 'bluetooth'")
_out_fd, _in_fd = map(int, _pipes.split(","))
_to_radio = open(_out_fd, "wb")
_from_radio = open(_in_fd, "rb")
_poll = uselect.poll()
_poll.register(_from_radio, uselect.POLLIN)

_CONNECT, _DISCONNECT, _WRITE, _MTU = 1, 2, 3, 21
_FROM_MAT, _TO_MAT = 9, 12


class UUID:
    def __init__(self, text):
        raw = bytes(int(text.replace("-", "")[i : i + 2], 16) for i in range(0, 32, 2))
        self.raw = bytes(reversed(raw))

    def __iter__(self):  # bytes(uuid), which on the chip is a buffer
        return iter(self.raw)


def _say(op, *parts):
    _to_radio.write(struct.pack("<BH", op[0], sum(len(part) for part in parts)))
    for part in parts:
        if len(part):
            _to_radio.write(part)


class BLE:
    def __init__(self):
        self._on = False
        self._handler = None
        self._conn = -1
        self._conns = 0
        self._mtu = 23
        self._written = b""
        self._room = 20
        self._append = False
        self._notify_room = 20
        self.reads = 0
        self._head = bytearray(3)

    def active(self, on=None):
        if on is None:
            return self._on
        if self._on and not on:
            _say(b"O")
            self._conn = -1
        self._on = on
        machine.every_look(self._look, _from_radio)
        return on

    def config(self, mtu=None):
        _say(b"M", struct.pack("<H", mtu))

    def irq(self, handler):
        self._handler = handler

    def gatts_register_services(self, services):
        ((service, ((from_mat, flags), (to_mat, more))),) = services
        if flags != 0x10 or more != 0x0C:
            raise ValueError("the twin knows one notification and one write only")
        self._written = b""
        self._room = self._notify_room = 20  # as on the chip, until gatts_set_buffer
        self._append = False
        _say(b"V", service.raw, from_mat.raw, to_mat.raw)
        return ((_FROM_MAT, _TO_MAT),)

    def gatts_set_buffer(self, handle, size, append=False):
        if handle == _TO_MAT:
            self._room, self._append = size, append
        else:
            self._notify_room = size

    def gap_advertise(self, interval_us, adv_data=None, resp_data=None):
        if len(adv_data) > 31 or len(resp_data) > 31:
            raise OSError(22)
        _say(b"A", bytes((len(adv_data),)), adv_data, resp_data)

    def gap_disconnect(self, conn):
        if conn != self._conn or conn < 0:
            return False
        _say(b"D")
        return True

    def gatts_read(self, handle):
        self.reads += 1
        data = self._written
        if self._append:
            self._written = b""
        return data

    def gatts_notify(self, conn, handle, data):
        if conn != self._conn or conn < 0:
            raise OSError(107)
        # As on the chip, what is longer than the MTU allows is cut without a word.
        n = min(len(data), self._mtu - 3)
        _say(b"N", data if n == len(data) else data[:n])

    def _look(self):
        """Take what the radio has brought, and interrupt the firmware with it."""
        while self._on and _came():
            if _from_radio.readinto(self._head) != 3:
                return
            op, n = struct.unpack("<BH", self._head)
            op = bytes((op,))
            body = _from_radio.read(n) if n else b""
            if op == b"c":
                self._conns = (self._conns + 1) & 0x3F
                self._conn = self._conns
                self._mtu = 23
                self._handler(_CONNECT, (self._conn, 0, b"host"))
            elif op == b"m":
                self._mtu = struct.unpack("<H", body)[0]
                self._handler(_MTU, (self._conn, self._mtu))
            elif op == b"w":
                self._written = ((self._written if self._append else b"") + body)[: self._room]
                self._handler(_WRITE, (self._conn, _TO_MAT))
            elif op == b"d" and self._conn >= 0:
                gone, self._conn = self._conn, -1
                self._mtu = 23
                self._handler(_DISCONNECT, (gone, 0, b"host"))


def _came():
    for _ in _poll.ipoll(0):
        return True
    return False
