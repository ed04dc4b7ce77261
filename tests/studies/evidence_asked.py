"""The program asked about invented lessons: drawn arrays as rows of swings, and what it says as plain values."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.lesson.compare import compare_blocks
from groundtone.lesson.lesson_measures import lesson_measures
from groundtone.lesson.outcome import outcomes
from groundtone.lesson.pair import the_pair
from groundtone.lesson.progress import progress
from groundtone.lesson.strike_links import strike_links
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import BlockRows, Fault, Lesson, SwingRow
from studies.evidence_golfers import FAT, NAMES, SCATTER, TOPPED, Drawn

CLUB = "7 iron"
CLAIMS = ("better", "worse", "changed")
"""Words by which something is said to have changed."""
DIFFER = "differ"
"""In words by which blocks are said to differ, whatever made them."""
# Of a measure, as the mat leaves it: a part of the golfer's own scatter, which holds it already.
_DOUBT = 0.2
_DOUBTS = {name: float(_DOUBT * scatter) for name, scatter in zip(NAMES, SCATTER, strict=True)}
# What a lesson may be about: finding, measure, its limits.
_FAULTS = (
    ("toes", "overall_most_down", -math.inf, 0.67),
    ("heels", "overall_least_late", 0.32, math.inf),
    ("setup_heel_toe", "overall_setup", 0.52, 0.60),
    ("finish", "held_s", 1.5, math.inf),
)
# Told as heel, centre or toe from so far off the middle, mm.
_FIELD_MM = 8.0


@dataclass(frozen=True)
class Told:
    """What is said of one measure.

    Attributes
    ----------
    verdict : str
    size, low, high : float
        Change and its interval as it is shown.
    """

    verdict: str
    size: float
    low: float
    high: float


def days_of(drawn: Drawn, lesson: int, *, fields: bool) -> list[Lesson]:
    """A drawn lesson as the program keeps it, a `Lesson` a day.

    Parameters
    ----------
    fields : bool
        Places are told as heel, centre or toe; else in mm.
    """
    plan, out = drawn.plan, []
    block_of = plan.block
    for day in range(plan.days):
        blocks = []
        for number, (side, _) in enumerate(plan.blocks):
            role = "drill" if side < 0 else "baseline" if side == 0 else "test"
            rows = tuple(
                _row(drawn, lesson, day, k, role=role, fields=fields)
                for k in np.flatnonzero(block_of == number).tolist()
            )
            name = f"{number + 1} ({role})"
            blocks.append(BlockRows(name, rows, role, CLUB, "turf", None, side < 0, number + 1, f"day {day + 1}"))
        out.append(Lesson(f"day {day + 1}", f"2026-05-{1 + 3 * day:02d}T10:00:00", tuple(blocks), simulated=True))
    return out


def _row(drawn: Drawn, lesson: int, day: int, k: int, *, role: str, fields: bool) -> SwingRow:
    values = dict(zip(NAMES, drawn.values[lesson, day, k].tolist(), strict=True))
    along, height = float(drawn.along_mm[lesson, day, k]), float(drawn.height[lesson, day, k])
    contact = Contact.TOPPED if height < TOPPED else Contact.FAT if height < FAT else Contact.CLEAN
    if fields:
        strike = Strike(field=4 if along < -_FIELD_MM else 6 if along > _FIELD_MM else 5, contact=contact)
    else:
        strike = Strike(place_mm=(along, 0.0), contact=contact)
    faults = []
    for code, name, low, high in _FAULTS:
        beyond = max(low - values[name], values[name] - high)
        probability = 0.5 * math.erfc(-beyond / _DOUBTS[name] / math.sqrt(2))
        if probability >= 0.5:
            faults.append(Fault(code, probability, code=code))
    return SwingRow(k + 1, values, _DOUBTS, Fault.ordered(faults), strike, 20.0 * k, role=role)


def joined(lesson: Lesson, role: str) -> BlockRows:
    """All blocks of a side as a lesson's page joins them."""
    blocks = [block for block in lesson.blocks if block.role == role]
    rows = tuple(row for block in blocks for row in block.swings)
    return BlockRows(role, rows, role, CLUB, "turf", None, False, blocks[0].number, blocks[0].session)


def compared(lesson: Lesson) -> dict[str, Told]:
    """Before and after: each measure, and the strikes inside the centre circle as "inside"."""
    found = compare_blocks(joined(lesson, "baseline"), joined(lesson, "test"))
    out = {c.looked.name: Told(c.verdict, c.effect.size, c.effect.low, c.effect.high) for c in found.changes}
    out["inside"] = Told(found.inside_verdict, *found.inside)
    return out


def counted(lessons: list[Lesson]) -> tuple[int, int]:
    """Faults of whose counts a change is claimed, and of whose counts blocks are said to differ."""
    told = [line for each in outcomes(lessons) for line in each.sure]
    return sum(": clear;" in line for line in told), sum(DIFFER in line for line in told)


def progressed(lessons: list[Lesson]) -> tuple[int, int]:
    """Measures and circles of which something is claimed over days, and of which days are said to differ."""
    found = progress(lessons, lesson_measures(club=CLUB), club=CLUB)
    spans = [*found.kept, *([found.since] if found.since is not None else [])]
    said = [verdict for each in spans for verdict in (*(c.verdict for c in each.changes), each.inside_verdict)]
    return sum(verdict in CLAIMS for verdict in said), sum(DIFFER in verdict for verdict in said)


def linked(lesson: Lesson) -> NDArray[np.bool_]:
    """Whether each of the two links is claimed, over the whole session."""
    rows = [row for block in lesson.blocks for row in block.swings]
    return np.array([link.claimed for link in strike_links(rows)])


def cause_named(lesson: Lesson) -> str | None:
    """The measure by which the pair tells clean from poor; None where it names none."""
    rows = [row for block in lesson.blocks for row in block.swings]
    pair = the_pair(rows, lesson_measures(club=CLUB))
    return pair.looked.name if pair is not None and pair.looked is not None else None
