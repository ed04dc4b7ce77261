"""What a lesson can and cannot prove: false claims, coverage, links, pairs, power; on swings that hang together.

The golfers are `evidence_golfers` and share no code with the analysis; `evidence_asked` puts the program's questions,
`evidence_designs` textbooks' to the same swings. A claim is false where nothing was changed and one of nine measures,
the strikes inside the centre circle or a count of faults is told as changed; "two blocks differ" is false where not
even drift makes them differ. `make study NAME=evidence ARGS="--seeds 200"` draws 200 lessons of each kind (2,000
without); its parts are evidence-lessons, -links and -mats. With GROUNDTONE_STUDY=FOLDER it can be cut and goes on.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from groundtone.errors import GroundtoneError
from groundtone.lesson.strike_counts import wilson
from studies import evidence_asked as asked
from studies.evidence_designs import LOOKS, claims
from studies.evidence_golfers import CHANGED, NAMES, PLAIN, Drawn, Habits, Plan, lessons
from studies.evidence_mats import MATS, study_mats
from studies.study import study

LESSONS, CHUNK = 2000, 5
ALLOWED, ALLOWED_UPPER, COVERED = 0.05, 0.065, (0.93, 0.97)
GAIN, LINK = 1.0, 0.7
"""Of a changed lesson, in the golfer's own scatter; of a strike with what it is linked to."""

PLANS = {
    "12 and 12": Plan(((0, 12), (-1, 6), (1, 12))),
    "20 and 20": Plan(((0, 20), (-1, 6), (1, 20))),
    "3 x 4 a side": Plan(((0, 4), (1, 4)) * 3),
    "5 x 4 a side": Plan(((0, 4), (1, 4), (1, 4), (0, 4), (0, 4), (1, 4), (1, 4), (0, 4), (0, 4), (1, 4))),
}
"""Two blocks as they were compared, and short blocks in turn of the same length."""
PAIRED = Plan(((0, 1), (1, 1)) * 12)
"""Every other swing cued, which no drill that lasts can be: the most that so many swings could tell."""
SESSION = Plan(((0, 8), (0, 8), (0, 8)))
DAYS = Plan(((0, 10),), days=4)


def habits_of(rho: float, drift: float) -> Habits:
    """Golfers of one autocorrelation and one drift, and nothing else."""
    return Habits((rho, rho), (drift, drift))


AS_PEOPLE_COME = Habits((0.0, 0.6), (0.0, 1.0), (0.0, 0.5), (0.0, 0.3), (0.2, 0.6), 0.03)
WORLDS = {
    **{
        f"autocorrelation {rho:g}{', drift of 1 sd' * (drift > 0)}": habits_of(rho, drift)
        for rho in (0.0, 0.3, 0.6) for drift in (0.0, 1.0)
    },
    "as people come": AS_PEOPLE_COME,
}  # fmt: skip
STEADY = [f"autocorrelation {rho:g}" for rho in (0.0, 0.3, 0.6)]
"""Worlds in which neither swings nor days drift: nothing but chance makes two blocks differ."""
TREND = Habits((0.3, 0.3), (2.0, 2.0), block=(0.5, 0.5))
"""Of links and pairs: a trend of two scatters and blocks with places of their own."""
LINK_WORLDS = {**WORLDS, "trend of 2 sd and block shifts": TREND}

Counts = dict[str, float]


def lesson_part(chunk: int) -> Counts:
    """Counts of `CHUNK` lessons of each world and plan, with nothing changed and with `GAIN`."""
    out: Counter[str] = Counter()
    for w, (world, habits) in enumerate(WORLDS.items()):
        for p, (name, plan) in enumerate(PLANS.items()):
            for gain in (0.0, GAIN):
                rng = np.random.default_rng([23, chunk, w, p, int(gain)])
                _lessons(out, f"{name}|{world}", lessons(rng, CHUNK, plan, habits, gain=gain), gain)
        rng = np.random.default_rng([23, chunk, w, 90])
        drawn = lessons(rng, CHUNK, DAYS, habits)
        for k in range(CHUNK):
            days = asked.days_of(drawn, k, fields=False)
            out[f"4 days of 10|{world}|lessons"] += 1
            claimed, differ = asked.progressed(days)
            out[f"4 days of 10|{world}|false"] += claimed > 0 or (differ > 0 and world in STEADY)
            out[f"4 days of 10|{world}|told to differ"] += differ > 0
    return dict(out)


