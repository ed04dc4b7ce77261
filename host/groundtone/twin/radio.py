"""How long a notification is under way on a Bluetooth connection: a model of connection events, not a measured radio.

A central gives its peripheral a turn every `interval_s` (a connection event). In each turn a few link-layer packets go
either way; one that is damaged on the air is sent again. The mat may have `window` messages under way; the central's
ack, which gives one back, waits for the next turn as well. Figures of the air are those of the Bluetooth Core
Specification for the 1M PHY (Volume 6, Part B), see tests/external/test_ble_arithmetic.py.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

BIT_S = 1e-6
"""One bit on the 1M PHY."""
INTER_FRAME_S = 150e-6
"""Between two packets of one event (T_IFS)."""
# Preamble 1, access address 4, header 2, CRC 3: bytes beside a packet's payload.
_AROUND = 1 + 4 + 2 + 3
# L2CAP header 4, ATT opcode and handle 3: bytes of a notification beside the message.
_NOTIFICATION = 4 + 3
# The ack is a write of the message's 8 bytes, 10 with COBS: one small packet, which stands for the central's side.
_ACK_BYTES = 4 + 3 + 10
# What the central's program takes before its ack is ready to go, s (invented).
_HOST_S = 1e-3


def air_time_s(payload_bytes: int) -> float:
    """Time of one link-layer packet on the air, s.

    Parameters
    ----------
    payload_bytes : int
        Bytes between header and CRC, 0 to 251 (255 with the integrity check of an encrypted link).

    Examples
    --------
    >>> round(air_time_s(251) * 1e6)
    2088
    """
    return (payload_bytes + _AROUND) * 8 * BIT_S


def packets_of(message_bytes: int, packet_bytes: int) -> list[int]:
    """Payloads of the link-layer packets that carry a notification, bytes."""
    left = message_bytes + _NOTIFICATION
    out = []
    while left > 0:
        out.append(min(left, packet_bytes))
        left -= packet_bytes
    return out


def notification_delays(
    sent_s: ArrayLike,
    message_bytes: int,
    interval_s: float,
    packet_bytes: int = 251,
    packets_per_event: int = 4,
    loss: float = 0.0,
    window: int = 6,
    seed: int = 0,
) -> NDArray[np.float64]:
    """When each message has arrived at the central.

    Parameters
    ----------
    sent_s : array_like, shape (n,)
        When the mat has each message ready, s, rising.
    message_bytes : int
        Length of a message; it fits into one notification.
    interval_s : float
        Connection interval, s.
    packet_bytes : int
        Largest payload of a link-layer packet: 251 with data length extension, 27 without.
    packets_per_event : int
        Packets that the central takes in one event; the event ends before the next begins in any case.
    loss : float
        Share of packets that are damaged on the air, each for itself. Two in a row end the event.
    window : int
        Messages that may be under way.
    seed : int
        Draws the phase of the connection against the mat, and the losses.

    Returns
    -------
    ndarray, shape (n,)
        Arrival of the last packet of each message, s; NaN for one that was skipped for want of credit.

    Raises
    ------
    ValueError
        A time runs backwards, or an interval, length, share or number makes no sense.
    """
    sent = np.asarray(sent_s, float)
    if sent.ndim != 1 or (np.diff(sent) < 0).any() or not np.isfinite(sent).all():
        raise ValueError("times of sending must be finite and must rise")
    if not 0.0075 <= interval_s <= 4.0 or not 0.0 <= loss < 1.0:
        raise ValueError("a connection interval is 7.5 ms to 4 s, and a loss is 0 or more and less than 1")
    if not 27 <= packet_bytes <= 251 or packets_per_event < 1 or window < 1 or message_bytes < 1:
        raise ValueError("packets have 27 to 251 bytes, and an event, a window and a message hold one at least")
    return _Connection(sent, message_bytes, interval_s, packet_bytes, packets_per_event, loss, window, seed).run()


class _Connection:
    """One run of the model: events one after the other, what is ready at each, and what of it gets through."""

    def __init__(
        self,
        sent: NDArray[np.float64],
        message_bytes: int,
        interval_s: float,
        packet_bytes: int,
        packets_per_event: int,
        loss: float,
        window: int,
        seed: int,
    ) -> None:
        self._sent, self._interval_s, self._window = sent, interval_s, window
        self._packets = packets_of(message_bytes, packet_bytes)
        self._per_event = packets_per_event
        self._loss = loss
        self._draw = np.random.default_rng(seed)
        self._arrived = np.full(len(sent), math.nan)
        self._queue: list[int] = []  # messages that wait, the first perhaps in part
        self._part = 0  # packets of the first that are through
        self._acks: list[tuple[float, int]] = []  # from when on an ack may go, and how many messages it gives back
        self._under_way = 0
        self._next = 0

    def run(self) -> NDArray[np.float64]:
        if not len(self._sent):
            return self._arrived
        event_s = self._sent[0] - self._draw.uniform(0.0, self._interval_s)
        while self._next < len(self._sent) or self._queue:
            self._take_until(event_s)
            self._event(event_s)
            event_s += self._interval_s
            if not self._queue and not self._acks and self._next < len(self._sent):
                # Nothing happens in the turns until the next message.
                idle = math.floor((self._sent[self._next] - event_s) / self._interval_s)
                event_s += max(0, idle) * self._interval_s
        return self._arrived

    def _take_until(self, now_s: float) -> None:
        """Messages that became ready before now; those that find no credit are skipped for ever."""
        while self._next < len(self._sent) and self._sent[self._next] <= now_s:
            if self._under_way < self._window:
                self._queue.append(self._next)
                self._under_way += 1
            self._next += 1

    def _lost(self) -> bool:
        return self._loss > 0.0 and self._draw.random() < self._loss

    def _event(self, begin_s: float) -> None:
        """One turn: the central's packet first, with an ack where one is ready, then the mat's answer, and so on."""
        now_s, end_s = begin_s, begin_s + self._interval_s
        sent = failed = 0
        while True:
            ack = self._ready_ack(begin_s)
            asked_s = air_time_s(_ACK_BYTES if ack else 0)
            bytes_out = self._packets[self._part] if self._queue else 0
            turn_s = asked_s + INTER_FRAME_S + air_time_s(bytes_out) + INTER_FRAME_S
            if now_s + turn_s > end_s or sent >= self._per_event or (sent and not ack and not self._queue):
                return
            now_s += turn_s
            sent += 1
            if self._lost():  # the central's packet: the mat stays silent, and the event is over
                return
            if ack:
                self._under_way -= self._acks.pop(0)[1]
            if not self._queue:
                continue
            if self._lost():
                failed += 1
                if failed == 2:
                    return
                continue
            failed = 0
            self._part += 1
            if self._part == len(self._packets):
                self._part = 0
                arrived_s = now_s - INTER_FRAME_S
                self._arrived[self._queue.pop(0)] = arrived_s
                self._acks.append((arrived_s + _HOST_S, 1))

    def _ready_ack(self, begin_s: float) -> bool:
        # What becomes ready while an event lasts goes in the next: the controller has its packet by then.
        return bool(self._acks) and self._acks[0][0] <= begin_s
