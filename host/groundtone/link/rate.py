"""Watches how frames come: below 50 a second, or late, a cue would tell what is long over."""

from __future__ import annotations

from groundtone.link.base import Stamped

LEAST_HZ = 50.0
"""Fewer frames a second than this are recorded, and no cue follows them."""

# So many seconds of frames are averaged, and the rate must be clearly over the edge: no flutter between two words.
_OVER_S = 1.0
_CLEAR = 0.1
# A pause is no rate.
_PAUSE_S = 0.5
# Frames this late, for this long: what is heard is no longer what happens.
_LATE_S, _LATE_FOR_S = 0.1, 0.5


class RateWatch:
    """Counts frames against the mat's own clock.

    Attributes
    ----------
    hz : float
        Frames a second over the last second; 0 before it has passed.
    too_slow : bool
        Cues are to be silent.
    """

    def __init__(self) -> None:
        self.hz = 0.0
        self.too_slow = False
        self._last_us: int | None = None
        self._over_s = 0.0
        self._frames = 0.0

    def sentence_at(self, item: Stamped) -> str | None:
        """One frame; a sentence when it has become too slow, or is quick enough again."""
        last_us, self._last_us = self._last_us, item.device_us
        if last_us is None:
            return None
        passed_s = (item.device_us - last_us) * 1e-6
        if passed_s <= 0.0 or passed_s > _PAUSE_S:
            return None
        # What comes is what counts: a frame that was skipped tells nothing.
        self._over_s += passed_s
        self._frames += 1.0
        if self._over_s < _OVER_S:
            return None
        self.hz = self._frames / self._over_s
        self._over_s = self._frames = 0.0
        if not self.too_slow and self.hz < LEAST_HZ * (1.0 - _CLEAR):
            self.too_slow = True
            return (
                f"Only {self.hz:.0f} frames a second come, and below {LEAST_HZ:.0f} no cue sounds: come closer or use "
                "the cable. The recording goes on."
            )
        if self.too_slow and self.hz >= LEAST_HZ * (1.0 - _CLEAR / 2):
            self.too_slow = False
            return f"{self.hz:.0f} frames a second come: the cues sound again."
        return None


class LateWatch:
    """Notices, once, that frames come late and go on doing so."""

    def __init__(self) -> None:
        self._since_us: int | None = None
        self._said = False

    def sentence_at(self, item: Stamped) -> str | None:
        """A sentence with the frame at which it is due."""
        if item.age_s <= _LATE_S:
            self._since_us = None
            return None
        if self._since_us is None:
            self._since_us = item.device_us
        if self._said or item.device_us - self._since_us < _LATE_FOR_S * 1e6:
            return None
        self._said = True
        return f"Frames come {item.age_s:.1f} s late: close other programs, or choose a lower frame rate."
