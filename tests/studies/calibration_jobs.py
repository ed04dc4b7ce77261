"""One simulated mat of a calibration study: what each way of calibrating comes to in shoes.

What counts on a mat: every frame from step-on to step-off, standing and swinging alike, in which the foot (or both
feet) carry at least max(30 N, 5 % of the body's weight). Four invented golfers of 30, 50, 75 and 110 kg stand on the
mats in turn, in three kinds of shoe, right- and left-handed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import Kind, Verdict
from groundtone.calibration.film import Film
from groundtone.calibration.shoes.shoe import MASS_U, SHOE_SPAN_NO_PADS, film_prior
from groundtone.calibration.shoes.standing import standing_film
from groundtone.calibration.uncertainty import budget_of
from groundtone.errors import GroundtoneError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.loads import make_loads
from groundtone.twin.scenario import Check, GolferSpec, MatSpec, Scenario, Standing
from studies.budgets import COVERAGE, cell_u_n
from studies.mats import (
    Played,
    bench_film,
    cell_places,
    checked,
    gathered,
    golfer_of,
    session_of,
    shoe_of,
    typical_film,
    worst_95,
)

NONE, BENCH, STRAIGHT, ROUND = "no calibration", "bench alone", "bench, straight rock", "bench, round rock"
UNTOLD, CHECKED = "bench, round rock, mass not told", "bench, check, straight rock"
STOOD, STOOD_ALONE = "standing only, round rock", "standing only, shoes not learnt"
AGED, AGED_CHECK, AGED_ROCK = "no correction", "check, round rock", "round rock without the check"
MASS_OF_STANDER_KG = 78.4

Rows = dict[str, list[float]]


def ordinary(seed: int) -> MatSpec:
    """A mat of the ordinary set."""
    return MatSpec.reference(seed=seed, gain_sigma=0.25, shoe_ratio_span=0.15)


def hard(seed: int) -> MatSpec:
    """A mat of the hard set."""
    return MatSpec.reference(seed=seed, gain_sigma=0.40, shoe_ratio_span=0.15)


def without_pads(seed: int) -> MatSpec:
    """A mat whose crossings have no pads."""
    return MatSpec.reference(seed=seed, gain_sigma=0.25, shoe_ratio_span=0.30, pads=False)


def also_beside(seed: int) -> bool:
    """A mat of which what is only told beside the figures is worked out as well: a fifth, with all golfers."""
    return seed // 4 % 5 == 0


def accuracy(seed: int, mat_of: Callable[[int], MatSpec], span: float | None = None) -> Rows:
    """Errors on one mat with each way of calibrating; a straight rock and a check on some mats only."""
    mat, golfer = mat_of(seed), golfer_of(seed)
    film, typical = bench_film(mat, seed), typical_film(mat)
    prior = film_prior(film) if span is None else film_prior(film, span)
    out: Rows = {}
    run = Played(mat, session_of(seed, golfer), golfer)
    force = run.above_empty(film)
    out[NONE] = worst_95(run.measured(run.forces(typical)))
    out[BENCH] = worst_95(run.measured(force))
    out[ROUND] = worst_95(run.measured(force * shoe_of(run, force, prior).factor))
    out[UNTOLD] = worst_95(run.measured(force * shoe_of(run, force, prior, told=False).factor))
    if not also_beside(seed):
        return out
    straight = Played(mat, session_of(seed, golfer, "straight"), golfer)
    force = straight.above_empty(film)
    out[STRAIGHT] = worst_95(straight.measured(force * shoe_of(straight, force, prior).factor))
    check = Played(mat, Check(golfer, seed=seed + 10_000, shoe_seed=seed), golfer)
    found = checked(check, film, golfer.mass_kg)
    force = straight.above_empty(found.film)
    out[CHECKED] = worst_95(straight.measured(force * shoe_of(straight, force, found.gains).factor))
    return out


def standing(seed: int, mat_of: Callable[[int], MatSpec]) -> Rows:
    """Errors on one mat that only a person who stood on it has calibrated: somebody else than the golfer."""
    mat, golfer = mat_of(seed), golfer_of(seed)
    typical = typical_film(mat)
    person = GolferSpec(mass_kg=MASS_OF_STANDER_KG, shoe_mm=285.0)
    stood = Played(mat, Standing(person, seed=seed + 20_000), person)
    postures = gathered(stood, stood.above_empty(typical), math.inf, across=True)
    film = standing_film(postures, typical, stood.layout, person.mass_kg * STANDARD_GRAVITY).film
    run = Played(mat, session_of(seed, golfer), golfer)
    force = run.above_empty(film)
    return {
        NONE: worst_95(run.measured(run.forces(typical))),
        STOOD_ALONE: worst_95(run.measured(force)),
        STOOD: worst_95(run.measured(force * shoe_of(run, force, film_prior(film)).factor)),
    }


def aged(mat: MatSpec, seed: int, golfer: GolferSpec) -> MatSpec:
    """The mat later: each cell -20 to +20 %, all -15 %, and four dead cells somewhere under the feet."""
    rng = np.random.default_rng([seed, 99])
    loads = make_loads(Scenario(mat, Check(golfer, seed=seed + 10_000, shoe_seed=seed)))
    most = loads.film_forces(0, loads.steps).max(0)
    under = np.argwhere(most > 2.0)
    dead = tuple((int(r), int(c)) for r, c in under[rng.choice(len(under), 4, replace=False)])
    return replace(mat, aged_each=0.20, aged_common=-0.15, dead_cells=dead)


def beyond_repair(mat: MatSpec, seed: int, most_n: NDArray[np.float64]) -> MatSpec:
    """The same mat, ruined in one of five ways in turn; `most_n` is what each cell carries at most in the check."""
    rng = np.random.default_rng([seed, 98])

    def cells(count: int, least_n: float) -> tuple[tuple[int, int], ...]:
        under = np.argwhere(most_n >= least_n)
        chosen = under[rng.choice(len(under), min(count, len(under)), replace=False)]
        return tuple((int(r), int(c)) for r, c in chosen)

    column = int(most_n.sum(0).argmax())
    loaded = int((most_n > 5.0).sum())
    return (
        replace(mat, dead_cells=cells(loaded // 2, 5.0)),
        replace(mat, dead_cells=tuple((row, column) for row in range(mat.rows))),
        replace(mat, aged_each=0.95),
        replace(mat, aged_common=-0.6, aged_each=0.5),
        replace(mat, shorted_cells=cells(6, 0.0)),
    )[seed % 5]


def ageing(seed: int) -> tuple[Rows, dict[str, Any]]:
    """Errors on one aged mat, and what the check said of it, of the good one and of a ruined one."""
    golfer, new = golfer_of(seed), ordinary(seed)
    old = aged(new, seed, golfer)
    film = bench_film(new, seed)
    act = Check(golfer, seed=seed + 10_000, shoe_seed=seed)
    loads = make_loads(Scenario(new, act))
    most = loads.film_forces(0, loads.steps).max(0)
    result = checked(Played(old, act, golfer), film, golfer.mass_kg)
    found = {cell for f in result.findings if f.kind is Kind.DEAD for cell in f.cells}
    run = Played(old, session_of(seed, golfer), golfer)
    rows: Rows = {AGED: worst_95(run.measured(run.forces(film)))}
    force = run.above_empty(film)
    rows[AGED_ROCK] = worst_95(run.measured(force * shoe_of(run, force, film_prior(film)).factor))
    force = run.above_empty(result.film)
    rows[AGED_CHECK] = worst_95(run.measured(force * shoe_of(run, force, result.gains).factor))
    heavy = [cell for cell in old.dead_cells if most[cell] > 10.0]
    said = {
        "heavy dead": len(heavy),
        "missed": [[seed, *cell] for cell in heavy if cell not in found],
        "called dead and alive": len(found - set(old.dead_cells)),
        "light dead not said": sum(c not in found | set(result.unseen) for c in old.dead_cells if most[c] <= 10.0),
        "aged": result.verdict.words,
        "good": checked(Played(new, act, golfer), film, golfer.mass_kg).verdict.words,
        "ruined": _verdict_of(Played(beyond_repair(new, seed, most), act, golfer), film),
    }
    return rows, said


def _verdict_of(played: Played, film: Film) -> str:
    try:
        return checked(played, film, played.golfer.mass_kg).verdict.words
    except GroundtoneError:
        # A mat that is never seen empty is refused with a sentence.
        return Verdict.NOT_FIT.words


BEYOND = (1.0, 1.5, 2.0, 3.0)
"""Times the highest calibrated load at which the stated uncertainty of a cell's force is looked at."""


