"""A mat on a serial line (USB), by pyserial."""

from __future__ import annotations

import time

import serial

from groundtone.errors import LinkError, LostError
from groundtone.link.talk import MessageLink
from groundtone.wire.stream import StreamDecoder, line_bytes


class SerialLink(MessageLink):
    """An open serial line to a mat that has said hello.

    Parameters
    ----------
    port : str
        Device name, for example /dev/ttyACM0 or COM5.
    hello_s : float
        How long to wait for the mat's hello, s.

    Raises
    ------
    LinkError
        The port is missing, busy, or what is there does not answer.
    VersionError
        The mat speaks another wire version.
    """

    def __init__(self, port: str, hello_s: float = 3.0) -> None:
        super().__init__()
        self.port = port
        self._decoder = StreamDecoder()
        self.statistics.stream = self._decoder.counts
        try:
            # pyserial calls a write late by its own clock too: a busy computer may stand still for a second.
            self._line = serial.Serial(port, 115200, timeout=0.02, write_timeout=3.0, exclusive=True)
        except (serial.SerialException, OSError, ValueError) as error:
            raise LinkError(_why_not(port, error)) from error
        try:
            self._write(b"\0")
            self._greet(hello_s)
        except BaseException:
            self._line.close()
            raise

    def _put(self, message: bytes) -> None:
        self._write(line_bytes(message))

    def _write(self, data: bytes) -> None:
        try:
            self._line.write(data)
        except serial.SerialTimeoutException as error:
            raise LinkError(
                f"what is at {self.port} takes nothing in: unplug it, plug it in again and try once more"
            ) from error
        except (serial.SerialException, OSError) as error:
            raise LostError(_gone(self.port)) from error

    def _look(self) -> list[tuple[float, bytes]]:
        try:
            data = self._line.read(1)
            if data:
                data += self._line.read(self._line.in_waiting)
        except (serial.SerialException, OSError, TypeError) as error:
            raise LostError(_gone(self.port)) from error
        if not data:
            return []
        now = time.monotonic()
        messages = self._decoder.feed(data)
        self.refusal = self._decoder.refusal
        return [(now, message) for message in messages]

    def _shut(self) -> bool:
        if not self._line.is_open:
            return False
        self._line.close()
        return True

    def _silent(self) -> str:
        return f"the mat at {self.port} did not answer: unplug it, plug it in again and try once more"

    def _stranger(self) -> str:
        return f"what is at {self.port} does not answer as a mat: check that it is one and runs its firmware"


def _why_not(port: str, error: Exception) -> str:
    text = str(error).lower()
    # Windows calls a busy port a matter of permission; its own words tell the two apart.
    if "busy" in text or "lock" in text or "resource temporarily" in text or "access is denied" in text:
        return f"{port} is in use by another program: close that one first"
    if "permission" in text or "errno 13" in text:
        return f"{port} may not be opened by this user: add yourself to the group that owns it (often dialout)"
    return f"there is no mat at {port}: plug it in, or see 'groundtone doctor' for the ports that are there"


def _gone(port: str) -> str:
    return f"the mat at {port} is gone: check its cable and power, and start again"
