"""A whole recording as series in time: forces, centres, lead share and heel-toe positions of every frame.

For review and replay: what `engine.live` works out frame by frame is here worked out at once, over arrays, and zero and
footprints are found again after each step-off with all of the stand in view (`groundtone.pressure.stands`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import RIGHT, Layout
from groundtone.pressure.feet import Stance
from groundtone.pressure.stands import (
    GOLFER_N,
    NO_FOOT_N,
    NOBODY_N,
    ONE_FOOT_N,
    Stand,
    settle,
    stand_spans,
    zero_rows,
)

_BLOCK = 8192


@dataclass(frozen=True)
class Rows:
    """Frames boiled down to what the series needs: about 300 bytes a frame instead of a thousand.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
        Device time, s.
    row_n : ndarray of float32, shape (n, 2, rows)
        Force of each row of the left and right panel, N; NaN where a frame has no forces.
    across_nmm : ndarray of float32, shape (n, 2)
        Force times place across, N mm.
    """

    t_s: NDArray[np.float64]
    row_n: NDArray[np.float32]
    across_nmm: NDArray[np.float32]


@dataclass(frozen=True)
class Series:
    """Every frame of a recording; axis 0 is time, feet are in the order left, right.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
        Device time, s, rising.
    force_n : ndarray, shape (n, 2)
        Vertical force of each foot, N; NaN where a frame has none.
    u_mm, v_mm : ndarray, shape (n, 2)
        Centre of pressure in each panel; NaN where a foot carries too little for one.
    position : ndarray, shape (n, 2)
        Heel-toe position by the footprint in force, 0 heel edge to 1 toe edge; NaN without footprint or centre.
    position_u : ndarray, shape (n, 2)
        Standard uncertainty of the position that comes from the footprint's edges alone.
    share : ndarray, shape (n,)
        Lead force over total force; NaN where nobody stands.
    overall : ndarray, shape (n,)
        The feet's positions weighted by their forces; a foot without a position is left out.
    centre_mm : ndarray, shape (n, 2)
        Overall centre of pressure in the stance frame.
    weight_n : ndarray, shape (n,)
        Weight of whoever stands there; NaN where nobody does.
    lead : int
        Which foot leads, 0 left or 1 right.
    width_mm : float
        Between the panels' centres.
    strikes : tuple of (float, float)
        Device time in s and peak (0-1) of what the strike sensor heard, in order of time.
    """

    t_s: NDArray[np.float64]
    force_n: NDArray[np.float64]
    u_mm: NDArray[np.float64]
    v_mm: NDArray[np.float64]
    position: NDArray[np.float64]
    position_u: NDArray[np.float64]
    share: NDArray[np.float64]
    overall: NDArray[np.float64]
    centre_mm: NDArray[np.float64]
    weight_n: NDArray[np.float64]
    lead: int
    width_mm: float
    stands: tuple[Stand, ...] = ()
    strikes: tuple[tuple[float, float], ...] = ()

    @property
    def trail(self) -> int:
        """The foot that does not lead."""
        return 1 - self.lead

    @property
    def total_n(self) -> NDArray[np.float64]:
        """Vertical force of both feet, N, shape (n,)."""
        total: NDArray[np.float64] = self.force_n.sum(-1)
        return total


def rows_of(t_s: NDArray[np.float64], force_n: NDArray[np.float64], layout: Layout) -> Rows:
    """Boils frames down; a long recording is read in blocks and joined by `joined`.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
    force_n : ndarray, shape (n, rows, columns)
        Force of each cell, N. A cell without a value counts as nothing; a frame without any value is one without
        forces (NaN), as is an unconvincing frame that was set to NaN throughout.
    """
    n = force_n.shape[0]
    row_n = np.empty((n, 2, layout.rows), np.float32)
    across = np.empty((n, 2), np.float32)
    for begin in range(0, n, _BLOCK):
        cut = slice(begin, begin + _BLOCK)
        force, lost = force_n[cut], None
        if math.isnan(float(force.sum())):
            lost = np.isnan(force).all(axis=(-2, -1))
            force = np.nan_to_num(force)
        panels = layout.by_panel(force)
        row_n[cut] = panels.sum(-1)
        across[cut] = panels.sum(-2) @ layout.v_mm
        if lost is not None:
            row_n[cut][lost] = np.nan
            across[cut][lost] = np.nan
    return Rows(np.asarray(t_s, np.float64), row_n, across)


def joined(blocks: Iterable[Rows], count: int) -> Rows:
    """Blocks of `rows_of` in order of time, `count` frames in all, as one: an hour's are never there twice."""
    at, out = 0, None
    for part in blocks:
        if out is None:
            shape = part.row_n.shape[1:]
            out = Rows(np.empty(count), np.empty((count, *shape), np.float32), np.empty((count, shape[0]), np.float32))
        cut = slice(at, at + len(part.t_s))
        out.t_s[cut], out.row_n[cut], out.across_nmm[cut] = part.t_s, part.row_n, part.across_nmm
        at = cut.stop
    if out is None or at != count:
        raise ValueError(f"the blocks hold {at} frames, not {count}")
    return out


