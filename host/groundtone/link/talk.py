"""What a cable and a radio have in common: requests and replies, frames in order, acks, times and counts."""

from __future__ import annotations

import contextlib
import struct
import time
from abc import abstractmethod
from collections import deque
from collections.abc import Iterator

import numpy as np

from groundtone.errors import LinkError, LostError, RequestError, VersionError, WireError
from groundtone.link.base import REPLY_S, Closing, LinkStatistics, Stamped
from groundtone.link.clock import DeviceClock
from groundtone.wire.codec import encode, hello_from, parse
from groundtone.wire.messages import (
    Ack,
    Command,
    Event,
    EventCode,
    Feet,
    Flag,
    Frame,
    Hello,
    Message,
    Reply,
    Request,
    Status,
)

# Frames that may wait here while a reply is awaited; more than a mat's largest window can bring.
_WAITING = 256
# Without a frame for so long, while messages of another wire version come: that is what is wrong.
_REFUSED_S = 1.0
# So many frames may be ahead of the rate that was asked for: scans that were late come closer together.
_AHEAD = 8.0
_FEET_HZ = 100
_NO_CELLS = np.zeros(0, np.uint16)
# A strike that lies longer before the next feet than a frame can say is told as so long ago; after a fifth of a second
# its moment would be no impact any more.
_LONGEST_US, _STALE_US = 0xFFFF, 200_000


