"""Swings on the twin: how many are found, how exactly their events, and whether findings and their odds are right."""

from __future__ import annotations

import math
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np

from groundtone.pressure.series import Series
from groundtone.swing.events import Kind, Swing
from groundtone.swing.phases import find_swings
from groundtone.swing.tracker import SwingTracker
from groundtone.twin.scenario import DOINGS, STYLES, Doing, Session, SwingSpec
from groundtone.twin.swing_knots import SwingTimes
from studies.faults import judged_swings, reliability, scores
from studies.measuring import draw_golfer, measured

MATS = 6
SWINGS_A_SESSION = 10
EVENTS = ("takeaway", "turn", "top", "impact")


def study_swings(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for.

    Parameters
    ----------
    seeds : int, optional
        Sessions of ten swings (100). The hour of standing and the study of findings grow and shrink with it.
    """
    count = seeds or 100
    jobs = [("events", seed) for seed in range(count)]
    jobs += [("idle", seed) for seed in range(max(1, round(0.12 * count)))]
    jobs += [("slow", seed) for seed in range(max(1, round(0.12 * count)))]
    jobs += [("findings", seed) for seed in range(round(1.2 * count))]
    with ProcessPoolExecutor(2) as pool:
        done = list(pool.map(_job, jobs, chunksize=4))
    of = {kind: [out for (what, _), out in zip(jobs, done, strict=True) if what == kind] for kind, _ in jobs}
    figures = _event_figures(of["events"])
    figures |= _idle_figures(of["idle"])
    figures |= _slow_figures(of["slow"])
    figures |= _finding_figures([case for part in of["findings"] for case in part])
    figures["ok"] = all(value.get("ok", True) for value in figures.values() if isinstance(value, dict))
    return figures


def _job(job: tuple[str, int]) -> Any:
    what, seed = job
    return {"events": events_of, "idle": idle_of, "slow": slow_of, "findings": judged_swings}[what](seed)


def draw_swing(rng: np.random.Generator, style: str, **more: Any) -> SwingSpec:
    """One swing with a tempo of 2.2 to 4, with waggles or a forward press or without."""
    downswing = float(rng.uniform(0.2, 0.32))
    tempo = float(rng.uniform(2.2, 4.0))
    return SwingSpec(
        style,
        backswing_s=tempo * downswing,
        downswing_s=downswing,
        waggles=int(rng.integers(0, 3)),
        press=float(rng.choice([0.0, 0.0, rng.uniform(0.015, 0.04)])),
        **more,
    )


def events_of(seed: int) -> dict[str, Any]:
    """One session of ten swings: what was found, and by how much each event is off, with and without strike sensor."""
    rng = np.random.default_rng([seed, 1])
    swings = tuple(draw_swing(rng, STYLES[(seed + k) % len(STYLES)]) for k in range(SWINGS_A_SESSION))
    doings = tuple(
        Doing("walk", float(rng.uniform(1, 4)), k, rock=bool(rng.random() < 0.3))
        for k in range(1, SWINGS_A_SESSION)
        if rng.random() < 0.3
    )
    strays = tuple(float(t) for t in rng.uniform(10, 80, 4))
    session = Session(
        draw_golfer(rng), swings, seed=seed, setup_s=float(rng.uniform(0.9, 2.0)), doings=doings, stray_strikes_s=strays
    )
    got = measured(seed % MATS, session)
    out: dict[str, Any] = {"swings": len(swings)}
    for name, series in (("sensor", got.series), ("pressure", replace(got.series, strikes=()))):
        found = find_swings(series)
        pairs = matched(found, got.known.swings)
        if name == "pressure":
            live = matched(live_swings(series), got.known.swings)
            out["live"] = [[getattr(s, e).t_s - getattr(true, f"{e}_s") for e in EVENTS] for s, true in live]
        out[name] = {
            "found": len(pairs),
            "false": len(found) - len(pairs),
            "missed": [(t.style, round(session.golfer.mass_kg)) for t in got.known.swings
                       if all(t is not true for _, true in pairs)],
            "errors": [[getattr(s, e).t_s - getattr(true, f"{e}_s") for e in EVENTS] for s, true in pairs],
            "doubts": [[getattr(s, e).doubt_s for e in EVENTS] for s, true in pairs],
            "top inside": [s.top_range_s[0] <= true.top_s <= s.top_range_s[1] for s, true in pairs],
            "top width": [s.top_range_s[1] - s.top_range_s[0] for s, _ in pairs],
        }  # fmt: skip
    return out


def matched(found: Iterable[Swing], true: Iterable[SwingTimes]) -> list[tuple[Swing, SwingTimes]]:
    """Each true swing with the one found at its impact, if one was."""
    left = list(found)
    pairs = []
    for swing in true:
        near = [s for s in left if s.impact and abs(s.impact.t_s - swing.impact_s) < 0.6 * swing.slow]
        if near:
            best = min(near, key=lambda s: abs(s.impact.t_s - swing.impact_s) if s.impact else math.inf)
            left.remove(best)
            pairs.append((best, swing))
    return pairs


def idle_of(seed: int) -> dict[str, Any]:
    """Five minutes of everything but swings: what was taken for one."""
    rng = np.random.default_rng([seed, 2])
    doings, length = [], 0.0
    while length < 285.0:
        kind = str(rng.choice(DOINGS))
        seconds = float(rng.uniform(3, 20))
        doings.append(Doing(kind, seconds, rock=bool(rng.random() < 0.3), visitor_kg=float(rng.uniform(20, 110))))
        length += seconds + (4.0 if kind == "walk" else 0.0)
    got = measured(seed % MATS, Session(draw_golfer(rng), (), seed=seed, doings=tuple(doings)))
    found = find_swings(replace(got.series, strikes=()))
    return {
        "hours": float(got.series.t_s[-1]) / 3600,
        "false": [(s.kind.value, s.takeaway.t_s) for s in found],
        "live": len(live_swings(got.series)),
    }


def live_swings(series: Series) -> list[Swing]:
    """What the live form finds in the same frames; it has no strikes here and sees the feet as review does."""
    tracker, out = SwingTracker(), []
    with np.errstate(invalid="ignore"):
        weights = series.total_n / series.weight_n
    toes = series.position[:, series.trail] - series.position[:, series.lead]
    columns = (series.t_s, series.share, weights, toes)
    for t, share, weight, toe in zip(*(values.tolist() for values in columns), strict=True):
        ended = tracker.step(t, share, weights=weight, toes=toe).ended
        if ended is not None:
            out.append(ended)
    return out


def slow_of(seed: int) -> dict[str, Any]:
    """Slow rehearsals and practice swings between struck balls: how many are found, and known for what they are."""
    rng = np.random.default_rng([seed, 3])
    styles = ("good", "slide", "reverse", "toe_drift", "heel_drift")
    swings = [draw_swing(rng, "good")]
    for style in styles:
        slowly = draw_swing(rng, style, strike=False, slow=float(rng.uniform(3, 5)))
        swings += [slowly, draw_swing(rng, style, strike=False), draw_swing(rng, style)]
    got = measured(seed % MATS, Session(draw_golfer(rng), tuple(swings), seed=seed, setup_s=1.5))
    found = find_swings(got.series)
    pairs = matched(found, got.known.swings)
    wanted = [(Kind.REHEARSAL if t.slow > 1 else Kind.SWING if t.strike else Kind.PRACTICE) for t in got.known.swings]
    kinds = {id(true): swing.kind for swing, true in pairs}
    told = [(want.value, (kind := kinds.get(id(true))) is not None, kind is want)
            for want, true in zip(wanted, got.known.swings, strict=True)]  # fmt: skip
    return {"told": told, "false": len(found) - len(pairs)}


def _event_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    limits = {"takeaway": (30, 90), "turn": (20, 60), "impact": (30, 100)}
    out: dict[str, Any] = {}
    for name, title in (("pressure", "without strike sensor"), ("sensor", "with strike sensor")):
        if name == "sensor":
            limits = limits | {"impact": (3, 8)}
        total = sum(part["swings"] for part in parts)
        found = sum(part[name]["found"] for part in parts)
        errors = 1e3 * np.array([row for part in parts for row in part[name]["errors"]])
        doubts = 1e3 * np.array([row for part in parts for row in part[name]["doubts"]])
        inside = float(np.mean([flag for part in parts for flag in part[name]["top inside"]]))
        width = float(np.median([w for part in parts for w in part[name]["top width"]]))
        figures: dict[str, Any] = {
            "swings found (99 % asked)": f"{found} of {total}",
            "taken for swings besides": sum(part[name]["false"] for part in parts),
            "missed": [miss for part in parts for miss in part[name]["missed"]],
            "top inside its 95 % interval (0.93-0.97 asked)": round(inside, 3),
            "top's interval, median, ms": round(1e3 * width),
        }
        ok = found >= 0.99 * total and 0.93 <= inside <= 0.97
        for k, event in enumerate(EVENTS):
            middle, most = np.percentile(np.abs(errors[:, k]), [50, 95])
            asked = limits.get(event)
            text = f"{event} error, median / 95 %, ms" + (f" ({asked[0]} / {asked[1]} asked)" if asked else "")
            figures[text] = f"{middle:.1f} / {most:.1f}"
            figures[f"{event} error over its doubt, rms"] = round(
                float(np.sqrt(np.mean((errors / doubts)[:, k] ** 2))), 2
            )
            ok = ok and (asked is None or bool(middle <= asked[0] and most <= asked[1]))
        out[title] = figures | {"ok": ok}
    live = 1e3 * np.abs([row for part in parts for row in part["live"]])
    rows = {e: "{:.1f} / {:.1f}".format(*np.percentile(live[:, k], [50, 95])) for k, e in enumerate(EVENTS)}
    out["live form, without strike sensor: error, median / 95 %, ms"] = {"swings found": len(live)} | rows
    return out


def _idle_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    hours = sum(part["hours"] for part in parts)
    false = [f"{kind} at {t:.1f} s" for part in parts for kind, t in part["false"]]
    figures = {"hours": round(hours, 2), "taken for swings (1 an hour asked)": len(false), "which": false}
    figures["ticks of the live form"] = sum(part["live"] for part in parts)
    return {"standing, waggling, walking on and off": figures | {"ok": len(false) <= max(1.0, hours)}}


def _slow_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    figures: dict[str, Any] = {"taken for swings besides": sum(part["false"] for part in parts)}
    for kind in Kind:
        told = [(found, right) for part in parts for name, found, right in part["told"] if name == kind.value]
        found, right = sum(f for f, _ in told), sum(r for _, r in told)
        figures[kind.value] = f"{found} of {len(told)} found, {right} known for what they are"
    return {"rehearsals and practice swings": figures}


def _finding_figures(cases: list[dict[str, Any]]) -> dict[str, Any]:
    each, precision, recall = scores(cases)
    gap, table = reliability(cases)
    ok = precision >= 0.95 and recall >= 0.95 and gap <= 0.05
    return {
        "findings": {
            "precision (0.95 asked)": round(precision, 3),
            "recall (0.95 asked)": round(recall, 3),
            "each (right, missed, wrong, rightly not)": each,
            "stated probability against how often it was true, mean gap (0.05 asked)": round(gap, 3),
            "stated, true, cases": table,
            "ok": ok,
        }
    }
