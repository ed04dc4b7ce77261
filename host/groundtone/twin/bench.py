"""Patches of known load on known cells: the puck of the bench, a pressing finger, a weight on a panel's mark."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import repeat

import numpy as np

from groundtone.twin.mechanics import cell_rectangles
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Bench, Cell, MatSpec, Press

RAMP_S = 0.08


@dataclass(frozen=True)
class Placement:
    """One load on one cell (row, column): `load_n` from `on_s` to `off_s`; `offset_mm` is how far off centre (u, v).

    `contact` is what part of the load the film gets as if through a perfect contact.
    """

    cell: Cell
    load_n: float
    on_s: float
    off_s: float
    offset_mm: tuple[float, float]
    size_mm: tuple[float, float]
    hand_s: float = RAMP_S
    contact: float = 1.0


def placements(mat: MatSpec, act: Bench | Press) -> tuple[Placement, ...]:
    """All placements of an act, in order of time.

    Loads that follow a heavier one come without a gap and with the same offset: the puck stays where it lies.
    """
    if isinstance(act, Bench) and act.plan is not None:
        return _planned(act)
    cells = act.cells
    if cells is None:
        cells = tuple((row, column) for column in range(mat.columns) for row in range(mat.rows))
    loads: tuple[float, ...]
    if isinstance(act, Press):
        loads, size, spread, hand = (act.force_n,), act.finger_mm, 0.0, RAMP_S
        rng = np.random.default_rng(0)
    else:
        loads, size, spread, hand = act.loads_n, act.puck_mm, _spread(act), act.hand_s
        rng = np.random.default_rng([act.seed, 40])
    out = []
    now = act.lead_in_s
    offset, contact = (0.0, 0.0), 1.0
    contacts = _contacts(act)
    for cell in cells:
        for i, load in enumerate(loads):
            if i == 0 or load >= loads[i - 1]:
                draw = spread * rng.standard_normal(2)
                offset = (float(draw[0] * size[0]), float(draw[1] * size[1]))
                contact = next(contacts)
            off = now + act.on_s
            out.append(Placement(cell, load, now, off, offset, size, hand, contact))
            lighter_next = i + 1 < len(loads) and loads[i + 1] < load
            now = off if lighter_next else off + act.off_s
    return tuple(out)


def _spread(act: Bench) -> float:
    """Standard deviation of the puck's offset, part of its own size on each axis."""
    # A mean |offset| of half the repeatability on each axis; the mean of |normal| is 0.798 of its deviation.
    return act.repeatability / 2.0 / 0.798


def _contacts(act: Bench | Press) -> Iterator[float]:
    """What part of its load the film gets, placement by placement."""
    if isinstance(act, Press) or act.scatter == 0.0:
        yield from repeat(1.0)
        return
    rng = np.random.default_rng([act.seed, 41])
    while True:
        yield float(np.exp(act.scatter * rng.standard_normal()))


def _planned(act: Bench) -> tuple[Placement, ...]:
    """What the helper of a plan does, in order of time."""
    assert act.plan is not None
    rng = np.random.default_rng([act.seed, 40])
    out: list[Placement] = []
    now = max(act.lead_in_s, act.foot_s + 1.0 if act.foot_s else 0.0)
    contacts = _contacts(act)
    for put in act.plan:
        stays = put.stay and bool(out)
        if out and not stays:
            now += act.off_s if put.wait_s is None else put.wait_s
        offset = out[-1].offset_mm if stays else (0.0, 0.0)
        if put.offset_mm is not None:
            offset = put.offset_mm
        elif not stays:
            draw = _spread(act) * rng.standard_normal(2)
            offset = (float(draw[0] * act.puck_mm[0]), float(draw[1] * act.puck_mm[1]))
        contact = out[-1].contact if stays else next(contacts)
        off = now + (act.on_s if put.hold_s is None else put.hold_s)
        out.append(Placement(put.cell, put.load_n, now, off, offset, act.puck_mm, act.hand_s, contact))
        now = off
    return tuple(out)


def patch_shares(mat: MatSpec, centre_mm: tuple[float, float], size_mm: tuple[float, float]) -> FloatArray:
    """Share of an evenly loaded rectangle on each cell of one panel: (rows, columns of the panel).

    The puck is stiff: the cover does not spread its edge. Rectangles that lie beside the active area lose that part.
    """
    low, high = cell_rectangles(mat)
    middle, half = np.array(centre_mm), np.array(size_mm) / 2.0
    overlap = np.minimum(high, middle + half) - np.maximum(low, middle - half)
    share = np.prod(np.maximum(overlap, 0.0), axis=1) / (size_mm[0] * size_mm[1])
    out: FloatArray = share.reshape(mat.rows, mat.columns_per_panel)
    return out


def ramp(t_s: FloatArray, on_s: float, off_s: float) -> FloatArray:
    """1 between `on_s` and `off_s`, with half-cosine flanks of 80 ms inside."""
    rise = np.clip((t_s - on_s) / RAMP_S, 0.0, 1.0)
    fall = np.clip((off_s - t_s) / RAMP_S, 0.0, 1.0)
    out: FloatArray = 0.25 * (1.0 - np.cos(np.pi * rise)) * (1.0 - np.cos(np.pi * fall))
    return out


def stacked_level(t_s: FloatArray, plan: tuple[Placement, ...], index: int) -> FloatArray:
    """Load of placement `index` in time, N: with flanks, and straight over to the next where that one is lighter."""
    own = plan[index]
    joined_before = index > 0 and plan[index - 1].off_s == own.on_s
    joined_after = index + 1 < len(plan) and plan[index + 1].on_s == own.off_s
    level = np.where((t_s >= own.on_s) & (t_s < own.off_s), own.load_n, 0.0)
    if joined_before:
        step = np.clip((t_s - own.on_s) / own.hand_s, 0.0, 1.0)
        more = (plan[index - 1].load_n - own.load_n) * 0.5 * (1.0 + np.cos(np.pi * step))
        level = np.where(level > 0.0, level + more, 0.0)
    else:
        level = level * 0.5 * (1.0 - np.cos(np.pi * np.clip((t_s - own.on_s) / own.hand_s, 0.0, 1.0)))
    if not joined_after:
        level = level * 0.5 * (1.0 - np.cos(np.pi * np.clip((own.off_s - t_s) / own.hand_s, 0.0, 1.0)))
    return level
