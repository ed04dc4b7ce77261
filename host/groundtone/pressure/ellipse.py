"""How steadily somebody stands: the 95 % prediction ellipse of the centre of pressure, and measures of its sway.

Ellipse: area = π · χ²(0.95; 2) · √det Σ (Schubert and Kirchner, Gait & Posture 39, 2014). Sway: Prieto and others,
IEEE Transactions on Biomedical Engineering 43, 1996.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CHI2_95 = -2 * math.log(0.05)
"""95 % point of chi square with two degrees of freedom, 5.991: its distribution is 1 - exp(-x/2)."""

# Fewer points than this draw no ellipse.
_FEWEST = 10


@dataclass(frozen=True)
class Ellipse:
    """The ellipse in which the next point lies with 95 % probability.

    Attributes
    ----------
    major_mm, minor_mm : float
        Half axes.
    angle_deg : float
        Of the major axis from +x towards +y, -90 to 90.
    """

    centre_mm: tuple[float, float]
    major_mm: float
    minor_mm: float
    angle_deg: float
    area_mm2: float


@dataclass(frozen=True)
class Sway:
    """Measures of sway about the mean place.

    Attributes
    ----------
    path_mm : float
        Length of the path (total excursion).
    speed_mm_s : float
        Path over time (mean velocity).
    distance_mm, rms_mm : float
        Mean and root mean square distance from the mean place.
    side_rms_mm, fore_rms_mm : float
        The same along x (side to side) and along y (heel to toe) alone.
    """

    path_mm: float
    speed_mm_s: float
    distance_mm: float
    rms_mm: float
    side_rms_mm: float
    fore_rms_mm: float


def ellipse(points_mm: NDArray[np.float64], fewest: int = _FEWEST) -> Ellipse | None:
    """The 95 % prediction ellipse of points.

    Parameters
    ----------
    points_mm : ndarray, shape (n, 2)
        Rows with NaN are left out.

    Returns
    -------
    Ellipse or None
        None for fewer points than `fewest`.

    Examples
    --------
    >>> import numpy as np
    >>> turn = np.linspace(0, 2 * np.pi, 100, endpoint=False)
    >>> round(ellipse(np.stack([np.cos(turn), np.sin(turn)], axis=1)).area_mm2, 2)
    9.51
    """
    known = points_mm[np.isfinite(points_mm).all(axis=1)]
    if known.shape[0] < fewest:
        return None
    size, axes = np.linalg.eigh(np.cov(known.T))
    minor, major = (math.sqrt(CHI2_95 * max(float(part), 0.0)) for part in size)
    x, y = axes[:, 1].tolist()
    angle = math.degrees(math.atan2(y, x))
    angle -= 180 * round(angle / 180)
    centre = known.mean(axis=0).tolist()
    return Ellipse((centre[0], centre[1]), major, minor, angle, math.pi * major * minor)


def sway(t_s: NDArray[np.float64], points_mm: NDArray[np.float64]) -> Sway | None:
    """Measures of sway.

    Parameters
    ----------
    t_s : ndarray, shape (n,), rising
    points_mm : ndarray, shape (n, 2)
        Centre of pressure. Rows with NaN are left out; the path goes straight over them.

    Returns
    -------
    Sway or None
        None for fewer than ten points.
    """
    known = np.isfinite(points_mm).all(axis=1)
    t, at = t_s[known], points_mm[known]
    if t.size < _FEWEST:
        return None
    path = float(np.hypot(*np.diff(at, axis=0).T).sum())
    off = at - at.mean(axis=0)
    distance = np.hypot(off[:, 0], off[:, 1])
    side, fore = np.sqrt((off**2).mean(axis=0)).tolist()
    return Sway(path, path / float(t[-1] - t[0]), float(distance.mean()), math.hypot(side, fore), side, fore)
