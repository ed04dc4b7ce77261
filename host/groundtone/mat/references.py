"""What the board measures of itself: the ADC's zero and reference, and the drivers' resistances.

Four readings come with the frames (firmware/WIRE.md, References). From them follow the readings as fractions of the
rows' supply, and the drivers' resistance high and low, with the current through the cells of row 0 taken into account.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.mat.layout import EARLIER_SERIES_OHM, Layout
from groundtone.mat.network import Drivers, conductances

SLOW = 0.02
"""Weight of one new reading in the running mean. Pins warm up over minutes; ADC noise is what has to go."""
# Weight of one look at the drivers: each has the ADC's noise, and under a load that moves two readings of one moment do
# not quite belong together.
_FOLLOW, _FIRST_TURNS = 0.1, 3
# A turn of `drivers_from` that moves nothing by more than this part leaves a fortieth of it.
_SETTLED = 1e-8
# A pin's own resistance: outside this range the reading is a fault, not a pin. Under a load it is first found by cells
# that go by nominal drivers, and may come out too small for a turn.
PIN_OHM = (-15.0, 200.0)
_EARLIER_MOST_OHM = 110.0  # behind the resistors of earlier mats: a weak pin of today's is not taken for one of these


@dataclass(frozen=True)
class References:
    """The four reference readings, scale of the cells; NaN until they have been seen.

    Attributes
    ----------
    zero, supply : float
        Running means.
    tap_high, tap_low : float
        The newest readings: they go with the load, so they belong to the cells of their own frame.
    even, odd : int
        Frames that brought zero and tap high, and frames that brought supply and tap low.
    """

    zero: float = math.nan
    supply: float = math.nan
    tap_high: float = math.nan
    tap_low: float = math.nan
    even: int = 0
    odd: int = 0

    @property
    def complete(self) -> bool:
        """All four have been seen."""
        return math.isfinite(self.zero + self.supply + self.tap_high + self.tap_low)

    def updated(self, seq: int, ref_a: float, ref_b: float) -> References:
        """With the two readings of one more frame: even sequence numbers bring zero and tap high, odd ones the rest."""
        # A plain mean at first, a slow one later. Each pair counts for itself: a mat that skips scans may for a while
        # send even numbers only.
        if seq % 2 == 0:
            weight = max(SLOW, 1 / (self.even + 1))
            return replace(
                self,
                zero=_mean(self.zero, ref_a, weight),
                tap_high=float(ref_b),
                even=self.even + 1,
            )
        weight = max(SLOW, 1 / (self.odd + 1))
        return replace(
            self,
            supply=_mean(self.supply, ref_a, weight),
            tap_low=float(ref_b),
            odd=self.odd + 1,
        )


def _mean(old: float, new: float, weight: float) -> float:
    return float(new) if math.isnan(old) else old + weight * (new - old)


def fractions(cells: NDArray[np.float64], references: References) -> NDArray[np.float64]:
    """Readings as fractions of the rows' supply.

    Parameters
    ----------
    cells : ndarray, any shape
        Raw values.
    references : References
        `zero` and `supply` (through a 1:2 divider) are used.

    Returns
    -------
    ndarray, same shape
        NaN where the supply reads no more than zero does: a broken line, no measure.
    """
    span = references.supply - references.zero
    return (cells - references.zero) * (0.5 / span if span > 0 else math.nan)


def above_end(
    cells: NDArray[np.float64], seq: int, ref_a: float, references: References
) -> tuple[NDArray[np.float64], float, float]:
    """Readings as parts of the rows' supply above the converter's lower end, for `groundtone.mat.hum.Hum`.

    Returns
    -------
    cells : ndarray, same shape
    zero : float
        What the zero reads in the mean.
    supply : float
        This frame's own reading of the supply (odd numbers bring one), else NaN.
    """
    span = references.supply - references.zero
    scale = 0.5 / span if span > 0 else math.nan
    return cells * scale, references.zero * scale, ref_a * scale if seq % 2 else math.nan


def drivers_from(
    references: References, layout: Layout, conductance_s: NDArray[np.float64], near: Drivers | None = None
) -> Drivers:
    """Driver resistances from the tap readings, the same for every row.

    Kirchhoff's law at the line of row 0: while it is high, the driver's current splits into the reference resistor
    (to the pin REF, low) and the cells of row 0; while it is low and REF high, it takes the reference's current
    and what row 1 sends through the cells. Both hold the other's unknown (REF is a pin like the rows'), so they are
    repeated until they agree.

    Parameters
    ----------
    references : References
        Complete.
    conductance_s : ndarray, shape (rows, columns)
        Cells of the frame that brought the newest tap, S, for the current through the cells of row 0.
    near : Drivers, optional
        What they were a moment ago: saves turns.

    Returns
    -------
    Drivers
        The nominal ones where the readings lie outside what a pin can be, also behind the row resistors that earlier
        mats have.
    """
    line = _LineOfRow0(np.nan_to_num(conductance_s), layout.pulldown_ohm)
    for series, most_ohm in ((layout.series_ohm, PIN_OHM[1]), (EARLIER_SERIES_OHM, _EARLIER_MOST_OHM)):
        found = _measured(references, layout, series, line, near)
        if all(PIN_OHM[0] < ohm - series < most_ohm for ohm in found):
            return Drivers.equal(layout.rows, layout.columns, *found, layout.pulldown_ohm)
    return layout.nominal_drivers()


def _measured(
    references: References, layout: Layout, series: float, line: _LineOfRow0, near: Drivers | None
) -> tuple[float, float]:
    """Row 0's driver high and low, were its resistor so large, Ω; NaN where readings are of a broken line."""
    tap_high, tap_low = fractions(np.array([references.tap_high, references.tap_low]), references).tolist()
    reference = layout.reference_ohm
    high = low = series + layout.driver_ohm
    if near is not None:
        high, low = float(near.high_ohm[0]), float(near.low_ohm[0])
    lows = [low]
    try:
        for _ in range(8):
            before = high, low
            at_low = line.with_low(low)
            into_cells, _ = at_low.flows(low)
            high = (1 - tap_high) / (tap_high / (reference + low - series) + tap_high * into_cells)
            into_cells, from_row_1 = at_low.flows(high)
            low = tap_low / ((1 - tap_low) / (reference + high - series) + from_row_1 - tap_low * into_cells)
            if max(abs(high - before[0]), abs(low - before[1])) <= _SETTLED * low:
                break
            lows.append(low)
            if len(lows) == 3:
                low = _limit_of(*lows)
    except (ZeroDivisionError, np.linalg.LinAlgError):
        # A tap at 0 V or at the supply.
        return math.nan, math.nan
    return high, low


