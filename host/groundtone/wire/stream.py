"""Messages out of a stream of bytes on a serial line: COBS with a zero delimiter, and counts of what was none."""

from __future__ import annotations

from dataclasses import dataclass

from cobs import cobs

from groundtone.errors import VersionError, WireError
from groundtone.wire.codec import UnknownTypeError, check
from groundtone.wire.messages import MAX_MESSAGE

# COBS costs one byte in 254 and a code byte; more than this without a zero is no message.
_MAX_ENCODED = MAX_MESSAGE + 2


@dataclass
class StreamCounts:
    """What a line carried besides good messages."""

    messages: int = 0
    bad: int = 0
    oversized: int = 0
    unknown: int = 0
    other_version: int = 0


def line_bytes(message: bytes) -> bytes:
    """A message as it goes over a serial line."""
    encoded: bytes = cobs.encode(message)
    return encoded + b"\0"


class Checker:
    """Lets sound messages pass. What fails is counted in `counts`; `refusal` holds the sentence of the last message of
    another wire version, which a caller should show.
    """

    def __init__(self) -> None:
        self.counts = StreamCounts()
        self.refusal: str | None = None

    def passed(self, message: bytes) -> bool:
        """Is this message whole and of this wire version? The one place where what comes by a link is checked."""
        try:
            check(message)
        except VersionError as error:
            self.counts.other_version += 1
            self.refusal = str(error)
        except UnknownTypeError:
            self.counts.unknown += 1
        except WireError:
            self.counts.bad += 1
        else:
            self.counts.messages += 1
            return True
        return False


class StreamDecoder(Checker):
    """Feeds on bytes in pieces of any size and gives whole, checked messages.

    Nothing that fails a check is delivered.
    """

    def __init__(self) -> None:
        super().__init__()
        self._pending = bytearray()
        self._overlong = False

    def feed(self, data: bytes) -> list[bytes]:
        """Messages that are complete after these bytes."""
        parts = data.split(b"\0")
        out: list[bytes] = []
        for i, part in enumerate(parts):
            if not self._overlong:
                self._pending += part
                if len(self._pending) > _MAX_ENCODED:
                    # Forget at once: a line of rubbish must not fill the memory.
                    self._overlong = True
                    self._pending.clear()
            if i < len(parts) - 1:
                self._end_of_message(out)
        return out

    def _end_of_message(self, out: list[bytes]) -> None:
        encoded, overlong = bytes(self._pending), self._overlong
        self._pending.clear()
        self._overlong = False
        if overlong:
            self.counts.oversized += 1
            return
        if not encoded:
            return
        try:
            message: bytes = cobs.decode(encoded)
        except cobs.DecodeError:
            self.counts.bad += 1
            return
        if self.passed(message):
            out.append(message)
