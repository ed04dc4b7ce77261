"""Does the base plate bear a person over what does not carry it: a calculator that refuses, with what would do.

Formulas (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, articles 16 and 19; Roark's Formulas for Stress
and Strain, beams and table of circular plates; both from memory, worked anew in tests/external/test_mechanics.py)
--------
- A plate of width b and thickness t on two supports (feet, boards) a span L apart, load W on a patch of length c in the
  middle: M = W / 4 · (L - c / 2); where the patch is longer than the span, what of it lies there:
  M = W · L / c · L / 8. Stress 6 M / (b t²).
- The same over a round hollow of radius a in the ground, its rim a simple support, W evenly on a circle of radius r:
  M = W / 4π · ((1 + ν) ln(a / r) + 1 - (1 - ν) r² / 4a²) a mm; a circle that is larger than the hollow loads all of it,
  q = W / π r²: M = q a² (3 + ν) / 16. Stress 6 M / t².
The larger of the two is taken. Wood is no isotropic plate and turf no rigid rim: hence the factor `SAFE`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from groundtone.build.entries import within, word
from groundtone.errors import BuildError
from groundtone.gravity import STANDARD_GRAVITY

PATCH_MM = 80.0
"""Across what a foot at its hardest moment presses on through sole, cover and pads (estimate: half a forefoot)."""
SAFE = 2.0
"""Strength over what is allowed (chosen by us): plywood's is halved by water, as a maker's sheet of tests has it."""
SHEAR_PART = 0.5
"""Largest sideways force of a foot over its vertical one (from memory: 0.3 to 0.5)."""
GLUE_MPA = 0.2
"""What the rim's contact glue is allowed in shear: a fifth of 1 MPa (from memory)."""
_POISSON = 0.3
_MOST_MM = 1000.0


@dataclass(frozen=True)
class Material:
    """A plate's bending strength, MPa, and where the value is from."""

    strength_mpa: float
    source: str


MATERIALS: Mapping[str, Material] = {
    "plywood": Material(34.0, "Wood Handbook, from memory; 38 to 66 in J. Korean Wood Sci. Technol. 53(4), table 3"),
    "fibreboard": Material(28.0, "medium density, the least mean of IS 14587"),
    "hardboard": Material(31.0, "Wood Handbook, from memory"),
    "polycarbonate": Material(60.0, "its yield, from memory"),
    "aluminium": Material(110.0, "yield of a half-hard sheet, from memory"),
}
"""By the name that a description gives; the lowest value found, dry."""


@dataclass(frozen=True)
class Base:
    """What the plate is of, and the widest stretch under it that nothing carries: hollows, gaps; never feet."""

    material: str = word("plywood")
    span_mm: float = within(0, _MOST_MM, "mm", usual=60.0)


@dataclass(frozen=True)
class PlateCheck:
    """What `plate_check` found.

    Attributes
    ----------
    beam_mpa, hollow_mpa : float
        Stress over a span between two supports, and over a round hollow as wide.
    allowed_mpa : float
        Strength over `SAFE`.
    widest_mm : float
        What of a span the plate bears.
    needed_mm : float
        Thickness that bears the span, whole mm.
    refusals : list of str
        One sentence, or none.
    """

    material: Material
    beam_mpa: float
    hollow_mpa: float
    allowed_mpa: float
    widest_mm: float
    needed_mm: float
    refusals: list[str]


def hardest_load_n(mass_kg: float, peak: float, peak_lead: float) -> float:
    """One foot's force at the hardest moment, N."""
    return mass_kg * STANDARD_GRAVITY * peak * peak_lead


def beam_mpa(span_mm: float, width_mm: float, thick_mm: float, load_n: float, patch_mm: float = PATCH_MM) -> float:
    """Stress of a plate between two supports, MPa; a patch of 0 is a point."""
    if span_mm <= patch_mm:
        moment = load_n * span_mm / patch_mm * span_mm / 8 if span_mm else 0.0
    else:
        moment = load_n / 4 * (span_mm - patch_mm / 2)
    return 6 * moment / (width_mm * thick_mm**2)


def hollow_mpa(span_mm: float, thick_mm: float, load_n: float, patch_mm: float = PATCH_MM) -> float:
    """Stress of a plate over a round hollow of that diameter, MPa."""
    a, r = span_mm / 2, patch_mm / 2
    if a <= r:
        moment = load_n / (math.pi * r**2) * a**2 * (3 + _POISSON) / 16
    else:
        inside = (1 + _POISSON) * math.log(a / r) + 1 - (1 - _POISSON) * r**2 / (4 * a**2)
        moment = load_n / (4 * math.pi) * inside
    return 6 * moment / thick_mm**2


def plate_check(base: Base, thick_mm: float, width_mm: float, load_n: float) -> PlateCheck:
    """The plate under one foot at the hardest moment.

    Raises
    ------
    BuildError
        Where the material is not known.
    """
    if base.material not in MATERIALS:
        raise BuildError(f"no strength of {base.material!r} is known: name one of {', '.join(sorted(MATERIALS))}")
    material = MATERIALS[base.material]
    allowed = material.strength_mpa / SAFE

    def worst(span_mm: float) -> float:
        return max(beam_mpa(span_mm, width_mm, thick_mm, load_n), hollow_mpa(span_mm, thick_mm, load_n))

    low, high = 0.0, _MOST_MM
    for _ in range(40):  # the stress rises with the span
        middle = (low + high) / 2
        low, high = (middle, high) if worst(middle) <= allowed else (low, middle)
    beam, hollow = beam_mpa(base.span_mm, width_mm, thick_mm, load_n), hollow_mpa(base.span_mm, thick_mm, load_n)
    needed = float(math.ceil(thick_mm * math.sqrt(max(beam, hollow) / allowed) - 1e-9))
    refusals = []
    if max(beam, hollow) > allowed:
        refusals.append(
            f"{thick_mm:g} mm of {base.material} over {base.span_mm:g} mm that nothing carries bend with "
            f"{max(beam, hollow):.0f} MPa under {load_n:.0f} N, and {allowed:.0f} are allowed: lay the plate with its "
            f"whole area on the anti-slip sheet, never on feet, so that no more than {math.floor(low)} mm are hollow "
            f"(base.span_mm), or over a hollow take {needed:.0f} mm (stack.base_mm)"
        )
    return PlateCheck(material, beam, hollow, allowed, low, needed, refusals)
