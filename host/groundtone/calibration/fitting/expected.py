"""What is expected of a film before anything was measured on it: a typical one's figures, or those of pooled films.

Many mats of one maker's film are more alike than films are. So what their calibrations say of the film (`FilmFacts`:
level, exponent, saturation, spread, memory, ageing; nothing of a person, and no mat's id) makes a narrower expectation.
It is that of one mat more of the same kind: mean over the mats, and their standard deviation with what so few leave
open; the typical film counts as `_BELIEF` mats, so that two that agree by chance are not believed to the hilt.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

# The typical film counts as so many mats in the middle, and as so many in the scatter between mats.
_BELIEF, _BELIEF_SCATTER = 0.5, 2.0
# No figure is expected surer than this, however well so many mats agree: exponent, part of the inverse saturation's
# usual width, ln of a level.
_LEAST_EXPONENT_U, _LEAST_PART, _LEAST_LEVEL_U = 0.01, 0.1, 0.05
LEAST_MATS = 2
"""Fewer tell nothing of how films differ."""


@dataclass(frozen=True)
class FilmFacts:
    """What one mat's calibration says of its film.

    Attributes
    ----------
    about : str
        A digest that tells mats apart and names none.
    level : float
        Mean of ln of the force in N at x = 0.
    spread : float
        Standard deviation of that from cell to cell.
    exponent, exponent_u : float
        And its standard uncertainty.
    exponent_spread : float
        From cell to cell.
    inverse : float
        One over the saturation, 1/S; 0: none; NaN: not fitted.
    creep, kept, straight, arch : float
        See `groundtone.calibration.film.Film`; NaN: not told.
    ageing : float
        Change of ln of the force in a month, by the mat's checks; NaN: too few.
    by : str
        "bench" or "standing".
    """

    about: str
    level: float
    spread: float
    exponent: float
    exponent_u: float
    exponent_spread: float
    inverse: float
    creep: float
    kept: float
    straight: float
    arch: float
    ageing: float
    by: str


@dataclass(frozen=True)
class Expected:
    """An expectation; without mats it is the typical film's everywhere.

    Attributes
    ----------
    values, widths : mapping
        Exponent and inverse saturation of a curve, and their standard deviations, by the terms' names.
    level, level_u : float
        Mean of ln of the force in N at x = 0; NaN: the typical film's.
    spread : float
        Of levels from cell to cell; NaN as before.
    creep, kept : float
        NaN: not told.
    mats : int
        So many were pooled.
    """

    values: Mapping[str, float] = field(default_factory=dict)
    widths: Mapping[str, float] = field(default_factory=dict)
    level: float = math.nan
    level_u: float = math.nan
    spread: float = math.nan
    creep: float = math.nan
    kept: float = math.nan
    mats: int = 0

    @property
    def sentence(self) -> str:
        """What a certificate says of it; empty where nothing was pooled."""
        if not self.mats:
            return ""
        exponent, u = self.values["exponent"], self.widths["exponent"]
        return (
            f"what was expected of the film beforehand is from {self.mats} pooled mats, not the typical film's: "
            f"exponent {exponent:.2f} ± {u:.2f}, level within {100 * math.expm1(self.level_u):.0f} %"
        )


TYPICAL = Expected()


def expected_of(films: Sequence[FilmFacts], typical: Mapping[str, tuple[float, float]]) -> Expected:
    """What one mat more of the same kind is expected to be.

    Parameters
    ----------
    films : sequence of FilmFacts
        One for each mat.
    typical : mapping
        Value and standard deviation of the typical film by name: exponent, inverse, level.
    """
    if len(films) < LEAST_MATS:
        return TYPICAL
    exponent, exponent_u = _one_more([f.exponent for f in films], [f.exponent_u for f in films], *typical["exponent"])
    level, level_u = _one_more([f.level for f in films], [0.0] * len(films), *typical["level"])
    inverses = [f.inverse for f in films if math.isfinite(f.inverse)]
    inverse, inverse_u = _one_more(inverses, [0.0] * len(inverses), *typical["inverse"])
    return Expected(
        {"exponent": exponent, "inverse": max(inverse, 0.0)},
        {
            "exponent": max(exponent_u, _LEAST_EXPONENT_U),
            "inverse": max(inverse_u, _LEAST_PART * typical["inverse"][1]),
        },
        level, max(level_u, _LEAST_LEVEL_U),
        _middle([f.spread for f in films]), _middle([f.creep for f in films]), _middle([f.kept for f in films]),
        len(films),
    )  # fmt: skip


def _one_more(values: Sequence[float], own_u: Sequence[float], usual: float, usual_u: float) -> tuple[float, float]:
    """Mean and standard deviation of the next value of a series that is believed to be like `usual` at first.

    What is not sure of a value itself counts as scatter between mats: it makes the expectation wider, never narrower.
    """
    n = len(values)
    mean = (_BELIEF * usual + sum(values)) / (_BELIEF + n)
    squares = sum((value - mean) ** 2 + u**2 for value, u in zip(values, own_u, strict=True))
    variance = (_BELIEF_SCATTER * usual_u**2 / (1 + n) + squares) / (_BELIEF_SCATTER / (1 + n) + n)
    return mean, math.sqrt(variance * (1 + 1 / (_BELIEF + n)))


def _middle(values: Sequence[float]) -> float:
    known = [value for value in values if math.isfinite(value)]
    return float(np.median(known)) if known else math.nan