def _lessons(out: Counter[str], cell: str, drawn: Drawn, gain: float) -> None:
    drifted = np.abs(drawn.differ - drawn.change) > 1e-12
    in_turn = len(drawn.plan.blocks) > 3
    true = np.broadcast_to(drawn.change, drawn.differ.shape) if in_turn else drawn.differ
    for k in range(len(drawn.values)):
        (day,) = asked.days_of(drawn, k, fields=bool(k % 2))
        told = asked.compared(day)
        said = {name: each.verdict for name, each in told.items()}
        if gain:
            right = told[NAMES[CHANGED]]
            out[f"{cell}|power"] += said[NAMES[CHANGED]] in ("better", "changed") and right.size < 0
            out[f"{cell}|beyond zero"] += right.high < 0
            out[f"{cell}|told to differ"] += "differ" in said[NAMES[CHANGED]] and right.size < 0
            out[f"{cell}|wrong way"] += said[NAMES[CHANGED]] in asked.CLAIMS and right.size > 0
            continue
        change = any(verdict in asked.CLAIMS for verdict in said.values())
        differ = any(
            "differ" in said.get(name, "") and not drifted[k, m] for m, name in enumerate(NAMES)
        ) or ("differ" in said["inside"] and not drifted[k].any())  # fmt: skip
        clear, by_count = asked.counted([day])
        clear, differ = clear > 0, differ or (by_count > 0 and not drifted[k].any())
        out[f"{cell}|lessons"] += 1
        out[f"{cell}|false of measures and circle"] += change
        out[f"{cell}|false of counts"] += clear or (by_count > 0 and not drifted[k].any())
        out[f"{cell}|false"] += change or differ or clear
        inside = [
            bool(told[name].low <= true[k, m] <= told[name].high)
            for m, name in enumerate(NAMES[:LOOKS]) if PLAIN[m] and math.isfinite(told[name].low)
        ]  # fmt: skip
        out[f"{cell}|intervals"] += len(inside)
        out[f"{cell}|intervals that hold"] += sum(inside)
        out[f"{cell}|lessons with intervals"] += bool(inside)
        out[f"{cell}|lessons whose intervals all hold"] += bool(inside) and all(inside)
    for name, claimed in claims(drawn).items():
        if gain:
            out[f"{cell}|{name}|power"] += int(claimed[:, CHANGED].sum())
        else:
            out[f"{cell}|{name}|false"] += int(claimed.any(1).sum())


def paired_part(chunk: int) -> Counts:
    """Every other swing: the textbook alone."""
    out: Counter[str] = Counter()
    for w, (world, habits) in enumerate(WORLDS.items()):
        for gain in (0.0, GAIN):
            drawn = lessons(np.random.default_rng([29, chunk, w, int(gain)]), CHUNK, PAIRED, habits, gain=gain)
            claimed = claims(drawn)["pairs of blocks"]
            out[f"{world}|{'power' if gain else 'false'}"] += int(
                (claimed[:, CHANGED] if gain else claimed.any(1)).sum()
            )
    return dict(out)


def link_part(chunk: int) -> Counts:
    """Links and pairs of sessions of three blocks of eight: with nothing linked, and with `LINK`."""
    out: Counter[str] = Counter()
    for w, (world, habits) in enumerate(LINK_WORLDS.items()):
        for link in (0.0, LINK):
            rng = np.random.default_rng([31, chunk, w, int(10 * link)])
            drawn = lessons(rng, CHUNK, SESSION, habits, link=link)
            for k in range(CHUNK):
                (day,) = asked.days_of(drawn, k, fields=bool(k % 2))
                place, contact = asked.linked(day)
                cause = asked.cause_named(day)
                if link:
                    out[f"{world}|place found"] += bool(place)
                    out[f"{world}|contact found"] += bool(contact)
                    out[f"{world}|some link found"] += bool(place or contact)
                    out[f"{world}|right cause"] += cause == "share_impact"
                else:
                    out[f"{world}|lessons"] += 1
                    out[f"{world}|false links"] += bool(place or contact)
                    out[f"{world}|false causes"] += cause is not None
    return dict(out)


def _gathered(name: str, job: Callable[[int], Counts], seeds: int | None) -> tuple[Counter[str], int]:
    chunks = max(1, round((seeds or LESSONS) / CHUNK))
    also = ("evidence.py", "evidence_golfers.py", "evidence_asked.py", "evidence_designs.py")
    done = study(name, job, range(chunks), ("lesson", "review", "swing"), also)
    if not done.results:
        raise GroundtoneError(f"{name} was cut before the first {CHUNK} lessons were drawn: give it longer")
    total: Counter[str] = Counter()
    for counts in done.results:
        total.update(counts)
    return total, len(done.results) * CHUNK


