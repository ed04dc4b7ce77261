"""Findings on wide golfers: right or wrong, and whether their stated probabilities hold.

Half of the swings come from the twin's families as they are (no value of theirs knows a limit), half are built with one
fault beyond, inside or near its limit, so that each finding is asked for; wide golfers play both. A case is one
finding in one swing that was seen; missed swings are `balls`' business. Seeds from 80,000 on are used nowhere else; up
to 83,999 they were looked at. It may be cut and goes on (`studies.study`).
"""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from typing import Any

import numpy as np

from groundtone.swing.bands import default_bands
from groundtone.twin.population import club_of, draw_golfer, draw_swings, families
from groundtone.twin.scenario import Session
from studies.faults import built, cases_of, reliability, scores
from studies.measuring import measured
from studies.study import study

FIRST_SEED, MATS, EACH = 84_000, 6, 5


def study_findings(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for.

    Parameters
    ----------
    seeds : int, optional
        Golfers with ten swings each (120).
    """
    swing = files("groundtone.swing")
    made_by = (
        "findings.py",
        "faults.py",
        "measuring.py",
        *(str(swing / name) for name in ("evidence.toml", "bands.toml")),
    )
    rooms = ("calibration", "mat", "pressure", "swing", "twin")
    run = study("findings", cases_of_golfer, range(FIRST_SEED, FIRST_SEED + (seeds or 120)), rooms, made_by)
    looked = f"{len(run.seeds)} of {run.asked} golfers"
    return {"looked at": looked} | figures_of([case for part in run.results for case in part])


def cases_of_golfer(seed: int) -> list[dict[str, Any]]:
    """Ten swings of one golfer, every finding in each of them that was seen; see `faults.cases_of`."""
    rng = np.random.default_rng([seed, 303])
    names = [name for name in families() if name != "putt"]
    drawn = [str(name) for name in rng.choice(names, EACH)]
    own = draw_swings("wide", seed, [*drawn, *["taught"] * EACH])
    asked = [band.name for band in default_bands().findings]
    swings, clubs = list(own[:EACH]), [club_of(name) for name in drawn]
    for k, plain in enumerate(own[EACH:]):
        name = asked[(seed * EACH + k) % len(asked)]
        way = rng.random()
        low, high = (1.5, 1.65) if way < 0.3 else (0.0, 0.4) if way < 0.4 else (0.8, 1.2)
        swing = built(rng, default_bands(), name, float(rng.uniform(low, high)))
        # Force and loudness are the golfer's own, but where the fault is about them.
        lead_ms = swing.peak_lead_ms if swing.peak_lead_ms is not None else plain.peak_lead_ms
        swings.append(replace(swing, peak_weights=plain.peak_weights, peak_lead_ms=lead_ms, loud=plain.loud))
        clubs.append("iron")
    session = Session(draw_golfer("wide", seed), tuple(swings), seed=seed, setup_s=float(rng.uniform(0.9, 2.5)))
    return cases_of(measured(seed % MATS, session), clubs)


def figures_of(cases: list[dict[str, Any]]) -> dict[str, Any]:
    """Precision and recall, over all and of each finding, and the gap of the probabilities."""
    each, precision, recall = scores(cases)
    gap, table = reliability(cases)
    gaps = {name: round(reliability([c for c in cases if c["name"] == name])[0], 3) for name in each}
    return {
        "cases": len(cases),
        "precision (0.95 asked)": round(precision, 3),
        "recall (0.95 asked)": round(recall, 3),
        "each (right, missed, wrong, rightly not)": each,
        "stated probability against how often it was true, mean gap (0.05 asked)": round(gap, 3),
        "gap of each": gaps,
        "stated, true, cases": table,
        "ok": precision >= 0.95 and recall >= 0.95 and gap <= 0.05,
    }
