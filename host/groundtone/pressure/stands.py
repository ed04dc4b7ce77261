"""When somebody stands on the mat, and where each foot came down: stands, and their settled feet with their prints.

Zero-phase: it looks at the whole recording at once. A foot that was lifted may come down elsewhere, so it is looked for
again; what a stand cannot show (nobody rocks after every ball) is taken over from the same golfer's other stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import Layout
from groundtone.pressure.footprint import Footprint, edges

# Nobody is on the mat below this; a golfer weighs 25 kg or more, and what is lighter is a thing that lies there.
NOBODY_N = 60.0
GOLFER_N = 200.0
# The same under one foot, where one panel alone is there.
NO_FOOT_N, ONE_FOOT_N = 30.0, 80.0
# An empty mat for this long ends a stand; frames missing for this long do too.
AWAY_S = 0.4
MISSING_S = 1.0
# Shorter visits are no stand.
LEAST_STAND_S = 1.0
# A foot that carries less than this part of the weight (or this many N) for this long is lifted and may come down
# elsewhere. The least leaves room for what the film keeps of a load that has gone.
LIFTED, LIFTED_N, LIFTED_S = 0.03, 15.0, 0.1
# A settled foot shorter than this shows nothing of its own.
LEAST_SETTLED_S = 1.0
# Rows that are looked at at once.
_BLOCK = 8192
# The print is read off frames whose total is this near the weight: a swing presses more and elsewhere.
QUIET = 0.15
# The centre must have moved over this part of a print for it to have shown both ends (as in `footprint`).
ROCKED = 0.40
# Standard uncertainty of a print's edges, mm: after a rock; with the length taken over; without either (on the twin).
EDGE_U_MM, TAKEN_OVER_U_MM, UNSURE_U_MM = 5.0, 7.0, 14.0
# Another golfer stands there when the weight differs by this part.
OTHER_GOLFER = 0.12
# How long before a stand the empty mat's reading is taken for zero, s.
ZERO_S = 1.0


@dataclass(frozen=True)
class Settled:
    """One foot from coming down to being lifted.

    Attributes
    ----------
    foot : int
        0 left, 1 right.
    begin, end : int
        Frames, end not included.
    footprint : Footprint or None
        None where nothing can be said.
    edge_u_mm : float
        Standard uncertainty of its edges.
    source : str
        "rock", "length taken over", "shoe" or "unsure".
    """

    foot: int
    begin: int
    end: int
    footprint: Footprint | None
    edge_u_mm: float
    source: str


@dataclass(frozen=True)
class Stand:
    """One golfer from stepping on to stepping off.

    Attributes
    ----------
    begin_s, end_s : float
        First and last load, device time.
    footprints : (Footprint or None, Footprint or None)
        Left and right; where a foot came down more than once, where it stood longest.
    weight_n : float
        Median of the total.
    begin, end : int
        Frames, end not included.
    settled : tuple of Settled
        Each foot's places, in order of time.
    """

    begin_s: float
    end_s: float
    footprints: tuple[Footprint | None, Footprint | None]
    weight_n: float
    begin: int
    end: int
    settled: tuple[Settled, ...]


def runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Begin and end (not included) of each run of True."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edge[::2], edge[1::2], strict=True)]


def stand_spans(
    t_s: NDArray[np.float64], total_n: NDArray[np.float64], nobody_n: float = NOBODY_N, golfer_n: float = GOLFER_N
) -> list[tuple[int, int]]:
    """Frames of each stand: begin and end (not included).

    Parameters
    ----------
    t_s : ndarray, shape (n,), rising
    total_n : ndarray, shape (n,)
        NaN (a frame without forces) belongs to what it lies in.
    nobody_n, golfer_n : float
        Nobody is there below the first; who stands there brings the second in the median.
    """
    if not t_s.size:
        return []
    known = np.flatnonzero(np.isfinite(total_n))
    if not known.size:
        return []
    before = np.clip(np.searchsorted(known, np.arange(t_s.size), side="right") - 1, 0, None)
    occupied = total_n[known[before]] >= nobody_n
    gone = np.diff(t_s, prepend=t_s[0]) > MISSING_S
    spans: list[list[int]] = []
    for begin, end in runs(occupied):
        cuts = [begin, *(begin + np.flatnonzero(gone[begin:end])).tolist(), end]
        for low, high in pairwise(cuts):
            if high <= low:
                continue
            joined = spans and not gone[low] and t_s[low] - t_s[spans[-1][1] - 1] < AWAY_S
            if joined:
                spans[-1][1] = high
            else:
                spans.append([low, high])
    return [
        (low, high)
        for low, high in spans
        if t_s[high - 1] - t_s[low] >= LEAST_STAND_S and np.nanmedian(total_n[low:high]) >= golfer_n
    ]


def zero_rows(t_s: NDArray[np.float64], row_n: NDArray[np.float32], total_n: NDArray[np.float64], begin: int,
              after: int) -> NDArray[np.float32]:  # fmt: skip
    """What the rows read on the empty mat just before a stand, N, shape (2, rows); nothing where it was not empty.

    Parameters
    ----------
    t_s, row_n, total_n
        As in `settle`.
    begin : int
        First frame of the stand.
    after : int
        First frame after the stand before it.
    """
    first = max(after, int(np.searchsorted(t_s, t_s[begin] - ZERO_S)))
    last = max(first, int(np.searchsorted(t_s, t_s[begin] - 0.05)))
    empty = row_n[first:last][np.isfinite(total_n[first:last]) & (total_n[first:last] < NOBODY_N / 2)]
    if empty.shape[0] < 20:
        return np.zeros(row_n.shape[1:], np.float32)
    middle: NDArray[np.float32] = np.median(empty, axis=0).astype(np.float32)
    return middle


def settle(
    t_s: NDArray[np.float64],
    row_n: NDArray[np.float32],
    spans: list[tuple[int, int]],
    layout: Layout,
    shoe_mm: float | None,
) -> tuple[Stand, ...]:
    """Stands with their weights and footprints.

    Parameters
    ----------
    t_s : ndarray, shape (n,), rising
    row_n : ndarray, shape (n, 2, rows)
        Force of each row of each panel, N; NaN where a frame has none.
    spans : list of (int, int)
        From `stand_spans`.
    """
    shown = [_shown(t_s, row_n, begin, end, layout, shoe_mm) for begin, end in spans]
    out = []
    for (begin, end), (weight, feet) in zip(spans, shown, strict=True):
        # Whose length may be taken over: a rocked print of somebody of this weight, nearest in time.
        known = [
            (abs(other_begin - begin), foot.foot, foot.footprint)
            for (other_begin, _), (other, others) in zip(spans, shown, strict=True)
            if abs(other - weight) <= OTHER_GOLFER * weight
            for foot in others
            if foot.source == "rock" and foot.footprint is not None
        ]
        settled = tuple(_completed(foot, known, shoe_mm) for foot in feet)
        out.append(Stand(
            float(t_s[begin]), float(t_s[end - 1]), (_longest(settled, 0), _longest(settled, 1)), weight, begin, end,
            settled,
        ))  # fmt: skip
    return tuple(out)


def _shown(
    t_s: NDArray[np.float64],
    row_n: NDArray[np.float32],
    begin: int,
    end: int,
    layout: Layout,
    shoe_mm: float | None,
) -> tuple[float, list[Settled]]:
    """Weight, and each foot's places with what they show by themselves."""
    force = row_n[begin:end].sum(-1)
    total = force.sum(-1)
    weight = float(np.nanmedian(total))
    least = max(LIFTED_N, LIFTED * weight)
    quiet = np.abs(total - weight) <= QUIET * weight
    out = []
    for foot in (0, 1):
        down = ~(force[:, foot] < least)
        for low, high in runs(~down):
            if t_s[begin + high - 1] - t_s[begin + low] < LIFTED_S:
                down[low:high] = True
        for low, high in runs(down):
            if t_s[begin + high - 1] - t_s[begin + low] < LEAST_SETTLED_S:
                continue
            seen = quiet[low:high] & (force[low:high, foot] >= 2 * least)
            rows = row_n[begin + low : begin + high, foot]
            out.append(_place(foot, begin + low, begin + high, rows, seen, layout, shoe_mm))
    return weight, sorted(out, key=lambda settled: settled.begin)


