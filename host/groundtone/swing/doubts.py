"""A measured value with its uncertainty, and what a calibration leaves uncertain in every one of them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, typical_film
from groundtone.calibration.uncertainty import budget_of
from groundtone.mat.layout import Layout, layout_of

Array = NDArray[np.float64]

# A foot is about so long, and feet stand about so far apart, where nothing better is known, mm (from memory).
_FOOT_MM, _STANCE_MM = 270.0, 400.0
# Who stands there where only the film is known: so heavy, N.
_WEIGHT_N = 750.0
# Where only one frame's doubt is known, a change of the share has this part of it: most is common to both ends.
_CHANGE = 0.8


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
    common : float
        The part of `u` that all swings of a stand share: the calibration's and the shoes'.
    """

    name: str
    value: float
    u: float
    unit: str
    reason: str = ""
    common: float = 0.0

    @property
    def known(self) -> bool:
        """It is a number."""
        return math.isfinite(self.value)


class Stated(Protocol):
    """What the mat's budget says of the frames of a recording, stand by stand."""

    def frames(self, t_s: Array) -> tuple[Array, Array]:
        """Standard uncertainties of the share, (n,), and of the lead and the trail foot's place along it, (n, 2), mm.

        NaN where nothing is known.
        """

    def change(self, first_s: float, second_s: float) -> tuple[float, float, float, float]:
        """The same of the change between two moments: share, lead and trail foot, mm, and the total force, relative."""


@dataclass(frozen=True)
class Doubts:
    """Standard uncertainties that the calibration leaves: frame by frame where its budget is known, else as a whole.

    Attributes
    ----------
    share : float
        Lead share where both feet carry half; elsewhere it goes with s (1 - s).
    position : float
        Heel-toe position of a foot, without the footprint's own.
    force : float
        Total vertical force in body weights, relative: the mean is the weight, what is left is curvature and creep.
    move : float
        Difference of two positions of one foot: what both have in common drops out.
    place_mm : float
        Place in the stance frame.
    stated : Stated or None
        Of each frame.
    """

    share: float
    position: float
    force: float
    move: float
    place_mm: float
    stated: Stated | None = None

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

    def share_at(self, share: float) -> float:
        """Of a lead share, where nothing is known of the frame."""
        return 4 * share * (1 - share) * self.share if 0 <= share <= 1 else self.share

    def of_frames(self, t_s: Array, share: Array, feet_mm: tuple[float, float]) -> tuple[Array, Array]:
        """Of the share, (n,), and of the heel-toe position of the lead and the trail foot, (n, 2), in each frame.

        Parameters
        ----------
        t_s, share : ndarray, shape (n,)
        feet_mm : (float, float)
            Lengths of the footprints; NaN where there is none.
        """
        known = np.clip(np.nan_to_num(share, nan=0.5), 0.0, 1.0)
        plain, places = 4 * known * (1 - known) * self.share, np.full((len(share), 2), self.position)
        if self.stated is None or not len(t_s):
            return plain, places
        share_u, along_mm = self.stated.frames(t_s)
        along = along_mm / np.nan_to_num(np.array(feet_mm), nan=_FOOT_MM)
        return np.where(np.isfinite(share_u), share_u, plain), np.where(np.isfinite(along), along, places)

    def shifted(self, first_s: float, second_s: float, part: float = _CHANGE) -> float:
        """Of a change of the share between two moments; `part` of one frame's doubt where only that is known."""
        seen = self.stated.change(first_s, second_s)[0] if self.stated is not None else math.nan
        return seen if math.isfinite(seen) else part * self.share

    def moved(self, foot: int, first_s: float, second_s: float, foot_mm: float) -> float:
        """Of a change of the position of the lead (0) or trail (1) foot."""
        seen = self.stated.change(first_s, second_s)[1 + foot] if self.stated is not None else math.nan
        return seen / (foot_mm if math.isfinite(foot_mm) else _FOOT_MM) if math.isfinite(seen) else self.move

    def pushed(self, first_s: float, second_s: float) -> float:
        """Of the force in body weights, relative, against what it was when the body stood still."""
        seen = self.stated.change(first_s, second_s)[3] if self.stated is not None else math.nan
        return seen if math.isfinite(seen) else self.force


def doubts_of(film: Film, layout: Layout) -> Doubts:
    """What a film leaves uncertain of somebody of whom nothing is known, in shoes of which nothing is known.

    The budget of two feet of 375 N, half on the heel and half on the ball; a change is one from the heels to the toes,
    and from half and half to three quarters.
    """
    budget = budget_of(layout, film)
    part = layout.u_mm / layout.length_mm
    heel, ball = (np.exp(-0.5 * ((part - middle) / 0.1) ** 2) for middle in (0.3, 0.7))

    def standing(lead: float, toes: float) -> Array:
        along = (1 - toes) * heel / heel.sum() + toes * ball / ball.sum()
        foot = along[:, None] * np.full(layout.columns_per_panel, 1 / layout.columns_per_panel)
        out = np.zeros((1, layout.rows, layout.columns))
        for side, carried in enumerate((lead, 1 - lead)):
            columns = slice(side * layout.columns_per_panel, (side + 1) * layout.columns_per_panel)
            out[0, :, columns] = _WEIGHT_N * carried * foot
        return out

    still = standing(0.5, 0.5)
    stated, rocked = budget.of(still), budget.between(standing(0.5, 0.2), standing(0.5, 0.8))
    crossed = budget.between(still, standing(0.75, 0.5))
    return Doubts(
        share=float(stated.share[0]),
        position=float(stated.along_mm.mean()) / _FOOT_MM,
        force=float(crossed.total[0]),
        move=float(rocked.along_mm.mean()) / _FOOT_MM,
        place_mm=float(crossed.share[0]) * _STANCE_MM,
    )


@lru_cache(maxsize=1)
def guessed_doubts() -> Doubts:
    """Of a mat that nobody has calibrated."""
    layout = layout_of("reference-16x4")
    return doubts_of(typical_film(layout.rows, layout.columns), layout)
