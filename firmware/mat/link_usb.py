# Messages over the USB console: COBS, a zero behind each. Frames leave from one prebuilt buffer.
import select
import sys

import micropython
from mat import cobs, wire

# So that noise on the line cannot hold up the scan: the rest of it is read in the next turn.
_BYTES_A_TURN = 64


def _line(platform: str):
    # The console's own functions, where they are known; else it is read byte by byte.
    if platform == "rp2":
        from mat import line_rp2

        try:
            return line_rp2.Line(sys.stdin.buffer)
        except ValueError:
            pass
    return None


class LinkUsb:
    """Reads and writes the console's bytes while Ctrl-C is only a byte among others."""

    def __init__(self) -> None:
        self._read = sys.stdin.buffer.readinto
        self._write = sys.stdout.buffer.write
        poller = select.poll()
        poller.register(sys.stdin, select.POLLIN)
        self._ipoll = poller.ipoll  # the iterator form: it allocates nothing
        self._line = _line(sys.platform)
        self.line = self._line.state if self._line else None  # for who takes its bytes himself
        self.bytes = self._line.bytes if self._line else None
        self._byte = bytearray(1)
        self._decoder = cobs.Decoder()
        self.encoded = bytearray(0)
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
        self.encoded = bytearray(len(frame) + 2)

    @micropython.native
    def receive(self, timeout_ms: int) -> int:
        """Wait at most so long for input. The length of a sound message (in `message`), or 0.

        Raises EOFError when the console is gone, which happens on a computer only.
        """
        line = self._line
        if line is None:
            return self._by_bytes(timeout_ms)
        if timeout_ms:
            for _ in self._ipoll(timeout_ms):
                pass
        n = line.take(_BYTES_A_TURN)
        if n < 2:
            return 0
        return self.sound(cobs.decode(line.bytes, n - 1, self.message))

    def _by_bytes(self, timeout_ms: int) -> int:
        left = _BYTES_A_TURN
        while left:
            ready = False
            for _ in self._ipoll(timeout_ms):
                ready = True
            if not ready:
                return 0
            if not self._read(self._byte):
                raise EOFError
            n = self._checked(self._decoder.feed(self._byte[0]))
            if n:
                return n
            timeout_ms = 0
            left -= 1
        return 0

    @micropython.native
    def sound(self, n: int) -> int:
        """What `cobs.decode` made of a line: its length if it is a message, else 0; what is none is counted."""
        return self._checked(self._decoder.taken(n))

    def _checked(self, n: int) -> int:
        if n and not wire.sound(self.message, n):
            self.refused = (self.refused + 1) & 0xFFFF
            return 0
        return n

    @micropython.native
    def send_frame(self, frame: bytearray) -> bool:
        """Send a frame; True. Only within the credit window: a write blocks half a second when the host stalls."""
        encoded = self.encoded
        cobs.encode(frame, len(frame), encoded)
        self._write(encoded)
        return True

    def send(self, message: bytearray, opening: bool = False) -> None:
        """Send a reply or an event; `opening` puts a zero in front, as the first message after opening has it."""
        buf = bytearray(len(message) + 3)
        n = cobs.encode(message, len(message), buf)
        self._write((b"\0" if opening else b"") + bytes(buf[:n]))
