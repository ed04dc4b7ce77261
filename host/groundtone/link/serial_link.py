"""A mat on a serial line (USB), by pyserial."""

from __future__ import annotations

import contextlib
import struct
import time
from collections import deque
from collections.abc import Iterator
from types import TracebackType
from typing import Self

import serial

from groundtone.errors import LinkError, LostError, RequestError, VersionError, WireError
from groundtone.link.base import LinkStatistics, Stamped
from groundtone.link.clock import DeviceClock
from groundtone.wire.codec import decode, encode, hello_from
from groundtone.wire.messages import Ack, Command, Event, Frame, Hello, Message, Reply, Request, Status
from groundtone.wire.stream import StreamDecoder, line_bytes

# Frames that may wait here while a reply is awaited; more than a mat's largest window can bring.
_WAITING = 256
# An ack every so many frames keeps the window open and the line quiet; a small window needs them sooner.
_ACK_EVERY = 4
_REPLY_S = 1.0
# A started mat that is silent for this long is told that nothing is under way any more.
_SILENCE_S = 0.1
# Without a frame for so long, while messages of another wire version come: that is what is wrong.
_REFUSED_S = 1.0


class SerialLink:
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
        self.port = port
        self.statistics = LinkStatistics()
        self._decoder = StreamDecoder()
        self.statistics.stream = self._decoder.counts
        self._clock = DeviceClock()
        self._waiting: deque[Stamped | Event] = deque(maxlen=_WAITING)
        self._replies: dict[int, Reply] = {}
        self._next_id = 0
        self._cells, self._bits = 0, 14
        self._last_seq: int | None = None
        self._unacknowledged = 0
        self._ack_every = 1
        self._running = False
        self._heard_s = self._framed_s = time.monotonic()
        self._refused = 0
        try:
            # pyserial calls a write late by its own clock too: a busy computer may stand still for a second.
            self._line = serial.Serial(port, 115200, timeout=0.02, write_timeout=3.0, exclusive=True)
        except (serial.SerialException, OSError, ValueError) as error:
            raise LinkError(_why_not(port, error)) from error
        try:
            self.hello = self._say_hello(hello_s)
        except BaseException:
            self._line.close()
            raise
        self._cells, self._bits = self.hello.cells, self.hello.bits
        self._ack_every = max(1, min(_ACK_EVERY, self.hello.window // 2))

    def _say_hello(self, patience_s: float) -> Hello:
        until = time.monotonic() + patience_s
        self._write(b"\0")
        # A mat left running by a program that crashed is told to stop before anything else.
        with contextlib.suppress(LinkError, RequestError):
            self.request(Command.STOP, patience_s=0.3)
        while True:
            try:
                return hello_from(self.request(Command.HELLO, patience_s=0.5))
            except RequestError:
                raise
            except LinkError as error:
                if self._decoder.refusal:
                    raise VersionError(self._decoder.refusal) from error
                if time.monotonic() > until:
                    raise LinkError(
                        f"what is at {self.port} does not answer as a mat: check that it is one and runs its firmware"
                    ) from error

    def start(self, rate_hz: int) -> int:
        """See `Link.start`."""
        if not 1 <= rate_hz <= 0xFFFF:
            raise RequestError(Status.OUT_OF_RANGE, f"a rate of {rate_hz} Hz is not possible: choose 1 to 200")
        # Nothing of an earlier run may be taken for this one's; the first frame may come together with the reply.
        self._waiting = deque((item for item in self._waiting if isinstance(item, Event)), _WAITING)
        self._last_seq = None
        self._unacknowledged = 0
        payload = self.request(Command.START, struct.pack("<H", rate_hz))
        self._running = True
        self._heard_s = self._framed_s = time.monotonic()
        (period_us,) = struct.unpack("<I", payload)
        return int(period_us)

    def stop(self) -> None:
        """See `Link.stop`."""
        self._running = False
        self.request(Command.STOP)

    def frames(self, patience_s: float = 0.05) -> Iterator[Stamped | Event | None]:
        """See `Link.frames`.

        Raises
        ------
        LostError
            The line is gone, or all that comes is of another wire version.
        """
        quiet_since = time.monotonic()
        while True:
            while self._waiting:
                item = self._waiting.popleft()
                quiet_since = time.monotonic()
                yield item
                if isinstance(item, Stamped):
                    self._took(item.frame.seq)
            self._read()
            if self._waiting:
                continue
            now = time.monotonic()
            if self._running and now - self._heard_s > _SILENCE_S:
                self._send(Ack(self._last_seq or 0, all=True))
                self._heard_s = now
            if now - quiet_since >= patience_s:
                quiet_since = now
                refused = self.statistics.stream.other_version > self._refused
                if self._running and refused and now - self._framed_s > _REFUSED_S:
                    raise LostError(self._decoder.refusal)
                yield None

    def request(self, command: int, arguments: bytes = b"", patience_s: float = _REPLY_S) -> bytes:
        """See `Link.request`.

        Raises
        ------
        RequestError
            The mat answered with an error.
        LinkError
            No answer within `patience_s`, or the line is gone.
        """
        self._next_id = self._next_id % 255 + 1
        wanted = self._next_id
        self._replies.clear()
        self._send(Request(wanted, command, arguments))
        until = time.monotonic() + patience_s
        while time.monotonic() < until:
            self._read()
            reply = self._replies.pop(wanted, None)
            if reply is not None and reply.command == command:
                if reply.status != Status.OK:
                    sentence = reply.payload.decode("utf-8", "replace") or f"the mat refused (status {reply.status})"
                    raise RequestError(reply.status, sentence)
                return reply.payload
        raise LinkError(f"the mat at {self.port} did not answer: unplug it, plug it in again and try once more")

    def close(self) -> None:
        """See `Link.close`."""
        if self._line.is_open:
            if self._running:
                with contextlib.suppress(LinkError, RequestError):
                    self.stop()
            self._line.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _took(self, seq: int) -> None:
        self._unacknowledged += 1
        if self._unacknowledged >= self._ack_every:
            self._unacknowledged = 0
            self._send(Ack(seq))

    def _send(self, message: Message) -> None:
        self._write(line_bytes(encode(message)))

    def _write(self, data: bytes) -> None:
        try:
            self._line.write(data)
        except serial.SerialTimeoutException as error:
            raise LinkError(
                f"what is at {self.port} takes nothing in: unplug it, plug it in again and try once more"
            ) from error
        except (serial.SerialException, OSError) as error:
            raise LostError(_gone(self.port)) from error

    def _read(self) -> None:
        """Takes what is there, waiting 20 ms at most for the first byte."""
        try:
            data = self._line.read(1)
            if data:
                data += self._line.read(self._line.in_waiting)
        except (serial.SerialException, OSError, TypeError) as error:
            raise LostError(_gone(self.port)) from error
        if not data:
            return
        now = time.monotonic()
        for message in self._decoder.feed(data):
            try:
                self._take(decode(message, self._cells, self._bits), now, message)
            except WireError:
                # Frames of a mat left running cannot be read before its hello; they are not to blame.
                self.statistics.stream.bad += 1 if self._cells else 0

    def _take(self, message: Message, now: float, raw: bytes) -> None:
        match message:
            case Frame():
                self._heard_s = now
                missed = 0
                if self._last_seq is not None:
                    missed = (message.seq - self._last_seq - 1) & 0xFFFF
                    if missed >= 0x8000:
                        # From before the last one: a repeat, never counted twice.
                        self.statistics.repeated += 1
                        return
                self._last_seq = message.seq
                self._framed_s, self._refused = now, self.statistics.stream.other_version
                self.statistics.frames += 1
                self.statistics.missed += missed
                device_us = self._clock.unwrap(message.t_us)
                age_s = self._clock.arrived(device_us, now)
                self._waiting.append(Stamped(message, device_us, now, age_s, missed, raw))
            case Reply():
                self._replies[message.id] = message
            case Event():
                self._waiting.append(message)
            case _:
                # An ack or a request from the mat's side makes no sense.
                self.statistics.stream.unknown += 1


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
