"""An invented lesson, so that anybody can see a page without a mat: no real person, no real swings."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groundtone.cue.bands import Bands
from groundtone.lesson.compare import compare
from groundtone.lesson.lesson_measures import lesson_measures
from groundtone.lesson.outside import Outside
from groundtone.lesson.report.data import PageData, looked_for
from groundtone.lesson.strike_links import strike_links
from groundtone.record.session import Golfer
from groundtone.review.lane import AFTER_S, BEFORE_S, Lane, limits
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import MIDDLE, BlockRows, Lesson, SwingRow
from groundtone.swing.bands import default_bands

# Middle and scatter of each measure before and after; invented: a golfer who runs to the toes and mends most of it.
_BEFORE = {
    "share_setup": (0.53, 0.02), "overall_setup": (0.58, 0.02), "overall_most_down": (0.745, 0.030),
    "overall_least_down": (0.50, 0.02), "share_impact": (0.74, 0.04), "side_shift": (0.47, 0.03),
    "lead_heel_work": (0.06, 0.02), "turn_early": (0.37, 0.03), "tempo": (2.9, 0.25), "held_s": (2.1, 0.4),
}  # fmt: skip
_AFTER = {
    **_BEFORE,
    "overall_setup": (0.56, 0.02),
    "overall_most_down": (0.635, 0.025),
    "overall_least_down": (0.46, 0.02),
    "lead_heel_work": (0.08, 0.02),
}
_USUAL_M, _SWINGS, _DRILL = 140.0, 12, 18
_WORDS = {"en": ("Invented golfer", "7 iron"), "de": ("Erfundene Golferin", "Eisen 7")}
_ROLES = ("baseline", "drill", "test")


def example(language: str = "en") -> PageData:
    """The invented lesson; always the same."""
    rng = np.random.default_rng(6)
    name, club = _WORDS.get(language, _WORDS["en"])
    middles = {"baseline": _BEFORE, "drill": _AFTER, "test": _AFTER}
    blocks = {role: _block(rng, role, middles[role], club) for role in _ROLES}
    before, after = blocks["baseline"], blocks["test"]
    limit = default_bands().band("toes").high
    seen = (Outside("toes", sum(row.values["overall_most_down"] > limit for row in before.swings), _SWINGS),)
    looked = looked_for(seen, lesson_measures(club=club), club)
    return PageData(
        golfer=Golfer(name, "right", 74.0),
        date="2026-03-14",
        before=before,
        after=after,
        drill=blocks["drill"],
        comparison=compare(before, after, looked),
        looked=looked,
        seen=seen,
        together=strike_links([row for role in _ROLES for row in blocks[role].swings]),
        before_path=path(0.745),
        after_path=path(0.635),
        invented=True,
    )


def example_lessons() -> list[Lesson]:
    """Four invented lessons: the toes are mended slowly, some of it is lost between lessons."""
    rng = np.random.default_rng(8)
    days = ("2026-01-10", "2026-01-24", "2026-02-21", "2026-03-14")
    most = ((0.745, 0.70), (0.715, 0.675), (0.70, 0.645), (0.66, 0.63))
    out = []
    for day, ends in zip(days, most, strict=True):
        blocks = []
        for role, middle in zip(("baseline", "test"), ends, strict=True):
            middles = {**_AFTER, "overall_most_down": (middle, 0.025)}
            blocks.append(_block(rng, role, middles, _WORDS["en"][1]))
        out.append(Lesson(day, day, tuple(blocks)))
    return out


def _block(rng: np.random.Generator, role: str, middles: dict[str, tuple[float, float]], club: str) -> BlockRows:
    rows = []
    for number in range(_DRILL if role == "drill" else _SWINGS):
        values = {name: middle + spread * rng.standard_normal() for name, (middle, spread) in middles.items()}
        values["overall_least_late"] = values["overall_least_down"]
        values[MIDDLE] = (values["overall_most_down"] + values["overall_least_down"]) / 2
        rows.append(SwingRow(number + 1, values, strike=_strike(rng, values["overall_most_down"])))
    return BlockRows(role, tuple(rows), role, club, "turf", _USUAL_M, role == "drill")


def _strike(rng: np.random.Generator, most: float) -> Strike:
    """The nearer the toes, the nearer the heel of the club."""
    x = -120.0 * (most - 0.60) + 6.0 * rng.standard_normal()
    y = 6.0 * rng.standard_normal()
    contact = Contact.CLEAN if math.hypot(x, y) < 16 else Contact.THIN
    kept = 0.97 - 0.006 * math.hypot(x, y) + 0.02 * rng.standard_normal()
    return Strike(place_mm=(round(max(x, -37.0)), round(y)), contact=contact, distance_m=round(_USUAL_M * kept))


def path(most: float) -> Lane:
    """One swing as curves through invented points; `most` is the furthest towards the toes in the downswing."""
    t = np.arange(-BEFORE_S, AFTER_S, 0.01)
    share = _through(t, ((-1.4, 0.53), (-1.05, 0.53), (-0.36, 0.30), (0.0, 0.76), (0.35, 0.90), (1.5, 0.92)))
    heel_toe = _through(
        t,
        (
            (-1.4, 0.57),
            (-1.05, 0.57),
            (-0.45, 0.50),
            (-0.22, 0.55),
            (-0.03, most),
            (0.25, 0.53),
            (0.7, 0.4),
            (1.5, 0.4),
        ),
    )
    turn = -0.36
    events = ((-1.05, "takeaway"), (turn, "turn"), (0.0, "impact"))
    return Lane(t, share, heel_toe, events, limits(Bands(), turn))


def _through(t: NDArray[np.float64], points: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """A curve through points that never swings past them (cosine between neighbours)."""
    times, values = (np.array(part) for part in zip(*points, strict=True))
    place = np.clip(np.searchsorted(times, t, side="right") - 1, 0, len(times) - 2)
    part = np.clip((t - times[place]) / (times[place + 1] - times[place]), 0, 1)
    out: NDArray[np.float64] = values[place] + (values[place + 1] - values[place]) * (1 - np.cos(np.pi * part)) / 2
    return out
