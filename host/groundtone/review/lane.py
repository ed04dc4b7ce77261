"""The lane of a swing as data: two ribbons over time with events, bands and cues; whoever draws one draws this."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundtone.cue.bands import Bands
from groundtone.record.reader import Recording

Array = NDArray[np.float64]
Band = tuple[float, float, float, float]  # from time, to time, low, high
Cue = tuple[float, float, str]  # from time, to time, name
BEFORE_S, AFTER_S = 1.4, 1.5
"""How much of a swing at full speed is drawn, s from impact."""
EVENT_WORDS = {
    "takeaway": "takeaway",
    "turn": "turn of pressure",
    "top": "top (estimate)",
    "impact": "impact",
    "finish": "finish",
}
# A top this close to the turn of pressure is the same to the eye, s.
_SAME_S = 0.02


class Ribbons(Protocol):
    """What is measured in every frame: device time, s; lead share and overall heel-toe position, 0-1."""

    @property
    def t_s(self) -> Array: ...  # noqa: D102
    @property
    def share(self) -> Array: ...  # noqa: D102
    @property
    def overall(self) -> Array: ...  # noqa: D102


@dataclass(frozen=True)
class Lane:
    """One swing to draw.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
        Time, s, rising; 0 at impact (else at the turn).
    share, overall : ndarray, shape (n,)
        Lead share and overall heel-toe position, 0-1; NaN leaves a gap.
    events : tuple of (float, str)
        Time, s, and name (see `EVENT_WORDS`) of each event, in order.
    limits : mapping of str to sequence of Band
        For "share" and "overall"; an open side is minus or plus infinity.
    cues : tuple of Cue
        What sounded.
    """

    t_s: Array
    share: Array
    overall: Array
    events: tuple[tuple[float, str], ...]
    limits: Mapping[str, Sequence[Band]]
    cues: tuple[Cue, ...] = ()
    title: str = ""

    def out(self, ribbon: str) -> NDArray[np.bool_]:
        """Where a ribbon has left its bands, shape (n,)."""
        return outside(self.t_s, getattr(self, ribbon), self.limits.get(ribbon, ()))


def lane_of(
    moments: Mapping[str, float],
    series: Ribbons,
    bands: Bands,
    heard: Iterable[tuple[str, float, float]],
    *,
    zero_s: float,
    span_s: tuple[float, float] = (BEFORE_S, AFTER_S),
    slow: float = 1.0,
    title: str = "",
) -> Lane:
    """The lane of a swing.

    Parameters
    ----------
    moments : mapping of str to float
        Device time, s, of the events that are known, by name.
    series : Ribbons
        Of the session, or of a piece of it around the swing.
    bands : Bands
        In force.
    heard : iterable of (str, float, float)
        Cue, from and to, device time, s.
    zero_s : float
        Device time that the lane counts from.
    span_s : (float, float)
        How much before and after is shown, s.
    slow : float
        How many times slower than a full swing: limits in time stretch with it.
    """
    before, after = span_s
    cut = slice(*np.searchsorted(series.t_s, [zero_s - before, zero_s + after]))
    turn = moments.get("turn", math.nan) - zero_s
    at = {name: when - zero_s for name, when in moments.items() if name in EVENT_WORDS}
    if at.get("top", math.inf) <= turn + _SAME_S:
        del at["top"]
    turned = 0.0 if math.isnan(turn) else turn
    return Lane(
        series.t_s[cut] - zero_s, series.share[cut], series.overall[cut],
        tuple(sorted((when, name) for name, when in at.items() if -before <= when <= after)),
        limits(bands, turned, (before, after), slow, at.get("takeaway", math.nan)),
        tuple(
            (max(begin - zero_s, -before), min(end - zero_s, after), cue) for cue, begin, end in heard
            if end - zero_s > -before and begin - zero_s < after
        ),
        title,
    )  # fmt: skip


def limits(
    bands: Bands,
    turn_s: float,
    span_s: tuple[float, float] = (BEFORE_S, AFTER_S),
    slow: float = 1.0,
    takeaway_s: float = math.nan,
) -> dict[str, tuple[Band, ...]]:
    """The bands of a lane: the trail side's after the turn, the toes' at setup, up to the turn and after it."""
    before, after = span_s
    begun = turn_s if math.isnan(takeaway_s) else min(max(takeaway_s, -before), turn_s)
    return {
        "share": ((min(turn_s + bands.dwell_trail_s * slow, after), after, bands.trail, math.inf),),
        "overall": (
            (-before, begun, -math.inf, bands.toes_setup),
            (begun, turn_s, -math.inf, bands.toes_before),
            (turn_s, after, -math.inf, bands.toes_after),
        ),
    }


def heard_in(recording: Recording) -> list[tuple[str, float, float]]:
    """Cues that sounded in a recording: name, from and to, s of device time."""
    out: list[tuple[str, float, float]] = []
    begun: dict[str, float] = {}
    for entry in recording.heard:
        cue, at = str(entry.table.get("sound")), float(entry.table.get("device_us") or 0) * 1e-6
        if entry.table.get("size") is None:
            # A signal: on, and over by itself.
            continue
        if entry.table.get("on"):
            begun.setdefault(cue, at)
        elif cue in begun:
            out.append((cue, begun.pop(cue), at))
    return out


def outside(t_s: ArrayLike, values: ArrayLike, bands: Sequence[Band]) -> NDArray[np.bool_]:
    """Tell where a ribbon has left its bands.

    Parameters
    ----------
    t_s, values : array_like, shape (n,)
        Time, s, and the ribbon.
    bands : sequence of (float, float, float, float)
        From time, to time, low, high. Where no band is set nothing can be left, and NaN is never outside.

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> outside([0.0, 1.0, 2.0], [0.5, 0.9, 0.9], [(0.0, 1.5, 0.4, 0.6)]).tolist()
    [False, True, False]
    """
    t, x = np.asarray(t_s, dtype=np.float64), np.asarray(values, dtype=np.float64)
    out = np.zeros(t.shape, dtype=np.bool_)
    for start, end, low, high in bands:
        out |= (t >= start) & (t <= end) & ((x < low) | (x > high))
    return out


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move heights apart until no two are closer than a gap, each as little as may be.

    Parameters
    ----------
    wanted : sequence of float
        Heights, rising.
    gap : float
        Least distance between neighbours.
    low, high : float
        Limits. Where there is too little room for the gap, the heights are spread evenly over it.

    Returns
    -------
    list of float
        As many heights, in the same order.

    Examples
    --------
    >>> spread([1.0, 1.0], 0.5, 0.0, 10.0)
    [0.75, 1.25]
    """
    n = len(wanted)
    if n == 0:
        return []
    step = min(gap, (high - low) / (n - 1)) if n > 1 else gap
    # Without the steps the task is a rising sequence close to a given one: neighbours that clash share their mean.
    groups: list[tuple[float, int]] = []
    for i, height in enumerate(wanted):
        groups.append((height - i * step, 1))
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            (a, na), (b, nb) = groups[-2:]
            groups[-2:] = [((a * na + b * nb) / (na + nb), na + nb)]
    flat = [mean for mean, count in groups for _ in range(count)]
    top = high - (n - 1) * step
    return [min(max(base, low), top) + i * step for i, base in enumerate(flat)]
