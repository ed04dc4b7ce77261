"""Films, hands and golfers as they come: how far off share and centre are, by population, calibration and film memory.

A mat is drawn, calibrated on one day in one of three ways and swung on in other weather by another golfer than the one
who stood for it; the golfer rocks round before the first ball, as asked. What counts on a mat: 95 % of the live frames
in which both feet carry max(30 N, 5 % of the weight) or more are nearer to the truth than the figure that is told.
Shares of mats come with their 95 % interval (C. J. Clopper and E. S. Pearson, Biometrika 26, 1934).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from groundtone.calibration.film import Film, typical_film
from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.calibration.shoes.shoe import film_prior, shoe_from, soles_from
from groundtone.calibration.shoes.standing import standing_film, stood_on
from groundtone.errors import GroundtoneError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.population import (
    MEMORIES,
    draw_doings,
    draw_families,
    draw_golfer,
    draw_mat,
    draw_swings,
    drawn,
    memory_of,
    weathered,
)
from groundtone.twin.scenario import Bench, MatSpec, Put, Session, Standing
from studies.mats import Played, bench_placements, gathered
from studies.study import Study, study

NONE, ONE, STOOD = "no calibration", "bench, round rock", "standing, rock"
TWO, THREE = "bench of two loads a cell, round rock", "bench of three loads a cell, round rock"
EVERY_N = {ONE: (60.0,), TWO: (10.0, 80.0), THREE: (5.0, 25.0, 100.0)}
"""What lies on every cell; a light load is the one that matters most (docs/figures.md)."""
MATS = 100
SWINGS = 3
"""Swings on each mat, with what the golfer does between them."""
FIRST_SEED = 60_000
"""Far from every seed that anything was chosen on."""
ASKED = {  # population, way: share, along in mm, on at least this part of the mats
    ("ordinary", ONE): ((0.012, 3.0, 0.95),),
    ("wide", TWO): ((0.012, 3.0, 0.75), (0.02, 5.0, 0.95)),
    ("wide", THREE): ((0.012, 3.0, 0.75), (0.02, 5.0, 0.95)),
    ("wide", STOOD): ((0.025, 6.0, 0.85),),
}
_SAMPLE_N = (6.0, 20.0, 60.0, 120.0, 200.0)
_PLACEMENT_S, _LIES_ON_S = 8.0, 46.0

Figures = dict[str, Any]


def bench_of(mat: MatSpec, population: str, seed: int, every_n: Sequence[float]) -> Bench:
    """Every cell under each of some loads, a dozen cells under five and from the highest down to 60 N; two lie on."""
    rng = np.random.default_rng([seed, 81])
    hand = drawn("bench", population, rng)
    cells = [(row, column) for column in range(mat.columns) for row in range(mat.rows)]
    plan = [Put(cell, load) for load in every_n for cell in cells]
    dozen = cells[3 :: len(cells) // 12][:12]
    plan += [Put(cell, load) for load in _SAMPLE_N[:-1] if load not in every_n for cell in dozen]
    for cell in dozen:
        plan += [Put(cell, _SAMPLE_N[-1]), Put(cell, 60.0, stay=True)]
    plan += [Put(cell, 98.0, hold_s=_LIES_ON_S) for cell in dozen[:2]]
    return Bench(seed=seed, plan=tuple(plan), scatter=hand["scatter"], repeatability=hand["repeatability"])


def played_of(mat: MatSpec, population: str, seed: int) -> Played:
    """A golfer's session on that mat on another day."""
    golfer = draw_golfer(population, seed)
    swings = draw_swings(population, seed, draw_families(seed, SWINGS))
    doings = draw_doings(population, seed, SWINGS)
    act = Session(golfer, swings, seed=seed, empty_s=6.0, rocks=2, rock_share_sway=0.35, doings=doings)
    return Played(weathered(mat, population, seed), act, golfer)


def stood_of(mat: MatSpec, population: str, seed: int) -> Played:
    """Somebody else who stands on it for the calibration."""
    person = replace(draw_golfer(population, seed + 500_000), hand="right")
    return Played(mat, Standing(person, seed=seed + 20_000), person)


def errors(run: Played, force_n: NDArray[np.float64]) -> list[float]:
    """Errors of share and, mm, along the foot that 95 % of the frames keep to."""
    found = run.measured(force_n)
    both = np.isfinite(found["share"])
    return [float(np.nanpercentile(np.abs(found[name][both]), 95)) for name in ("share", "along mm")]


def rocked(run: Played, film: Film) -> list[float]:
    """Errors with a film, and with what the golfer's round rock has told of the shoes, where it told anything."""
    force = run.above_empty(film)
    still = gathered(run, force, run.known.swings[0].takeaway_s)
    soles = soles_from(still.force_n.max(0), run.layout) if len(still.frames) else None
    found = shoe_from(film_prior(film), still, soles, run.layout, run.weight_n) if soles else None
    return errors(run, force if found is None else force * found.factor)


