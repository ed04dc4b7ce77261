"""Whether the mat's stated uncertainty meets the truth: lead share and heel-toe place, frame by frame, on twin mats.

Mats of the ordinary and of the wide population, calibrated with two loads a cell; a golfer rocks straight, or round, or
is measured as if no shoe had been learnt. The weight is not told, as in review. Error over stated standard uncertainty
of some frames in which both feet are loaded; a mat's frames err alike, so the interval of a part comes from the mats.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.calibration.shoes.shoe import LEAST_POSTURES, film_prior, shoe_from, soles_from
from groundtone.calibration.uncertainty import budget_of
from groundtone.errors import CalibrationError
from groundtone.twin.population import draw_mat
from studies.as_they_come import bench_of, played_of
from studies.mats import Played, bench_placements, gathered
from studies.study import study

MATS, FRAMES = 40, 60
FIRST_SEED = 120_000
"""Seeds that nothing was chosen on; terms were chosen on mats from 2001 and 150000 on."""
ROCKS = ("straight", "round")
CASES = ("straight rock", "round rock", "no shoes learnt")
ASKED = (0.92, 0.98)
NAMES = ("share", "along")

Rows = dict[str, list[list[float]]]


def rows_of(population: str, seed: int) -> Rows:
    """Error over doubt, doubt and true share of some frames, by case and name."""
    mat = draw_mat(population, seed)
    round_run = played_of(mat, population, seed)
    placed = bench_placements(mat, seed, bench_of(mat, population, seed, (30.0, 120.0)))
    try:
        film = film_from_placements(placed, mat.rows, mat.columns).film
    except CalibrationError:
        return {}
    out: Rows = {}
    for rock in ROCKS:
        run = round_run
        if rock == "straight":
            run = Played(run.mat, replace(run.act, rocks=1, rock_share_sway=0.0), run.golfer)  # type: ignore[arg-type]
        _looked_at(run, film, rock, seed, out)
    return out


def _looked_at(run: Played, film: Any, rock: str, seed: int, out: Rows) -> None:
    rng = np.random.default_rng([seed, 313])
    plain = run.above_empty(film)
    still = gathered(run, plain, run.known.swings[0].takeaway_s)
    soles = soles_from(still.force_n.max(0), run.layout) if len(still.frames) >= LEAST_POSTURES else None
    shoe = shoe_from(film_prior(film), still, soles, run.layout) if soles else None
    for case, known in ((f"{rock} rock", shoe), ("no shoes learnt", None)):
        if (case.startswith("no") and rock == "straight") or (case.endswith("rock") and known is None):
            continue
        force = plain if known is None else plain * known.factor
        errors = run.measured(force)
        at = rng.choice(np.flatnonzero(np.isfinite(errors["share"])), FRAMES)
        stated = budget_of(run.layout, film, known).of(force[at])
        share = run.known.lead_share[run.rows[at]]
        rows = np.stack([errors["share"][at] / stated.share, stated.share, share], axis=1)
        out[f"{case}|share"] = np.round(rows, 6).tolist()
        side = np.arange(FRAMES) % 2
        off = errors["along mm"][at, side]
        rows = np.stack(
            [off / stated.along_mm[np.arange(FRAMES), side], stated.along_mm[np.arange(FRAMES), side], share], 1
        )
        out[f"{case}|along"] = np.round(rows[np.isfinite(rows).all(1)], 6).tolist()


def on_ordinary(seed: int) -> Rows:
    """`rows_of` the ordinary population."""
    return rows_of("ordinary", seed)


def on_wide(seed: int) -> Rows:
    """`rows_of` the wide population."""
    return rows_of("wide", seed)


JOBS = {"ordinary": on_ordinary, "wide": on_wide}


def told(mats: Sequence[Rows], population: str) -> tuple[dict[str, Any], bool]:
    """Part of the frames inside ±1.96 of each case, and whether it is what is asked as far as the mats can tell."""
    out: dict[str, Any] = {}
    ok = True
    for case in CASES:
        for name in NAMES:
            parts = [np.array(mat[f"{case}|{name}"]) for mat in mats if mat.get(f"{case}|{name}")]
            if not parts:
                out[f"{population}, {case}, {name}"] = "no mat was measured (missed)"
                ok = False
                continue
            inside = np.array([float((np.abs(part[:, 0]) <= 1.96).mean()) for part in parts])
            z = np.concatenate(parts)
            u = 2 * float(inside.std(ddof=1)) / math.sqrt(len(inside)) if len(inside) > 1 else math.nan
            middle = float(inside.mean())
            good = ASKED[0] <= middle <= ASKED[1]
            out[f"{population}, {case}, {name}"] = (
                f"{middle:.3f} ± {u:.3f} of {len(parts)} mats; error {np.sqrt(np.mean((z[:, 0] * z[:, 1]) ** 2)):.4f}, "
                f"stated {np.sqrt(np.mean(z[:, 1] ** 2)):.4f} (root mean square)" + ("" if good else " (missed)")
            )
            ok = ok and good
    return out, ok


def study_mats(seeds: int | None = None, first: int = FIRST_SEED) -> dict[str, Any]:
    """All populations; `seeds` mats (`MATS`) of each."""
    out: dict[str, Any] = {}
    ok = True
    also = ("mats.py", "as_they_come.py", "budgets.py", "evidence_mats.py")
    for population, job in JOBS.items():
        done = study(f"evidence mats {population}", job, range(first, first + (seeds or MATS)), also=also)
        lines, good = told(done.results, population)
        out |= lines
        ok = ok and good
    out["ok"] = ok
    return out