class MessageLink(Closing):
    """A link that carries the messages of firmware/WIRE.md to a mat and back.

    A kind of link says how bytes travel (`_put`, `_look`, `_shut`) and what a person reads when they do not
    (`_silent`, `_stranger`); everything else is here.
    """

    hello: Hello
    by_radio = False

    # An ack every so many frames keeps the window open and the line quiet; a small window needs them sooner.
    _most_between_acks = 4
    # A started mat that is silent for this long is told that nothing is under way any more.
    _silence_s = 0.1
    # No reply is waited for shorter than this, s; see `groundtone.link.base.PATIENT_REPLY_S`.
    least_reply_s = 0.0

    def __init__(self) -> None:
        self.statistics = LinkStatistics()
        self.refusal: str | None = None
        """The sentence of the last message of another wire version."""
        self._clock = DeviceClock()
        self._waiting: deque[Stamped | Event] = deque(maxlen=_WAITING)
        self._replies: dict[int, Reply] = {}
        self._next_id = 0
        self._cells, self._bits = 0, 14
        self._last_seq: int | None = None
        self._last_us = 0
        self._unacknowledged = 0
        self._ack_every = 1
        self._running = self.sends_feet = False
        self._rate_hz = _FEET_HZ
        self._struck: tuple[int, int] | None = None  # a strike that the next feet carry: device time, peak
        self._period_us = 1
        self._ahead, self._ahead_us = 0.0, 0
        self._heard_s = self._framed_s = time.monotonic()
        self._refused = 0

    @abstractmethod
    def _put(self, message: bytes) -> None:
        """Sends a message; LostError where the mat is gone."""

    @abstractmethod
    def _look(self) -> list[tuple[float, bytes]]:
        """Sound messages that have come, each with its host time, waiting 20 ms at most for the first."""

    @abstractmethod
    def _shut(self) -> bool:
        """Lets go of line or radio; False where that had been done before."""

    @abstractmethod
    def _silent(self) -> str:
        """The sentence for a mat that does not answer a request."""

    @abstractmethod
    def _stranger(self) -> str:
        """The sentence for what never answers as a mat."""

    def _greet(self, patience_s: float) -> None:
        """Says hello, and again until there is an answer."""
        self.hello = self._say_hello(patience_s)
        self._cells, self._bits = self.hello.cells, self.hello.bits
        self._ack_every = max(1, min(self._most_between_acks, self.hello.window // 2))

    def _say_hello(self, patience_s: float) -> Hello:
        until = time.monotonic() + patience_s
        # A mat left running by a program that crashed is told to stop before anything else.
        with contextlib.suppress(LinkError, RequestError):
            self.request(Command.STOP, patience_s=0.3)
        while True:
            try:
                return hello_from(self.request(Command.HELLO, patience_s=0.5))
            except RequestError:
                raise
            except LinkError as error:
                if self.refusal:
                    raise VersionError(self.refusal) from error
                if isinstance(error, LostError):
                    raise
                if time.monotonic() > until:
                    raise LinkError(self._stranger()) from error

    def start(self, rate_hz: int) -> int:
        """See `Link.start`."""
        period_us = self._begin(Command.START, rate_hz)
        self._rate_hz = rate_hz
        return period_us

    def feet(self, on: bool) -> None:
        """What the mat makes of each scan in place of whole frames, or frames again, on a mat that was started.

        Raises
        ------
        RequestError
            The mat cannot: nothing is on it (`groundtone to-mat`), or its firmware is older. Frames go on.
        """
        self.stop()
        if not on:
            self._begin(Command.START, self._rate_hz)
            return
        try:
            self._begin(Command.START_FEET, min(self._rate_hz, _FEET_HZ))
        except RequestError:
            self._begin(Command.START, self._rate_hz)
            raise

    @property
    def short_packets(self) -> bool:
        """Whole frames do not all get through."""
        return False

    def _begin(self, command: int, rate_hz: int) -> int:
        if not 1 <= rate_hz <= 0xFFFF:
            raise RequestError(Status.OUT_OF_RANGE, f"a rate of {rate_hz} Hz is not possible: choose 1 to 200")
        # Nothing of an earlier run may be taken for this one's; the first frame may come together with the reply.
        self._waiting = deque((item for item in self._waiting if isinstance(item, Event)), _WAITING)
        self._last_seq = None
        self._unacknowledged = 0
        self._ahead = 0.0
        # Until the reply says what it really is; frames that come with the reply are not too many.
        self._period_us = 1
        payload = self.request(command, struct.pack("<H", rate_hz))
        self._running, self.sends_feet = True, command == Command.START_FEET
        self._heard_s = self._framed_s = time.monotonic()
        (period_us,) = struct.unpack("<I", payload)
        self._period_us = max(1, int(period_us))
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
            The mat is gone, or all that comes is of another wire version.
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
            if self._running and now - self._heard_s > self._silence_s:
                self._send(Ack(self._last_seq or 0, all=True))
                self._heard_s = now
            if now - quiet_since >= patience_s:
                quiet_since = now
                refused = self.statistics.stream.other_version > self._refused
                if self._running and refused and now - self._framed_s > _REFUSED_S:
                    raise LostError(self.refusal)
                yield None

    def request(self, command: int, arguments: bytes = b"", patience_s: float = REPLY_S) -> bytes:
        """See `Link.request`.

        Raises
        ------
        RequestError
            The mat answered with an error.
        LinkError
            No answer within `patience_s`, or the mat is gone.
        """
        self._next_id = self._next_id % 255 + 1
        wanted = self._next_id
        self._replies.clear()
        self._send(Request(wanted, command, arguments))
        until = time.monotonic() + max(patience_s, self.least_reply_s)
        while time.monotonic() < until:
            self._read()
            reply = self._replies.pop(wanted, None)
            if reply is not None and reply.command == command:
                if reply.status != Status.OK:
                    sentence = reply.payload.decode("utf-8", "replace") or f"the mat refused (status {reply.status})"
                    raise RequestError(reply.status, sentence)
                return reply.payload
        raise LinkError(self._silent())

    def close(self) -> None:
        """See `Link.close`."""
        if self._running:
            self._running = False
            with contextlib.suppress(LinkError, RequestError):
                self.request(Command.STOP, patience_s=0.5)
        self._shut()

    def _took(self, seq: int) -> None:
        self._unacknowledged += 1
        if self._unacknowledged >= self._ack_every:
            self._unacknowledged = 0
            self._send(Ack(seq))

    def _send(self, message: Message) -> None:
        self._put(encode(message))

    def _read(self) -> None:
        for now, message in self._look():
            try:
                self._take(parse(message, self._cells, self._bits), now, message)
            except WireError:
                # Frames of a mat left running cannot be read before its hello; they are not to blame.
                self.statistics.stream.bad += 1 if self._cells else 0

    def _take(self, message: Message, now: float, raw: bytes) -> None:
        match message:
            case Frame():
                self._take_frame(message, now, raw)
            case Feet():
                self._take_frame(self._as_frame(message), now, raw, message)
            case Reply():
                self._replies[message.id] = message
            case Event(code=EventCode.STRIKE):
                with contextlib.suppress(ValueError):
                    peak = min(int(message.text), 0xFFFF)  # a recording has two bytes for it
                    self._struck = (message.t_us, peak) if peak > 0 else None
            case Event():
                self._waiting.append(message)
            case _:
                # An ack or a request from the mat's side makes no sense.
                self.statistics.stream.unknown += 1

    def _as_frame(self, feet: Feet) -> Frame:
        """The header of a feet message as a frame without cells, with the strike that was told since the last one."""
        flags, peak, offset_us = feet.flags & ~Flag.STRIKE & 15, 0, 0
        if self._struck is not None:
            ago_us = (feet.t_us - self._struck[0]) & 0xFFFFFFFF
            if ago_us <= _STALE_US:
                flags, peak, offset_us = flags | Flag.STRIKE, self._struck[1], min(ago_us, _LONGEST_US)
            self._struck = None
        return Frame(flags, feet.seq, feet.t_us, peak, offset_us, 0, 0, _NO_CELLS)

    def _take_frame(self, frame: Frame, now: float, raw: bytes, feet: Feet | None = None) -> None:
        self._heard_s = now
        missed = 0
        if self._last_seq is not None:
            missed = (frame.seq - self._last_seq - 1) & 0xFFFF
            if missed >= 0x8000:
                later_us = (frame.t_us - self._last_us) & 0xFFFFFFFF
                if later_us == 0 or later_us >= 1 << 31:
                    # From before the last one: a repeat, never counted twice.
                    self.statistics.repeated += 1
                    return
                # The mat has waited for credit through so many scans that their number wrapped.
                missed = max(0, round(later_us / self._period_us) - 1)
        self._last_seq, self._last_us = frame.seq, frame.t_us
        self._framed_s, self._refused = now, self.statistics.stream.other_version
        self.statistics.frames += 1
        self.statistics.missed += missed
        device_us = self._clock.unwrap(frame.t_us)
        age_s = self._clock.arrived(device_us, now)
        if self._too_many(device_us):
            self.statistics.surplus += 1
            return
        self._waiting.append(Stamped(frame, device_us, now, age_s, missed, raw, feet))

    def _too_many(self, device_us: int) -> bool:
        """Is this frame more than the rate asked for allows? The mat's own clock is the measure."""
        if self._ahead:
            self._ahead = max(0.0, self._ahead - (device_us - self._ahead_us) / self._period_us)
        self._ahead_us = device_us
        if self._ahead + 1.0 > _AHEAD:
            return True
        self._ahead += 1.0
        return False
