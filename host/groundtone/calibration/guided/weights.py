"""Weights: what lies on a cell, in newtons, and how well that is known.

A mass in kilograms is enough: everything else has a default. What a shop prints on a weight is not a mass: gym plates
are often several per cent off their mark (common practice), so a weight that was neither weighed nor made to a class
counts as known within 3 %. Weighed on a kitchen scale it is known within the scale's tolerance; air's
buoyancy (1.2 kg/m³; a scale is set with steel of 8000 kg/m³, which is what conventional mass means) takes a thousandth
off water, off the jug as off the golfer, so it cancels.

Gravity cancels too where weights and golfer share a place: shares and body weights are ratios. It matters only for
newtons that are compared with other places, see `groundtone.gravity`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY

# Maximum permissible errors of OIML R 111-1:2004, table 1, in mg, for classes M1, M2 and M3 by nominal mass in kg.
_OIML_MG: dict[float, tuple[float, float, float]] = {
    0.001: (1.0, 3.0, 10.0), 0.002: (1.2, 4.0, 12.0), 0.005: (1.6, 5.0, 16.0),
    0.01: (2.0, 6.0, 20.0), 0.02: (2.5, 8.0, 25.0), 0.05: (3.0, 10.0, 30.0),
    0.1: (5.0, 16.0, 50.0), 0.2: (10.0, 30.0, 100.0), 0.5: (25.0, 80.0, 250.0),
    1.0: (50.0, 160.0, 500.0), 2.0: (100.0, 300.0, 1000.0), 5.0: (250.0, 800.0, 2500.0),
    10.0: (500.0, 1600.0, 5000.0), 20.0: (1000.0, 3000.0, 10000.0), 50.0: (2500.0, 8000.0, 25000.0),
}  # fmt: skip
OIML_CLASSES = ("M1", "M2", "M3")

UNWEIGHED = 0.03
"""Relative tolerance of a mass of which nothing more is known."""
LB_KG = 0.45359237
"""The international avoirdupois pound, exactly (1959)."""
_LEAST_KG, _MOST_KG = 0.02, 60.0
# Weights and their printed pounds: a mass this near to a round number of kilograms in pounds is asked about.
_LIKE_POUNDS = 0.001


def oiml_tolerance_kg(oiml_class: str, nominal_kg: float) -> float:
    """Maximum permissible error of a weight, kg (OIML R 111-1:2004, table 1).

    Parameters
    ----------
    oiml_class : str
        "M1", "M2" or "M3".
    nominal_kg : float
        One of the nominal masses from 1 g to 50 kg.

    Raises
    ------
    CalibrationError
        Another class, or a mass that has no row in the table.

    Examples
    --------
    >>> oiml_tolerance_kg("M2", 5.0)
    0.0008
    """
    if oiml_class not in OIML_CLASSES:
        raise CalibrationError(f"weight class {oiml_class!r} is not known: give M1, M2 or M3, or a tolerance in grams")
    for nominal, row in _OIML_MG.items():
        if math.isclose(nominal, nominal_kg, rel_tol=1e-9):
            return row[OIML_CLASSES.index(oiml_class)] / 1e6
    raise CalibrationError(
        f"class {oiml_class} has no weight of {nominal_kg:g} kg: give the mass that is stamped on it, or a tolerance"
    )


@dataclass(frozen=True)
class Weight:
    """One weight, or what stands for one.

    Attributes
    ----------
    name : str
        As a person calls it.
    u_kg : float
        Standard uncertainty of the mass.
    ratio, ratio_u : float
        Of a lever or press: force on the cell over weight, and its relative standard uncertainty; 1 without one.
    """

    name: str
    mass_kg: float
    u_kg: float
    ratio: float = 1.0
    ratio_u: float = 0.0


@dataclass(frozen=True)
class Puck:
    """What stands between weight and cell: it spreads the load over one pad.

    Attributes
    ----------
    mass_kg, u_kg : float
        It lies on the cell with every weight.
    length_mm, width_mm : float
        Along and across the panel.
    """

    mass_kg: float = 0.0
    u_kg: float = 0.0
    length_mm: float = 20.0
    width_mm: float = 35.0


@dataclass(frozen=True)
class Load:
    """Everything that lies on a cell at a time.

    Attributes
    ----------
    words : str
        What a person is asked to put there.
    u : float
        Relative standard uncertainty of the force.
    parts : frozenset of str
        The weights it is made of: a load is reached from another by taking off where its parts are fewer of the same.
    """

    words: str
    force_n: float
    u: float
    parts: frozenset[str] = frozenset()


def weight(
    mass_kg: float, name: str = "", *, weighed: bool = False, oiml_class: str = "", tolerance_kg: float | None = None
) -> Weight:
    """A weight from what is known of it; a mass alone is enough.

    Parameters
    ----------
    name : str
        The mass in words without it.
    weighed : bool
        Weighed on a household scale: known within half a per cent, but not within less than 5 g (common practice).
    oiml_class : str
        "M1", "M2" or "M3".
    tolerance_kg : float, optional
        Overrides the others.

    Returns
    -------
    Weight
        A tolerance a is a rectangular distribution: u = a / √3 (GUM, JCGM 100:2008, 4.3.7).

    Raises
    ------
    CalibrationError
        A mass or tolerance of zero, negative, absurd, or no number.

    Examples
    --------
    >>> plate = weight(5.0)
    >>> plate.name, round(plate.u_kg, 3)
    ('5 kg', 0.087)
    """
    check_mass(mass_kg)
    if tolerance_kg is None:
        if oiml_class:
            tolerance_kg = oiml_tolerance_kg(oiml_class, mass_kg)
        else:
            tolerance_kg = max(0.005 * mass_kg, 0.005) if weighed else UNWEIGHED * mass_kg
    if not (math.isfinite(tolerance_kg) and 0 <= tolerance_kg <= 0.5 * mass_kg):
        raise CalibrationError(
            f"a tolerance of {tolerance_kg:g} kg on {mass_kg:g} kg: give grams, plus or minus, well below it"
        )
    return Weight(name or f"{mass_kg:g} kg", mass_kg, tolerance_kg / math.sqrt(3.0))


def check_mass(mass_kg: float) -> None:
    """CalibrationError where nobody would put such a mass on a cell."""
    if not math.isfinite(mass_kg) or mass_kg <= 0:
        raise CalibrationError(f"a mass of {mass_kg:g} kg: give kilograms above zero")
    if mass_kg < _LEAST_KG:
        raise CalibrationError(
            f"a mass of {mass_kg:g} kg does not press a cell: the lightest is {_LEAST_KG * 1000:g} g"
        )
    if mass_kg > _MOST_KG:
        raise CalibrationError(
            f"{mass_kg:g} kg on one cell: are grams or pounds meant ({mass_kg / 1000:g} kg, {mass_kg * LB_KG:.1f} kg)? "
            f"give kilograms up to {_MOST_KG:g}"
        )


_WORDS = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*([a-zA-Z]*)\.?\s*")


def mass_of(words: str, *, least_kg: float = _LEAST_KG, most_kg: float = _MOST_KG) -> float:
    """A mass as a person types it, in kilograms: "5", "5 kg", "1,5 kg", "750 g".

    Pounds are asked about and never turned over in silence: whoever reads the mass off a plate reads what is printed,
    and a calibration that is wrong by 2.2 looks like a good one.

    Parameters
    ----------
    words : str
        A number, with or without a unit.
    least_kg, most_kg : float
        What is sensible here.

    Raises
    ------
    CalibrationError
        No number, an unknown unit, pounds or what looks like them (the sentence asks), or out of range.

    Examples
    --------
    >>> mass_of("1,5 kg"), mass_of("750 g"), mass_of("20")
    (1.5, 0.75, 20.0)
    """
    found = _WORDS.fullmatch(words)
    if found is None:
        raise CalibrationError(f"{words.strip()!r} is not a mass: type kilograms above zero, for example 5 or 750 g")
    value, unit = float(found.group(1).replace(",", ".")), found.group(2).lower()
    if unit in ("lb", "lbs", "pound", "pounds"):
        raise CalibrationError(
            f"{value:g} pounds: are {value * LB_KG:.2f} kg meant? type the mass in kilograms, best as a scale shows it"
        )
    if unit not in ("", "kg", "g"):
        raise CalibrationError(f"the unit {found.group(2)!r} is not known: type kilograms, for example 5 or 750 g")
    mass = value / 1000 if unit == "g" else value
    if unit == "" and _looks_like_pounds(found.group(1)):
        raise CalibrationError(
            f"{value:g} is {value * LB_KG:.3g} kg in pounds: which is meant? type {value:g} kg or "
            f"{value * LB_KG:.3g} kg"
        )
    if not least_kg <= mass <= most_kg:
        raise CalibrationError(
            f"{mass:g} kg will not do here (are pounds or grams meant?): "
            f"type kilograms from {least_kg:g} to {most_kg:g}"
        )
    return mass


def _looks_like_pounds(typed: str) -> bool:
    """A number with two decimals that is a round number of kilograms in pounds: 22.05 is 10 kg, 11.02 is 5 kg."""
    _, _, decimals = typed.replace(",", ".").partition(".")
    kilograms = float(typed.replace(",", ".")) * LB_KG
    near = round(kilograms * 2) / 2
    return len(decimals) >= 2 and near >= 1 and abs(kilograms / near - 1) < _LIKE_POUNDS


def load(weights: tuple[Weight, ...], puck: Puck | None = None, gravity: float = STANDARD_GRAVITY) -> Load:
    """What a stack of weights on the puck presses with.

    Parameters
    ----------
    gravity : float
        m/s².

    Raises
    ------
    CalibrationError
        No weight at all.
    """
    if not weights:
        raise CalibrationError("no weight on the cell: name at least one")
    puck = Puck() if puck is None else puck
    force = gravity * (puck.mass_kg + sum(w.mass_kg * w.ratio for w in weights))
    parts = [gravity * w.ratio * math.hypot(w.u_kg, w.mass_kg * w.ratio_u) for w in weights] + [gravity * puck.u_kg]
    names = [w.name for w in weights]
    return Load(" + ".join(names), force, math.hypot(*parts) / force, frozenset(names))
