"""A mat without an interpreter for its firmware: the frames its scan would make, for systems without MicroPython."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.adc import BITS, TOP
from groundtone.twin.board import SUPPLY, TAP, ZERO
from groundtone.twin.scenario import Scenario
from groundtone.twin.world import CONVERSIONS, World
from groundtone.wire.messages import Flag, Frame

FRAME_BITS = 14
OVERSAMPLE = 2
STRIKE_LEAST = 0.12  # of the ADC's range


class InProcessMat:
    """Plays a scenario as scans at a steady rate, without skew between rows and without a link.

    Parameters
    ----------
    scenario : Scenario
    ticks0 : int
        Device time at the film's start, µs; the frames' time wraps at 2^32.
    """

    def __init__(self, scenario: Scenario, ticks0: int = 0) -> None:
        self.scenario = scenario
        self.world = World(scenario)
        self._ticks0 = ticks0

    def frames(self, rate_hz: float) -> Iterator[Frame]:
        """Scan to the film's end.

        Parameters
        ----------
        rate_hz : float
            Scans a second, 1 to 400.

        Yields
        ------
        Frame
            With cells of 14 bits.

        Raises
        ------
        ValueError
            When the rate lies outside its range.
        """
        if not 1.0 <= rate_hz <= 400.0:
            raise ValueError(f"the rate must lie between 1 and 400 Hz, not {rate_hz:g}")
        world = self.world
        period_us = 1e6 / rate_hz
        before = -1
        for number in range(int(world.duration_s * rate_hz) + 1):
            now = round(number * period_us)
            table = np.frombuffer(world.table(now), "<u2").reshape(world.rows + 2, 16, CONVERSIONS)
            reads = table[: world.rows, : world.columns, :OVERSAMPLE]
            if number % 2 == 0:
                refs = table[world.rows, ZERO, :OVERSAMPLE], table[world.rows, TAP, :OVERSAMPLE]
            else:
                refs = table[world.rows + 1, SUPPLY, :OVERSAMPLE], table[world.rows + 1, TAP, :OVERSAMPLE]
            flags = Flag.FIRST if number == 0 else 0
            if max(reads.max(), refs[0].max(), refs[1].max()) == TOP:
                flags |= Flag.CEILING
            peak, offset = 0, 0
            heard = world.strike(before, now)
            if heard is not None and heard[0] >= STRIKE_LEAST:
                flags |= Flag.STRIKE
                peak, offset = int(heard[0] * (2**FRAME_BITS - 1)), min(now - heard[1], 0xFFFF)
            before = now
            yield Frame(
                seq=number & 0xFFFF,
                t_us=(self._ticks0 + now) & 0xFFFFFFFF,
                flags=flags,
                strike_peak=peak,
                strike_offset_us=offset,
                ref_a=int(_mean(refs[0])),
                ref_b=int(_mean(refs[1])),
                cells=_mean(reads).ravel(),
            )


def _mean(codes: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Mean of the last axis' 12-bit codes on the frame's scale, rounded down."""
    total = codes.astype(np.uint32).sum(axis=-1) << (FRAME_BITS - BITS)
    out: NDArray[np.uint16] = (total // codes.shape[-1]).astype(np.uint16)
    return out
