"""The film that was bought, from two weights and a multimeter; and how a person's weight falls on it, simply.

The law is conductance = level · force^exponent. Two points leave the film's saturation free: beyond the heavier weight
it is an extrapolation. A foot is a rectangle, its heel one and its ball one: enough to size resistors and currents; the
proportions are invented round figures (the ball of the foot from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import BuildError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import LEFT, RIGHT, Layout

_WEIGHT_KG = (0.2, 150.0)
_RATIO = 1.5
_OHM = (20.0, 2e6)
# FSR films lie near 1 and below (FSR Integration Guide: near power law, conductance close to linear in force).
_EXPONENT = (0.3, 1.5)


@dataclass(frozen=True)
class FilmLaw:
    """One crossing with its pad.

    Attributes
    ----------
    level_s : float
        Conductance at 1 N, S.
    measured_n : (float, float)
        The two forces it was measured at, N.
    """

    level_s: float
    exponent: float
    measured_n: tuple[float, float]

    def conductance_s(self, force_n: NDArray[np.float64]) -> NDArray[np.float64]:
        """Conductance of cells under a force, S; NaN in, NaN out."""
        out: NDArray[np.float64] = self.level_s * np.asarray(force_n, dtype=np.float64) ** self.exponent
        return out

    def ohm(self, force_n: float) -> float:
        """Resistance of one cell, Ω."""
        return float(1 / (self.level_s * force_n**self.exponent))

    def force_n(self, conductance_s: float) -> float:
        """The force that gives a conductance, N."""
        return float((conductance_s / self.level_s) ** (1 / self.exponent))


def film_law(weight_kg: tuple[float, float], resistance_ohm: tuple[float, float]) -> FilmLaw:
    """The law through two measurements.

    Parameters
    ----------
    weight_kg, resistance_ohm : (float, float)
        In any order.

    Raises
    ------
    BuildError
        With one sentence, where the numbers are no such film's.
    """
    (light, at_light), (heavy, at_heavy) = sorted(zip(weight_kg, resistance_ohm, strict=True))
    if not all(_WEIGHT_KG[0] <= kg <= _WEIGHT_KG[1] for kg in (light, heavy)):
        raise BuildError(f"weights of {light:g} and {heavy:g} kg will not do: lay on {_WEIGHT_KG[0]:g} to 150 kg")
    if heavy < _RATIO * light:
        raise BuildError(
            f"{light:g} and {heavy:g} kg are too close together: the heavier must be at least {_RATIO:g} times "
            "the lighter"
        )
    for kg, ohm in ((light, at_light), (heavy, at_heavy)):
        if not _OHM[0] <= ohm <= _OHM[1]:
            raise BuildError(
                f"{ohm:g} Ω under {kg:g} kg is out of range (20 Ω to 2 MΩ): look for a short or an open strip, "
                "or choose another film"
            )
    if at_heavy >= at_light:
        raise BuildError(
            f"{at_heavy:g} Ω under {heavy:g} kg and {at_light:g} Ω under {light:g} kg: the resistance must fall with "
            "the weight; measure one crossing with its pad, ten seconds after laying the weight on"
        )
    exponent = math.log(at_light / at_heavy) / math.log(heavy / light)
    if not _EXPONENT[0] <= exponent <= _EXPONENT[1]:
        raise BuildError(
            f"the film's exponent would be {exponent:.2f}, outside 0.3 to 1.5: the pad was not on the crossing, the "
            "weight stood beside it, or this film is not for measuring force"
        )
    forces = (light * STANDARD_GRAVITY, heavy * STANDARD_GRAVITY)
    return FilmLaw(1 / at_light / forces[0] ** exponent, exponent, forces)


FOOT_MM = (270.0, 95.0)
"""Length and width of a shoe's bearing part."""
_HEEL = (0.02, 0.28)
_BALL = (0.60, 0.88)


def _overlap(begin: float, end: float, centres: NDArray[np.float64], pitch: float) -> NDArray[np.float64]:
    """Length of each cell that lies between two places, mm."""
    low, high = np.maximum(begin, centres - pitch / 2), np.minimum(end, centres + pitch / 2)
    out: NDArray[np.float64] = np.maximum(0.0, high - low)
    return out


def foot(layout: Layout, force_n: float, ball_part: float) -> NDArray[np.float64]:
    """Forces of one panel's cells under a foot that stands in its middle.

    Parameters
    ----------
    ball_part : float
        Part of the force under the ball of the foot, 0-1; the rest is under the heel.

    Returns
    -------
    ndarray, shape (rows, columns_per_panel)
        N; their sum is `force_n`.
    """
    length, width = min(FOOT_MM[0], layout.length_mm), min(FOOT_MM[1], layout.width_mm)
    start = (layout.length_mm - length) / 2
    side = (layout.width_mm - width) / 2
    across = _overlap(side, side + width, layout.v_mm, layout.column_pitch_mm)
    out = np.zeros((layout.rows, layout.columns_per_panel))
    for part, (begin, end) in ((1 - ball_part, _HEEL), (ball_part, _BALL)):
        along = _overlap(start + begin * length, start + end * length, layout.u_mm, layout.row_pitch_mm)
        area = np.outer(along, across)
        out += part * force_n * area / area.sum()
    return out


def both(layout: Layout, total_n: float, lead_part: float, ball_part: float) -> NDArray[np.float64]:
    """Forces of all cells, the left foot leading.

    Returns
    -------
    ndarray, shape (rows, columns)
        N.
    """
    feet: dict[int, NDArray[np.float64]] = {
        LEFT: foot(layout, total_n * lead_part, ball_part),
        RIGHT: foot(layout, total_n * (1 - lead_part), ball_part),
    }
    return np.hstack([feet[LEFT], feet[RIGHT]])
