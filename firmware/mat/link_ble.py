# Messages over Bluetooth: each leaves as one notification or in parts, and comes in as a stream of COBS messages.
import bluetooth
import micropython
from mat import cobs, wire
from micropython import const

_IRQ_CONNECT = const(1)
_IRQ_DISCONNECT = const(2)
_IRQ_WRITE = const(3)
_IRQ_MTU = const(21)

_SERVICE = bluetooth.UUID("318d07d0-1739-4521-b87f-cc3ad210676b")
_FROM_MAT = bluetooth.UUID("318d07d1-1739-4521-b87f-cc3ad210676b")
_TO_MAT = bluetooth.UUID("318d07d2-1739-4521-b87f-cc3ad210676b")
_NOTIFY = const(0x10)
_WRITE = const(0x0C)  # with and without response

_MTU = const(247)  # 244 bytes of payload, the longest message
_SMALL_MTU = const(23)  # in force until the central has asked for more
_INCOMING = const(512)  # what may come in between two turns
_ADVERTISE_US = const(100000)
_FIRST_PART = const(0xE0)
_LATER_PART = const(0xF0)
_NAME_BYTES = const(20)


@micropython.viper
def _copy(src: ptr8, at: int, n: int, dst: ptr8):
    # src[at : at + n] behind the head of dst.
    i = 0
    while i < n:
        dst[1 + i] = src[at + i]
        i += 1


