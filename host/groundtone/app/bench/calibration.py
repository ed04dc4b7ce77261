"""How good a calibration is in shoes: the figures over many simulated mats, each beside doing nothing.

What counts on a mat: every frame from step-on to step-off, standing and swinging alike, in which the foot (or both
feet) carry at least max(30 N, 5 % of the body's weight). "Met" means 95 % of a mat's frames are nearer to the truth
than the figure; 95 of 100 mats have to meet it. Four invented golfers of 30, 50, 75 and 110 kg stand on the mats in
turn, in three kinds of shoe, right- and left-handed.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.app.bench.calibration_fit import bench_calibration_fit
from groundtone.app.bench.mats import (
    FIGURES,
    GRAVITY,
    Played,
    bench_film,
    cell_places,
    checked,
    gathered,
    golfer_of,
    limits,
    session_of,
    shoe_of,
    typical_film,
    worst_95,
)
from groundtone.calibration.film import Film
from groundtone.calibration.shoe import SHOE_SPAN_NO_PADS, film_prior
from groundtone.calibration.standing import standing_film
from groundtone.calibration.uncertainty import COVERAGE, budget_of
from groundtone.calibration.verdict import Kind, Verdict
from groundtone.errors import GroundtoneError
from groundtone.twin.loads import make_loads
from groundtone.twin.scenario import Check, GolferSpec, MatSpec, Scenario, Standing

NONE, BENCH, STRAIGHT, ROUND = "no calibration", "bench alone", "bench, straight rock", "bench, round rock"
UNTOLD, CHECKED = "bench, round rock, mass not told", "bench, check, straight rock"
STOOD, STOOD_ALONE = "standing only, round rock", "standing only, shoes not learnt"
AGED, AGED_CHECK, AGED_ROCK = "no correction", "check, round rock", "round rock without the check"
HEADLINE = ROUND
MASS_OF_STANDER_KG = 78.4

Rows = dict[str, list[float]]


def ordinary(seed: int) -> MatSpec:
    """A mat of the ordinary set."""
    return MatSpec(seed=seed, gain_sigma=0.25, shoe_ratio_span=0.15)


def hard(seed: int) -> MatSpec:
    """A mat of the hard set."""
    return MatSpec(seed=seed, gain_sigma=0.40, shoe_ratio_span=0.15)


def without_pads(seed: int) -> MatSpec:
    """A mat whose crossings have no pads."""
    return MatSpec(seed=seed, gain_sigma=0.25, shoe_ratio_span=0.30, pads=False)


def accuracy(seed: int, mat_of: Callable[[int], MatSpec], span: float | None = None) -> Rows:
    """Errors on one mat with each way of calibrating."""
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
    film = standing_film(postures, typical, stood.layout, person.mass_kg * GRAVITY).film
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
        "missed": [(seed, *cell) for cell in heavy if cell not in found],
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


def covered(seed: int) -> dict[str, tuple[float, float]]:
    """Error and standard uncertainty of one random frame on a mat that differs from what the budget assumes."""
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
    shoe = shoe_of(run, force, film_prior(film))
    force = force * shoe.factor
    errors = run.measured(force)
    both = np.flatnonzero(np.isfinite(errors["share"]))
    at = int(rng.choice(both))
    frame = force[at : at + 1]
    stated = budget_of(run.layout, film, shoe, cell_places(run.stance, run.layout)).of(frame)
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
    return out


def _one_thread() -> None:
    warnings.filterwarnings("ignore", category=RuntimeWarning)


def spread(job: Callable[[int], Any], seeds: range) -> Iterator[Any]:
    """A job for each seed, on two processes of one thread each: small matrices gain nothing from more."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn"), _one_thread) as pool:
        yield from pool.map(job, seeds, chunksize=2)


def _ordinary(seed: int) -> Rows:
    return accuracy(seed, ordinary)


def _hard(seed: int) -> Rows:
    return accuracy(seed, hard)


def _without_pads(seed: int) -> Rows:
    return accuracy(seed, without_pads, SHOE_SPAN_NO_PADS)


def _standing_ordinary(seed: int) -> Rows:
    return standing(seed, ordinary)


def _standing_hard(seed: int) -> Rows:
    return standing(seed, hard)


def _table(rows: list[Rows], seeds: range, factor: float = 1.0) -> dict[str, str]:
    """One line for each way: what 95 of 100 mats meet, and how many mats meet the figure."""
    asked = factor * np.array([limits(golfer_of(seed)) for seed in seeds])
    out = {}
    for way in rows[0]:
        errors = np.array([row[way] for row in rows])
        p95 = np.percentile(errors / asked, 95, axis=0)
        met = (errors <= asked).mean(0)
        values = np.percentile(errors, 95, axis=0)
        parts = []
        for name, value, part, ratio in zip(FIGURES, values, met, p95, strict=True):
            parts.append(f"{name} {value:.3g} (met by {100 * part:.0f} %, 95th at {ratio:.2f} of it)")
        out[way] = "; ".join(parts)
    return out


