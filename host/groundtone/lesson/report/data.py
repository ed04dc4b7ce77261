"""What a page is made of, gathered from the reviewed recordings of a lesson."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.cue.personal import called_faults
from groundtone.errors import GroundtoneError
from groundtone.feel.plan import Plan, read_plan
from groundtone.lesson.compare import Comparison, compare, swings_of
from groundtone.lesson.lesson_measures import LessonMeasure, lesson_measures, measure_of
from groundtone.lesson.outside import LEAST, PART, Outside, faults_of, main_fault, outside
from groundtone.lesson.pair import nearest_to_middle
from groundtone.lesson.strike_links import StrikeLink, strike_links
from groundtone.record.reader import open_recording
from groundtone.record.session import Golfer
from groundtone.review.lane import Lane
from groundtone.review.session_review import Review, ReviewedSwing, review
from groundtone.review.swings import BlockRows, Lesson, balls, contacts_of
from groundtone.swing.bands import default_bands
from groundtone.swing.clubs import club_class
from groundtone.swing.events import Kind

if TYPE_CHECKING:
    # A quarter of a second to be loaded.
    from groundtone.record.library import Library
    from groundtone.review.feel_log import FeelLesson


@dataclass(frozen=True)
class PageData:
    """A lesson as the page tells it.

    Attributes
    ----------
    date : str
        ISO 8601.
    before, after, drill : BlockRows or None
        The baseline, the test and the drill; None where none was recorded or it held no swing.
    only : BlockRows or None
        All swings where there is neither before nor after.
    comparison : Comparison or None
        None unless there are both.
    in_turn : bool
        Blocks with the tone and without took turns: before is without, after is with it.
    seen : tuple of Outside
        Findings of the swings before (else of all), the most frequent first.
    before_path, after_path : Lane or None
        A typical swing of either; without a comparison the one swing there is stands in `before_path`.
    feel, lessons : tuples
        What was asked and guessed, lesson by lesson; all lessons up to this one, for what was kept.
    plan : Plan or None
        The golfer's.
    guessed, damaged, simulated, invented : bool
        Measured without a profile; something of a recording is lost; the twin; an example.
    """

    golfer: Golfer
    date: str
    before: BlockRows | None = None
    after: BlockRows | None = None
    drill: BlockRows | None = None
    only: BlockRows | None = None
    comparison: Comparison | None = None
    in_turn: bool = False
    looked: tuple[LessonMeasure, ...] = ()
    seen: tuple[Outside, ...] = ()
    together: tuple[StrikeLink, ...] = ()
    before_path: Lane | None = None
    after_path: Lane | None = None
    feel: tuple[FeelLesson, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    plan: Plan | None = None
    guessed: bool = False
    damaged: bool = False
    simulated: bool = False
    invented: bool = False

    @property
    def shown(self) -> tuple[BlockRows, ...]:
        """The blocks that the page tells of: before and after, or the one there is."""
        return tuple(block for block in (self.before, self.after, self.only) if block is not None)

    def word(self, side: str) -> str:
        """What "before" and "after" are called: in turn they are without and with the tone."""
        return {"before": "without", "after": "with"}[side] if self.in_turn else side

    @property
    def main(self) -> str:
        """The finding to work on; empty where none stands out."""
        for seen in self.seen:
            if seen.n >= max(LEAST, PART * seen.of):
                return seen.name
        return ""


def reviews_of(paths: Sequence[Path], profile: Path | None = None, coach: Collection[str] = ()) -> list[Review]:
    """The reviews of a lesson's recordings in the order of their beginning; as `review` for each."""
    reviews = [review(open_recording(path), profile, coach=coach) for path in dict.fromkeys(paths)]
    return sorted(reviews, key=lambda seen: seen.recording.about.started)


@dataclass
class _Gathered:
    """Blocks of one role and condition, with where their swings come from."""

    review: Review
    block: BlockRows
    swings: list[ReviewedSwing] = field(default_factory=list)


