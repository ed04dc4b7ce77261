"""Follows the frames of a mat until it is lost for good: one patience and one sentence for everybody."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator

from groundtone.errors import LostError
from groundtone.link.base import LOST_S, PATIENCE_S, STOPPED, Gap, Stamped
from groundtone.wire.messages import Event

SEARCH_S = 60.0
"""A link that looks for its mat by itself is given so long to find it, where nobody says otherwise."""

Item = Stamped | Event | Gap | None
"""What a link brings; None where nothing came for its patience."""


def until_lost(
    items: Iterable[Item], search_s: float = SEARCH_S, patience_s: float = PATIENCE_S, lost_s: float = LOST_S
) -> Iterator[Item]:
    """What a link brings, as long as its mat is there.

    Parameters
    ----------
    items : iterable
        As from `Link.frames(patience_s)`.
    search_s : float
        How long a link that looks for a lost mat by itself may do so, s; it may be infinite.
    patience_s : float
        Each None stands for so long a silence, s.
    lost_s : float
        A mat that sends nothing for so long is lost, s.

    Raises
    ------
    LostError
        Nothing came for `lost_s`, or the mat was not found again in time.
    """
    silent_s = 0.0
    lost: Gap | None = None
    for item in items:
        if item is None:
            silent_s += patience_s
        elif isinstance(item, Gap):
            silent_s = 0.0
            if item.lost and lost is None:
                lost = item
        elif isinstance(item, Stamped):
            # Only frames end a loss: a mat that answers and sends nothing is still lost.
            silent_s, lost = 0.0, None
        yield item
        if lost is not None and time.monotonic() - lost.at_s > search_s:
            searched = f"; it was not found again within {search_s:.0f} s" if search_s > 0 else ""
            raise LostError(f"{lost.why}{searched}")
        if lost is None and silent_s >= lost_s:
            raise LostError(STOPPED)
