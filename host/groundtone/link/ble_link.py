"""A mat on Bluetooth, by bleak. The event loop owns the connection; the link in front of it is used like any other."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections import deque
from threading import Condition
from typing import TYPE_CHECKING, Any

from groundtone.errors import LinkError, LostError
from groundtone.link.radio import FROM_MAT, TO_MAT, Radio
from groundtone.link.talk import MessageLink
from groundtone.wire.messages import MAX_MESSAGE
from groundtone.wire.stream import Checker, line_bytes

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


if TYPE_CHECKING:
    from groundtone.link.scan import Heard

# Notifications that may wait for the program: two seconds of frames, whole or in parts.
_QUEUE = 2600
_LOOK_S = 0.02
_CONNECT_S = 12.0
_GOODBYE_S = 3.0
# Writes that may wait for the radio. A request more than these, and the link is as good as lost.
_WRITES = 64
# So many frames tell whether whole ones get through, when no more than this part of the scans is missing; and what a
# notification needs of the MTU beside its message, bytes.
_ENOUGH, _MANY, _NOTIFICATION = 100, 0.1, 3


class _Mailbox:
    """Notifications on their way from the event loop to whoever uses the link. Stamped, bounded, counted; no more."""

    def __init__(self) -> None:
        self._items: deque[tuple[float, bytes]] = deque()
        self._came = Condition()
        self.gone: str | None = None
        self.dropped = 0

    def put(self, data: bytes) -> None:
        now = time.monotonic()
        with self._came:
            if len(self._items) >= _QUEUE:
                self.dropped += 1
                return
            self._items.append((now, data))
            self._came.notify()

    def end(self, why: str) -> None:
        with self._came:
            self.gone = self.gone or why
            self._came.notify()

    def take(self, wait_s: float) -> list[tuple[float, bytes]]:
        with self._came:
            if not self._items and self.gone is None:
                self._came.wait(wait_s)
            items = list(self._items)
            self._items.clear()
        return items


class BleLink(MessageLink):
    """A connection to a mat that has said hello.

    Parameters
    ----------
    mat : Heard
        What a scan has found (see `groundtone.link.scan`).
    radio : Radio
        Its loop owns the connection and outlives the link.
    hello_s : float
        How long to wait for the mat's hello, s.

    Raises
    ------
    LinkError
        It cannot be connected to, is no mat, or does not answer.
    VersionError
        The mat speaks another wire version.
    """

    by_radio = True
    # A connection event brings several frames at once and takes one ack back: each is told at once.
    _most_between_acks = 1
    # A radio brings late what a cable would lose: to call it lost soon would let more pile up behind it.
    _silence_s = 1.0

    def __init__(self, mat: Heard, radio: Radio, hello_s: float = 4.0) -> None:
        super().__init__()
        self.place = f"{mat.name or mat.address} on Bluetooth"
        self._radio = radio
        self._box = _Mailbox()
        self._parts = PartsDecoder()
        self.statistics.stream = self._parts.counts
        self._client: Any = None
        self._outbox: asyncio.Queue[bytes] = asyncio.Queue(_WRITES)
        self._writer: asyncio.Task[None] | None = None
        try:
            radio.do(self._connect(mat), _CONNECT_S, f"{self.place} does not let itself be connected to: come closer")
            self._greet(hello_s)
        except BaseException:
            self._shut()
            raise

    @property
    def mtu(self) -> int:
        """The MTU in force, bytes."""
        return int(self._client.mtu_size) if self._client is not None else 23

    @property
    def short_packets(self) -> bool:
        """Whole frames do not all get through: they leave in parts, or many scans have been skipped."""
        counts = self.statistics
        many = counts.frames >= _ENOUGH and counts.missed > _MANY * (counts.frames + counts.missed)
        return self.mtu < MAX_MESSAGE + _NOTIFICATION or many

    # In the event loop

    async def _connect(self, mat: Heard) -> None:
        from bleak import BleakClient
        from bleak.exc import BleakError

        try:
            self._client = BleakClient(
                mat.device, disconnected_callback=lambda _: self._box.end(self._gone()), backend=self._radio.client,
                timeout=_CONNECT_S - 1.0,
            )  # fmt: skip
            await self._client.connect()
            to_mat = self._client.services.get_characteristic(TO_MAT)
            if to_mat is None:
                raise LinkError(f"{self.place} does not answer as a mat: bring its firmware up to date")
            await self._client.start_notify(FROM_MAT, lambda _, data: self._box.put(bytes(data)))
        except (BleakError, OSError, TimeoutError) as error:
            raise LinkError(f"{self.place} cannot be connected to ({error}): switch it off and on") from error
        self._writer = asyncio.get_running_loop().create_task(self._write(to_mat))

    async def _write(self, to_mat: Any) -> None:
        """Writes what waits, in order, in pieces that fit."""
        try:
            while True:
                data = await self._outbox.get()
                room = max(20, to_mat.max_write_without_response_size)
                for at in range(0, len(data), room):
                    await self._client.write_gatt_char(to_mat, data[at : at + room], response=False)
        except asyncio.CancelledError:
            raise
        except Exception:  # each system's stack has its own
            self._box.end(self._gone())

    def _post(self, data: bytes) -> None:
        try:
            self._outbox.put_nowait(data)
        except asyncio.QueueFull:
            self._box.end(f"{self.place} takes nothing in: switch it off and on, and start again")

    async def _disconnect(self) -> None:
        if self._writer is not None:
            self._writer.cancel()
        if self._client is not None:
            await self._client.disconnect()

    # For whoever uses the link

    def _put(self, message: bytes) -> None:
        if self._box.gone is not None:
            raise LostError(self._box.gone)
        self._radio.loop.call_soon_threadsafe(self._post, line_bytes(message))

    def _look(self) -> list[tuple[float, bytes]]:
        items = self._box.take(_LOOK_S)
        if not items and self._box.gone is not None:
            raise LostError(self._box.gone)
        self.statistics.dropped = self._box.dropped
        out = [(now, message) for now, data in items if (message := self._parts.feed(data)) is not None]
        self.refusal = self._parts.refusal
        return out

    def _shut(self) -> bool:
        if self._client is None:
            return False
        with contextlib.suppress(Exception):  # it has gone already, or the radio has: nothing is left to close
            self._radio.do(self._disconnect(), _GOODBYE_S, "")
        self._client = None
        self._box.end(f"{self.place} has been let go: open it again")
        return True

    def _gone(self) -> str:
        return f"{self.place} is gone: come closer, check its power, and start again"

    def _silent(self) -> str:
        return f"{self.place} did not answer: switch it off and on and try once more"

    def _stranger(self) -> str:
        return f"{self.place} does not answer as a mat: check that it runs its firmware"