def series_from_rows(
    rows: Rows,
    layout: Layout,
    stance: Stance,
    *,
    shoe_mm: float | None = None,
    strikes: Iterable[tuple[float, float]] = (),
    panel: int | None = None,
    keep: bool = True,
) -> Series:
    """The series of a recording, from its frames boiled down.

    Parameters
    ----------
    rows : Rows
        Of `rows_of` or `joined`.
    shoe_mm : float, optional
        Outer length of the shoes.
    strikes : iterable of (float, float)
        Device time in s and peak of what the strike sensor heard.
    panel : int, optional
        The one that is there: the other foot's force, the share and the weight are not known (NaN), and the overall
        position and centre are those of its foot.
    keep : bool
        False: nobody needs the rows afterwards, and they are written over. An hour's are 100 MB.

    Raises
    ------
    ValueError
        Where the time does not rise or the shapes do not agree.
    """
    t_s = rows.t_s
    if rows.row_n.shape != (t_s.size, 2, layout.rows):
        raise ValueError("there must be one frame of forces for each time, in the mat's layout")
    if not np.isfinite(t_s).all() or np.any(np.diff(t_s) <= 0):
        raise ValueError("the frames' times must rise: leave out frames that came twice or out of order")
    force, u_mm, v_mm, weight, stands = _feet(rows, layout, shoe_mm, panel, keep)
    # Where the caller keeps no other name for them, an hour's rows go here.
    del rows
    position, position_u = _positions(u_mm, stands)
    share, overall, centre_mm = np.empty(t_s.size), np.empty(t_s.size), np.empty((t_s.size, 2))
    for begin in range(0, t_s.size, _BLOCK):
        cut = slice(begin, begin + _BLOCK)
        share[cut], overall[cut] = _shares(force[cut], position[cut], stance)
        centre_mm[cut] = _centres(force[cut], u_mm[cut], v_mm[cut], stance, layout)
    if panel is not None:
        force[:, 1 - panel] = np.nan
        share = np.full(t_s.size, np.nan)
    return Series(
        t_s=t_s,
        force_n=force,
        u_mm=u_mm,
        v_mm=v_mm,
        position=position,
        position_u=position_u,
        share=share,
        overall=overall,
        centre_mm=centre_mm,
        weight_n=weight,
        lead=stance.lead,
        width_mm=stance.width_mm,
        stands=stands,
        strikes=tuple(sorted((float(t), float(peak)) for t, peak in strikes)),
    )


def _feet(
    rows: Rows, layout: Layout, shoe_mm: float | None, panel: int | None, keep: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], tuple[Stand, ...]]:
    """Force and centre of each foot, the weight, and the stands."""
    nobody_n, golfer_n = (NOBODY_N, GOLFER_N) if panel is None else (NO_FOOT_N, ONE_FOOT_N)
    if panel is not None:
        rows = _only_panel(rows, panel)
    t_s = rows.t_s
    raw_total = rows.row_n.sum(axis=(-2, -1), dtype=np.float64)
    spans = stand_spans(t_s, raw_total, nobody_n, golfer_n)
    row_n, across = _zeroed(rows, raw_total, spans, layout, keep)
    stands = settle(t_s, row_n, spans, layout, shoe_mm)
    force = row_n.sum(-1, dtype=np.float64)
    weight = np.full(t_s.size, np.nan)
    # What one foot carries is no weight.
    for stand in stands if panel is None else ():
        weight[stand.begin : stand.end] = stand.weight_n
    least = np.fmax(30.0, 0.05 * weight)
    carrying = np.where(force >= least[:, None], force, np.nan)
    return force, _along(row_n, layout) / carrying, across / carrying, weight, stands


