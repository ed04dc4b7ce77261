# Messages over the USB console: COBS, a zero behind each. Frames leave from one prebuilt buffer.
import select
import sys

import micropython
from mat import cobs, wire

# So that noise on the line cannot hold up the scan: the rest of it is read in the next turn.
_BYTES_A_TURN = 64


class LinkUsb:
    """Reads and writes the console's bytes while Ctrl-C is only a byte among others."""

    def __init__(self) -> None:
        self._read = sys.stdin.buffer.readinto
        self._write = sys.stdout.buffer.write
        poller = select.poll()
        poller.register(sys.stdin, select.POLLIN)
        self._ipoll = poller.ipoll  # the iterator form: it allocates nothing
        self._byte = bytearray(1)
        self._decoder = cobs.Decoder()
        self._encoded = bytearray(0)
        self.message = self._decoder.message
        self.refused = 0  # bytes that came through as a message with a wrong length or checksum

    def open(self) -> None:
        """Take the console over. The zero ends whatever a boot banner left in the line."""
        micropython.kbd_intr(-1)
        self._write(b"\0")

    def close(self) -> None:
        """Give the console back to the prompt."""
        micropython.kbd_intr(3)

    def size_for(self, frame: bytearray) -> None:
        """Make the buffer for frames of this length. Any message under 254 bytes grows by exactly two."""
        self._encoded = bytearray(len(frame) + 2)

    def receive(self, timeout_ms: int) -> int:
        """Wait at most so long for input. The length of a sound message (in `message`), or 0.

        Raises EOFError when the console is gone, which happens on a computer only.
        """
        left = _BYTES_A_TURN
        while left:
            ready = False
            for _ in self._ipoll(timeout_ms):
                ready = True
            if not ready:
                return 0
            if not self._read(self._byte):
                raise EOFError
            n = self._decoder.feed(self._byte[0])
            if n:
                if wire.sound(self.message, n):
                    return n
                self.refused = (self.refused + 1) & 0xFFFF
            timeout_ms = 0
            left -= 1
        return 0

    def send_frame(self, frame: bytearray) -> bool:
        """Send a frame; True. Only within the credit window: a write blocks half a second when the host stalls."""
        cobs.encode(frame, len(frame), self._encoded)
        self._write(self._encoded)
        return True

    def send(self, message: bytearray, opening: bool = False) -> None:
        """Send a reply or an event; `opening` puts a zero in front, as the first message after opening has it."""
        buf = bytearray(len(message) + 3)
        n = cobs.encode(message, len(message), buf)
        self._write((b"\0" if opening else b"") + bytes(buf[:n]))
