"""How good a calibration is in shoes: the figures over many simulated mats, each beside doing nothing.

"Met" means that 95 % of a mat's frames are nearer to the truth than the figure (see `calibration_jobs` for what
counts); 95 of 100 mats have to meet it. Each part is a benchmark of its own; "calibration" is all of them in turn, and
prints what there is when it is cut. `studies.study` keeps results, if it is told where.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import click
import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import Verdict
from studies import calibration_jobs as jobs
from studies.budgets import COVERAGE
from studies.calibration_fit import study_calibration_fit
from studies.calibration_jobs import AGED, AGED_CHECK, NONE, ROUND, STOOD, Rows
from studies.mats import FIGURES, golfer_of, limits
from studies.study import Study, study

HEADLINE = ROUND
MATS, DRAWS, PADLESS = 100, 1000, 40
CUT = "cut before it was done"
ASKED = "foot 6 %; share 0.012; along 3 mm; between 0.012 x stance + 1 mm"


def study_ordinary(seeds: int | None = None) -> dict[str, Any]:
    """The ordinary set; `seeds` mats (100)."""
    run = study("ordinary set", jobs.on_ordinary, range(1, (seeds or MATS) + 1))
    return _accuracy(run, 1.0)


def study_hard(seeds: int | None = None) -> dict[str, Any]:
    """The hard set, at 1.5 times the figures, and against no calibration; `seeds` mats (100)."""
    run = study("hard set", jobs.on_hard, range(1, (seeds or MATS) + 1))
    out = _accuracy(run, 1.5)
    if not run.results:
        return out
    halves, ok = _halves(run, HEADLINE)
    return {"figures": f"1.5 times: {ASKED}"} | out | halves | {"ok": out["ok"] and ok}


def study_without_pads(seeds: int | None = None) -> dict[str, Any]:
    """Mats whose crossings have no pads, reported only; `seeds` mats (40)."""
    run = study("without pads", jobs.on_pads_left_away, range(1, (seeds or PADLESS) + 1))
    return _accuracy(run, 1.0) | {"ok": True, "asked": "nothing: reported, for pads are part of the specification"}


def study_standing(seeds: int | None = None) -> dict[str, Any]:
    """A standing run alone, both sets; `seeds` mats (100) of each."""
    count = range(1, (seeds or MATS) + 1)
    hard = study("standing, hard set", jobs.standing_on_hard, count)
    usual = study("standing, ordinary set", jobs.standing_on_ordinary, count)
    if not hard.results or not usual.results:
        return _nothing(hard)
    halves, ok = _halves(hard, STOOD)
    out = {f"hard set, {way}": text for way, text in table(hard.results, hard.seeds).items()} | halves
    out |= {f"ordinary set, {way}": text for way, text in table(usual.results, usual.seeds).items()}
    worse = worse_than_none(usual.results)
    out["ordinary set, mats on which standing is worse than none (none asked), each figure"] = worse
    return _counted(hard, usual) | out | {"ok": ok and not any(worse) and hard.whole and usual.whole}


def study_ageing(seeds: int | None = None) -> dict[str, Any]:
    """What the check makes of aged, good and ruined mats; `seeds` mats (100)."""
    run = study("ageing", jobs.ageing, range(1, (seeds or MATS) + 1))
    if not run.results:
        return _nothing(run)
    rows = [row for row, _ in run.results]
    said = [what for _, what in run.results]
    out: dict[str, Any] = _counted(run)
    out |= {f"aged, {way}": text for way, text in table(rows, run.seeds).items()}
    usable = [row for row, what in run.results if what["aged"] != Verdict.NOT_FIT.words]
    half = ratio(usable, AGED_CHECK, AGED)
    parts = np.array([row[AGED_CHECK] for row in usable]) / np.array([row[AGED] for row in usable])
    missed = [cell for what in said for cell in what["missed"]]
    refused = sum(what["good"] == Verdict.NOT_FIT.words for what in said)
    trusted = sum(what["ruined"] != Verdict.NOT_FIT.words for what in said)
    out["aged and not called unfit, check over no correction (half asked), 95th over 95th"] = half
    out["of these mats, halved on, each figure"] = _percent((parts <= 0.5).mean(0))
    out["dead cells under more than 10 N"] = sum(what["heavy dead"] for what in said)
    out["of these missed (none asked): seed, row, column"] = missed
    out["dead cells under less that were neither found nor listed as not seen (none asked)"] = sum(
        what["light dead not said"] for what in said
    )
    out["living cells called dead"] = sum(what["called dead and alive"] for what in said)
    for name in ("good", "aged", "ruined"):
        words = [what[name] for what in said]
        out[f"verdicts on {name} mats"] = {word: words.count(word) for word in sorted(set(words))}
    ok = max(half) <= 0.5 and not missed and refused <= 0.02 * len(said) and not trusted
    return out | {"ok": ok and run.whole}


def study_coverage(seeds: int | None = None) -> dict[str, Any]:
    """Whether stated uncertainties are honest: `seeds` mats (1,000), one frame each."""
    run = study("coverage", jobs.covered, range(1, (seeds or DRAWS) + 1))
    if not run.results:
        return _nothing(run)
    out: dict[str, Any] = _counted(run)
    honest = True
    for name in run.results[0]["pairs"]:
        pairs = np.array([r["pairs"][name] for r in run.results])
        part = inside(pairs)
        out[f"inside the stated 95 % interval, {name} (92-98 % asked)"] = f"{100 * part:.1f} %"
        honest = honest and 0.92 <= part <= 0.98
    beyond = np.array([r["beyond"] for r in run.results])
    stated = " ".join(f"{times:g}: {100 * u:.1f} %" for times, u in zip(jobs.BEYOND, np.median(beyond, 0), strict=True))
    out["stated 95 % of a cell's force at times the highest calibrated load (widens)"] = stated
    widens = bool((np.diff(beyond, axis=1) > 0).all())
    return out | {"ok": honest and widens and run.whole}


PARTS: dict[str, Callable[[int | None], dict[str, Any]]] = {
    "ordinary set": study_ordinary,
    "hard set": study_hard,
    "standing": study_standing,
    "ageing": study_ageing,
    "the fit itself": study_calibration_fit,
    "coverage": study_coverage,
    "without pads": study_without_pads,
}


def study_calibration(seeds: int | None = None) -> dict[str, Any]:
    """All parts in turn; `seeds` mats (100) a set, ten times for coverage. Each part is told when it is done; a part
    that was cut is the last.
    """
    out: dict[str, Any] = {"asked": ASKED}
    ok = True
    for name, part in PARTS.items():
        count = seeds * 10 if seeds is not None and name == "coverage" else seeds
        figures = part(count)
        click.echo(json.dumps({name: figures}, indent=1), err=True)
        out |= {f"{name}: {key}": value for key, value in figures.items()}
        ok = ok and bool(figures["ok"])
        if CUT in figures:
            return out | {"ok": False}
    return out | {"ok": ok}


def table(rows: tuple[Rows, ...] | list[Rows], seeds: tuple[int, ...], factor: float = 1.0) -> dict[str, str]:
    """One line for each way: what 95 of 100 mats meet, and how many mats meet the figure.

    Parameters
    ----------
    rows : sequence of Rows
        One a mat; a way that only some mats have is told of those.
    seeds : tuple of int
    factor : float
        On the figures of an ordinary mat.
    """
    out = {}
    for way in dict.fromkeys(way for row in rows for way in row):
        some = [(row[way], seed) for row, seed in zip(rows, seeds, strict=True) if way in row]
        errors = np.array([row for row, _ in some])
        asked = factor * np.array([limits(golfer_of(seed)) for _, seed in some])
        p95 = np.percentile(errors / asked, 95, axis=0)
        met = (errors <= asked).mean(0)
        values = np.percentile(errors, 95, axis=0)
        parts = []
        for name, value, part, times in zip(FIGURES, values, met, p95, strict=True):
            parts.append(f"{name} {value:.3g} (met by {100 * part:.0f} %, 95th at {times:.2f} of it)")
        out[way if len(some) == len(rows) else f"{way} ({len(some)} mats)"] = "; ".join(parts)
    return out


def ratio(rows: tuple[Rows, ...] | list[Rows], way: str, to: str) -> list[float]:
    """95th percentile over the mats of one way over that of another, each figure."""
    a, b = (np.percentile([row[name] for row in rows], 95, axis=0) for name in (way, to))
    return [round(float(v), 3) for v in a / b]


def meets(rows: tuple[Rows, ...] | list[Rows], way: str, seeds: tuple[int, ...], factor: float = 1.0) -> bool:
    """Do 95 of 100 mats meet each figure?"""
    asked = factor * np.array([limits(golfer_of(seed)) for seed in seeds])
    met = (np.array([row[way] for row in rows]) <= asked).mean(0)
    return bool((met >= 0.95).all())


def worse_than_none(rows: tuple[Rows, ...] | list[Rows]) -> list[int]:
    """On how many mats a standing run is worse than no calibration, each figure."""
    better = np.array([row[STOOD] for row in rows]) <= np.array([row[NONE] for row in rows])
    return [int(v) for v in (~better).sum(0)]


def inside(pairs: NDArray[np.float64]) -> float:
    """Part of errors inside their intervals; pairs of error and standard uncertainty, (n, 2)."""
    return float((np.abs(pairs[:, 0]) <= COVERAGE * pairs[:, 1]).mean())


def _accuracy(run: Study, factor: float) -> dict[str, Any]:
    if not run.results:
        return _nothing(run)
    lines = table(run.results, run.seeds, factor)
    return _counted(run) | lines | {"ok": run.whole and meets(run.results, HEADLINE, run.seeds, factor)}


def _halves(run: Study, way: str) -> tuple[dict[str, Any], bool]:
    """Against no calibration: mats' 95th percentiles over each other, and mat by mat."""
    half = ratio(run.results, way, NONE)
    parts = np.array([row[way] for row in run.results]) / np.array([row[NONE] for row in run.results])
    name = f"hard set, {way} over {NONE}"
    out = {
        f"{name} (half asked), 95th over 95th": half,
        f"{name}, mat by mat: at most half on, each figure": _percent((parts <= 0.5).mean(0)),
        f"{name}, mat by mat: never worse on, each figure": _percent((parts <= 1.0).mean(0)),
    }
    return out, max(half) <= 0.5


def _percent(parts: NDArray[np.float64]) -> str:
    return ", ".join(f"{100 * part:.0f} %" for part in parts)


def _counted(*runs: Study) -> dict[str, Any]:
    out: dict[str, Any] = {"mats": ", ".join(f"{len(run.seeds)} of {run.asked}" for run in runs)}
    return out if all(run.whole for run in runs) else out | {CUT: True}


def _nothing(run: Study) -> dict[str, Any]:
    return _counted(run) | {"ok": False}
