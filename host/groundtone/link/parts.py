"""Messages out of Bluetooth notifications: whole ones, and parts of those that a small MTU has split (WIRE.md)."""

from __future__ import annotations

from groundtone.wire.stream import Checker

_FIRST, _LATER = 0xE, 0xF


class PartsDecoder(Checker):
    """Takes one notification at a time; gives a message when it is whole and sound.

    Nothing that fails a check is delivered.
    """

    def __init__(self) -> None:
        super().__init__()
        self._parts = bytearray()
        self._due: int | None = None  # parts that still have to follow

    def feed(self, data: bytes) -> bytes | None:
        """The message that this notification completes."""
        kind, left = (data[0] >> 4, data[0] & 15) if data else (0, 0)
        if kind not in (_FIRST, _LATER):
            self._broken()
            return data if self.passed(data) else None
        if kind == _FIRST:
            self._broken()
            self._parts, self._due = bytearray(data[1:]), left
        elif self._due is not None and left == self._due - 1:
            self._parts += data[1:]
            self._due = left
        else:
            # One between was lost, or the first: the rest tells nothing.
            self.counts.bad += self._due is not None
            self._due = None
            return None
        if left:
            return None
        self._due = None
        message = bytes(self._parts)
        return message if self.passed(message) else None

    def _broken(self) -> None:
        if self._due is not None:
            self.counts.bad += 1
            self._due = None
