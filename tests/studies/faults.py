"""Swings built with faults of a given size, and what the findings make of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from groundtone.swing.bands import Band, Bands, default_bands
from groundtone.swing.findings import findings
from groundtone.swing.measures import measures
from groundtone.swing.phases import find_swings
from groundtone.twin.scenario import Session, SwingSpec
from groundtone.twin.true_swing import true_measures
from studies.measuring import Measured, draw_golfer, measured

SWINGS = 8
# "1.5 times beyond a band or well inside it", in distances of the limit from the usual value.
BEYOND, INSIDE = 1.45, 0.5


def built(rng: np.random.Generator, bands: Bands, name: str, times: float) -> SwingSpec:
    """A swing whose value for one finding lies `times` as far from the usual one as the limit does."""
    band = bands.band(name)
    high = bool(rng.random() < 0.5) if math.isfinite(band.low) and math.isfinite(band.high) else None
    value = band.beyond(times, high=high)
    # Hold 1.9 s: long enough to count as held.
    plain: dict[str, Any] = {"hold_s": 1.9, "backswing_s": 0.78, "downswing_s": 0.26, "turn_lead_ms": 80.0}
    plain |= {"lead_after": 0.415, "trail_back": 0.455, "setup_heel_toe": 0.55, "least_share": 0.26}
    plain |= {"impact_share": 0.76}
    style = "good"
    match name:
        case "toes" | "heels":
            plain |= {"down_heel_toe": value}
        case "trail":
            plain |= {"impact_share": value}
        case "slide":
            style = "slide"
            heel, _ = band.also
            plain |= {"least_share": 0.20, "impact_share": 0.20 + value, "lead_after": 0.505 - heel.beyond(times)}
        case "setup_side":
            plain |= {"setup_share": value}
        case "setup_heel_toe":
            plain |= {"setup_heel_toe": value}
        case "trail_heel":
            plain |= {"trail_back": value}
        case "early_lead":
            plain |= {"turn_lead_ms": max(0.0, 1e3 * (value * 1.04 - 0.26)), "back_change": band.also[0].beyond(times)}
        case "finish":
            # The curves leave the finish about half a second after they are told to.
            plain |= {"hold_s": max(0.3, value - 0.5)}
        case "lead_toes":
            plain |= {"lead_after": value}
        case "to_lead":
            plain |= {"setup_share": 0.5, "back_change": value}
        case "trail_edge":
            plain |= {"trail_edge": -0.1 - 0.13 * value}
        case "lead_edge":
            plain |= {"lead_edge": -0.1 - 0.12 * value}
        case "late_push":
            plain |= {"peak_lead_ms": -1e3 * value}
        case "lead_heel":
            plain |= {"lead_back": value}
        case _:
            raise ValueError(f"nobody knows how to build a swing with {name}")
    return SwingSpec(style, **plain)


def judged_swings(seed: int) -> list[dict[str, Any]]:
    """A session of eight swings, each with one fault beyond its band, well inside it or anywhere near."""
    rng = np.random.default_rng([seed, 4])
    bands = default_bands()
    names = [band.name for band in bands.findings]
    swings, wanted = [], []
    for k in range(SWINGS):
        name = names[(seed * SWINGS + k) % len(names)]
        # Most lie close to the limit, where probabilities have to prove themselves.
        way = rng.random()
        low, high = (1.5, 1.7) if way < 0.3 else (0.0, 0.4) if way < 0.4 else (0.85, 1.15)
        times = rng.uniform(low, high)
        swings.append(built(rng, bands, name, float(times)))
        wanted.append(name)
    session = Session(draw_golfer(rng), tuple(swings), seed=seed, setup_s=1.6)
    return cases_of(measured(seed % 6, session), ["iron"] * SWINGS)


def cases_of(got: Measured, clubs: Sequence[str]) -> list[dict[str, Any]]:
    """Each finding in each swing of a session that was found: stated, true and how far beyond the limit.

    Parameters
    ----------
    clubs : sequence of str
        The class of club of each swing.
    """
    found, bands = find_swings(got.series), default_bands()
    out = []
    for index, (at, club) in enumerate(zip(got.known.swings, clubs, strict=True)):
        swing = next((s for s in found if s.impact and abs(s.impact.t_s - at.impact_s) < 0.5), None)
        if swing is None:
            continue
        seen = measures(swing, got.series, got.doubts)
        said = {f.name: f.probability for f in findings(seen, bands, club=club, least=0.0)}
        true = true_measures(got.known, got.session, index)
        for band in (band.for_club(club) for band in bands.findings):
            size, outside = true_size(band, true, bands)
            if band.name in said and math.isfinite(size):
                over = (seen[band.measure].value - true[band.measure]) / seen[band.measure].u
                out.append({
                    "name": band.name, "p": float(said[band.name]), "size": float(size), "outside": bool(outside),
                    "over": float(over),
                })  # fmt: skip
    return out


def true_size(band: Band, true: dict[str, float], bands: Bands) -> tuple[float, bool]:
    """How far the true value lies from the usual one, the limit being 1, and whether the finding is true."""
    size = _size(band, true)
    for also in band.also:
        # All must be beyond: the nearest one says.
        size = min(size, _size(also, true))
    if band.never_with:
        other = _size(bands.band(band.never_with), true)
        size = min(size, 2.0 - other)
    return size, size > 1.0


def _size(band: Band, true: dict[str, float]) -> float:
    value = true[band.measure]
    limit = band.high if value >= band.usual else band.low
    if not math.isfinite(limit):
        return -abs(value - band.usual) if math.isfinite(value) else math.nan
    return (value - band.usual) / (limit - band.usual)


def scores(cases: list[dict[str, Any]]) -> tuple[dict[str, str], float, float]:
    """Right, missed, wrong and rightly silent for each finding; precision and recall over all."""
    each, total = {}, np.zeros(4, int)
    for name in sorted({case["name"] for case in cases}):
        mine = [case for case in cases if case["name"] == name]
        far, near = [c for c in mine if c["size"] >= BEYOND], [c for c in mine if c["size"] <= INSIDE]
        right, wrong = sum(c["p"] >= 0.5 for c in far), sum(c["p"] >= 0.5 for c in near)
        row = np.array([right, len(far) - right, wrong, len(near) - wrong])
        total += row
        each[name] = " ".join(map(str, row.tolist()))
    right, missed, wrong, _ = total.tolist()
    return each, right / max(right + wrong, 1), right / max(right + missed, 1)


def reliability(cases: list[dict[str, Any]], bins: int = 5) -> tuple[float, list[tuple[float, float, int]]]:
    """Stated probabilities against how often they were true.

    Returns
    -------
    gap : float
        Mean distance of the two over the bins, weighted with their cases; only cases in doubt (0.02 to 0.98) count,
        the others would flatter it.
    table : list of (float, float, int)
        Mean stated probability, part that was true and cases of each bin.
    """
    stated = np.array([case["p"] for case in cases])
    true = np.array([case["outside"] for case in cases], float)
    table, gap, count = [], 0.0, 0
    doubt = (stated > 0.02) & (stated < 0.98)
    for low in np.arange(bins) / bins:
        here = doubt & (stated >= low) & (stated < low + 1 / bins)
        if not here.any():
            continue
        p, q, n = float(stated[here].mean()), float(true[here].mean()), int(here.sum())
        table.append((round(p, 2), round(q, 2), n))
        gap, count = gap + n * abs(p - q), count + n
    return gap / max(count, 1), table
