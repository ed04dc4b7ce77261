"""A measured value with its uncertainty, and what a calibration leaves uncertain in every one of them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Measure:
    """One measured value.

    Attributes
    ----------
    name : str
    value : float
        NaN where it has no meaning.
    u : float
        Standard uncertainty; NaN with the value.
    unit : str
        "1" for a fraction.
    reason : str
        Why it is NaN.
    """

    name: str
    value: float
    u: float
    unit: str
    reason: str = ""

    @property
    def known(self) -> bool:
        """It is a number."""
        return math.isfinite(self.value)


@dataclass(frozen=True)
class Doubts:
    """Standard uncertainties that the calibration leaves; the defaults are what a fresh mat has on the twin.

    Attributes
    ----------
    share : float
        Lead share.
    position : float
        Heel-toe position of a foot, without the footprint's own.
    force : float
        Total vertical force in body weights, relative: the mean is the weight, what is left is curvature and creep.
    move : float
        Difference of two positions of one foot: what both have in common drops out.
    place_mm : float
        Place in the stance frame.
    """

    share: float = 0.007
    position: float = 0.005
    force: float = 0.015
    move: float = 0.0075
    place_mm: float = 3.0

    def with_left(self, left: float) -> Doubts:
        """The same with what a still body's total says of the forces that it is the sum of.

        Parameters
        ----------
        left : float
            Relative change of the total with the posture, root mean square. Two feet that carry half each and are off
            by e, one as much as the other and independently, make a total that is off by e / √2 and a share that is
            off by e / (2 √2); heel and toe of a foot likewise, half its length apart.
        """
        return replace(
            self,
            share=math.hypot(self.share, 0.5 * left),
            position=math.hypot(self.position, 0.25 * left),
            move=math.hypot(self.move, 0.25 * left),
            force=math.hypot(self.force, left),
        )

    def with_filled(self, share_u: float, position_u: float) -> Doubts:
        """The same with what filled cells add."""
        return replace(
            self,
            share=math.hypot(self.share, share_u),
            position=math.hypot(self.position, position_u),
            move=math.hypot(self.move, position_u),
        )
