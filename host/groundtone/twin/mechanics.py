"""From soles to cells: where each foot stands, how much of its load each cell takes and what the film gets of it."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import erf

from groundtone.twin.footprint import FORE, HEEL, MID, TOE, Sole
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import GolferSpec, MatSpec

CROSSING_MM = (10.0, 12.0)
# Without pads, strips and film stand a little proud: the cover hands a crossing more than its area (invented), and
# how much differs from crossing to crossing.
GATHER, GATHER_SPREAD = 2.0, 0.15
BEND_LOSS, BEND_PINCH = 0.3, 0.01  # invented: what a fully bending base keeps from the film, and adds by pinching it


@dataclass(frozen=True)
class Stand:
    """How one foot stands in its panel.

    Attributes
    ----------
    centre_mm : (u, v)
        Middle of the sole in the panel's frame.
    turn_deg : float
        Foot against the panel's axis, toes outwards positive.
    inner : float
        +1 where the foot's inner side points to larger v (the left foot), else -1.
    """

    centre_mm: tuple[float, float]
    turn_deg: float
    inner: float

    def to_panel(self, along_mm: FloatArray, across_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Points of the sole (from its middle, towards toe and inner side) in the panel's frame: u and v, mm."""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        u = self.centre_mm[0] + along_mm * c + across_mm * s
        v = self.centre_mm[1] + self.inner * (across_mm * c - along_mm * s)
        return u, v


def draw_stands(mat: MatSpec, golfer: GolferSpec, seed: int, count: int) -> tuple[tuple[Stand, ...], tuple[Stand, ...]]:
    """Draw `count` placements of the left and of the right foot.

    A foot stands within 6 mm of the middle of its panel's length (less where the shoe leaves less room) and 4 mm of
    its width, turned by up to 3 degrees.
    """
    rng = np.random.default_rng([seed, 30])
    room = min(6.0, max(0.0, (mat.panel_length_mm - golfer.shoe_mm) / 2.0 - 1.0))
    feet = []
    for inner in (1.0, -1.0):
        stands = []
        for _ in range(count):
            du, dv, turn = rng.uniform(-1.0, 1.0, 3)
            centre = (mat.panel_length_mm / 2.0 + room * du, mat.panel_width_mm / 2.0 + 4.0 * dv)
            stands.append(Stand(centre, 3.0 * float(turn), inner))
        feet.append(tuple(stands))
    return feet[0], feet[1]


def shoe_ratios(mat: MatSpec, seed: int) -> FloatArray:
    """What the film gets of a shoe's load, by foot and zone (heel, mid, fore, toe): (2, 4), uniform in 1 ± span."""
    rng = np.random.default_rng([mat.seed, seed, 31])
    out: FloatArray = 1.0 + mat.shoe_ratio_span * rng.uniform(-1.0, 1.0, (2, len((HEEL, MID, FORE, TOE))))
    return out


def rectangle_share(
    centre_mm: tuple[FloatArray, FloatArray], sigma_mm: FloatArray, low_mm: FloatArray, high_mm: FloatArray
) -> FloatArray:
    """Exact share of round Gaussian blobs inside rectangles.

    Parameters
    ----------
    centre_mm : (u, v), each (B,)
        Blob centres.
    sigma_mm : (B,) array
        Blob standard deviations.
    low_mm, high_mm : (N, 2) array
        Rectangles' lower and upper corner (u, v).

    Returns
    -------
    (B, N) array
        Shares: one product of differences of error functions each.
    """
    out = np.ones((sigma_mm.size, low_mm.shape[0]))
    scale = (sigma_mm * math.sqrt(2.0))[:, None]
    for axis, middle in enumerate(centre_mm):
        upper = erf((high_mm[:, axis] - middle[:, None]) / scale)
        lower = erf((low_mm[:, axis] - middle[:, None]) / scale)
        out *= 0.5 * (upper - lower)
    return out


