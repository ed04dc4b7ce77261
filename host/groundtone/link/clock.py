"""The mat's clock on the host: unwrapped, and set against host time."""

from __future__ import annotations

from dataclasses import dataclass, field

_WRAP = 1 << 32


@dataclass
class DeviceClock:
    """Unwraps the mat's 32-bit microseconds and keeps the offset to host time.

    The offset is the lower envelope of arrival minus device time: a message can only be late. The envelope is let up
    by 50 parts in a million, the drift of two poor quartzes, so that a slow host clock is followed too.
    """

    drift: float = 50e-6
    _last: int | None = None
    _turns: int = 0
    _offset_s: float = field(default=float("inf"))
    _at_s: float = 0.0

    def unwrap(self, t_us: int) -> int:
        """Device time that does not wrap, µs. Steps of up to half a wrap either way (35 min) are understood."""
        if self._last is not None:
            step = (t_us - self._last + _WRAP // 2) % _WRAP - _WRAP // 2
            if self._last + step >= _WRAP:
                self._turns += 1
            elif self._last + step < 0:
                self._turns -= 1
        self._last = t_us
        return self._turns * _WRAP + t_us

    def arrived(self, device_us: int, host_s: float) -> float:
        """Age of a frame in seconds: how much later than the quickest message it came.

        Parameters
        ----------
        device_us : int
            Unwrapped device time of the frame.
        host_s : float
            Host time of its arrival, s.
        """
        device_s = device_us * 1e-6
        offset = host_s - device_s
        let_up = self._offset_s + self.drift * max(0.0, device_s - self._at_s)
        self._offset_s, self._at_s = min(offset, let_up), device_s
        return offset - self._offset_s