def standing_of(stood: Played, mat: MatSpec) -> Film | str:
    """The film that standing finds; what is said where it is refused."""
    layout = stood.layout
    weight_n = stood.golfer.mass_kg * STANDARD_GRAVITY
    typical = typical_film(layout.rows, layout.columns)
    typical, postures = stood_on(typical, layout, stood.t_s, stood.conductance_s, weight_n)
    try:
        return standing_film(postures, typical, layout, weight_n).film
    except GroundtoneError as error:
        return str(error)


def one_mat(population: str, seed: int) -> Figures:
    """Errors on one mat by each way, what was refused, and what kind of film it is."""
    mat = draw_mat(population, seed)
    run = played_of(mat, population, seed)
    out: Figures = {"memory": memory_of(mat), "refused": {}}
    typical = typical_film(run.layout.rows, run.layout.columns)
    out[NONE] = errors(run, run.forces(typical))
    for way, loads in EVERY_N.items():
        act = bench_of(mat, population, seed, loads)
        try:
            result = film_from_placements(bench_placements(mat, seed, act), mat.rows, mat.columns)
        except GroundtoneError as error:
            out["refused"][way] = str(error)
            continue
        out[way] = rocked(run, result.film)
        out[f"minutes, {way}"] = sum(max(_PLACEMENT_S, put.hold_s or 0.0) for put in act.plan or ()) / 60
    film = standing_of(stood_of(mat, population, seed), mat)
    if isinstance(film, str):
        out["refused"][STOOD] = film
    else:
        out[STOOD] = rocked(run, film)
    return out


def on_ordinary(seed: int) -> Figures:
    """`one_mat` of the ordinary population."""
    return one_mat("ordinary", seed)


def on_wide(seed: int) -> Figures:
    """`one_mat` of the wide population."""
    return one_mat("wide", seed)


def on_worst(seed: int) -> Figures:
    """`one_mat` of the worst population."""
    return one_mat("worst", seed)


JOBS = {"ordinary": on_ordinary, "wide": on_wide, "worst": on_worst}


def interval(met: int, of: int) -> str:
    """So many of so many, with the 95 % interval of the share, per cent."""
    low = float(beta.ppf(0.025, met, of - met + 1)) if met else 0.0
    high = float(beta.ppf(0.975, met + 1, of - met)) if met < of else 1.0
    return f"{met} of {of} ({100 * low:.0f}-{100 * high:.0f} %)"


def told(mats: Sequence[Figures], population: str) -> tuple[Figures, bool]:
    """Lines of one population, and whether each figure is met."""
    out, ok = {}, True
    for way in (NONE, *EVERY_N, STOOD):
        rows = np.array([mat[way] for mat in mats if way in mat])
        refused = sum(way in mat["refused"] for mat in mats)
        if not len(rows):
            out[f"{population}, {way}"] = f"refused on {refused}"
            continue
        middle, most = np.median(rows, axis=0), np.percentile(rows, 95, axis=0)
        line = f"share {middle[0]:.4f} (95 % of mats {most[0]:.4f}), along {middle[1]:.1f} ({most[1]:.1f}) mm"
        if way != NONE:
            worse = sum(bool(np.any(np.array(mat[way]) > mat[NONE])) for mat in mats if way in mat)
            line += f"; worse than none on {interval(worse, len(rows))}; refused on {refused}"
            ok = ok and worse + refused <= 0.01 * len(mats)
        if f"minutes, {way}" in mats[0]:
            line += f"; {mats[0][f'minutes, {way}']:.0f} minutes of hands"
        out[f"{population}, {way}"] = line
        for share, along, least in ASKED.get((population, way), ()):
            good = [way in mat and mat[way][0] <= share and mat[way][1] <= along for mat in mats]
            by = "; ".join(
                f"{kind} {sum(g for g, mat in zip(good, mats, strict=True) if mat['memory'] == kind)} of "
                f"{sum(mat['memory'] == kind for mat in mats)}"
                for kind in MEMORIES
            )
            asked = f"{population}, {way}: share {share}, along {along:g} mm (asked on {100 * least:.0f} %)"
            out[asked] = interval(sum(good), len(mats)) + (f"; by memory: {by}" if population != "ordinary" else "")
            ok = ok and sum(good) >= least * len(mats)
    return out, ok


def study_as_they_come(seeds: int | None = None) -> Figures:
    """All populations; `seeds` mats (100) of each, `SWINGS` swings a mat."""
    out: Figures = {"asked": "share and along of 95 % of live frames, both feet loaded", "swings a mat": SWINGS}
    ok = True
    for name, job in JOBS.items():
        run: Study = study(f"as they come, {name}", job, range(FIRST_SEED, FIRST_SEED + (seeds or MATS)))
        out[f"{name}: mats"] = f"{len(run.seeds)} of {run.asked}, seeds from {FIRST_SEED}"
        if run.results:
            lines, good = told(run.results, name)
            out |= lines
            ok = ok and (good or name == "worst")
        ok = ok and run.whole
    return out | {"ok": ok}
