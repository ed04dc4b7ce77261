# The feet message (WIRE.md): what one scan says of each foot, in twenty bytes. It stands where else wire.Frame stands.
from array import array

import micropython
from mat import wire
from mat.alone import pressure
from micropython import const

KIND = const(6)
_SEALED = const(18)
_STRIKE = const(8)  # an event
_HEAVY = const(16)  # flag: a column was beyond what can be told
_UNKNOWN = const(32)  # flag: references are missing, nothing is known

# Places of mat/alone/forces.py in `plan`, of mat/alone/pressure.py in `feet`.
_P_HEAVY = const(7)
_NOTHING = const(0x1FFFFFFF)


class Frame:
    """One feet message in one prebuilt buffer; its header is filled in as a frame's."""

    def __init__(self, meter: pressure.Pressure) -> None:
        self.meter = meter
        self.cells = meter.cells
        self.bits = 0  # it holds no cells
        self.message = bytearray(_SEALED + 2)
        self.message[0] = wire.VERSION << 4 | KIND

    @micropython.native
    def fill(self, values: array) -> None:
        """Work out the feet of a scan, behind the header, and seal."""
        meter = self.meter
        message = self.message
        known = meter.frame(values, message[2] & 1)
        put(message, meter.forces.feet, meter.forces.plan, known)
        wire.crc(wire.TABLE, message, _SEALED, wire.CHECK)
        message[_SEALED] = wire.CHECK[0]
        message[_SEALED + 1] = wire.CHECK[1]

    def strike(self, link, peak: int, offset: int) -> None:
        """A strike follows its feet, in a message of its own: its moment, and its peak in the cells' scale."""
        low = wire.u16(self.message, 4) - offset
        high = wire.u16(self.message, 6) + (low >> 16)
        t = bytes((_STRIKE, low & 255, low >> 8 & 255, high & 255, high >> 8 & 255))
        link.tell(wire.message(wire.EVENT, t + str(peak).encode()))


@micropython.viper
def put(m: ptr8, feet: ptr32, plan: ptr32, known: int):
    if plan[_P_HEAVY]:
        m[1] = int(m[1]) | _HEAVY
    if not known:
        m[1] = int(m[1]) | _UNKNOWN
    at = 8
    i = 0
    while i < 16:
        foot = ptr32(uint(feet) + 4 * i)
        force = (foot[0] + 2) >> 2
        u = foot[4]
        v = foot[5]
        if not known:
            force = 0
        if u == _NOTHING or not known:
            u = 0xFFFF
            v = 1023
        if force > 65535:
            force = 65535
        m[at] = force
        m[at + 1] = force >> 8
        m[at + 2] = u
        m[at + 3] = u >> 8
        m[at + 4] = v >> 2
        at += 5
        i += 8