def data_for(reviews: Sequence[Review], *, coach: Collection[str] = ()) -> PageData:
    """A page's data from the recordings of one lesson.

    Parameters
    ----------
    reviews : sequence of Review
        In the order of their beginning.
    coach : collection of str
        Findings that the coach calls a fault in any case, beside those that are kept as this golfer's.

    Raises
    ------
    GroundtoneError
        There is no swing at a ball in them, or they are of more than one golfer.
    """
    _of_one_golfer(reviews)
    gathered = [each for seen in reviews for each in _blocks(seen)]
    if not gathered:
        raise GroundtoneError("no swing at a ball was found: a page needs at least one")
    in_turn = _in_turn(gathered)
    kinds = [[g for g in gathered if g.block.role == role] for role in ("baseline", "test", "drill")]
    before, after = _sides(kinds[0], kinds[2] if in_turn else kinds[1])
    drill = None if in_turn else _as_one(kinds[2])
    only = None if before or after else _as_one(gathered)
    about = reviews[0].recording.about
    first = before or after or only or gathered[0]
    every = [row for g in gathered for row in g.block.swings]
    seen = tuple(faults_of((before or first).block.swings))
    coach = {*coach, *called_faults(about.golfer.name)}
    looked = looked_for(
        seen, lesson_measures(club=first.block.club, contacts=contacts_of(every), coach=coach), first.block.club
    )
    main = main_fault((before or first).block.swings)
    about_what = main.name if main is not None else ""
    return PageData(
        golfer=about.golfer,
        date=about.started,
        before=_block_of(before),
        after=_block_of(after),
        drill=_block_of(drill),
        only=_block_of(only),
        comparison=_compared(_block_of(before), _block_of(after), looked),
        in_turn=in_turn,
        looked=looked,
        seen=seen,
        together=strike_links(every) if _one_calibration(reviews) else (),
        before_path=_typical(before or only, looked, about_what),
        after_path=_typical(after, looked, about_what),
        feel=_asked(reviews),
        guessed=any(each.recording.about.profile_text is None for each in reviews),
        damaged=any(each.recording.lost for each in reviews),
        simulated=any(each.recording.about.simulated for each in reviews),
    )


def with_history(data: PageData, library: Library) -> PageData:
    """The same with what the library knows of the golfer up to that day: feel over lessons, tests, and the plan.

    Raises
    ------
    GroundtoneError
        The library or the plan cannot be read.
    """
    name = data.golfer.name
    if not name or not library.knows(name):
        return data
    from groundtone.review.feel_log import feel_lessons
    from groundtone.review.library_reader import lessons_of

    lessons = tuple(each for each in lessons_of(library, name) if each.started <= data.date)
    earlier = [each for each in feel_lessons(library, name) if each.started <= data.date]
    asked_now = {each.name for each in data.feel}
    felt = tuple(each for each in earlier if each.name not in asked_now) + data.feel
    # How this golfer's swings hang together is learnt from the lessons before.
    comparison = _compared(data.before, data.after, data.looked, lessons)
    plan = read_plan(name, library.folder)
    return replace(data, feel=felt, lessons=lessons, plan=plan, comparison=comparison)


def _asked(reviews: Sequence[Review]) -> tuple[FeelLesson, ...]:
    """What was asked and guessed in these recordings, as one lesson; nothing where nothing was."""
    from groundtone.review.feel_log import FeelLesson, feel_of

    about = reviews[0].recording.about
    tries, guesses = feel_of(entry.table for seen in reviews for entry in seen.recording.feel)
    return (FeelLesson(about.lesson_name(), about.started, tries, guesses),) if tries or guesses else ()


def _of_one_golfer(reviews: Sequence[Review]) -> None:
    """Refuses recordings of more than one golfer."""
    names = {each.recording.about.golfer.name for each in reviews}
    if len(names) > 1:
        named = ", ".join(sorted(name or "nobody named" for name in names))
        raise GroundtoneError(f"these recordings are of more than one golfer ({named}): make a page for each")


def _block_of(side: _Gathered | None) -> BlockRows | None:
    return None if side is None else side.block