def _place(
    foot: int,
    begin: int,
    end: int,
    rows: NDArray[np.float32],
    seen: NDArray[np.bool_],
    layout: Layout,
    shoe_mm: float | None,
) -> Settled:
    nothing = Settled(foot, begin, end, None, float("nan"), "unsure")
    if np.count_nonzero(seen) < 20:
        return nothing

    # In blocks: who stands there for an hour shows more rows than are to be there twice.
    def blocks() -> Iterator[NDArray[np.float32]]:
        for at in range(0, len(rows), _BLOCK):
            yield rows[at : at + _BLOCK][seen[at : at + _BLOCK]]

    highest = np.max([block.max(0) for block in blocks() if len(block)], axis=0)
    mark = edges(highest.astype(np.float64), layout, shoe_mm)
    if mark is None:
        return nothing
    u_mm = np.concatenate([block @ layout.u_mm / block.sum(-1) for block in blocks()])
    low, high = np.percentile(u_mm, [0.5, 99.5])
    rocked = high - low >= ROCKED * (mark.toe_mm - mark.heel_mm)
    return Settled(foot, begin, end, mark, EDGE_U_MM if rocked else UNSURE_U_MM, "rock" if rocked else "unsure")


def _completed(foot: Settled, known: list[tuple[int, int, Footprint]], shoe_mm: float | None) -> Settled:
    """A foot that was not rocked: its heel edge is its own, its length is the shoe's or that of a rocked print."""
    if foot.source == "rock" or foot.footprint is None:
        return foot
    heel = foot.footprint.heel_mm
    if shoe_mm is not None:
        # `edges` has set the length about the middle; that middle is what this foot shows.
        return Settled(foot.foot, foot.begin, foot.end, foot.footprint, TAKEN_OVER_U_MM, "shoe")
    if not known:
        return foot
    # The same foot first, then the nearest in time: both shoes have one length.
    _, _, mark = min(known, key=lambda item: (item[1] != foot.foot, item[0]))
    print_ = Footprint(heel, heel + mark.toe_mm - mark.heel_mm)
    return Settled(foot.foot, foot.begin, foot.end, print_, TAKEN_OVER_U_MM, "length taken over")


def _longest(settled: tuple[Settled, ...], foot: int) -> Footprint | None:
    known = [s for s in settled if s.foot == foot and s.footprint is not None]
    return max(known, key=lambda s: s.end - s.begin).footprint if known else None
