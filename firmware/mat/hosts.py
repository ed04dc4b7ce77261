# The links at which a host may be, and which of them owns the running mat: the one whose host said start.
import micropython
from mat import clock as clocks
from mat import credit, kinds, link_usb
from micropython import const

# Tenths of a second of the clock: nobody may have looked for longer than the counter of microseconds can tell.
_LAPSE = const(30)  # a window used up for so long without an ack: whoever started the mat has gone
_GOODBYE = const(20)  # a central that was let go must have gone by then
_SHORT = const(20)  # a feet message: twice as many are under way, an ack is back after two long intervals
_SHORT_WINDOW = const(12)
_SPLIT_WINDOW = const(2)  # frames in parts: each is a dozen notifications


def _radio(on: bool, name: str, uid: bytes):
    if not on:
        return None
    try:
        __import__("bluetooth")  # where there is none the rest need not be read
        from mat import link_ble

        return link_ble.LinkBle(name, uid)
    except (ImportError, OSError):  # a board without a radio is a mat with a cable
        return None


class Hosts:
    """USB always, the radio where there is one. `at` is the link of the message that came in last."""

    def __init__(self, radio: bool, name: str, uid: bytes, clock: clocks.Clock) -> None:
        self._clock = clock
        self.usb = link_usb.LinkUsb()
        self.radio = _radio(radio, name, uid)
        self.at = kinds.untyped(self.usb)  # or the radio, which a board without one cannot import
        self.owner = kinds.untyped(None)  # of the running mat
        self._usb_credit = credit.Credit(2)
        self._radio_credit = credit.Credit(2)
        self._split_credit = credit.Credit(2)
        self.credit = self._usb_credit  # of the owner
        self.heard = 0
        self._let_go = 0
        self._leaving = False

    def open(self) -> None:
        """Listen at every link."""
        self.usb.open()
        if self.radio is not None:
            try:
                self.radio.open()
            except OSError:
                self.radio = None

    def close(self) -> None:
        """Give the console back, radio off."""
        self.usb.close()
        if self.radio is not None:
            self.radio.close()

    def size_for(self, frame: bytearray, window: int) -> None:
        """Make buffers and credit for frames of this length; `window` is the setting."""
        self.usb.size_for(frame)
        self._usb_credit = credit.Credit(window)
        if self.radio is not None:
            self.radio.size_for(frame)
            most = self.radio.window if len(frame) > _SHORT else _SHORT_WINDOW
            self._radio_credit = credit.Credit(min(window, most))
            self._split_credit = credit.Credit(_SPLIT_WINDOW)

    def _credit_of(self, link) -> credit.Credit:
        if link is self.usb:
            return self._usb_credit
        return self._split_credit if link.splits else self._radio_credit

    def window(self) -> int:
        """Frames that may be under way at the link of the last message."""
        return self._credit_of(self.at).window

    def claim(self) -> None:
        """The host of the last message owns the mat from now on."""
        self.owner = self.at
        self.credit = self._credit_of(self.at)
        self.credit.ack(0, 1)
        self.heard = self._clock.tenths

    def release(self) -> None:
        """Nobody owns the mat."""
        self.owner = None

    def claimed(self) -> str:
        """Where another host is that owns the mat and still takes frames, in words; empty when there is none."""
        if self.owner is None or self.owner is self.at or self._lapsed():
            return ""
        return "USB" if self.owner is self.usb else "Bluetooth"

    def by_radio(self) -> bool:
        """Does the owner hear the mat over the radio?"""
        return self.owner is not None and self.owner is self.radio

    def _lapsed(self) -> bool:
        return not self.credit.room() and self._clock.tenths - self.heard > _LAPSE

    @micropython.native
    def ack(self, seq: int, everything: int) -> None:
        """The owner has taken frames; an ack of anybody else is none."""
        if self.at is self.owner:
            self.heard = self._clock.tenths
            self.credit.ack(seq, everything)

    @micropython.native
    def send_frame(self, frame: bytearray) -> bool:
        """Send a frame to the owner, within its window. False: its link did not take it."""
        return self.owner is not None and self.owner.send_frame(frame)

    def tell(self, message: bytearray) -> None:
        """Send an event to the owner, or to everybody where nobody owns the mat."""
        if self.owner is not None:
            self.owner.send(message)
            return
        self.usb.send(message)
        if self.radio is not None:
            self.radio.send(message)

    def turn(self) -> bool:
        """Look after the radio; True when the host that owned the mat has gone with it."""
        if self.radio is None:
            return False
        if self.radio.turn():
            self._leaving = False
            return self.by_radio()
        if self._leaving:
            if self._clock.tenths - self._let_go > _GOODBYE:
                self._leaving = False
                self.radio.restart()
                return self.by_radio()
        elif self.owner is self.radio and self._lapsed():
            # It is connected and takes nothing: a stall that only a new connection mends.
            self._leaving = True
            self._let_go = self._clock.tenths
            self.radio.drop()
        return False

    @micropython.native
    def by_air(self) -> int:
        """The length of a message that the radio has brought, or 0."""
        if self.radio is None:
            return 0
        n = self.radio.receive()
        if n:
            self.at = self.radio
        return n

    @micropython.native
    def receive(self, timeout_ms: int) -> int:
        """The length of a message that has come in at `at`, or 0 when none came in time."""
        n = self.by_air()
        if n:
            return n
        n = self.usb.receive(timeout_ms)
        if n:
            self.at = self.usb
        return n
