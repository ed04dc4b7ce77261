"""Whether stated 95 % intervals meet the truth: events and measures of swings, and force, share and place of frames.

Swings: golfers of the ordinary and of the wide population on a bench-calibrated ordinary mat, with the strike sensor
and without; one line a measure and one a family of swings. Frames: golfers on mats of each population, calibrated with
two loads a cell and the golfer's round rock, by the calibration's own budget (`calibration.uncertainty`). The seeds are
others than those of `balls`. What is not told (NaN) does not count.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.calibration.shoes.shoe import LEAST_POSTURES, MASS_U, film_prior
from groundtone.calibration.uncertainty import budget_of
from groundtone.errors import GroundtoneError
from groundtone.swing.measures import measures
from groundtone.swing.phases import find_swings
from groundtone.twin.population import draw_doings, draw_families, draw_golfer, draw_mat, draw_swings
from groundtone.twin.scenario import Session
from groundtone.twin.true_swing import true_measures
from studies.as_they_come import bench_of, played_of
from studies.balls import MATS, paired
from studies.mats import bench_placements, gathered, shoe_of
from studies.measuring import measured
from studies.study import study

SESSIONS, BALLS = 40, 10
FIRST_SEED = 90_000
EVENTS = ("takeaway", "turn", "top", "impact")
ASKED = (0.92, 0.98)
FRAMES = 60
"""Looked at on one mat."""

Row = tuple[str, str, str, float]
"""Form ("sensor", "pressure"), family, name, error over its standard uncertainty."""


def swings_of(population: str, seed: int) -> list[Row]:
    """Errors over doubts of one golfer's ten balls."""
    rng = np.random.default_rng([seed, 311])
    families = draw_families(seed, BALLS)
    session = Session(
        draw_golfer(population, seed), draw_swings(population, seed, families), seed=seed,
        setup_s=float(rng.uniform(0.9, 2.5)), doings=draw_doings(population, seed, BALLS),
    )  # fmt: skip
    got = measured(seed % MATS, session)
    out: list[Row] = []
    for form, series in (("sensor", got.series), ("pressure", replace(got.series, strikes=()))):
        for k, swing in paired(find_swings(series), got.known.swings):
            true = got.known.swings[k]
            for event in EVENTS:
                moment = getattr(swing, event)
                if moment is not None:
                    off = (moment.t_s - getattr(true, f"{event}_s")) / moment.doubt_s
                    out.append((form, families[k], event, off))
            seen = measures(swing, series, got.doubts)
            for name, value in true_measures(got.known, session, k).items():
                if name in seen and seen[name].known and math.isfinite(value):
                    out.append((form, families[k], name, (seen[name].value - value) / seen[name].u))
    return out


def frames_of(population: str, seed: int) -> list[Row]:
    """Errors over doubts of some frames of a session on one mat of a population."""
    mat = draw_mat(population, seed)
    run = played_of(mat, population, seed)
    try:
        film = film_from_placements(
            bench_placements(mat, seed, bench_of(mat, population, seed, (30.0, 120.0))), mat.rows, mat.columns
        ).film
    except GroundtoneError:
        return []
    rng = np.random.default_rng([seed, 312])
    force = run.above_empty(film)
    # Who never stands still on a film that trembles teaches no shoe.
    shoe = None
    if len(gathered(run, force, run.known.swings[0].takeaway_s).frames) >= LEAST_POSTURES:
        shoe = shoe_of(run, force, film_prior(film), told_off=float(MASS_U * rng.standard_normal()))
        force = force * shoe.factor
    errors, true = run.measured(force), run.known.force_n[run.rows]
    at = rng.choice(np.flatnonzero(np.isfinite(errors["share"])), FRAMES)
    stated = budget_of(run.layout, film, shoe).of(force[at])
    out = [("frames", "", "share", float(z)) for z in errors["share"][at] / stated.share]
    for name, off, u in (
        ("force", errors["foot %"][at] / 100 * true[at], stated.force_n),
        ("along", errors["along mm"][at], stated.along_mm),
        ("across", errors["across mm"][at], stated.across_mm),
    ):
        z = (off / u).ravel()
        out += [("frames", "", name, float(value)) for value in z[np.isfinite(z)]]
    return out


def ordinary(seed: int) -> list[Row]:
    """`swings_of` the ordinary population."""
    return swings_of("ordinary", seed)


def wide(seed: int) -> list[Row]:
    """`swings_of` the wide population."""
    return swings_of("wide", seed)


def ordinary_frames(seed: int) -> list[Row]:
    """`frames_of` the ordinary population."""
    return frames_of("ordinary", seed)


def wide_frames(seed: int) -> list[Row]:
    """`frames_of` the wide population."""
    return frames_of("wide", seed)


JOBS = {
    "ordinary": ordinary, "wide": wide, "frames on ordinary mats": ordinary_frames, "frames on wide mats": wide_frames,
}  # fmt: skip


def told(rows: Sequence[Row]) -> tuple[dict[str, str], bool]:
    """Part inside of each name, and whether all lie where it is asked within what chance does to so many."""
    of: dict[str, list[float]] = defaultdict(list)
    for form, _, name, z in rows:
        of[f"{name}, {form}"].append(z)
    lines, ok = {}, True
    for name, values in sorted(of.items()):
        part = float(np.mean(np.abs(values) <= 1.96))
        by_chance = 2 * math.sqrt(0.05 * 0.95 / len(values))
        good = ASKED[0] - by_chance <= part <= min(ASKED[1] + by_chance, 1.0)
        lines[name] = f"{part:.3f} of {len(values)}" + ("" if good else " (missed)")
        ok = ok and good
    return lines, ok


def by_family(rows: Sequence[Row]) -> dict[str, str]:
    """Part inside of all events and measures of each family of swings together."""
    of: dict[str, list[float]] = defaultdict(list)
    for form, family, _, z in rows:
        if family:
            of[f"{family}, {form}"].append(z)
    return {name: f"{float(np.mean(np.abs(v) <= 1.96)):.3f} of {len(v)}" for name, v in sorted(of.items())}


def study_intervals(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `seeds` sessions of ten balls (40) a population, and as many mats."""
    out: dict[str, Any] = {"asked": "0.92 to 0.98 inside the stated 95 %"}
    good = True
    for name, job in JOBS.items():
        seeds_of = range(FIRST_SEED, FIRST_SEED + (seeds or SESSIONS))
        run = study(f"intervals, {name}", job, seeds_of, ("calibration", "mat", "pressure", "swing", "twin"))
        rows = [tuple(row) for part in run.results for row in part]
        lines, ok = told(rows)
        out[name] = lines
        if name in ("ordinary", "wide"):
            out[f"{name}, by family"] = by_family(rows)
        good = good and ok and run.whole
    return out | {"ok": good}
