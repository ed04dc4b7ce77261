"""Films pooled: placements that a bench run is spared by what mats of the same film said, on mats that said nothing.

A maker's film is one draw of the wide population; its mats differ as parts of one film do (invented but for the level:
part to part 15 to 25 %, FSR Integration Guide, Interlink Electronics), their own cells, boards and hands. Some are
calibrated with two loads a cell and pooled; others are calibrated with fewer, by the typical film's expectation and by
the pool's, and judged against the true curve: root mean square over cells and loads of ln of the force.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from groundtone.calibration.fitting.expected import TYPICAL, Expected, FilmFacts
from groundtone.calibration.fitting.fit import BenchResult, film_from_placements
from groundtone.calibration.fitting.fit_notes import notes_of
from groundtone.calibration.pooled_films import expect, facts_of
from groundtone.calibration.profile import Profile
from groundtone.mat.layout import layout_of
from groundtone.twin.population import draw_mat
from groundtone.twin.scenario import Bench, MatSpec, Put
from studies.as_they_come import bench_of
from studies.film_causes import _true_film
from studies.mats import bench_placements

POOLED, JUDGED = 6, 4
FIRST_SEED = 97_000
_LOADS_N = (8.0, 20.0, 50.0, 100.0, 200.0)
# Of one maker: ln of the level, exponent, ln of saturation and of creep, standard deviations.
_LEVEL, _EXPONENT, _SATURATION, _CREEP = 0.18, 0.03, 0.1, 0.15


@dataclass(frozen=True)
class Way:
    """So many placements: the loads on every cell, and on a dozen cells five loads up and one down."""

    name: str
    every_n: tuple[float, ...]
    dozen: bool


WAYS = (
    Way("60 N on each cell", (60.0,), False),
    Way("60 N on each cell, five loads on a dozen", (60.0,), True),
    Way("10 and 80 N on each cell, five loads on a dozen", (10.0, 80.0), True),
)


@cache
def mat_of(film: int, number: int) -> MatSpec:
    """The `number`-th mat of a maker's film."""
    base = draw_mat("wide", FIRST_SEED + 1000 * film)
    rng = np.random.default_rng([FIRST_SEED, film, number])
    own = draw_mat("wide", FIRST_SEED + 1000 * film + 1 + number)
    level, exponent, saturation, creep = rng.standard_normal(4)
    return replace(
        own,
        conductance_at_100n_s=base.conductance_at_100n_s * float(np.exp(_LEVEL * level)),
        exponent=base.exponent + _EXPONENT * float(exponent),
        saturation_s=base.saturation_s * float(np.exp(_SATURATION * saturation)),
        creep_per_decade=base.creep_per_decade * float(np.exp(_CREEP * creep)),
        hysteresis=base.hysteresis, gain_sigma=base.gain_sigma, exponent_sigma=base.exponent_sigma,
        creep_kept=base.creep_kept, saturation_by_gain=base.saturation_by_gain,
    )  # fmt: skip


def run_of(mat: MatSpec, way: Way) -> Bench:
    """The bench run of that way."""
    if way.dozen:
        return bench_of(mat, "wide", mat.seed, way.every_n)
    hand = bench_of(mat, "wide", mat.seed, way.every_n)
    cells = [(row, column) for column in range(mat.columns) for row in range(mat.rows)]
    return replace(hand, plan=tuple(Put(cell, load) for load in way.every_n for cell in cells))


def said_by(film: int, number: int) -> FilmFacts:
    """What a mat that is pooled says of its film."""
    mat = mat_of(film, number)
    placements = bench_placements(mat, mat.seed, run_of(mat, WAYS[-1]))
    result = film_from_placements(placements, mat.rows, mat.columns)
    layout = layout_of(mat.layout)
    profile = Profile(
        mat.uid, layout.id, layout.digest, "2026-01-01T10:00:00+00:00", (10.0, 80.0), result.scatter, result.film,
        notes=notes_of(result.fit, placements),
    )  # fmt: skip
    return facts_of(profile)


def error_of(mat: MatSpec, result: BenchResult) -> float:
    """Root mean square of ln of found over true force."""
    true: Any = _true_film(mat, result.film).curves
    off = np.stack([np.log(result.film.curves.force_n(true.conductance_of(n)) / n) for n in _LOADS_N])
    return float(np.sqrt(np.nanmean(off**2)))


def on_mat(film: int, number: int, pool: Expected) -> dict[str, tuple[float, float, int]]:
    """Errors by the typical film's expectation and by the pool's, and placements, by way."""
    mat, out = mat_of(film, number), {}
    for way in WAYS:
        act = run_of(mat, way)
        placements = bench_placements(mat, mat.seed, act)
        errors = [
            error_of(mat, film_from_placements(placements, mat.rows, mat.columns, expected=each))
            for each in (TYPICAL, pool)
        ]
        out[way.name] = errors[0], errors[1], len(act.plan or ())
    return out


def spared(alone: list[tuple[int, float]], error: float) -> float:
    """How many placements it takes alone to come to an error: between ways straight in the logarithms."""
    counts, errors = np.log(np.array(alone)).T
    best = np.minimum.accumulate(errors)
    return float(np.exp(np.interp(-np.log(error), -best, counts)))


def study_films(seeds: int | None = None) -> dict[str, Any]:
    """Medians over the judged mats of `seeds` makers' films (2)."""
    films, found = seeds or 2, []
    for film in range(films):
        pool = expect([said_by(film, number) for number in range(POOLED)])
        found += [on_mat(film, POOLED + number, pool) for number in range(JUDGED)]
    out: dict[str, Any] = {"films, mats pooled of each, judged": (films, POOLED, JUDGED * films)}
    alone = []
    for way in WAYS:
        typical, by_pool, count = np.median([mat[way.name] for mat in found], axis=0).tolist()
        alone.append((int(count), typical))
        better = sum(mat[way.name][1] < mat[way.name][0] for mat in found)
        out[f"{way.name} ({count:.0f}): error alone, pooled, better on"] = (
            round(typical, 4), round(by_pool, 4), f"{better} of {len(found)}",
        )  # fmt: skip
    for way in WAYS[:2]:
        typical, by_pool, count = np.median([mat[way.name] for mat in found], axis=0).tolist()
        out[f"{way.name}: placements spared by the pool"] = round(spared(alone, by_pool) - count)
    return out | {"ok": all(value > 0 for name, value in out.items() if name.endswith("spared by the pool"))}