def _shares(
    force: NDArray[np.float64], position: NDArray[np.float64], stance: Stance
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lead share, and the feet's positions weighted by their forces."""
    total = force.sum(-1)
    enough = np.where(total >= NOBODY_N, total, np.nan)
    placed = np.where(np.isfinite(position), force, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        overall = np.nansum(placed * np.nan_to_num(position), -1) / placed.sum(-1)
    return force[:, stance.lead] / enough, overall


def _along(row_n: NDArray[np.float32], layout: Layout) -> NDArray[np.float64]:
    """Force times place along, N mm, shape (n, 2); in blocks, for an hour's rows are too many to be there twice."""
    out = np.empty(row_n.shape[:2])
    for begin in range(0, len(out), _BLOCK):
        cut = slice(begin, begin + _BLOCK)
        out[cut] = row_n[cut].astype(np.float64) @ layout.u_mm
    return out


def _zeroed(
    rows: Rows, raw_total: NDArray[np.float64], spans: list[tuple[int, int]], layout: Layout, keep: bool
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Forces of the rows, and those times their place across, without what the mat showed before each stand."""
    row_n = rows.row_n.copy() if spans and keep else rows.row_n
    across = rows.across_nmm.astype(np.float64)
    after = 0
    # All are found before one is taken away: what was before a stand is not to be changed by the one before it.
    zeros = []
    for begin, end in spans:
        zeros.append(zero_rows(rows.t_s, rows.row_n, raw_total, begin, after))
        after = end
    for (begin, end), zero in zip(spans, zeros, strict=True):
        row_n[begin:end] -= zero
        # What lies there spreads over the panel's middle as far as anybody knows.
        across[begin:end] -= zero.sum(-1) * layout.width_mm / 2
    return row_n, across


def _only_panel(rows: Rows, panel: int) -> Rows:
    """Rows with nothing on the panel that is not there; a frame without forces stays one."""
    row_n, across = rows.row_n.copy(), rows.across_nmm.copy()
    known = ~np.isnan(row_n[:, panel]).all(-1)
    row_n[known, 1 - panel] = 0.0
    across[known, 1 - panel] = 0.0
    return Rows(rows.t_s, row_n, across)


def _positions(u_mm: NDArray[np.float64], stands: tuple[Stand, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    position = np.full(u_mm.shape, np.nan)
    doubt = np.full(u_mm.shape, np.nan)
    for stand in stands:
        for foot in stand.settled:
            if foot.footprint is None:
                continue
            cut = slice(foot.begin, foot.end)
            length = foot.footprint.toe_mm - foot.footprint.heel_mm
            at = (u_mm[cut, foot.foot] - foot.footprint.heel_mm) / length
            position[cut, foot.foot] = at
            # Each edge moves the position by its part of the way to it.
            doubt[cut, foot.foot] = foot.edge_u_mm / length * np.hypot(1 - at, at)
    return position, doubt


def _centres(
    force_n: NDArray[np.float64],
    u_mm: NDArray[np.float64],
    v_mm: NDArray[np.float64],
    stance: Stance,
    layout: Layout,
) -> NDArray[np.float64]:
    """`groundtone.pressure.feet.overall_centre` over all frames."""
    sums = np.zeros((force_n.shape[0], 2))
    weight = np.zeros(force_n.shape[0])
    for panel in (0, 1):
        along, across = u_mm[:, panel] - layout.length_mm / 2, v_mm[:, panel] - layout.width_mm / 2
        outward = 1 if panel == RIGHT else -1
        angle = math.radians(stance.flare_deg[panel]) * outward
        right = across * math.cos(angle) + along * math.sin(angle) + outward * stance.width_mm / 2
        forward = along * math.cos(angle) - across * math.sin(angle)
        forward = forward + stance.offset_mm * (0.5 if panel == stance.lead else -0.5)
        x = right if stance.lead == RIGHT else -right
        here = np.isfinite(u_mm[:, panel])
        load = np.where(here, force_n[:, panel], 0.0)
        sums += load[:, None] * np.nan_to_num(np.stack([x, forward], axis=1))
        weight += load
    out: NDArray[np.float64] = sums / np.where(weight > 0, weight, np.nan)[:, None]
    return out
