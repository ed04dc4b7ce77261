"""Feet messages of a recording as arrays, on one time with its frames."""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.record.frames import Frames, unwrapped
from groundtone.wire.codec import parse
from groundtone.wire.messages import FEET_BYTES, Feet, Flag, Frame

_STRIKE = struct.Struct("<HH")
FEET_RECORD = FEET_BYTES + _STRIKE.size
"""A message of firmware/WIRE.md as it came, and behind it a strike's peak and offset as a frame has them (0: none)."""


@dataclass(frozen=True)
class FeetFrames:
    """The feet messages of a recording, in order.

    Attributes
    ----------
    raw : ndarray of uint8, shape (n, FEET_RECORD)
    host_ns : ndarray of int64, shape (n,)
        Host time of arrival, ns since 1970.
    device_us : ndarray of int64, shape (n,)
        Device time of scan start that does not wrap, µs; see `on_one_time`.
    """

    raw: NDArray[np.uint8]
    host_ns: NDArray[np.int64]
    device_us: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.raw)

    @property
    def t_s(self) -> NDArray[np.float64]:
        """`device_us` in s, shape (n,)."""
        return self.device_us.astype(np.float64) * 1e-6

    def messages(self) -> list[Feet]:
        """All of them."""
        return [message for row in self.raw if isinstance(message := parse(row[:FEET_BYTES].tobytes()), Feet)]

    def strikes(self) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Moments, s, and peaks, in the scale of the cells, of the strikes that were told."""
        told = self.raw[:, FEET_BYTES:].copy().view("<u2").reshape(-1, 2).astype(np.int64)
        at = np.flatnonzero(told[:, 0] > 0)
        return self.t_s[at] - told[at, 1] * 1e-6, told[at, 0]


NO_FEET = FeetFrames(np.zeros((0, FEET_RECORD), np.uint8), np.zeros(0, np.int64), np.zeros(0, np.int64))


def feet_bytes(message: bytes, frame: Frame) -> bytes:
    """What is recorded of a feet message; `frame` is its header with the strike that came with it."""
    struck = frame.flags & Flag.STRIKE
    return message + _STRIKE.pack(frame.strike_peak if struck else 0, frame.strike_offset_us if struck else 0)


def on_one_time(frames: Frames, raw: NDArray[np.uint8], host_ns: NDArray[np.int64]) -> tuple[Frames, FeetFrames]:
    """Frames and feet messages of one recording, with device times that go on from one to the other."""
    t_us = np.concatenate([frames.wrapped_us, np.ascontiguousarray(raw[:, 4:8]).view("<u4")[:, 0].astype(np.int64)])
    both_ns = np.concatenate([frames.host_ns, host_ns])
    order = np.argsort(both_ns, kind="stable")
    device_us = np.empty(len(order), np.int64)
    device_us[order], _ = unwrapped(t_us[order], both_ns[order])
    cut = len(frames)
    timed = Frames(frames.raw, frames.host_ns, frames.cells, frames.bits, device_us[:cut])
    return timed, FeetFrames(raw, host_ns, device_us[cut:])
