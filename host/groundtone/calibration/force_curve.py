"""Force from conductance: one curve for the film, one gain a cell.

With u = G' / (1 - G'/Gsat), G' = G - G0 and x = ln(u / 100 µS),

    ln F = level[cell] + exponent·x + bend·x² + lean[cell]·(x - lean_from)

`exponent` and `bend`, and where the data ask for them the saturation Gsat and the offset G0, belong to the film and are
pooled over all cells; `level` is the cell's own, and so is `lean`, by which its exponent differs from the others'.
Where the data say so, Gsat goes with each cell's own gain: a cell of twice the gain saturates at twice the reading. A
film that is near a power law over most of its range and saturates at high pressure is what its makers describe (FSR
Integration Guide, Interlink Electronics). Outside the range of x that was calibrated the curve goes on straight in x,
and near nothing it runs straight through the origin, so that the noise of an empty cell averages out instead of adding
up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.errors import CalibrationError

UNIT_S = 100e-6
# Below this, about 1 N on the reference film and a few times the noise, force goes straight with conductance.
STRAIGHT_S = 2e-6
# Up to this part of the saturation its formula is believed; from there on the curve keeps its slope. (At half of it the
# slope's kink kept the search from saturations below twice the highest reading.)
_BELIEVED = 0.8


@dataclass(frozen=True)
class Curves:
    """The curves of all cells of one mat; each rises everywhere.

    Attributes
    ----------
    level : ndarray, shape (rows, columns)
        ln of the force in N at x = 0. NaN marks a cell without a curve.
    x_low, x_high : float
        Calibrated range of x.
    saturation_s : float
        Conductance that the film never passes, S; infinite: none was seen. Of a cell of gain 1, where there are gains.
    offset_s : float
        Conductance of an unloaded cell, S.
    lean : ndarray, shape (rows, columns), or None
        What each cell's own exponent has over the film's; None: nothing.
    lean_from : float
        The x at which it makes no difference.
    gain : ndarray, shape (rows, columns), or None
        By how much each cell's saturation is higher; None: all have the same.

    Raises
    ------
    CalibrationError
        Where the curve would fall at one end of its range (the slope is straight in x, so nowhere else either).
    """

    level: NDArray[np.float64]
    exponent: float
    bend: float
    x_low: float
    x_high: float
    saturation_s: float = math.inf
    offset_s: float = 0.0
    lean: NDArray[np.float64] | None = None
    lean_from: float = 0.0
    gain: NDArray[np.float64] | None = None

    @property
    def saturations_s(self) -> NDArray[np.float64] | float:
        """Saturation of each cell, or of all, S."""
        return self.saturation_s if self.gain is None else self.saturation_s * self.gain

    def __post_init__(self) -> None:
        least = self.exponent + (0.0 if self.lean is None else float(np.min(self.lean)))
        ends = (least + 2 * self.bend * x for x in (self.x_low, self.x_high))
        if any(slope <= 0 for slope in ends) or self.saturation_s <= 2 * STRAIGHT_S:
            raise CalibrationError("force falls where conductance rises: weights and readings do not belong together")

    def force_n(self, conductance_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Forces of cells.

        Parameters
        ----------
        conductance_s : ndarray, shape (..., rows, columns)
            S; small negative values (noise) give small negative forces.

        Returns
        -------
        ndarray, same shape
            N. NaN in, NaN out; a cell without a curve gives NaN.
        """
        above = conductance_s - self.offset_s if self.offset_s else conductance_s
        size = np.abs(above)
        x = log_conductance(np.maximum(size, STRAIGHT_S), self.saturations_s)
        if self.bend:
            inside = np.minimum(np.maximum(x, self.x_low), self.x_high)
            slope = self.exponent + 2 * self.bend * inside
            log_force = self.level + inside * (self.exponent + self.bend * inside) + slope * (x - inside)
        else:
            log_force = self.level + self.exponent * x
        if self.lean is not None:
            log_force += self.lean * (x - self.lean_from)
        np.exp(log_force, out=log_force)
        size /= STRAIGHT_S
        log_force *= np.minimum(size, 1.0, out=size)
        force: NDArray[np.float64] = np.copysign(log_force, above)
        return force

    def conductance_of(self, force_n: float) -> NDArray[np.float64]:
        """Conductance of each cell under a force, S, shape (rows, columns); NaN where a cell has no curve."""
        above_s = np.geomspace(1e-8, 1e-2, 400)
        force = self.force_n(above_s[:, None, None] + self.offset_s + np.zeros(self.level.shape))
        columns = np.log(force).reshape(len(above_s), -1).T
        size = np.exp([np.interp(math.log(force_n), column, np.log(above_s)) for column in columns])
        out: NDArray[np.float64] = size.reshape(self.level.shape) + self.offset_s
        return out

    def x_of(self, conductance_s: NDArray[np.float64], gain: NDArray[np.float64] | float = 1.0) -> NDArray[np.float64]:
        """Logarithm x of conductances, any shape; what lies on the straight part counts as its upper end."""
        size = np.maximum(np.abs(conductance_s - self.offset_s), STRAIGHT_S)
        return log_conductance(size, self.saturation_s * gain)

    def slope(self, conductance_s: NDArray[np.float64], gain: NDArray[np.float64] | float = 1.0) -> NDArray[np.float64]:
        """Relative change of force over relative change of conductance, d ln F / d ln G, any shape; above zero.

        Of the film as a whole: what a cell's own exponent has over it is left out.

        On the straight part it is 1.
        """
        above = np.abs(conductance_s - self.offset_s)
        x = self.x_of(conductance_s, gain)
        slope = self.exponent + 2 * self.bend * np.minimum(np.maximum(x, self.x_low), self.x_high)
        free = 1 / (1 - np.minimum(above / (self.saturation_s * gain), _BELIEVED))
        # d ln F / d ln G' is turned to the conductance itself, of which the offset is a part.
        whole = np.abs(conductance_s) / np.maximum(above, STRAIGHT_S)
        out: NDArray[np.float64] = np.where(above < STRAIGHT_S, 1.0, slope * free * whole)
        return out


def log_conductance(
    above_s: NDArray[np.float64], saturation_s: NDArray[np.float64] | float = math.inf
) -> NDArray[np.float64]:
    """Logarithm x = ln(u / 100 µS) of conductances above zero, S; rises everywhere, see the module's text."""
    x: NDArray[np.float64] = np.log(above_s / UNIT_S)
    if isinstance(saturation_s, float) and math.isinf(saturation_s):
        return x
    part = above_s / saturation_s
    beyond = np.maximum(part / _BELIEVED, 1.0)
    # Beyond what is believed it goes on as steeply as there.
    out: NDArray[np.float64] = x - np.log1p(-np.minimum(part, _BELIEVED)) + np.log(beyond) * _BELIEVED / (1 - _BELIEVED)
    return out


def typical_curves(rows: int, columns: int) -> Curves:
    """The film's typical curve for every cell, for a mat that has not been calibrated (invented figures)."""
    return Curves(np.full((rows, columns), np.log(37.0)), 1.1, 0.0, np.log(0.02), np.log(5.0))
