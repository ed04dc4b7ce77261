"""Weight sets: TOML files that name what a builder has, and the loads that can be made of it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from groundtone.calibration.guided.weights import Load, Puck, Weight, load, weight
from groundtone.errors import CalibrationError
from groundtone.gravity import local_gravity

_WEIGHT_KEYS = {"name", "nominal_kg", "weighed_kg", "class", "tolerance_g", "ratio", "ratio_tolerance"}
_PUCK_KEYS = {"mass_kg", "tolerance_g", "length_mm", "width_mm"}
_SET_KEYS = {"name", "note", "latitude_deg", "height_m", "puck", "weights", "loads"}


@dataclass(frozen=True)
class WeightSet:
    """What a builder has.

    Attributes
    ----------
    stacks : tuple of tuple of str
        Loads by the names of their weights.
    gravity : float
        m/s².
    """

    name: str
    weights: tuple[Weight, ...]
    stacks: tuple[tuple[str, ...], ...]
    puck: Puck
    gravity: float
    note: str = ""

    @property
    def loads(self) -> tuple[Load, ...]:
        """The loads, from the lightest to the heaviest."""
        named = {each.name: each for each in self.weights}
        made = [load(tuple(named[name] for name in stack), self.puck, self.gravity) for stack in self.stacks]
        return tuple(sorted(made, key=lambda each: each.force_n))


def set_of_masses(masses_kg: tuple[float, ...], *, weighed: bool = False) -> WeightSet:
    """A set from masses alone: each is a load."""
    weights = tuple(weight(mass, weighed=weighed) for mass in sorted(set(masses_kg)))
    if not weights:
        raise CalibrationError("no weight was named: give at least one mass in kilograms")
    return WeightSet("typed", weights, tuple((w.name,) for w in weights), Puck(), local_gravity())


def read_weight_set(path: Path) -> WeightSet:
    """A weight set from its file.

    Raises
    ------
    CalibrationError
        Missing, not TOML, or an entry that will not do; the sentence says which.
    """
    try:
        table = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise CalibrationError(f"the weight set {path} cannot be read ({error.strerror}): check its name") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CalibrationError(
            f"the weight set {path} is not TOML ({error}): compare it with calibration/weights"
        ) from error
    return weight_set_from(table, path.name)


def weight_set_from(table: Mapping[str, Any], source: str) -> WeightSet:
    """A weight set from a parsed table; CalibrationError says which entry will not do."""
    _only(table, _SET_KEYS, source)
    rows = table.get("weights", [])
    if not (isinstance(rows, list) and rows and all(isinstance(row, Mapping) for row in rows)):
        raise CalibrationError(f"weight set {source} has no weights: add [[weights]] with nominal_kg or weighed_kg")
    weights = tuple(_weight(row, f"weight {i} of {source}") for i, row in enumerate(rows, start=1))
    names = [each.name for each in weights]
    if len(set(names)) < len(names):
        raise CalibrationError(f"two weights of {source} have the same name: give each its own")
    stacks = table.get("loads", [[name] for name in names])
    if not (isinstance(stacks, list) and stacks and all(isinstance(stack, list) and stack for stack in stacks)):
        raise CalibrationError(f"loads of {source} must be lists of names of weights: compare it with the examples")
    for stack in stacks:
        for name in stack:
            if name not in names:
                raise CalibrationError(f"loads of {source} name {name!r}, which is not among its weights: add it")
        if len(set(stack)) < len(stack):
            raise CalibrationError(f"a load of {source} names the same weight twice: give the second its own entry")
    puck = table.get("puck", {})
    if not isinstance(puck, Mapping):
        raise CalibrationError(f"puck of {source} must be a table: compare it with the examples")
    latitude = _number(table, "latitude_deg", source, None)
    return WeightSet(
        str(table.get("name", source)),
        weights,
        tuple(tuple(stack) for stack in stacks),
        _puck(puck, f"puck of {source}"),
        local_gravity(latitude, _number(table, "height_m", source, 0.0) or 0.0),
        str(table.get("note", "")),
    )


def _weight(row: Mapping[str, Any], where: str) -> Weight:
    _only(row, _WEIGHT_KEYS, where)
    nominal, weighed = _number(row, "nominal_kg", where, None), _number(row, "weighed_kg", where, None)
    mass = weighed if weighed is not None else nominal
    if mass is None:
        raise CalibrationError(f"{where} has no mass: give nominal_kg, or weighed_kg if you have weighed it")
    tolerance = _number(row, "tolerance_g", where, None)
    name = str(row.get("name", f"{nominal if nominal is not None else mass:g} kg"))
    try:
        made = weight(
            mass,
            name,
            weighed=weighed is not None,
            oiml_class=str(row.get("class", "")) if weighed is None else "",
            tolerance_kg=None if tolerance is None else tolerance / 1000,
        )
    except CalibrationError as error:
        raise CalibrationError(f"{where}: {error}") from error
    ratio = _number(row, "ratio", where, 1.0) or 0.0
    ratio_tolerance = _number(row, "ratio_tolerance", where, 0.0) or 0.0
    if not (0.1 <= ratio <= 20 and 0 <= ratio_tolerance <= 0.2):
        raise CalibrationError(
            f"{where}: ratio from 0.1 to 20 and ratio_tolerance from 0 to 0.2 (relative) are sensible"
        )
    # Rectangular, as for a mass (GUM 4.3.7).
    return replace(made, ratio=ratio, ratio_u=ratio_tolerance / 3**0.5)


def _puck(row: Mapping[str, Any], where: str) -> Puck:
    _only(row, _PUCK_KEYS, where)
    usual = Puck()
    mass = _number(row, "mass_kg", where, 0.0) or 0.0
    tolerance = _number(row, "tolerance_g", where, 0.0) or 0.0
    length = _number(row, "length_mm", where, usual.length_mm) or 0.0
    width = _number(row, "width_mm", where, usual.width_mm) or 0.0
    if not (0 <= mass <= 5 and 0 <= tolerance <= 1000 * max(mass, 1e-3) and 2 <= length <= 200 and 2 <= width <= 200):
        raise CalibrationError(
            f"{where}: a mass from 0 to 5 kg with a smaller tolerance, sides from 2 to 200 mm, please"
        )
    return Puck(mass, tolerance / 1000 / 3**0.5, length, width)


def _number(row: Mapping[str, Any], key: str, where: str, usual: float | None) -> float | None:
    value = row.get(key, usual)
    if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
        raise CalibrationError(f"{key} of {where} is {value!r}: give a plain number")
    return value


def _only(row: Mapping[str, Any], keys: set[str], where: str) -> None:
    unknown = sorted(set(row) - keys)
    if unknown:
        raise CalibrationError(f"{where} has {', '.join(unknown)}, which is not known: use {', '.join(sorted(keys))}")
