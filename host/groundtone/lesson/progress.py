"""Progress over lessons: each measure's middle with its doubt, strikes inside the centre circle, and what was kept."""

from __future__ import annotations

import datetime
import itertools
import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from groundtone.errors import GroundtoneError
from groundtone.feel.in_blocks import Level, level
from groundtone.lesson.compare import LEAST, Change, Comparison, compare, swings_of
from groundtone.lesson.lesson_measures import LessonMeasure, lesson_measures
from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.review.strikes import CENTRE_CIRCLE_MM
from groundtone.review.swings import BlockRows, Lesson, balls, contacts_of
from groundtone.swing.clubs import club_class


@dataclass(frozen=True)
class Progress:
    """What became of a golfer over lessons.

    Attributes
    ----------
    lessons : tuple of Lesson
        Those with swings that count, oldest first.
    days : tuple of int
        From each lesson to the next.
    club : str or None
        The club whose swings are counted; "" where it was not told, None: all of them.
    left_out : int
        Swings with other clubs.
    points : dict of str to tuple of Level
        The golfer's level a lesson, by measure.
    strikes : tuple of StrikeCounts
        A count a lesson.
    kept : tuple of Comparison
        From the last block of each lesson to the first of the next.
    since : Comparison or None
        From the first lesson to the last; None with one lesson.
    few : str
        The class of clubs of which there were too few swings, so that all clubs are counted; "" else.
    """

    lessons: tuple[Lesson, ...]
    days: tuple[int, ...]
    club: str | None
    left_out: int
    looked: tuple[LessonMeasure, ...]
    points: Mapping[str, tuple[Level, ...]]
    strikes: tuple[StrikeCounts, ...]
    kept: tuple[Comparison, ...] = ()
    since: Comparison | None = field(default=None)
    few: str = ""

    def kept_of(self, name: str) -> tuple[Change, ...]:
        """What was kept of a measure, from lesson to lesson."""
        return tuple(next(c for c in each.changes if c.looked.name == name) for each in self.kept)


def club_of(lessons: Sequence[Lesson]) -> str:
    """The club of most swings in the last lesson that has any; "" where none was told."""
    for lesson in reversed(lessons):
        counts = Counter({block.club: 0 for block in lesson.blocks})
        for block in lesson.blocks:
            counts[block.club] += len(balls(block.swings))
        best = max(counts, key=lambda club: (counts[club], club), default="")
        if counts[best]:
            return best
    return ""


def progress(
    lessons: Sequence[Lesson],
    looked: Sequence[LessonMeasure],
    *,
    club: str | None = None,
    radius_mm: float = CENTRE_CIRCLE_MM,
) -> Progress:
    """Progress over lessons.

    In each lesson the swings in silence are counted, for a cue holds a golfer inside the band only while it sounds; all
    of them where none was in silence. Days and lessons differ by themselves, and between two of them feet, shoes and
    calibration may be others: so two lessons can differ, and which of them was better is not claimed.

    Parameters
    ----------
    lessons : sequence of Lesson
        Oldest first.
    looked : sequence of LessonMeasure
        The measures to look at.
    club : str, optional
        Count the swings with clubs of this one's class only; without it all of them.
    radius_mm : float
        Of the centre circle.

    Raises
    ------
    GroundtoneError
        There is no swing that counts.
    """
    counted, left_out = [], 0
    for lesson in lessons:
        blocks = tuple(replace(b, swings=tuple(balls(b.swings))) for b in lesson.blocks if balls(b.swings))
        fitting = tuple(b for b in blocks if club is None or club_class(b.club) == club_class(club))
        left_out += sum(len(b.swings) for b in blocks) - sum(len(b.swings) for b in fitting)
        quiet = tuple(b for b in fitting if not b.cues)
        if fitting:
            counted.append(replace(lesson, blocks=quiet or fitting))
    if not counted:
        what = f" with {club!r}" if club else ""
        raise GroundtoneError(f"no swing at a ball{what} has been recorded: there is no progress to show yet")
    wholes = [_as_one(lesson) for lesson in counted]
    levels = [level(swings_of(whole.swings, (), [m.name for m in looked])) for whole in wholes]
    points = {m.name: tuple(each[at] for each in levels) for at, m in enumerate(looked)}
    strikes = tuple(count([row.strike for row in whole.swings], radius_mm=radius_mm) for whole in wholes)
    # Only the last of what was kept is told in words, but every one can be looked at.
    spans = len(wholes)
    kept = tuple(
        compare(before.blocks[-1], after.blocks[0], looked, radius_mm=radius_mm, earlier=counted, spans=spans)
        for before, after in itertools.pairwise(counted)
    )
    since = (
        compare(wholes[0], wholes[-1], looked, radius_mm=radius_mm, earlier=counted, spans=spans)
        if len(wholes) > 1 else None
    )  # fmt: skip
    days = tuple(days_between(a.started, b.started) for a, b in itertools.pairwise(counted))
    return Progress(tuple(counted), days, club, left_out, tuple(looked), points, strikes, kept, since)


