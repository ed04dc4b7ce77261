"""What the shoes' factors do to a foot of which only force and centre are known.

The factors belong to cells. A foot whose cells nobody sees has one factor and one shift, which depend on where along it
the pressure lies: learnt from the very frames that the shoes were learnt from.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import PANELS, Layout
from groundtone.pressure.feet import centres

Array = NDArray[np.float64]

# Of fewer frames with a centre nothing is learnt; frames whose foot carries less say little, N.
_LEAST, _CARRIES_N = 6, 60.0
# Off the pieces that were seen the curves would run away.
_DEGREE = 2


class FootFactors:
    """Factor and shift of each foot as curves over the place along it.

    Parameters
    ----------
    force_n : ndarray, shape (n, rows, columns)
        Frames by the film alone.
    factor : ndarray, shape (rows, columns)
        Of the shoes.
    """

    def __init__(self, force_n: Array, factor: Array, layout: Layout) -> None:
        raw, u, _ = centres(force_n, layout, _CARRIES_N)
        right, to_u, _ = centres(force_n * factor, layout, _CARRIES_N / 2)
        self._pitch_mm = layout.row_pitch_mm
        self._fits: list[tuple[float, float, Array, Array] | None] = []
        for foot in range(len(PANELS)):
            seen = np.isfinite(u[:, foot]) & np.isfinite(to_u[:, foot])
            at = u[seen, foot]
            if at.size < _LEAST:
                self._fits.append(None)
                continue
            low, high = float(at.min()), float(at.max())
            place = _scaled(at, low, high)
            degree = _DEGREE if high - low > 0.25 * layout.length_mm else 0
            weight = np.sqrt(raw[seen, foot])
            ratio = np.polynomial.polynomial.polyfit(place, right[seen, foot] / raw[seen, foot], degree, w=weight)
            shift = np.polynomial.polynomial.polyfit(place, to_u[seen, foot] - at, degree, w=weight)
            self._fits.append((low, high, ratio, shift))

    def on_soles(self, force_n: Array, u: Array) -> tuple[Array, Array]:
        """Forces on the soles and places along the feet, each of shape (n, 2); NaN in, NaN out.

        Places are told as a mat tells them: cells from the first one's middle.
        """
        force, u_mm = force_n.copy(), (u + 0.5) * self._pitch_mm
        moved = u_mm.copy()
        for foot, fit in enumerate(self._fits):
            if fit is None:
                continue
            low, high, ratio, shift = fit
            # Who carries too little for a centre: as in the middle.
            place = _scaled(np.where(np.isfinite(u_mm[:, foot]), u_mm[:, foot], (low + high) / 2), low, high)
            force[:, foot] *= np.polynomial.polynomial.polyval(place, ratio)
            moved[:, foot] += np.polynomial.polynomial.polyval(place, shift)
        return force, moved / self._pitch_mm - 0.5


def _scaled(at: Array, low: float, high: float) -> Array:
    """Places from -1 to 1 over what was seen, and no farther."""
    return np.clip((at - low) / max(high - low, 1.0) * 2 - 1, -1.0, 1.0)
