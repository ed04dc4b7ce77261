"""Every struck ball: wide golfers, who were not what the detection was learnt on; what is seen, when, and what is not.

Golfers, families of swings and drills come from the twin's populations (`twin.population`, `drill_acts`), the frames
from an ordinary mat with its bench calibration. The seeds are others than those of `learn_swings`. It may be cut and
goes on (`studies.study`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from importlib.resources import files
from typing import Any

import numpy as np

from groundtone.pressure.series import Series
from groundtone.swing.events import Swing
from groundtone.swing.phases import find_swings, follow
from groundtone.twin.drill_acts import DRILLS, drill_session
from groundtone.twin.population import (
    RESTLESS,
    draw_doings,
    draw_families,
    draw_golfer,
    draw_swings,
    is_short,
)
from groundtone.twin.scenario import Doing, Session
from groundtone.twin.swing_knots import SwingTimes
from studies.measuring import measured
from studies.study import study

MATS = 6
# Golfers from here on were drawn after the last change.
FIRST = 4_100
BALLS_A_SESSION = 10
# What a strike sensor takes for a strike at all (firmware/WIRE.md), of the ADC's range.
STRIKE_LEAST = 0.12
IDLE = (*RESTLESS, "visitor", "walk", "heels", "rocks", "sides", "turn_back", "pick_up", "look_round")
RATES_HZ = (50, 100, 200)


def study_balls(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for.

    Parameters
    ----------
    seeds : int, optional
        Sessions of ten balls (300); drills and hours of no swing go with it.
    """
    count = seeds or 300
    drills = max(len(DRILLS), count // 6)
    asked = {"balls": (balls_of, count), "idle": (idle_of, max(1, count // 5)), "drill": (drill_of, drills)}
    rooms = ("calibration", "mat", "pressure", "swing", "twin")
    made_by = ("balls.py", "measuring.py", str(files("groundtone.swing") / "evidence.toml"))
    runs = {
        what: study(f"balls, {what}", job, range(FIRST, FIRST + many), rooms, made_by)
        for what, (job, many) in asked.items()
    }
    of = {what: list(run.results) for what, run in runs.items()}
    figures: dict[str, Any] = {"looked at": {what: f"{len(run.seeds)} of {run.asked}" for what, run in runs.items()}}
    figures |= _seen_figures(of["balls"]) | _event_figures(of["balls"])
    figures |= _idle_figures(of["idle"]) | _drill_figures(of["drill"])
    figures["ok"] = all(value.get("ok", True) for value in figures.values() if isinstance(value, dict))
    return figures


def balls_of(seed: int) -> dict[str, Any]:
    """One wide golfer, ten balls, restless in between: what each form sees, with the sensor and without."""
    rng = np.random.default_rng([seed, 301])
    families = draw_families(50_000 + seed, BALLS_A_SESSION)
    session = Session(
        draw_golfer("wide", 50_000 + seed),
        draw_swings("wide", 50_000 + seed, families),
        seed=50_000 + seed,
        setup_s=float(rng.uniform(0.9, 2.5)),
        doings=draw_doings("wide", 50_000 + seed, BALLS_A_SESSION),
        stray_strikes_s=tuple(float(t) for t in rng.uniform(10, 150, 4)),
    )
    got = measured(seed % MATS, session)
    series = at_rate(got.series, RATES_HZ[seed % len(RATES_HZ)])
    series = replace(series, strikes=tuple(s for s in series.strikes if s[1] >= STRIKE_LEAST))
    out: dict[str, Any] = {"families": families, "rate": RATES_HZ[seed % len(RATES_HZ)]}
    for name, heard in (("sensor", series), ("pressure", replace(series, strikes=()))):
        live, unseen = follow(heard)
        review = find_swings(heard)
        pairs, live_pairs = paired(review, got.known.swings), paired(live, got.known.swings)
        out[name] = {
            "review": [k for k, _ in pairs],
            "live": [k for k, _ in live_pairs],
            "wrong": len(review) - len(pairs),
            "unseen": len(unseen),
            "errors": {
                event: [
                    (families[k], 1e3 * (moment.t_s - getattr(got.known.swings[k], f"{event}_s")), 1e3 * moment.doubt_s)
                    for k, swing in pairs
                    if (moment := getattr(swing, event)) is not None
                ]
                for event in ("takeaway", "turn", "top", "impact")
            },
        }
    return out


def at_rate(series: Series, rate_hz: int) -> Series:
    """Every so many frames of a series at 200 Hz."""
    keep = slice(None, None, 200 // rate_hz)
    if rate_hz == 200:
        return series
    names = ("t_s", "force_n", "u_mm", "v_mm", "position", "position_u", "share", "overall", "centre_mm", "weight_n")
    step = 200 // rate_hz
    stands = tuple(
        replace(
            stand, begin=-(-stand.begin // step), end=-(-stand.end // step),
            settled=tuple(replace(s, begin=-(-s.begin // step), end=-(-s.end // step)) for s in stand.settled),
        )
        for stand in series.stands
    )  # fmt: skip
    return replace(series, stands=stands, **{name: getattr(series, name)[keep] for name in names})


def paired(found: Iterable[Swing], true: tuple[SwingTimes, ...]) -> list[tuple[int, Swing]]:
    """Number of each true swing that was found, with what was found: impacts within 0.35 s (slow ones: more)."""
    left = [swing for swing in found if swing.impact is not None]
    pairs = []
    for k, swing in enumerate(true):
        near = [s for s in left if s.impact and abs(s.impact.t_s - swing.impact_s) < 0.35 * max(1.0, swing.slow)]
        if near:
            best = min(near, key=lambda s: abs(s.impact.t_s - swing.impact_s) if s.impact else 9.0)
            left.remove(best)
            pairs.append((k, best))
    return pairs


def idle_of(seed: int) -> dict[str, Any]:
    """Five minutes of a wide golfer who hits nothing: what was taken for a swing."""
    rng = np.random.default_rng([seed, 302])
    doings, length = [], 0.0
    while length < 285.0:
        kind, seconds = str(rng.choice(IDLE)), float(rng.uniform(3, 15))
        doings.append(Doing(kind, seconds, rock=bool(rng.random() < 0.3), visitor_kg=float(rng.uniform(20, 110))))
        length += seconds + (4.0 if kind == "walk" else 0.0)
    session = Session(draw_golfer("wide", 60_000 + seed), (), seed=60_000 + seed, doings=tuple(doings))
    series = measured(seed % MATS, session).series
    live, _ = follow(series)
    return {"hours": float(series.t_s[-1]) / 3600, "review": len(find_swings(series)), "live": len(live)}


def drill_of(seed: int) -> dict[str, Any]:
    """One drill, six times: how many of its swings each form sees."""
    name = sorted(DRILLS)[seed % len(DRILLS)]
    session = drill_session(name, draw_golfer("wide", 70_000 + seed), seed=70_000 + seed)
    got = measured(seed % MATS, session)
    live, _ = follow(got.series)
    review = find_swings(got.series)
    return {
        "name": name, "swings": len(got.known.swings), "review": len(paired(review, got.known.swings)),
        "live": len(paired(live, got.known.swings)), "wrong": len(review) - len(paired(review, got.known.swings)),
    }  # fmt: skip


def _seen_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, title, asked in (("sensor", "with strike sensor", 0.995), ("pressure", "without strike sensor", 0.97)):
        seen, all_, agree = Counter[str](), Counter[str](), 0
        for part in parts:
            all_.update(part["families"])
            seen.update(part["families"][k] for k in part[name]["review"])
            agree += len(set(part[name]["review"]) ^ set(part[name]["live"]))
        total, found = sum(all_.values()), sum(seen.values())
        short = [family for family in all_ if is_short(family)]
        full = sum(n for f, n in all_.items() if f not in short)
        full_seen = sum(n for f, n in seen.items() if f not in short)
        part_short = (found - full_seen) / max(total - full, 1)
        figures: dict[str, Any] = {
            f"struck balls seen ({asked:.1%} asked)": f"{found} of {total}",
            "full swings": f"{full_seen} of {full}",
            "pitches, chips, quarters": f"{found - full_seen} of {total - full}",
            "by family": {f: f"{seen[f]} of {n}" for f, n in sorted(all_.items()) if seen[f] < n},
            "told besides": sum(part[name]["wrong"] for part in parts),
            "seen in one form alone (0.5 % asked)": agree,
            "heard and not seen, told": sum(part[name]["unseen"] for part in parts),
        }
        ok = found >= asked * total and agree <= 0.005 * total
        if name == "pressure":
            ok = ok and full_seen >= 0.99 * full and part_short >= 0.90
        out[title] = figures | {"ok": ok}
    return out


def _event_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name in ("sensor", "pressure"):
        figures: dict[str, Any] = {}
        for event in ("takeaway", "turn", "top", "impact"):
            rows = [row for part in parts for row in part[name]["errors"][event]]
            error = np.array([row[1] for row in rows])
            inside = np.abs(error) <= 1.96 * np.array([row[2] for row in rows])
            figures[f"{event}, median / 95 %, ms"] = "{:.0f} / {:.0f}".format(*np.percentile(np.abs(error), [50, 95]))
            figures[f"{event} inside its 95 % interval"] = round(float(inside.mean()), 3)
        out[f"events, {name}"] = figures
    return out


def _idle_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    hours = sum(part["hours"] for part in parts)
    live, review = (sum(part[form] for part in parts) for form in ("live", "review"))
    figures = {"hours": round(hours, 2), "told live (1 an hour asked)": live, "found in review": review}
    return {"no swing at all": figures | {"ok": max(live, review) <= max(1.0, hours)}}


def _drill_figures(parts: list[dict[str, Any]]) -> dict[str, Any]:
    rows = {}
    for name in sorted(DRILLS):
        mine = [part for part in parts if part["name"] == name]
        total = sum(part["swings"] for part in mine)
        rows[name] = f"{sum(p['live'] for p in mine)} live, {sum(p['review'] for p in mine)} in review, of {total}"
    return {"drills": rows}