class LinkBle:
    """One central at a time. The interrupt handler only marks; `turn` and `receive` do what was marked."""

    # Frames under way: what is handed to the stack queues on the chip's heap without limit (WIRE.md says why six).
    window = 6

    def __init__(self, name: str, uid: bytes) -> None:
        self.name = name
        self._uid = uid
        # The stubs of these calls are of another version: taken without their types.
        self._ble = getattr(bluetooth, "BLE")()
        self._decoder = cobs.Decoder()
        self.message = self._decoder.message
        self.refused = 0  # what came through as a message with a wrong length or checksum
        self._from_mat = 0
        self._to_mat = 0
        self._conn = -1
        self._mtu = _SMALL_MTU
        self._gone = False
        self._written = False
        self._incoming = b""
        self._at = 0
        self._frame = bytearray(0)
        self._ready_mtu = 0  # the parts' buffers fit this
        self._whole = False
        self._parts = 0
        self._part = bytearray(0)
        self._last = bytearray(0)

    def open(self) -> None:
        """Switch the radio on and advertise. Raises OSError where there is none."""
        self._ble.active(True)
        self._ble.config(mtu=_MTU)
        self._ble.irq(self._irq)
        self._set_up()

    def close(self) -> None:
        """Switch the radio off."""
        self._ble.active(False)

    def _set_up(self) -> None:
        # Also after each central that has gone: the stack keeps nothing of it, no buffer and no MTU.
        self._conn = -1
        self._mtu = _SMALL_MTU
        self._written = False
        self._incoming = b""
        self._at = 0
        self._decoder.feed(0)  # half a message of the one before
        service = (_SERVICE, ((_FROM_MAT, _NOTIFY), (_TO_MAT, _WRITE)))
        ((self._from_mat, self._to_mat),) = self._ble.gatts_register_services((service,))
        # Writes are gathered, not replaced: two may come between two looks.
        self._ble.gatts_set_buffer(self._to_mat, _INCOMING, True)
        self._ble.gatts_set_buffer(self._from_mat, _MTU - 3)
        self._advertise()

    def _advertise(self) -> None:
        # Flags and our service; in the scan response the name and the end of the id, which tell mats apart.
        advert = b"\x02\x01\x06\x11\x07" + bytes(_SERVICE)  # type: ignore[call-overload]
        name = wire.sentence(self.name, _NAME_BYTES) + b" " + "".join(["%02x" % b for b in self._uid[-3:]]).encode()
        self._ble.gap_advertise(_ADVERTISE_US, adv_data=advert, resp_data=bytes((len(name) + 1, 9)) + name)

    def _irq(self, event: int, data: tuple) -> None:
        if event == _IRQ_WRITE:
            self._written = True
        elif event == _IRQ_CONNECT:
            self._mtu = _SMALL_MTU
            self._conn = data[0]
        elif event == _IRQ_MTU:
            self._mtu = data[1]
        elif event == _IRQ_DISCONNECT:
            self._conn = -1
            self._gone = True

    @property
    def connected(self) -> bool:
        """Is a central there?"""
        return self._conn >= 0

    @property
    def splits(self) -> bool:
        """Does a frame leave in parts, because the central stays at a small MTU?"""
        return not self._whole

    def turn(self) -> bool:
        """Do what was marked; True once for each central that has gone."""
        if self._gone:
            self._gone = False
            self._set_up()
            return True
        if self._mtu != self._ready_mtu:
            self.size_for(self._frame)
        return False

    def drop(self) -> None:
        """Let the central go: it takes nothing any more."""
        if not self._ble.gap_disconnect(self._conn):
            self._gone = True  # it had gone unnoticed

    def restart(self) -> None:
        """Switch the radio off and on: not even a disconnection comes through."""
        self._ble.active(False)
        self._gone = False
        self.open()

    def size_for(self, frame: bytearray) -> None:
        """Make the buffers for frames of this length at the MTU in force."""
        self._frame = frame
        self._ready_mtu = self._mtu
        room = self._mtu - 3
        self._whole = room >= len(frame)
        if self._whole or not frame:
            return
        self._parts = (len(frame) + room - 2) // (room - 1)
        self._part = bytearray(room)
        self._last = bytearray(1 + len(frame) - (self._parts - 1) * (room - 1))

    def receive(self) -> int:
        """The length of a sound message that has come in (in `message`), or 0."""
        while True:
            if self._at >= len(self._incoming):
                if not self._written:
                    return 0
                self._written = False  # before the reading: what comes in meanwhile marks again
                self._incoming = self._ble.gatts_read(self._to_mat)
                self._at = 0
                continue
            n = self._decoder.feed(self._incoming[self._at])
            self._at += 1
            if n:
                if wire.sound(self.message, n):
                    return n
                self.refused = (self.refused + 1) & 0xFFFF

    def send_frame(self, frame: bytearray) -> bool:
        """Send a frame, within the credit window only. False: the stack took it not, or not all of it."""
        if self._conn < 0 or self._ready_mtu != self._mtu:
            return False
        try:
            if self._whole:
                self._ble.gatts_notify(self._conn, self._from_mat, frame)
            else:
                self._send_parts(frame)
        except OSError:  # its queue is full, or the central has just gone
            return False
        return True

    def _send_parts(self, frame: bytearray) -> None:
        step = len(self._part) - 1
        left = self._parts - 1
        head = _FIRST_PART
        at = 0
        while left:
            self._part[0] = head | left
            _copy(frame, at, step, self._part)
            self._ble.gatts_notify(self._conn, self._from_mat, self._part)
            head = _LATER_PART
            at += step
            left -= 1
        self._last[0] = head
        _copy(frame, at, len(self._last) - 1, self._last)
        self._ble.gatts_notify(self._conn, self._from_mat, self._last)

    def send(self, message: bytearray, opening: bool = False) -> None:
        """Send a reply or an event; what the stack does not take is lost, and the host asks again."""
        if self._conn < 0:
            return
        room = self._mtu - 3
        try:
            if len(message) <= room:
                self._ble.gatts_notify(self._conn, self._from_mat, message)
                return
            parts = (len(message) + room - 2) // (room - 1)
            for i in range(parts):
                head = (_LATER_PART if i else _FIRST_PART) | (parts - 1 - i)
                piece = bytes(message[i * (room - 1) : (i + 1) * (room - 1)])
                self._ble.gatts_notify(self._conn, self._from_mat, bytes((head,)) + piece)
        except OSError:
            pass