def progress_of_club(lessons: Sequence[Lesson], club: str | None, coach: Collection[str] = ()) -> Progress:
    """The progress with the bands of that club (None: of all swings) and of what was told of the strikes.

    Clubs of one class count together. Where fewer than two lessons hold enough swings of that class and all clubs
    together would do, all are counted, and `Progress.few` says with which class there were too few.
    """
    enough = [_lessons_with_enough(lessons, each) for each in (club, None)]
    few = club_class(club) if club and enough[0] < 2 <= enough[1] else ""
    if few:
        club = None
    kind = None if club is None else club_class(club)
    rows = [
        row for lesson in lessons for block in lesson.blocks if kind in (None, club_class(block.club))
        for row in block.swings
    ]  # fmt: skip
    looked = lesson_measures(club=club or "", contacts=contacts_of(rows), coach=coach)
    return replace(progress(lessons, looked, club=club), few=few)


def _lessons_with_enough(lessons: Sequence[Lesson], club: str | None) -> int:
    """In how many lessons enough balls were hit with a club's class (None: with any) to be compared."""
    kind = None if club is None else club_class(club)
    return sum(
        sum(len(balls(b.swings)) for b in lesson.blocks if kind in (None, club_class(b.club))) >= LEAST
        for lesson in lessons
    )


@dataclass(frozen=True)
class ProgressLine:
    """One measure over lessons: medians with intervals, its band, and what is to be said of it."""

    words: str
    values: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    band: tuple[float, float] | None
    sentence: str


@dataclass(frozen=True)
class ProgressView:
    """A pupil's lessons in order: their days, and each measure over them."""

    days: tuple[str, ...]
    lines: tuple[ProgressLine, ...]


def progress_view(seen: Progress) -> ProgressView:
    """Each measure over the lessons as it is drawn and told, and the strikes inside the centre circle as the last."""
    lines = []
    for measure in seen.looked:
        points, kept = seen.points[measure.name], seen.kept_of(measure.name)
        scale = 100.0 if measure.unit == "%" else 1.0
        band = (measure.band[0] * scale, measure.band[1] * scale)
        words = f"{measure.words}, {measure.unit}" if measure.unit else measure.words
        changes = seen.since.changes if seen.since else ()
        since = next((change.sentence for change in changes if change.looked.name == measure.name), "")
        last = f" Kept since the lesson before: {kept[-1].sentence}" if kept else ""
        first = f"First to last lesson: {since}" if since else "One lesson: nothing to compare yet."
        median, low, high = (tuple(scale * getattr(p, part) for p in points) for part in ("value", "low", "high"))
        limits = band if any(map(math.isfinite, band)) else None
        lines.append(ProgressLine(words, median, low, high, limits, f"{first}{last}"))
    share = tuple(100.0 * c.inside_share for c in seen.strikes)
    low, high = (tuple(100.0 * c.inside_interval[end] for c in seen.strikes) for end in (0, 1))
    told = ", ".join(f"{c.inside} of {c.placed}" for c in seen.strikes)
    sentence = f"Inside the centre circle: {told}."
    lines.append(ProgressLine("strikes inside the centre circle, %", share, low, high, None, sentence))
    return ProgressView(tuple(lesson.started[:10] for lesson in seen.lessons), tuple(lines))


def days_between(first: str, second: str) -> int:
    """Days from one date to another, each ISO 8601 with or without a time.

    Examples
    --------
    >>> days_between("2026-02-27T18:00:00+01:00", "2026-03-01")
    2
    """
    a, b = (datetime.date.fromisoformat(each[:10]) for each in (first, second))
    return (b - a).days


def _as_one(lesson: Lesson) -> BlockRows:
    first = lesson.blocks[0]
    return replace(first, name=lesson.name, swings=tuple(row for block in lesson.blocks for row in block.swings))
