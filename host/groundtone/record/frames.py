"""Frames of a recording as arrays: fields of the wire's header, times that do not wrap, cells a block at a time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from groundtone.link.clock import APART_US, LEAST_STEP_US
from groundtone.wire.messages import CRC_BYTES, FRAME_DTYPE, FRAME_HEADER, Flag
from groundtone.wire.packing import unpack_cells


def unwrapped(t_us: NDArray[np.int64], host_ns: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Device times that do not wrap and always rise, and where the mat's clock did not go on; each of shape (n,)."""
    if not len(t_us):
        return t_us, np.zeros(0, np.intp)
    half = 1 << 31
    step = (np.diff(t_us) + half) % (1 << 32) - half
    host = np.diff(host_ns) // 1000
    # A step back, or one of another length than the host saw (the mat was started anew, a bit was flipped). Where
    # the host's own clock jumped, a step that goes on as scans do is right.
    jumped = (step <= 0) | ((np.abs(step - host) > APART_US) & (step > APART_US))
    stand_in = np.clip(host, LEAST_STEP_US, half)
    step = np.where(jumped, stand_in, step)
    return t_us[0] + np.concatenate([[0], np.cumsum(step)]), np.flatnonzero(jumped) + 1


@dataclass(frozen=True)
class Frames:
    """The frames of a recording, in order.

    Attributes
    ----------
    raw : ndarray of uint8, shape (n, bytes)
        The messages of firmware/WIRE.md.
    host_ns : ndarray of int64, shape (n,)
        Host time of arrival, ns since 1970.
    cells, bits : int
        Number of cells, and bits a cell.
    timed_us : ndarray of int64, shape (n,), optional
        Their device times, where other messages stood between them.
    """

    raw: NDArray[np.uint8]
    host_ns: NDArray[np.int64]
    cells: int
    bits: int
    timed_us: NDArray[np.int64] | None = None

    def __len__(self) -> int:
        return len(self.raw)

    def _field(self, name: str) -> NDArray[np.int64]:
        header = np.ascontiguousarray(self.raw[:, :FRAME_HEADER]).view(FRAME_DTYPE)
        return header[name][:, 0].astype(np.int64)

    @cached_property
    def flags(self) -> NDArray[np.int64]:
        """Bits of `groundtone.wire.messages.Flag`, shape (n,)."""
        return self._field("flags")

    @cached_property
    def seq(self) -> NDArray[np.int64]:
        """Scan numbers as sent (they wrap at 2^16), shape (n,)."""
        return self._field("seq")

    @cached_property
    def strike_peak(self) -> NDArray[np.int64]:
        """Largest strike reading since the scan before, shape (n,)."""
        return self._field("strike_peak")

    @cached_property
    def strike_offset_us(self) -> NDArray[np.int64]:
        """Scan start minus the strike's moment, µs, shape (n,)."""
        return self._field("strike_offset_us")

    @cached_property
    def references(self) -> NDArray[np.int64]:
        """The two reference readings of each frame, shape (n, 2)."""
        return np.stack([self._field("ref_a"), self._field("ref_b")], axis=1)

    @cached_property
    def missed(self) -> NDArray[np.int64]:
        """Scans between each frame and the one before that are not here, shape (n,); 0 for the first after a start."""
        if not len(self):
            return np.zeros(0, np.int64)
        step = (np.diff(self.seq) - 1) & 0xFFFF
        counts_on = (step < 0x8000) & (self.flags[1:] & Flag.FIRST == 0)
        return np.concatenate([[0], np.where(counts_on, step, 0)])

    @property
    def wrapped_us(self) -> NDArray[np.int64]:
        """Device time of scan start as sent (it wraps at 2^32), shape (n,)."""
        return self._field("t_us")

    @cached_property
    def _device(self) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
        device_us, jumps = unwrapped(self.wrapped_us, self.host_ns)
        return (device_us, jumps) if self.timed_us is None else (self.timed_us, np.zeros(0, np.intp))

    @property
    def device_us(self) -> NDArray[np.int64]:
        """Device time of scan start that does not wrap and always rises, µs, shape (n,).

        Where the mat's clock jumped the host's step stands in, see `jumps`.
        """
        return self._device[0]

    @property
    def jumps(self) -> NDArray[np.intp]:
        """Frames at which the mat's clock did not go on from the frame before."""
        return self._device[1]

    @cached_property
    def t_s(self) -> NDArray[np.float64]:
        """`device_us` in s, shape (n,)."""
        return self.device_us.astype(np.float64) * 1e-6

    def readings(self, begin: int, end: int) -> NDArray[np.float64]:
        """Cells' raw values of a stretch of frames, shape (end - begin, cells)."""
        packed = self.raw[begin:end, FRAME_HEADER:-CRC_BYTES]
        return unpack_cells(packed, self.cells, self.bits).astype(np.float64)
