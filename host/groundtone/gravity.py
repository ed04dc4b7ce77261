"""Local gravity from latitude and height: what a kilogram weighs where the mat stands.

Decided once: a person's weight is their mass times the standard value, everywhere in this program, and so is every
force that is shown in kilograms. Where weights and golfer share a place, gravity is a factor of every force that
cancels in every share and in every comparison with the body's own weight; and from place to place it changes by 0.5 %
at most, less than what clothes add. Local gravity goes into the weights of a bench run alone, where the set says its
place: there 0.3 % counts beside an uncertainty of 1 %, when the mat is used elsewhere.
"""

from __future__ import annotations

import math

from groundtone.errors import CalibrationError

STANDARD_GRAVITY = 9.80665
"""m/s² exactly, 3rd General Conference on Weights and Measures (1901)."""

# World Geodetic System 1984, NIMA TR8350.2, third edition (digits as hpmuseum.org lists them, thread 17495): normal
# gravity at the equator and the factor of Somigliana's formula, first eccentricity squared, semi-major axis in m,
# flattening, and the ratio m of centrifugal acceleration to gravity at the equator.
_EQUATOR, _K, _E2 = 9.7803253359, 0.001931852653, 0.00669437999014
_AXIS_M, _FLATTENING, _M = 6378137.0, 1 / 298.257223563, 0.00344978650684
# No mat stands outside this, m: the lowest shore and the highest village.
_LOWEST_M, _HIGHEST_M = -500.0, 6000.0


def local_gravity(latitude_deg: float | None = None, height_m: float = 0.0) -> float:
    """Gravity at a place, without what lies under it: within about 0.001 m/s² of the true one (from memory).

    Normal gravity on the ellipsoid by Somigliana's closed formula, then the free air above it to second order in the
    height (NIMA TR8350.2, equations 4-1 and 4-3; the same source).

    Parameters
    ----------
    latitude_deg : float, optional
        -90 to 90; without it the standard value is returned.
    height_m : float
        Above the sea, m.

    Returns
    -------
    float
        m/s².

    Raises
    ------
    CalibrationError
        Where there is no such place.

    Examples
    --------
    >>> round(local_gravity(52.5, 40.0), 4)
    9.8128
    """
    if latitude_deg is None:
        return STANDARD_GRAVITY
    if not -90 <= latitude_deg <= 90:
        raise CalibrationError(f"a latitude of {latitude_deg:g} is on no map: give degrees from -90 to 90")
    if not _LOWEST_M <= height_m <= _HIGHEST_M:
        raise CalibrationError(
            f"a height of {height_m:g} m: give metres above the sea, {_LOWEST_M:g} to {_HIGHEST_M:g}"
        )
    square = math.sin(math.radians(latitude_deg)) ** 2
    normal = _EQUATOR * (1 + _K * square) / math.sqrt(1 - _E2 * square)
    high = height_m / _AXIS_M
    return normal * (1 - 2 * (1 + _FLATTENING + _M - 2 * _FLATTENING * square) * high + 3 * high * high)