def covered(seed: int) -> dict[str, Any]:
    """Error and standard uncertainty of one random frame on a mat that differs from what the budget assumes; and the
    stated 95 % of a cell's force above the highest calibrated load.
    """
    rng = np.random.default_rng([seed, 97])
    golfer = golfer_of(seed)
    mat = replace(
        ordinary(seed),
        creep_per_decade=float(rng.uniform(0.015, 0.045)),
        hysteresis=float(rng.uniform(0.02, 0.08)),
        shoe_ratio_span=float(rng.uniform(0.08, 0.20)),
        exponent=float(rng.uniform(0.86, 0.94)),
    )
    film = bench_film(mat, seed)
    run = Played(mat, session_of(seed, golfer, swings=1), golfer)
    force = run.above_empty(film)
    # Clothes, bag and bathroom scale: a mass is told as well as the budget assumes, not better.
    shoe = shoe_of(run, force, film_prior(film), told_off=float(MASS_U * rng.standard_normal()))
    force = force * shoe.factor
    errors = run.measured(force)
    both = np.flatnonzero(np.isfinite(errors["share"]))
    at = int(rng.choice(both))
    frame = force[at : at + 1]
    budget = budget_of(run.layout, film, shoe, cell_places(run.stance, run.layout))
    stated = budget.of(frame)
    assert stated.place_mm is not None
    true = run.known.force_n[run.rows[at]]
    out = {
        "share": (float(errors["share"][at]), float(stated.share[0])),
        "between the feet": (float(errors["between mm"][at]), float(stated.place_mm[0, 0])),
    }
    for side, name in enumerate(("left", "right")):
        out[f"force, {name}"] = (float(errors["foot %"][at, side] * true[side] / 100), float(stated.force_n[0, side]))
        out[f"along, {name}"] = (float(errors["along mm"][at, side]), float(stated.along_mm[0, side]))
        across = float(errors["across mm"][at, side])
        out[f"across, {name}"] = (across, float(stated.across_mm[0, side]))
    heavy = film.highest_n * np.array(BEYOND)[:, None, None] * np.ones((1, run.layout.rows, run.layout.columns))
    beyond = COVERAGE * np.median(cell_u_n(budget, heavy) / heavy, axis=(1, 2))
    return {"pairs": out, "beyond": beyond.tolist()}


def on_ordinary(seed: int) -> Rows:
    """`accuracy` on a mat of the ordinary set."""
    return accuracy(seed, ordinary)


def on_hard(seed: int) -> Rows:
    """`accuracy` on a mat of the hard set."""
    return accuracy(seed, hard)


def on_pads_left_away(seed: int) -> Rows:
    """`accuracy` on a mat without pads."""
    return accuracy(seed, without_pads, SHOE_SPAN_NO_PADS)


def standing_on_ordinary(seed: int) -> Rows:
    """`standing` on a mat of the ordinary set."""
    return standing(seed, ordinary)


def standing_on_hard(seed: int) -> Rows:
    """`standing` on a mat of the hard set."""
    return standing(seed, hard)