def _part(hits: float, of: float) -> str:
    low, high = wilson(round(hits), round(of))
    return f"{hits / of:.3f} ({low:.3f} to {high:.3f})" if of else "-"


def _few(hits: float, of: float) -> bool:
    """No more than is allowed; of fewer than `LESSONS`, as far as so many can tell."""
    if of < LESSONS:
        return not of or hits / of <= ALLOWED + 2 * math.sqrt(ALLOWED * (1 - ALLOWED) / of)
    return hits / of <= ALLOWED and wilson(round(hits), round(of))[1] <= ALLOWED_UPPER


def study_lessons(seeds: int | None = None) -> dict[str, Any]:
    """Before and after: false claims, coverage, power."""
    got, many = _gathered("evidence lessons", lesson_part, seeds)
    pairs, _ = _gathered("evidence every other swing", paired_part, seeds)
    out: dict[str, Any] = {"lessons of each kind": many}
    ok = True
    for name in PLANS:
        for world in WORLDS:
            lines, good = _cell(got, f"{name}|{world}", many)
            out |= {f"{name}, {world}: {key}": value for key, value in lines.items()}
            ok = ok and good
    for world in WORLDS:
        false = got[f"4 days of 10|{world}|false"]
        out[f"4 days of 10, {world}: progress claimed falsely"] = _part(false, many)
        ok = ok and _few(false, many)
        out[f"every other swing cued, 12 a side, {world}: false; power"] = (
            f"{pairs[f'{world}|false'] / many:.3f}; {pairs[f'{world}|power'] / many:.3f}"
        )
    out["ok"] = ok
    return out


def _cell(got: Mapping[str, float], cell: str, many: int) -> tuple[dict[str, str], bool]:
    def of(what: str) -> float:
        return got.get(f"{cell}|{what}", 0)

    names = sorted({key.split("|")[2] for key in got if key.startswith(f"{cell}|") and key.count("|") == 3})
    valid = {name: of(f"{name}|power") for name in names if _few(of(f"{name}|false"), many)}
    best = max(valid, key=lambda name: valid[name], default="")
    held = of("lessons whose intervals all hold") / max(of("lessons with intervals"), 1)
    lines = {
        "false claims": _part(of("false"), many),
        "of them by measures and circle; by counts": (
            f"{of('false of measures and circle') / many:.3f}; {of('false of counts') / many:.3f}"
        ),
        "intervals that hold; lessons in which all do": (
            f"{of('intervals that hold') / max(of('intervals'), 1):.3f}; {held:.3f}"
        ),
        f"power, {GAIN:g} sd (called better or changed; told to differ; wrong way; interval beyond zero)": "; ".join(
            f"{of(what) / many:.3f}" for what in ("power", "told to differ", "wrong way", "beyond zero")
        ),
        "best textbook that keeps its promise": f"{best or 'none'}: {valid.get(best, 0) / many:.3f}",
        "textbooks, false and power": "; ".join(
            f"{name} {of(f'{name}|false') / many:.3f} {of(f'{name}|power') / many:.3f}" for name in names
        ),
    }
    good = _few(of("false"), many) and COVERED[0] <= held
    return lines, good and of("power") + of("told to differ") >= 0.95 * valid.get(best, 0)


def study_links(seeds: int | None = None) -> dict[str, Any]:
    """Links and pairs."""
    got, many = _gathered("evidence links", link_part, seeds)
    out: dict[str, Any] = {"sessions of 24 swings of each kind": many}
    ok = True
    for world in LINK_WORLDS:
        for what in ("false links", "false causes"):
            out[f"{world}: {what}"] = _part(got[f"{world}|{what}"], many)
            ok = ok and _few(got[f"{world}|{what}"], many)
        found = (f"{got[f'{world}|{what} found'] / many:.3f}" for what in ("some link", "place", "contact"))
        out[f"{world}: a link of {LINK:g} found; by place; by contact; right cause named"] = (
            f"{'; '.join(found)}; {got[f'{world}|right cause'] / many:.3f}"
        )
    out["ok"] = ok
    return out


def study_evidence(seeds: int | None = None) -> dict[str, Any]:
    """All parts; of mats so many, or its own number where that is less."""
    out: dict[str, Any] = {}
    ok = True
    for part in (study_lessons, study_links, study_mats):
        figures = part(min(seeds, MATS) if seeds and part is study_mats else seeds)
        ok = ok and figures.pop("ok")
        out |= figures
    return out | {"ok": ok}