def _limit_of(first: float, second: float, third: float) -> float:
    """Where three values of a series lead that comes nearer by the same part each time (Aitken's delta squared)."""
    bend = third - 2 * second + first
    return third - (third - second) ** 2 / bend if abs(bend) > 1e-3 * abs(third - second) > 0.0 else third


def drivers_after(
    before: Drivers | None,
    references: References,
    layout: Layout,
    reading: NDArray[np.float64],
    conductance_s: NDArray[np.float64],
) -> Drivers:
    """Drivers after one more look: a running mean, for pins warm up over minutes.

    Parameters
    ----------
    before : Drivers or None
        None at the first look, which counts whole: what was taken for the drivers until then was a guess, so cells and
        drivers are found in turns.
    reading, conductance_s : ndarray, shape (rows, columns)
        Of the frame that brought the newest tap: fractions of the supply, and the cells by the drivers before, S.
    """
    found = drivers_from(references, layout, conductance_s, before)
    if before is None:
        for _ in range(_FIRST_TURNS):
            found = drivers_from(references, layout, conductances(reading[None], found)[0][0])
        return found
    high, low = before.high_ohm, before.low_ohm
    return Drivers(
        high + _FOLLOW * (found.high_ohm - high), low + _FOLLOW * (found.low_ohm - low), found.pulldown_ohm
    )  # fmt: skip


class _LineOfRow0:
    """The line of row 0 with the cells on it; what does not hang on the drivers is worked out once."""

    def __init__(self, cells: NDArray[np.float64], pulldown_ohm: float) -> None:
        self._two, self._others = cells[:2], cells[1:]
        self._of_rows = self._others.sum(1)
        self._of_row_1 = float(self._of_rows[0])
        self._of_columns = 1 / pulldown_ohm + cells.sum(0)
        self._sum = float(cells[0].sum())

    def with_low(self, low_ohm: float) -> _LowOhm:
        """The line while every other row is held low through so much.

        The rows are eliminated, which leaves one small matrix for the columns. What the driver of row 1 changes of it
        is one product of a vector with itself, so it is solved once for whatever that driver is (Sherman-Morrison).
        """
        at_rows = self._of_rows + 1 / low_ohm
        columns = (self._others.T / -at_rows) @ self._others
        columns.flat[:: len(columns) + 1] += self._of_columns
        (both_0, both_01), (_, both_1) = (self._two @ np.linalg.solve(columns, self._two.T)).tolist()
        return _LowOhm(self._sum, self._of_row_1, float(at_rows[0]), both_0, both_01, both_1)


@dataclass(frozen=True)
class _LowOhm:
    """What is left of the line of row 0: sums, and products of the cells of rows 0 and 1 through the columns' matrix.

    Attributes
    ----------
    of_row_0, of_row_1 : float
        Sums of these rows' cells, S.
    at_row_1 : float
        The same of row 1 with its driver while it is low, S.
    both_0, both_01, both_1 : float
        Row 0 with itself, row 0 with row 1, row 1 with itself.
    """

    of_row_0: float
    of_row_1: float
    at_row_1: float
    both_0: float
    both_01: float
    both_1: float

    def flows(self, row_1_ohm: float) -> tuple[float, float]:
        """What flows from the line into its cells per volt on it, and out of them when row 1 is at the supply, S."""
        at_row_1 = self.of_row_1 + 1 / row_1_ohm
        change = 1 / at_row_1 - 1 / self.at_row_1
        by = 1 / (1 - change * self.both_1)
        into = self.both_0 + change * by * self.both_01**2
        return self.of_row_0 - into, self.both_01 * by / row_1_ohm / at_row_1
