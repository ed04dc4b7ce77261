"""What became of each fault over lessons, in counts: baseline and test apart, and what was kept in between."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from groundtone.lesson.chance import LEAST_SHARE, SHARE_STEP, share_gap
from groundtone.lesson.outside import Outside, faults_of, main_fault, of_role, outside, title_of
from groundtone.review.swings import BlockRows, Lesson


@dataclass(frozen=True)
class LessonCount:
    """One lesson: its day (ISO 8601), and what was outside in its baseline and in its test; `of` 0: none was hit."""

    day: str
    baseline: Outside
    test: Outside


@dataclass(frozen=True)
class Outcome:
    """One fault over lessons.

    Attributes
    ----------
    claim, figures : str
        What became of it, and the counts behind that.
    sure : tuple of str
        Whether blocks differ, and what so few swings cannot tell.
    differ : bool
        Two blocks are said to differ.
    """

    name: str
    title: str
    lessons: tuple[LessonCount, ...]
    claim: str
    figures: str
    sure: tuple[str, ...]
    differ: bool = False


def outcomes(lessons: Sequence[Lesson], club: str | None = None) -> list[Outcome]:
    """The pupil's faults, the one that the last lessons were about first.

    Parameters
    ----------
    lessons : sequence of Lesson
        Oldest first.
    club : str, optional
        Count the blocks with this club only.
    """
    fitting = [[block for block in lesson.blocks if club in (None, block.club)] for lesson in lessons]
    names: list[str] = []
    for blocks in reversed(fitting):
        first = of_role(blocks, "baseline") or [row for block in blocks for row in block.swings]
        main = main_fault(first)
        names += [main.name] if main is not None else []
    names += [each.name for blocks in reversed(fitting) for block in blocks for each in faults_of(block.swings)]
    # Each fault is looked at within the lesson and between lessons.
    faults = list(dict.fromkeys(names))
    return [_outcome(name, lessons, fitting, 2 * len(faults)) for name in faults]


def _outcome(name: str, lessons: Sequence[Lesson], fitting: Sequence[Sequence[BlockRows]], looks: int) -> Outcome:
    counts = []
    for lesson, blocks in zip(lessons, fitting, strict=True):
        two = [outside(of_role(blocks, role), name) for role in ("baseline", "test")]
        if two[0].of or two[1].of:
            counts.append(LessonCount(lesson.started[:10], *two))
    kept = _kept(counts)
    within = counts[-1] if counts and counts[-1].baseline.of and counts[-1].test.of else None
    claim, figures, sure = "Too few blocks to say what became of it.", "", []
    if within is not None:
        word = _change_words(within.baseline, within.test)
        claim = f"{word} in the lesson of {day_of(within.day)}:"
        figures = f"{within.baseline.words} outside in the baseline, {within.test.words} in the test."
        sure.append(_sure("Within the lesson", within.baseline, within.test, looks))
    if kept is not None:
        before, after, days = kept
        claim = f"Counted again {days} days later:"
        figures = f"{before.words} outside when the lesson before ended, {after.words} when this one began."
        sure.append(_sure("Between the lessons", before, after, looks))
    differ = any("differ" in line for line in sure)
    return Outcome(name, title_of(name), tuple(counts), claim, figures, tuple(sure), differ)


def _kept(counts: Sequence[LessonCount]) -> tuple[Outside, Outside, int] | None:
    """The last test against the next lesson's baseline, and the days between; None where one of them is missing."""
    if len(counts) < 2 or not counts[-2].test.of or not counts[-1].baseline.of:
        return None
    first, second = (datetime.date.fromisoformat(each.day) for each in counts[-2:])
    return counts[-2].test, counts[-1].baseline, (second - first).days


def _change_words(before: Outside, after: Outside) -> str:
    less = after.n * before.of - before.n * after.of
    return "Fewer were outside" if less < 0 else "More were outside" if less > 0 else "As many were outside"


def _sure(where: str, before: Outside, after: Outside, looks: int) -> str:
    return f"{where}: {clear_words(before, after, looks)}"


def clear_words(before: Outside, after: Outside, looks: int = 1) -> str:
    """Whether counts of two blocks differ by more than swings, blocks and a drift would make them, and if not, why not.

    Parameters
    ----------
    looks : int
        How many such pairs are shown beside each other.
    """
    if min(before.of, after.of) < LEAST_SHARE:
        return f"too few swings to say; {LEAST_SHARE} in each block are the least."
    gap = share_gap((before.n, before.of), (after.n, after.of), looks)
    if gap.low > SHARE_STEP or gap.high < -SHARE_STEP:
        least = 100 * min(abs(gap.low), abs(gap.high))
        return f"these two blocks differ, by {least:.0f} points or more; that nothing else made it is not said."
    many = min(before.of, after.of)
    return f"cannot tell; {many} swings of one block each do not tell {before.words} from {after.words}."


def day_of(iso: str) -> str:
    """A date in full: 26 Nov 2026."""
    day = datetime.date.fromisoformat(iso[:10])
    return f"{day.day} {day:%b %Y}"
