"""Learns what speaks for a swing (swing/evidence.toml) on the twin's wide golfers; `studies.balls` judges it on others.

The golfers' own curves stand for the mat's: share, force and heel-toe positions, each session with the doubts of
another mat on them (invented sizes, worse than a good mat's, so that the answers that noise, a wrong gain or
a wrong weight would change count for less). What is printed is the file; --seeds asks for fewer golfers. It may be cut
and goes on (`studies.study`); the fit is `studies.swing_weights`.
"""

from __future__ import annotations

import math
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.swing.bursts import Bursts, Seen
from groundtone.swing.evidence import AFTER_S
from groundtone.twin.drill_acts import drill_session
from groundtone.twin.population import RESTLESS, draw_doings, draw_families, draw_golfer, draw_swings
from groundtone.twin.scenario import Doing, MatSpec, Scenario, Session
from groundtone.twin.truth import truth
from studies.study import study
from studies.swing_weights import as_toml, learnt

Array = NDArray[np.float64]

# Seeds of the golfers that are learnt from, and how many they are.
FIRST, GOLFERS = 1000, 240
IDLE = (*RESTLESS, "visitor", "walk", "heels", "rocks", "sides", "turn_back", *("pick_up", "look_round") * 2)
# Those that are learnt from; drills that came later are there to be judged on.
DRILLS = (
    "back-pocket", "ball-of-foot", "count-back", "even-feet", "feet-together", "heel-first", "heels-down", "hold-it",
    "pause-at-turn", "rock-and-settle", "side-rocks", "slow-rehearsal", "slow-rocks", "step-in", "step-through",
    "toe-lift", "turn-into-heel",
)  # fmt: skip
RATE_HZ = 200.0
# A burst this near to a swing's impact is that swing's, s; slow ones have their own way (swing.phasing).
NEAR_S, FULL_SPEED = 0.5, 2.1
# Moments at random at which nobody swings, a second, and how far they stay from any impact, s.
RANDOM, FAR_S = 0.1, 1.0
# Every so many of the swings that come across so far are shown once more as none, as if nothing had been pushed with:
# nobody swings so, but who shifts may, and the population holds none so quick (invented).
EVERY, FAR = 60, 0.20
NO_FORCE = {
    "push": math.log(0.01), "width": math.nan, "width after": math.nan, "time to peak": math.nan, "excess": 0.0,
    "sharp": 0.0, "dip after": 0.0, "least force": 0.0, "force before": math.log(0.01), "force back": math.log(0.01),
    "push to before": 0.0, "force way": math.log(0.05), "finish force": math.log(0.01),
}  # fmt: skip
# So long after a moment its evidence is complete, s.
COMPLETE_S = AFTER_S + 0.03


def study_learn_swings(seeds: int | None = None) -> dict[str, Any]:
    """The weights, as evidence.toml holds them.

    Parameters
    ----------
    seeds : int, optional
        Golfers with ten balls each (GOLFERS); half as many idle stretches of five minutes and drills go with them.
    """
    # What is gathered depends on no weights.
    swing = files("groundtone.swing")
    made_by = ("learn_swings.py", *(str(swing / name) for name in ("evidence.py", "bursts.py")))
    run = study("learn-swings", rows_of, range(FIRST, FIRST + (seeds or GOLFERS)), ("twin",), made_by)
    rows = [row for part in run.results for row in part]
    rows += [(False, values | NO_FORCE) for swung, values in rows if swung and values["across"] >= FAR][::EVERY]
    was = np.array([swung for swung, _ in rows], dtype=np.float64)
    names = list(rows[0][1])
    table = np.array([[values[name] for name in names] for _, values in rows], dtype=np.float64)
    text = as_toml(learnt(names, table, was))
    return {"bursts": len(was), "swings among them": int(was.sum()), "evidence.toml": "\n" + text, "ok": run.whole}


def rows_of(seed: int) -> list[tuple[bool, dict[str, float]]]:
    """One golfer's balls, and an idle stretch or a drill: of each moment looked at, was it a swing, and the answers."""
    rows = _bursts_of(("balls", seed)) + _bursts_of(("drill" if seed % 2 else "idle", seed))
    return [(swing, {name: round(value, 5) for name, value in seen.evidence.values.items()}) for swing, seen in rows]