def _compared(
    before: BlockRows | None, after: BlockRows | None, looked: Sequence[LessonMeasure], earlier: Sequence[Lesson] = ()
) -> Comparison | None:
    return None if before is None or after is None else compare(before, after, looked, earlier=earlier)


def _one_calibration(reviews: Sequence[Review]) -> bool:
    """Swings of two calibrations are not put into one ranking."""
    return len(reviews) == 1 or len({each.recording.about.profile_text for each in reviews}) == 1


def _blocks(seen: Review) -> list[_Gathered]:
    """The blocks with swings at a ball."""
    out = []
    for number, block in zip((b.number for b in seen.recording.blocks), seen.blocks(), strict=True):
        rows = tuple(balls(block.swings))
        swings = [s for s in seen.swings if s.block.number == number and s.swing.kind is Kind.SWING]
        if rows:
            out.append(_Gathered(seen, replace(block, swings=rows), swings))
    return out


def _in_turn(gathered: Sequence[_Gathered]) -> bool:
    """Silent blocks and blocks with the tone took turns, and there was no test: what the tone does was asked."""
    roles = [g.block.role for g in gathered]
    silent = [g.block.swings for g in gathered if g.block.role == "baseline"]
    cued = [g.block.swings for g in gathered if g.block.role == "drill"]
    if "test" in roles or not silent or not cued:
        return False
    sides = [tuple(row for some in side for row in some) for side in (silent, cued)]
    return swings_of(sides[0], sides[1], ()).in_turn


def _sides(before: list[_Gathered], after: list[_Gathered]) -> tuple[_Gathered | None, _Gathered | None]:
    """Before and after under the same conditions where there are such, with the most swings."""

    def conditions(each: _Gathered) -> tuple[str, str]:
        return club_class(each.block.club), each.block.lie

    if not before or not after:
        return _as_one(before), _as_one(after)
    shared = {conditions(each) for each in before} & {conditions(each) for each in after}
    if shared:
        counts = Counter({c: sum(len(g.block.swings) for g in (*before, *after) if conditions(g) == c) for c in shared})
        best = max(sorted(counts), key=lambda c: counts[c])
        before, after = ([g for g in side if conditions(g) == best] for side in (before, after))
    return _as_one(before), _as_one(after)


def _as_one(several: list[_Gathered]) -> _Gathered | None:
    """Blocks of one recording and of the same conditions as the last of them, as one."""
    if not several:
        return None
    last = several[-1]
    alike = [
        g for g in several
        if g.review is last.review
        and (club_class(g.block.club), g.block.lie, g.block.cues)
        == (club_class(last.block.club), last.block.lie, last.block.cues)
    ]  # fmt: skip
    rows = tuple(row for g in alike for row in g.block.swings)
    return _Gathered(last.review, replace(last.block, swings=rows), [s for g in alike for s in g.swings])


def looked_for(seen: Sequence[Outside], looked: Sequence[LessonMeasure], club: str) -> tuple[LessonMeasure, ...]:
    """The measures to look at: as agreed on, with the band of every finding that was called a fault."""
    out = list(looked)
    for each in seen:
        band = default_bands().band(each.name).for_club(club_class(club))
        places = [i for i, measure in enumerate(out) if measure.name == band.measure]
        if not places:
            out.append(measure_of(band))
        elif math.isinf(out[places[0]].band[0]) and math.isinf(out[places[0]].band[1]):
            out[places[0]] = replace(out[places[0]], band=(band.low, band.high))
    return tuple(out)


def _typical(side: _Gathered | None, looked: Sequence[LessonMeasure], main: str) -> Lane | None:
    """The swing nearest to the middle of those of a block that show what the words say, with a known impact.

    Of a block in which half the swings or more had the fault `main`, it is one with it; else it is one without.
    """
    if side is None:
        return None
    known = [each for each in side.swings if each.swing.impact is not None]
    if not known:
        return None
    found = outside(side.block.swings, main)
    most = 2 * found.n >= found.of
    shown = [each for each in known if any(f.concern and f.name == main for f in each.findings) == most]
    known = shown if main and shown else known
    return side.review.lane(known[nearest_to_middle([each.row() for each in known], looked)])
