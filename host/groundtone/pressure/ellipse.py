"""How steadily somebody stands: the 95 % prediction ellipse of the centre of pressure, and measures of its sway.

Ellipse: the prediction region of a bivariate normal distribution by F, which holds 95 % of further points however few
it rests on: 2 (n - 1) (n + 1) / (n (n - 2)) · F(0.95; 2, n - 2) times the scatter (Johnson and Wichern, Applied
Multivariate Statistical Analysis; Chew, Journal of the American Statistical Association 61, 1966; both from memory). Of
many points its area is π · χ²(0.95; 2) · √det Σ (Schubert and Kirchner, Gait & Posture 39, 2014). Sway: Prieto and
others, IEEE Transactions on Biomedical Engineering 43, 1996.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    10.0
    """
    known = points_mm[np.isfinite(points_mm).all(axis=1)]
    if known.shape[0] < fewest:
        return None
    size, axes = np.linalg.eigh(np.cov(known.T))
    reach = reach_95(known.shape[0])
    minor, major = (math.sqrt(reach * max(float(part), 0.0)) for part in size)
    x, y = axes[:, 1].tolist()
    angle = math.degrees(math.atan2(y, x))
    angle -= 180 * round(angle / 180)
    centre = known.mean(axis=0).tolist()
    return Ellipse((centre[0], centre[1]), major, minor, angle, math.pi * major * minor)


def reach_95(n: int) -> float:
    """Squared distance from the mean, in the scatter of n points (3 or more), within which the next lies in 95 of 100.

    F with two degrees above has a quantile in closed form: (n - 2) / 2 · (0.05 ^ (-2 / (n - 2)) - 1).

    Examples
    --------
    >>> [round(reach_95(n), 2) for n in (5, 20, 100_000)]
    [30.57, 7.88, 5.99]
    """
    return (n * n - 1) / n * (math.pow(0.05, -2.0 / (n - 2)) - 1)


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