def _session(what: str, seed: int) -> Session:
    rng = np.random.default_rng([seed, 5])
    if what == "drill":
        return drill_session(DRILLS[(seed // 2) % len(DRILLS)], draw_golfer("wide", seed), seed)
    if what == "idle":
        doings, length = [], 0.0
        while length < 300.0:
            kind, seconds = str(rng.choice(IDLE)), float(rng.uniform(3, 15))
            doings.append(Doing(kind, seconds, rock=bool(rng.random() < 0.3), visitor_kg=float(rng.uniform(20, 110))))
            length += seconds
        return Session(draw_golfer("wide", seed), (), seed=seed, doings=tuple(doings))
    swings = draw_swings("wide", seed, draw_families(seed, 10))
    setup_s = float(rng.uniform(0.9, 2.5))
    return Session(draw_golfer("wide", seed), swings, seed=seed, setup_s=setup_s, doings=draw_doings("wide", seed, 10))


def _bursts_of(job: tuple[str, int]) -> list[tuple[bool, Seen]]:
    """Each burst of a session, each impact and some moments at random, and whether it was a swing at full speed.

    Impacts and random moments stand for strikes, which are judged by the evidence around them. Slow swings are left
    out.
    """
    session = _session(*job)
    known = truth(Scenario(MatSpec.reference(), session))
    rows: list[tuple[bool, Seen]] = []
    bursts, rng = Bursts(), np.random.default_rng([job[1], 6])
    length_s = float(known.t_s[-1])
    moments = [(s.impact_s, True) for s in known.swings if s.slow <= FULL_SPEED]
    others = rng.uniform(0.0, length_s, int(RANDOM * length_s)).tolist()
    moments += [(at, False) for at in others if all(abs(s.impact_s - at) > FAR_S for s in known.swings)]
    moments.sort(reverse=True)
    for t_s, share, weights, toes in _frames(known, session, rng):
        if math.isnan(share):
            bursts.forget()
            continue
        seen = bursts.add(t_s, share, weights, toes)
        if seen is not None:
            near = [s for s in known.swings if abs(s.impact_s - seen.at_s) < NEAR_S * max(1.0, math.sqrt(s.slow))]
            if not near or near[0].slow <= FULL_SPEED:
                rows.append((bool(near), seen))
        while moments and bursts.newest_s >= moments[-1][0] + COMPLETE_S:
            at_s, swing = moments.pop()
            evidence = bursts.around(at_s)
            if evidence is not None:
                rows.append((swing, Seen(at_s, evidence)))
    return rows


def _frames(known: Any, session: Session, rng: np.random.Generator) -> list[list[float]]:
    """(time, share, body weights, toes) of each frame, with the doubts of a mat on them."""
    t = np.arange(0, known.t_s[-1], 1 / RATE_HZ)
    lead = 0 if session.golfer.hand == "right" else 1
    gain = 1 + rng.normal(0, rng.uniform(0.0, 0.15), 2)
    noise = float(np.exp(rng.uniform(np.log(0.001), np.log(0.02))))
    force = np.stack([np.interp(t, known.t_s, known.force_n[:, foot]) for foot in (lead, 1 - lead)], axis=1)
    force *= gain * (1 + rng.normal(0, noise, force.shape))
    total, weight_n = force.sum(axis=1), session.golfer.mass_kg * 9.80665
    share = np.where(total > 60.0, force[:, 0] / np.maximum(total, 1.0), np.nan)
    place = []
    for k, foot in enumerate((lead, 1 - lead)):
        here = np.interp(t, known.t_s, np.nan_to_num(known.heel_toe[:, foot], nan=0.5))
        here = (here - 0.5) * rng.uniform(0.85, 1.15) + 0.5 + rng.normal(0, 0.025) + rng.normal(0, 0.003, t.size)
        place.append(np.where(force[:, k] > max(30.0, 0.05 * weight_n), here, np.nan))
    toes = place[1] - place[0] if rng.random() > 0.3 else np.full(t.size, np.nan)
    weights = total / (weight_n * gain.mean() * (1 + rng.uniform(0.0, 0.05) * rng.choice([-1.0, 1.0])))
    kept = rng.random(t.size) >= rng.choice([0.0, 0.05, 0.3, 0.6])
    rows: list[list[float]] = np.column_stack([t, share, weights, toes])[kept].tolist()
    return rows
