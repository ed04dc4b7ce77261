# What the computer puts onto the mat so that it works alone: read, checked, one file that is whole or not there.
# The bytes are those of groundtone/onboard/pack.py.
import os

from mat import kinds, wire
from mat.alone import forces, pressure
from micropython import const

FILE = "onmat.bin"
_NEW = "onmat.new"
VERSION = 1
_HEAD = const(122)
_BAND = const(20)
_EXPIRES = const(52)
MOST = const(24000)  # bytes that are taken: what is larger no board has room for
LEFT_HANDED = const(1)
AFTER_IMPACT_ONLY = const(2)


class OnMatError(ValueError):
    """What is there, or came, cannot be used; the text says why and what to do."""


def _u32(data, at: int) -> int:
    return wire.u16(data, at) | wire.u16(data, at + 2) << 16


class OnMat:
    """What is on the mat, ready for use: `limits` (one list of whole numbers a band), `forces` and `pressure`."""

    def __init__(self, head: bytearray) -> None:
        rows, columns = head[5], head[6]
        self.flags = head[48]
        self.volume = head[49]
        self.weight = wire.u16(head, 50)  # 1/10 N, 0 where it is not known
        self.expires = _u32(head, _EXPIRES)
        self.forces = forces.Forces(rows, columns, memoryview(head)[_HEAD + head[120] * _BAND : -4])
        plan = self.forces.plan
        plan[forces.LOW] = wire.u16(head, 56)
        plan[forces.UNEQUAL] = wire.u16(head, 58)
        for c in range(columns):
            plan[forces.PULLDOWN + c] = wire.u16(head, 60 + 2 * c)
        self.forces.places[:] = head[76 : 76 + rows] + head[92 : 92 + rows] + head[108 : 108 + columns]
        self.quarters = head[121]  # the pitch of the rows, 1/4 mm
        series, reference = wire.u16(head, 116), wire.u16(head, 118)
        self.pressure = pressure.Pressure(self.forces, self.flags & LEFT_HANDED, series, reference)
        self.limits = []
        for i in range(head[120]):
            at = _HEAD + i * _BAND
            self.limits.append(list(head[at : at + 4]) + [wire.u16(head, at + 4 + 2 * k) for k in range(8)])


def read(uid: bytes, layout: str, path: str = FILE) -> OnMat:
    """What is on the mat.

    Raises OnMatError when there is nothing, or nothing for this mat.
    """
    count = size(path)
    if not count:
        raise OnMatError("nothing is on the mat: send it with groundtone to-mat")
    with open(path, "rb") as file:
        check(file.read(_HEAD), count, uid, layout)
        file.seek(0)
        whole = bytearray(count)
        file.readinto(whole)
    wire.crc(wire.TABLE, whole, count - 4, wire.CHECK)
    if not wire.same4(wire.CHECK, whole, count - 4):
        raise OnMatError("what is on the mat is damaged: send it again with groundtone to-mat")
    return OnMat(whole)


def check(head: bytes, count: int, uid: bytes, layout: str) -> None:
    """That a file with this head is for this mat. Raises OnMatError."""
    if len(head) < _HEAD or head[:4] != b"GTAM":
        raise OnMatError("these bytes are nothing that goes onto a mat: make them with groundtone to-mat")
    if head[4] != VERSION:
        raise OnMatError("version %d is not known to this firmware, which knows %d: update it" % (head[4], VERSION))
    if head[8:16] != uid:
        raise OnMatError("this was made for another mat: make it anew with groundtone to-mat")
    if bytes(head[16:48]).rstrip(b"\0") != layout.encode():
        raise OnMatError("this was made for another layout than %s: make it anew with groundtone to-mat" % layout)
    if head[7] != forces.NODES_A_CELL or count != _HEAD + head[120] * _BAND + 2 * head[5] * head[6] * head[7] + 4:
        raise OnMatError("what came is cut short: send it again with groundtone to-mat")


class Inbox:
    """Takes what comes in pieces; only what is whole, and for this mat, replaces what was there."""

    def __init__(self, uid: bytes, layout: str) -> None:
        self._uid, self._layout = uid, layout
        self._file = kinds.untyped(None)
        self._size = self._at = 0

    def begin(self, count: int) -> None:
        """So many bytes will come."""
        self.drop()
        if not _HEAD < count <= MOST:
            raise OnMatError("%d bytes do not fit onto the mat: %d is the most" % (count, MOST))
        self._size, self._at = count, 0
        self._file = open(_NEW, "wb")

    def put(self, at: int, piece: bytes) -> None:
        """The piece that begins there; one that came before already is no fault."""
        if self._file is None:
            raise OnMatError("nothing is being sent: begin again")
        if at + len(piece) <= self._at:
            return
        if at != self._at or at + len(piece) > self._size:
            raise OnMatError("the piece at %d does not follow on %d: begin again" % (at, self._at))
        self._file.write(piece)
        self._at += len(piece)

    def end(self) -> OnMat:
        """All has come: it is read back and takes the old one's place."""
        if self._file is None or self._at != self._size:
            raise OnMatError("%d of %d bytes have come: send the rest" % (self._at, self._size))
        self._file.close()
        self._file = None
        found = read(self._uid, self._layout, _NEW)
        os.rename(_NEW, FILE)
        return found

    def drop(self) -> None:
        """Forgets what has come so far."""
        if self._file is not None:
            self._file.close()
            self._file = None
        try:
            os.remove(_NEW)
        except OSError:
            pass


def erase() -> None:
    """Takes off the mat what was put there."""
    try:
        os.remove(FILE)
    except OSError:
        pass


def size(path: str = FILE) -> int:
    """Bytes of what is on the mat, 0 where there is nothing."""
    try:
        return os.stat(path)[6]
    except OSError:
        return 0


def piece(at: int, count: int = 230) -> bytes:
    """So many bytes of what is on the mat, fewer at its end."""
    if at >= size():
        return b""
    with open(FILE, "rb") as file:
        file.seek(at)
        return file.read(count)


def digest() -> int:
    """The checksum of what is on the mat, 0 where there is nothing."""
    last = piece(max(0, size() - 4))
    return _u32(last, 0) if len(last) == 4 else 0


def expired(now: int) -> bool:
    """Is what is on the mat to be used no more at this time, seconds since 1970? 0: nobody knows the time."""
    until = piece(_EXPIRES, 4)
    return now > 0 and len(until) == 4 and 0 < _u32(until, 0) < now