def cell_rectangles(mat: MatSpec) -> tuple[FloatArray, FloatArray]:
    """Lower and upper corner (u, v) of one panel's cells, mm, (rows · columns of the panel, 2), row by row."""
    k, j = np.divmod(np.arange(mat.rows * mat.columns_per_panel), mat.columns_per_panel)
    low = np.stack([k * mat.row_pitch_mm, j * mat.column_pitch_mm], axis=1)
    return low, low + np.array([mat.row_pitch_mm, mat.column_pitch_mm])


def foot_matrix(mat: MatSpec, sole: Sole, stand: Stand) -> FloatArray:
    """Share of each parent blob's load that each cell of the panel takes on its whole area.

    Parameters
    ----------
    mat : MatSpec
    sole : Sole
    stand : Stand

    Returns
    -------
    (P, rows · columns of the panel) array
        Rows add up to less than 1 where load falls outside the active area.
    """
    low, high = cell_rectangles(mat)
    return _gathered(mat, sole, stand, low, high)


def crossing_matrix(mat: MatSpec, sole: Sole, stand: Stand) -> FloatArray:
    """As `foot_matrix`, but only what falls on each crossing of strips (10 × 12 mm in the middle of the cell)."""
    low, high = cell_rectangles(mat)
    middle, half = (low + high) / 2.0, np.array(CROSSING_MM) / 2.0
    return _gathered(mat, sole, stand, middle - half, middle + half)


def _gathered(mat: MatSpec, sole: Sole, stand: Stand, low: FloatArray, high: FloatArray) -> FloatArray:
    """Blobs, widened by the cover, over rectangles, added up by parent."""
    centre = stand.to_panel(sole.along_mm, sole.across_mm)
    sigma = np.hypot(sole.sigma_mm, mat.cover_blur_mm)
    shares = rectangle_share(centre, sigma, low, high) * sole.part[:, None]
    out = np.zeros((sole.base.size, low.shape[0]))
    np.add.at(out, sole.parent, shares)
    return out


def film_matrix(mat: MatSpec, sole: Sole, stand: Stand, ratios: FloatArray) -> FloatArray:
    """Share of each parent blob's load that goes through each crossing's film.

    With pads it is the whole cell's load times the shoe's ratio of the zone; without them what the crossing gathers.

    Parameters
    ----------
    mat : MatSpec
    sole : Sole
    stand : Stand
    ratios : (4,) array
        This foot's row of `shoe_ratios`.

    Returns
    -------
    (P, rows · columns of the panel) array
    """
    if mat.pads:
        shares = foot_matrix(mat, sole, stand)
    else:
        panel = 0 if stand.inner > 0.0 else 1
        shares = crossing_matrix(mat, sole, stand) * crossing_gather(mat)[:, panel].ravel()
    out: FloatArray = shares * ratios[sole.zone][:, None]
    return out


def crossing_gather(mat: MatSpec) -> FloatArray:
    """How much more than its area's load a crossing without a pad takes: (rows, 2 panels, columns of a panel)."""
    rng = np.random.default_rng([mat.seed, 32])
    shape = (mat.rows, 2, mat.columns_per_panel)
    return GATHER * np.exp(GATHER_SPREAD * rng.standard_normal(shape))


def bend(mat: MatSpec, force_n: FloatArray) -> FloatArray:
    """What a base that bends makes of the film's forces.

    It keeps some load from the film, here more and there less, and pinches the film between the feet's supports by a
    part of the panel's load. A stiff base changes nothing.

    Parameters
    ----------
    mat : MatSpec
    force_n : (n, R, C) array
        N.

    Returns
    -------
    (n, R, C) array
        N.
    """
    if mat.bending_base == 0.0:
        return force_n
    rng = np.random.default_rng([mat.seed, 33])
    kept = 1.0 - mat.bending_base * BEND_LOSS * rng.uniform(0.0, 1.0, force_n.shape[1:])
    pinch = mat.bending_base * BEND_PINCH * np.sin(np.pi * (np.arange(mat.rows) + 0.5) / mat.rows)
    half = mat.columns_per_panel
    panel = np.stack([force_n[:, :, :half].sum(axis=(1, 2)), force_n[:, :, half:].sum(axis=(1, 2))], axis=1)
    out: FloatArray = force_n * kept + pinch[:, None] * np.repeat(panel, half, axis=1)[:, None, :]
    return out
