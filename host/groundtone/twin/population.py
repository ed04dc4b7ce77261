"""Populations of mats, hands and golfers: whom a study draws, from ranges that stand in populations.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from groundtone.twin.golfer_spec import HANDS, SOLES, WIDE_SOLES, Doing, GolferSpec, SwingSpec
from groundtone.twin.mat_spec import GRID, GRIDS, MatSpec

POPULATIONS = ("ordinary", "wide", "worst")
# Creep on the wide populations: all on the gain (as real film), all kept as conductance, or anything between.
MEMORIES = ("gain", "kept", "between")


@cache
def ranges() -> Mapping[str, Any]:
    """The file of ranges as it stands."""
    return tomllib.loads(files("groundtone.twin").joinpath("populations.toml").read_text(encoding="utf-8"))


def drawn(group: str, population: str, rng: np.random.Generator) -> dict[str, float]:
    """One value for each quantity of a group.

    Parameters
    ----------
    group : str
        "mat", "weather", "bench", "golfer" or "golfer_own".
    population : str
        One of `POPULATIONS`.
    rng : Generator

    Raises
    ------
    ValueError
        When the population is not known.
    """
    if population not in POPULATIONS:
        raise ValueError(f"a population is one of {', '.join(POPULATIONS)}, not {population!r}")
    return {name: _value(entry, population, rng) for name, entry in ranges()[group].items()}


def _value(entry: Mapping[str, Any], population: str, rng: np.random.Generator) -> float:
    given = entry.get(population, entry["wide"])
    part = float(rng.integers(2)) if population == "worst" else float(rng.uniform())
    if not isinstance(given, list):
        return float(given)
    low, high = given
    if entry.get("draw") == "log":
        return float(low * (high / low) ** part)
    return float(low + (high - low) * part)


def draw_mat(population: str, seed: int, layout: str = "reference-16x4") -> MatSpec:
    """A mat as somebody may have built it, with the film that somebody may have bought.

    Parameters
    ----------
    population : str
    seed : int
    layout : str
        "reference-16x4" or "starter-10x3".
    """
    rng = np.random.default_rng([seed, 71])
    values = drawn("mat", population, rng)
    choice = int(rng.integers(len(MEMORIES)))
    given: dict[str, Any] = dict(zip(GRID, GRIDS[layout], strict=True)) | values
    mat = MatSpec(seed=seed, uid=f"{0x6774_7000_0000_0000 | seed % 2**40:016x}", **given)
    if population == "ordinary":
        return mat
    kept = (0.0, 1.0, float(rng.uniform(0.1, 0.9)))[choice]
    hum_hz = (50.0, 60.0)[int(rng.integers(2))]
    return replace(mat, creep_kept=kept, saturation_by_gain=bool(rng.integers(2)), hum_hz=hum_hz)


def weathered(mat: MatSpec, population: str, seed: int) -> MatSpec:
    """The same mat on another day than that of its calibration."""
    change = drawn("weather", population, np.random.default_rng([seed, 72]))["aged_common"]
    return replace(mat, aged_common=(1.0 + mat.aged_common) * (1.0 + change) - 1.0)


def memory_of(mat: MatSpec) -> str:
    """Which of `MEMORIES` a film has."""
    return {0.0: "gain", 1.0: "kept"}.get(mat.creep_kept, "between")


def draw_golfer(population: str, seed: int) -> GolferSpec:
    """An invented golfer: body, shoe, stance."""
    rng = np.random.default_rng([seed, 73])
    values = drawn("golfer", population, rng)
    wide = population != "ordinary"
    mass = values["mass_kg"]
    # Shoes grow with the body, loosely (invented): 215 mm at 30 kg, 310 at 110.
    shoe = float(np.clip(180.0 + 1.2 * mass + rng.normal(0.0, 18.0 if wide else 6.0), 185.0, 318.0))
    sole = str(rng.choice(WIDE_SOLES if wide else SOLES))
    flares = tuple(float(rng.uniform(0.0, 30.0)) if wide else 10.0 for _ in range(2))
    hand = HANDS[int(rng.integers(2))]
    return GolferSpec(
        hand=hand, mass_kg=mass, shoe_mm=shoe, sole=sole, flare_deg=(flares[0], flares[1]),
        stance_mm=values["stance_mm"], setup_share=values["setup_share"], setup_heel_toe=values["setup_heel_toe"],
    )  # fmt: skip


def families() -> tuple[str, ...]:
    """Names of the families of swings, as `populations.toml` has them."""
    return tuple(ranges()["family"])


def club_of(family: str) -> str:
    """What class of club a family is played with."""
    return str(ranges()["family"][family]["club"])


def is_short(family: str) -> bool:
    """True for pitches, chips, quarter swings and putts: asked for less often to be seen than full swings."""
    return bool(ranges()["family"][family].get("short", False))


def draw_families(seed: int, count: int) -> list[str]:
    """Families of so many swings, as often as the file says."""
    rng = np.random.default_rng([seed, 74])
    names = families()
    often = np.array([ranges()["family"][name]["often"] for name in names], dtype=np.float64)
    return [str(name) for name in rng.choice(names, count, p=often / often.sum())]


def draw_swings(population: str, seed: int, wanted: list[str]) -> tuple[SwingSpec, ...]:
    """Swings of one golfer, one of each family asked for; what is the golfer's own is kept from swing to swing.

    Parameters
    ----------
    population : str
    seed : int
        The golfer's.
    wanted : list of str
        Families in order; see `families` and `draw_families`.
    """
    own = drawn("golfer_own", population, np.random.default_rng([seed, 75]))
    return tuple(
        _swing(ranges()["family"][family], own, np.random.default_rng([seed, 76, index]))
        for index, family in enumerate(wanted)
    )


def _swing(family: Mapping[str, Any], own: Mapping[str, float], rng: np.random.Generator) -> SwingSpec:
    def pick(name: str) -> float | None:
        given = family.get(name)
        part = float(rng.uniform())
        return None if given is None else float(given[0] + (given[1] - given[0]) * part)

    setup, change = pick("setup"), pick("change")
    peak, lead_ms = pick("peak"), pick("lead_ms")
    assert setup is not None
    assert change is not None
    assert peak is not None
    backswing, downswing = pick("backswing_s"), pick("downswing_s")
    own_lead = own["peak_lead_ms"] + float(rng.normal(0.0, 5.0))
    waggles = 0 if family.get("still") else int(rng.choice([0, 0, 0, 1, 2]))
    return SwingSpec(
        style=family["style"],
        setup_share=setup,
        back_change=float(np.clip(change, 0.04 - setup, 0.95 - setup)),
        impact_share=pick("impact"),
        finish_share=pick("finish"),
        peak_weights=float(np.clip(1.0 + (peak - 1.0) * own["effort"], 1.0, 2.3)),
        peak_lead_ms=float(np.clip(own_lead + (lead_ms or 0.0), -80.0, 105.0)),
        turn_lead_ms=pick("turn_lead_ms"),
        backswing_s=None if backswing is None else backswing * own["pace"],
        downswing_s=None if downswing is None else max(downswing * own["pace"], 0.16),
        loud=pick("loud"),
        trail_after=pick("trail_toes"),
        lead_back=pick("lead_back") if "lead_back" in family else None,
        trail_edge=pick("trail_edge") if "trail_edge" in family else None,
        lead_edge=pick("lead_edge") if "lead_edge" in family else None,
        waggles=waggles,
        mill=0.0 if waggles or family.get("still") else float(rng.choice([0.0, 0.0, rng.uniform(0.01, 0.05)])),
        hold_s=float(rng.uniform(0.4, 3.0)),  # invented: many step out of the finish at once
    )


RESTLESS = ("mill", "settle", "shift", "waggle", "hop", "bend", "one_leg", "pace", "stand")


def draw_doings(population: str, seed: int, swings: int, most_s: float = 8.0) -> tuple[Doing, ...]:
    """What a golfer does between so many balls: quietly on the ordinary population, restlessly on the others."""
    rng = np.random.default_rng([seed, 77])
    kinds = ("stand", "shift", "waggle") if population == "ordinary" else RESTLESS
    found = []
    for before in range(swings + 1):
        for _ in range(int(rng.integers(0, 3))):
            found.append(Doing(str(rng.choice(kinds)), float(rng.uniform(2.5, most_s)), before))
    return tuple(found)