def _ratio(rows: list[Rows], way: str, to: str) -> list[float]:
    """95th percentile over the mats of one way over that of another, each figure."""
    a, b = (np.percentile([row[name] for row in rows], 95, axis=0) for name in (way, to))
    return [round(float(v), 2) for v in a / b]


def _meets(rows: list[Rows], way: str, seeds: range, factor: float = 1.0) -> bool:
    asked = factor * np.array([limits(golfer_of(seed)) for seed in seeds])
    met = (np.array([row[way] for row in rows]) <= asked).mean(0)
    return bool((met >= 0.95).all())


def bench_calibration(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether all are met. `seeds` mats (100) a set, ten times for coverage."""
    count = seeds or 100
    mats = range(1, count + 1)
    out: dict[str, Any] = {"mats": count, "asked": "foot 6 %; share 0.012; along 3 mm; between 0.012 x stance + 1 mm"}
    sets = {"ordinary set": list(spread(_ordinary, mats)), "hard set (1.5 times)": list(spread(_hard, mats))}
    ok = _meets(sets["ordinary set"], HEADLINE, mats) and _meets(sets["hard set (1.5 times)"], HEADLINE, mats, 1.5)
    for name, rows in sets.items():
        factor = 1.5 if "hard" in name else 1.0
        out |= {f"{name}, {way}": text for way, text in _table(rows, mats, factor).items()}
    half = _ratio(sets["hard set (1.5 times)"], HEADLINE, NONE)
    out["hard set, round rock over no calibration (half asked)"] = half
    out |= {f"without pads, {way}": text for way, text in _table(list(spread(_without_pads, mats)), mats).items()}
    stood = {name: list(spread(job, mats)) for name, job in _STANDING.items()}
    for name, rows in stood.items():
        out |= {f"{name}, {way}": text for way, text in _table(rows, mats).items()}
    halves = _ratio(stood["hard set"], STOOD, NONE)
    out["hard set, standing over no calibration (half asked)"] = halves
    worse = _worse(stood["ordinary set"])
    out["ordinary set, mats on which standing is worse than none (none asked), each figure"] = worse
    ok = ok and max(half) <= 0.5 and max(halves) <= 0.5 and not any(worse)
    told, aged_ok = _told(list(spread(ageing, mats)), mats)
    out |= told
    fit = bench_calibration_fit()
    out["the fit itself"] = fit
    inside, honest = _coverage(list(spread(covered, range(1, 10 * count + 1))))
    out |= inside
    out["ok"] = bool(ok and aged_ok and honest and fit.get("ok", True))
    return out


_STANDING = {"ordinary set": _standing_ordinary, "hard set": _standing_hard}


def _worse(rows: list[Rows]) -> list[int]:
    better = np.array([row[STOOD] for row in rows]) <= np.array([row[NONE] for row in rows])
    return [int(v) for v in (~better).sum(0)]


def _told(results: list[tuple[Rows, dict[str, Any]]], mats: range) -> tuple[dict[str, Any], bool]:
    """What the checks of aged, good and ruined mats came to."""
    rows = [row for row, _ in results]
    said = [what for _, what in results]
    out: dict[str, Any] = {f"aged, {way}": text for way, text in _table(rows, mats).items()}
    usable = [row for row, what in results if what["aged"] != Verdict.NOT_FIT.words]
    half = _ratio(usable, AGED_CHECK, AGED)
    missed = [cell for what in said for cell in what["missed"]]
    refused = sum(what["good"] == Verdict.NOT_FIT.words for what in said)
    trusted = sum(what["ruined"] != Verdict.NOT_FIT.words for what in said)
    out["aged and not called unfit, check over no correction (half asked)"] = half
    out["dead cells under more than 10 N"] = sum(what["heavy dead"] for what in said)
    out["of these missed (none asked): seed, row, column"] = missed
    out["living cells called dead"] = sum(what["called dead and alive"] for what in said)
    for name in ("good", "aged", "ruined"):
        words = [what[name] for what in said]
        out[f"verdicts on {name} mats"] = {word: words.count(word) for word in sorted(set(words))}
    return out, max(half) <= 0.5 and not missed and refused <= 0.02 * len(said) and not trusted


def _coverage(results: list[dict[str, tuple[float, float]]]) -> tuple[dict[str, Any], bool]:
    """How many errors lie inside the stated 95 % intervals."""
    out: dict[str, Any] = {"mats of the coverage study, one frame each": len(results)}
    honest = True
    for name in results[0]:
        pairs = np.array([r[name] for r in results])
        inside = float((np.abs(pairs[:, 0]) <= COVERAGE * pairs[:, 1]).mean())
        out[f"inside the stated 95 % interval, {name} (92-98 % asked)"] = f"{100 * inside:.1f} %"
        honest = honest and 0.92 <= inside <= 0.98
    return out, honest
