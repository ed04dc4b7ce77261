"""The sole of a shoe as round blobs of pressure, weighted so that its centre of pressure lies where it is wanted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import GolferSpec

HEEL, MID, FORE, TOE = range(4)
H_MIN, H_MAX = 0.15, 0.90
LEAN_STEEPNESS = 4.0

# Zone, place along the sole (0 heel edge, 1 toe edge), across it (fraction of its width, inner side positive),
# standard deviation (fraction of the length), share of the load in quiet standing. All from memory or invented.
_PARENTS = (
    (HEEL, 0.125, 0.00, 0.052, 0.46),
    (MID, 0.42, -0.22, 0.045, 0.10),
    (FORE, 0.735, 0.30, 0.036, 0.12),
    (FORE, 0.755, 0.13, 0.034, 0.09),
    (FORE, 0.735, -0.03, 0.034, 0.07),
    (FORE, 0.705, -0.18, 0.034, 0.06),
    (FORE, 0.665, -0.32, 0.034, 0.05),
    (TOE, 0.930, 0.20, 0.030, 0.05),
)
_WIDTH_OF_SOLE = {"plain": 1.0, "studded": 0.95, "soft": 1.12, "arched": 0.80, "hard": 0.90}
# "arched" bears nearly nothing under the middle of the foot, so that cells there stay untouched; "hard" has edges: half
# of each blob lies in small blobs at its rim. Both invented.
_ARCH_SHARE = 0.02
_EDGE_SHARE, _EDGE_SIGMA_MM = 0.5, 3.0
_EDGES = ((0.0, 1.2), (0.0, -1.2), (1.2, 0.0), (-1.2, 0.0))
_STUD_SHARE = 0.35
_STUD_SIGMA_MM = 4.0
# Where a studded sole's points lie around each blob's centre, in its standard deviations.
_STUDS = ((0.8, 0.6), (-0.8, 0.6), (0.0, -0.9))
# By sole: points around each blob, their part of its load and their size, mm.
_POINTS = {"studded": (_STUDS, _STUD_SHARE, _STUD_SIGMA_MM), "hard": (_EDGES, _EDGE_SHARE, _EDGE_SIGMA_MM)}


@dataclass(frozen=True)
class Sole:
    """A sole's blobs. Parents carry the load; a stud is a small blob that always takes the same part of its parent.

    Attributes
    ----------
    zone : (P,) array of int
        Zone of each parent: HEEL, MID, FORE or TOE.
    base : (P,) array
        Load shares of quiet standing, sum 1.
    place : (P, 2) array
        Centre of load of each parent with its studs: along (0 to 1) and across (fraction of the width, inner positive).
    parent : (B,) array of int
        Parent of each blob.
    part : (B,) array
        Part of the parent's load that the blob carries.
    along_mm, across_mm : (B,) array
        Blob centres from the middle of the sole, towards the toe and towards the inner side.
    sigma_mm : (B,) array
        Standard deviation of each blob.
    length_mm, width_mm : float
    """

    zone: NDArray[np.intp]
    base: FloatArray
    place: FloatArray
    parent: NDArray[np.intp]
    part: FloatArray
    along_mm: FloatArray
    across_mm: FloatArray
    sigma_mm: FloatArray
    length_mm: float
    width_mm: float


def make_sole(golfer: GolferSpec) -> Sole:
    """Blobs of one golfer's sole (both feet have the same, mirrored)."""
    length, width = golfer.shoe_mm, golfer.sole_width_mm
    parent, part, along, across, sigma = [], [], [], [], []
    for i, (_, s, t, spread, _) in enumerate(_PARENTS):
        spread_mm = spread * length * _WIDTH_OF_SOLE[golfer.sole]
        centre = ((s - 0.5) * length, t * width)
        points, share, point_mm = _POINTS.get(golfer.sole, ((), 0.0, 1.0))
        parent.append(i)
        part.append(1.0 - share)
        along.append(centre[0])
        across.append(centre[1])
        sigma.append(spread_mm)
        for du, dv in points:
            parent.append(i)
            part.append(share / len(points))
            along.append(centre[0] + du * spread_mm)
            across.append(centre[1] + dv * spread_mm)
            sigma.append(point_mm)
    index, weight = np.array(parent), np.array(part)
    count = len(_PARENTS)
    base = np.array([p[4] for p in _PARENTS])
    if golfer.sole == "arched":
        base = np.where([p[0] == MID for p in _PARENTS], _ARCH_SHARE, base)
    place = np.stack(
        [
            np.bincount(index, weight * np.array(along), count) / length + 0.5,
            np.bincount(index, weight * np.array(across), count) / width,
        ],
        axis=1,
    )
    return Sole(
        zone=np.array([p[0] for p in _PARENTS]),
        base=base / base.sum(),
        place=place,
        parent=index,
        part=weight,
        along_mm=np.array(along),
        across_mm=np.array(across),
        sigma_mm=np.array(sigma),
        length_mm=length,
        width_mm=width,
    )


def blob_weights(sole: Sole, heel_toe: FloatArray, lean: FloatArray) -> FloatArray:
    """Load shares of the parents that put the centre of pressure exactly at the wanted place along the sole.

    The shares of quiet standing are tilted by an exponential along and across the sole. So they are positive, smooth in
    both arguments, and the tilt along is the unique solution of one monotone equation (bracketed Newton steps).

    Parameters
    ----------
    sole : Sole
    heel_toe : (n,) array
        Wanted place of the centre of pressure, 0 heel edge to 1 toe edge; between 0.15 and 0.90.
    lean : (n,) array
        -1 leans to the outer edge, +1 to the inner one.

    Returns
    -------
    (n, P) array
        Shares, sum 1.

    Raises
    ------
    ValueError
        When a wanted place lies outside 0.15 to 0.90.
    """
    wanted = np.asarray(heel_toe, dtype=np.float64)
    if wanted.size and not (np.nanmin(wanted) >= H_MIN - 1e-9 and np.nanmax(wanted) <= H_MAX + 1e-9):
        raise ValueError(f"the heel-toe position must lie between {H_MIN} and {H_MAX}")
    s, t = sole.place[:, 0], sole.place[:, 1]
    fixed = np.log(sole.base) + LEAN_STEEPNESS * np.asarray(lean)[:, None] * t
    low, high = np.full(wanted.shape, -90.0), np.full(wanted.shape, 90.0)
    tilt = np.zeros_like(wanted)
    shares = np.empty((wanted.size, s.size))
    for _ in range(60):
        exponent = fixed + tilt[:, None] * s
        shares = np.exp(exponent - exponent.max(axis=1, keepdims=True))
        shares /= shares.sum(axis=1, keepdims=True)
        error = shares @ s - wanted
        if np.abs(error).max(initial=0.0) < 1e-13:
            break
        slope = shares @ (s * s) - (error + wanted) ** 2
        low = np.where(error < 0.0, tilt, low)
        high = np.where(error > 0.0, tilt, high)
        step = tilt - error / np.maximum(slope, 1e-12)
        tilt = np.where((step > low) & (step < high), step, 0.5 * (low + high))
    return shares
