"""When a computer cannot keep so little sound ready: how often it ran dry, and what is said when more is kept."""

from __future__ import annotations

import math

MOST_MS = 40
"""No more sound than this is kept, ms: a cue that comes later than that after its moment teaches something else."""
# So often within so long, s: once is a hiccup of the machine's.
_TIMES, _WITHIN_S = 4, 5.0


class DryWatch:
    """Counts how often the card asked later than all that it had been given lasts."""

    def __init__(self) -> None:
        self._since_s, self._before = math.inf, 0

    def often(self, now_s: float, late: int) -> bool:
        """Whether it ran dry often enough just now that more must be kept.

        Parameters
        ----------
        now_s : float
            Monotonic time, s.
        late : int
            How often it ran dry in all.
        """
        self._since_s = min(self._since_s, now_s)
        often = late - self._before >= _TIMES
        if often or now_s - self._since_s > _WITHIN_S:
            self._since_s, self._before = now_s, late
        return often


def sentence(before_ms: int, now_ms: int) -> str:
    """What a person is told."""
    return (
        f"This computer is too busy for {before_ms} ms of sound: {now_ms} ms are kept from now on, so tones come "
        f"{now_ms - before_ms} ms later. Close other programs."
    )
