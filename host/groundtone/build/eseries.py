"""Resistor values that shops sell: the preferred numbers of IEC 60063."""

from __future__ import annotations

import math

from groundtone.errors import BuildError

E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def _around(ohm: float, series: tuple[int, ...]) -> list[float]:
    """The values of the decade that holds a resistance, with one more below and above, rising."""
    if not 1.0 <= ohm <= 1e7:
        raise BuildError(f"{ohm:.3g} Ω is no value to buy a resistor of: check the numbers it comes from")
    decade = math.floor(math.log10(ohm)) - 1
    parts = (series[-1] / 10, *series, series[0] * 10)
    return [float(f"{part * 10.0**decade:.2g}") for part in parts]


def nearest(ohm: float, series: tuple[int, ...]) -> float:
    """The preferred value nearest to a resistance on a logarithmic scale, Ω.

    Raises
    ------
    BuildError
        Outside 1 Ω to 10 MΩ.
    """
    return min(_around(ohm, series), key=lambda value: abs(math.log(value / ohm)))


def at_least(ohm: float, series: tuple[int, ...]) -> float:
    """The smallest preferred value that is not below a resistance, Ω; BuildError as `nearest`."""
    return next(value for value in _around(ohm, series) if value >= ohm * (1 - 1e-9))


def in_words(ohm: float) -> str:
    """A resistance as it stands on a drawing: 100 Ω, 1.5 kΩ, 1 MΩ."""
    for factor, unit in ((1e6, "MΩ"), (1e3, "kΩ")):
        if ohm >= factor:
            return f"{ohm / factor:.3g} {unit}"
    return f"{ohm:.3g} Ω"
