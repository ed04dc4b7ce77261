"""Balls of golfers of another model than the twin's (`studies.strangers`), on good mats and on bad ones: what is seen.

Nothing was learnt on them, but the answers of `swing.evidence` were chosen with an eye on other seeds of theirs. It may
be cut and goes on (`studies.study`).
"""

from __future__ import annotations

import math
from collections import Counter, deque
from importlib.resources import files
from typing import Any

import numpy as np

from groundtone.swing.tracker import SwingTracker
from studies import strangers
from studies.strangers import STYLES, Act, Doubts
from studies.study import study

MATS = {
    "good": Doubts(),
    "noise 1 % a foot and frame": Doubts(noise=0.010),
    "gains 20 % off": Doubts(gain=0.20),
    "weight 5 % off": Doubts(weight=0.05),
    "10 ms jitter": Doubts(jitter_s=0.010),
    "a fifth of the frames lost": Doubts(dropped=0.2),
    "nothing known of heels and toes": Doubts(toes_known=False),
}
RATES_HZ = (50.0, 100.0, 200.0)
NEAR_S = 0.35
FIRST = 900


def study_stranger_balls(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for of the twin's golfers.

    Parameters
    ----------
    seeds : int, optional
        Strangers on each sort of mat (10), eleven balls and three idle minutes each; putts are printed apart.
    """
    made_by = ("stranger_balls.py", "strangers.py", str(files("groundtone.swing") / "evidence.toml"))
    run = study("stranger-balls", balls_of, range(FIRST, FIRST + (seeds or 10)), ("swing",), made_by)
    jobs = [(mat, heard) for mat in MATS for heard in (True, False)]
    figures: dict[str, Any] = {}
    for mat in MATS:
        for heard, title, asked in ((True, "with sensor", 0.995), (False, "without", 0.97)):
            parts = [outs[jobs.index((mat, heard))] for outs in run.results]
            figures[f"{mat}, {title}"] = _figures(parts, asked)
    return {"looked at": f"{len(run.seeds)} of {run.asked} golfers"} | figures


def balls_of(seed: int) -> list[dict[str, Any]]:
    """One stranger on each sort of mat, with the strike sensor and without."""
    return [_of((mat, seed, heard)) for mat in MATS for heard in (True, False)]


def _figures(parts: list[dict[str, Any]], asked: float) -> dict[str, Any]:
    balls, missed = sum(p["balls"] for p in parts), Counter[str]()
    for part in parts:
        missed.update(part["missed"])
    hours, wrong = sum(p["hours"] for p in parts), sum(p["wrong"] for p in parts)
    putts = sum(n for style, n in missed.items() if style == "putt")
    seen = balls - (missed.total() - putts)
    return {
        "seen": f"{seen} of {balls}", "missed": dict(sorted(missed.items())), "told besides": wrong,
        "hours": round(hours, 2), "heard and not seen, told": sum(p["unseen"] for p in parts),
        "ok": seen >= asked * balls and wrong <= max(1.0, hours),
    }  # fmt: skip


def _of(job: tuple[str, int, bool]) -> dict[str, Any]:
    mat, seed, heard = job
    rng = np.random.default_rng([seed, 44])
    styles = [str(name) for name in rng.permutation(list(STYLES))]
    rate = RATES_HZ[seed % len(RATES_HZ)]
    act, still = strangers.session(styles, seed), strangers.idle(seed, 180.0)
    found, unseen, hours = _followed(act, MATS[mat], seed, rate, heard)
    wrong, _, more = _followed(still, MATS[mat], seed, rate, heard=False)
    left, missed = list(found), []
    for style, impact_s, _ in act.struck:
        near = [at for at in left if abs(at - impact_s) < NEAR_S]
        if near:
            left.remove(min(near, key=lambda at: abs(at - impact_s)))
        else:
            missed.append(style)
    balls = sum(style != "putt" for style in styles)
    return {
        "balls": balls, "missed": missed, "wrong": len(left) + len(wrong), "unseen": unseen, "hours": hours + more,
    }  # fmt: skip


def _followed(act: Act, doubts: Doubts, seed: int, rate: float, heard: bool) -> tuple[list[float], int, float]:
    """Impacts of the swings that were told, how many strikes were told as unseen, and hours."""
    rng = np.random.default_rng([seed, 45])
    struck = [(at, float(rng.uniform(0.4, 0.9))) for _, at, _ in act.struck]
    length_s = act.share.size * strangers.GRID_S
    struck += [(float(rng.uniform(0, length_s)), float(rng.uniform(0.15, 0.35))) for _ in range(4)]
    waiting = deque(sorted(struck) if heard else [])
    tracker, found, unseen = SwingTracker(), [], 0
    for t_s, share, weights, toes in strangers.frames(act, doubts, seed, rate).tolist():
        strike_s, peak = waiting.popleft() if waiting and waiting[0][0] <= t_s else (None, math.nan)
        step = tracker.step(t_s, share, strike_s=strike_s, strike_peak=peak, weights=weights, toes=toes)
        if step.ended is not None and step.ended.impact is not None:
            found.append(step.ended.impact.t_s)
        unseen += step.unseen_s is not None and not step.faint
    return found, unseen, length_s / 3600
