"""Before and after: two sides of one golfer's swings, hit in blocks, and what they can and cannot prove, in words.

A claim needs the whole interval beyond the smallest change that matters, and the intervals that are shown are those
that decide, all looks paid for. "Better" needs three blocks a side or more in turn, with the same club from the same
lie; with fewer it is told that blocks differ.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from groundtone.feel.block_plans import blocks_to_tell
from groundtone.feel.in_blocks import PRIOR, Gap, Swings, between, habit
from groundtone.lesson.chance import LEAST_SHARE, SHARE_STEP, ShareGap, share_gap
from groundtone.lesson.lesson_measures import LessonMeasure, lesson_measures
from groundtone.lesson.outside import main_fault
from groundtone.lesson.strike_counts import StrikeCounts, count
from groundtone.review.strikes import CENTRE_CIRCLE_MM
from groundtone.review.swings import BlockRows, Lesson, SwingRow, balls, column, contacts_of
from groundtone.swing.clubs import club_class
from groundtone.swing.findings import is_time

LEAST = 4
"""Fewer swings a side are too few to compare."""
BETTER, WORSE, CHANGED = "better", "worse", "changed"
DIFFER, SAME, UNKNOWN = "these two blocks differ", "no change that matters", "cannot tell"
TOO_FEW = "too few swings to say"
CLAIMS = (BETTER, WORSE, CHANGED, DIFFER)
"""Words that say that something is not as it was."""
_UNSAID = "not said"
# What a calibration leaves open of the scale: of a mat's own, and of one that was guessed, told by the doubt of a share
# as it would be at even weight (it goes with s(1 - s)).
_SCALE_U, _GUESSED_U, _GUESSED_FROM = 0.02, 0.05, 0.015
_PAUSE_S = 3600.0
# A block of fewer swings is no block to advise.
_LEAST_ADVISED = 6


@dataclass(frozen=True)
class Change:
    """What became of one measure.

    Attributes
    ----------
    before, after : float
        Levels in the middle of the lesson; their difference is the effect.
    effect : Gap
        After less before, with the interval that decides.
    verdict : str
        `BETTER`, `WORSE`, `CHANGED` (it moved, and neither is better), `DIFFER` (it moved, and these blocks cannot say
        more), `SAME`, `UNKNOWN` or `TOO_FEW`.
    need : (int, int)
        Where it is not known: how many blocks a side of how many swings would tell; 0 blocks: more than 12.
    """

    looked: LessonMeasure
    before: float
    after: float
    effect: Gap
    verdict: str
    need: tuple[int, int] = (0, 0)

    @property
    def sentence(self) -> str:
        """The change in one line."""
        looked, effect = self.looked, self.effect
        if self.verdict == TOO_FEW:
            return f"{looked.words}: too few swings to say."
        middle = f"{looked.told(self.before)} before, {looked.told(self.after)} after"
        doubt = f"{looked.told(effect.low, sign=True)} to {looked.told(effect.high, sign=True)}"
        told = f"{looked.words}: {self.verdict} ({middle}; change {doubt})."
        if self.verdict != UNKNOWN:
            return told
        blocks, each = self.need
        if not blocks:
            return f"{told} More than twelve blocks a side would have to tell."
        return f"{told} About {blocks} blocks a side of {each} swings, in turn, would tell."


@dataclass(frozen=True)
class Comparison:
    """Two sides.

    Attributes
    ----------
    conditions : tuple of str
        What else differed (club, lie, cues, feet), and what such blocks cannot prove: said before anything.
    in_turn : bool
        Three blocks a side or more, hit in turn: what they say is more than that blocks differ.
    inside : (float, float, float)
        Change of the share inside the centre circle, and the interval that decides.
    sentences : tuple of str
        The whole in plain words, conditions first.
    inside_verdict : str
        Whether more strikes are inside the centre circle: the words of `Change.verdict`.
    """

    conditions: tuple[str, ...]
    in_turn: bool
    changes: tuple[Change, ...]
    strikes: tuple[StrikeCounts, StrikeCounts]
    inside: tuple[float, float, float]
    sentences: tuple[str, ...]
    inside_verdict: str


def compare_blocks(
    before: BlockRows,
    after: BlockRows,
    *,
    coach: Collection[str] = (),
    radius_mm: float = CENTRE_CIRCLE_MM,
    earlier: Sequence[Lesson] = (),
) -> Comparison:
    """As `compare`, by the measures of a lesson with that club and those strikes."""
    contacts = contacts_of((*before.swings, *after.swings))
    measures = lesson_measures(club=before.club, contacts=contacts, coach=coach)
    return compare(before, after, measures, radius_mm=radius_mm, earlier=earlier)


def compare(
    before: BlockRows,
    after: BlockRows,
    looked: Sequence[LessonMeasure],
    *,
    radius_mm: float = CENTRE_CIRCLE_MM,
    earlier: Sequence[Lesson] = (),
    spans: int = 1,
) -> Comparison:
    """Compares two sides, each one block or several put together.

    Parameters
    ----------
    before, after : BlockRows
        Practice swings and rehearsals are left out.
    looked : sequence of LessonMeasure
        The measures to look at, agreed on beforehand: each further one makes a change by chance more likely, and all
        are paid for, with the strikes inside the circle.
    radius_mm : float
        Of the centre circle.
    earlier : sequence of Lesson
        Of the golfer: how their swings hang together is learnt from them.
    spans : int
        How many comparisons are shown beside each other: all are paid for.
    """
    rows = balls(before.swings), balls(after.swings)
    swings = swings_of(*rows, [measure.name for measure in looked])
    alike = (club_class(before.club), before.lie) == (club_class(after.club), after.lie)
    whole = swings.in_turn and alike and len({row.run[:1] for side in rows for row in side}) == 1
    counts = (
        count([r.strike for r in rows[0]], radius_mm=radius_mm, usual_m=before.usual_m),
        count([r.strike for r in rows[1]], radius_mm=radius_mm, usual_m=after.usual_m),
    )
    told = min(side.placed for side in counts) >= LEAST_SHARE
    known = [min(np.count_nonzero(np.isfinite(column(side, m.name))) for side in rows) >= LEAST for m in looked]
    looks = max(1, int(sum(known)) + told) * spans
    gaps = between(
        swings, looks, doubts=_doubts(rows, looked), floors=[m.step for m in looked],
        prior=_learnt(earlier, rows, looked),
    )  # fmt: skip
    each = max(_LEAST_ADVISED, round(len(rows[0] + rows[1]) / max(1, sum(swings.blocks))))
    changes = tuple(
        _change(m, gap, looks, each, whole=whole and swings.known(at).in_turn)
        for at, (m, gap) in enumerate(zip(looked, gaps, strict=True))
    )
    conditions = (*_conditions(before, after), *_proves(rows, whole=whole))
    # Blocks in which no strike was told say nothing of strikes.
    of_strikes = [[row for row in side if row.strike.inside(radius_mm) is not None] for side in rows]
    placed = swings_of(of_strikes[0], of_strikes[1], ())
    gap = share_change(*counts, looks, blocks=min(placed.blocks) if placed.in_turn else 1)
    inside = gap.size, gap.low, gap.high
    inside_verdict = _inside_verdict(counts, inside, whole=whole and placed.in_turn)
    strikes = _strike_sentence(counts, inside, inside_verdict)
    sentences = (*conditions, *(change.sentence for change in changes), strikes)
    return Comparison(conditions, whole, changes, counts, inside, sentences, inside_verdict)


def swings_of(before: Sequence[SwingRow], after: Sequence[SwingRow], names: Sequence[str]) -> Swings:
    """Both sides' swings as arrays, in the order in which they were hit.

    Swings of one recording are ordered by their numbers, those of several as they are given.
    """
    rows = [*((row, False) for row in before), *((row, True) for row in after)]
    sessions = list(dict.fromkeys(row.run[:1] for row, _ in rows))
    if len({(row.run[:1], row.number) for row, _ in rows}) == len(rows):
        rows.sort(key=lambda each: (sessions.index(each[0].run[:1]), each[0].number))
    # A block of both sides, where nobody said which is which, is two.
    labels = list(dict.fromkeys((row.run, late) for row, late in rows))
    # Another recording begins far from the one before.
    at = np.arange(len(rows)) + 1000 * np.array([sessions.index(row.run[:1]) for row, _ in rows], dtype=np.int64)
    if len(sessions) == 1 and len({row.number for row, _ in rows}) == len(rows):
        at = np.array([row.number for row, _ in rows], dtype=np.int64)
    values = np.array([[row.values.get(name, math.nan) for name in names] for row, _ in rows], dtype=np.float64)
    return Swings(
        values.reshape(len(rows), len(names)),
        np.array([labels.index((row.run, late)) for row, late in rows], dtype=np.int64),
        np.array([late for _, late in rows], dtype=bool),
        at,
    )


def _learnt(
    earlier: Sequence[Lesson], rows: tuple[Sequence[SwingRow], Sequence[SwingRow]], looked: Sequence[LessonMeasure]
) -> np.ndarray:
    """How the golfer's swings hang together by other lessons than this, shape (measures, strengths)."""
    these = {row.run[:1] for side in rows for row in side}
    names, past = [measure.name for measure in looked], []
    for lesson in earlier:
        others = [b for b in lesson.blocks if (b.session,) not in these or not b.session]
        sides = [[row for b in others if b.cues == cues for row in balls(b.swings)] for cues in (False, True)]
        if sum(map(len, sides)) >= 2 * LEAST:
            past.append(swings_of(sides[0], sides[1], names))
    if not past:
        return PRIOR
    return np.stack([habit(past[-10:], at) for at in range(len(names))])


def _doubts(rows: tuple[Sequence[SwingRow], Sequence[SwingRow]], looked: Sequence[LessonMeasure]) -> list[float]:
    """Standard uncertainty of each gap that more swings do not make smaller: a stand's own offset, and the scale.

    Feet, shoes and zero are found anew in each recording. A recording that both sides share alike drops out.
    """
    sessions = {row.run[:1] for side in rows for row in side}
    out = []
    for measure in looked:
        total = 0.0
        for session in sessions:
            here = [[row for row in side if row.run[:1] == session] for side in rows]
            part = [len(some) / max(1, len(side)) for some, side in zip(here, rows, strict=True)]
            stand_u = 0.0 if is_time(measure.name) else _least_doubt([*here[0], *here[1]], measure.name)
            total += ((part[1] - part[0]) * stand_u) ** 2
        middles = [np.nanmean(values) if np.isfinite(values := column(side, measure.name)).any() else 0.0
                   for side in rows]  # fmt: skip
        scale = _GUESSED_U if _share_doubt([*rows[0], *rows[1]]) >= _GUESSED_FROM else _SCALE_U
        out.append(math.hypot(math.sqrt(total), scale * float(middles[1] - middles[0])))
    return out


def _least_doubt(rows: Sequence[SwingRow], name: str) -> float:
    return min((u for row in rows if not math.isnan(u := row.doubts.get(name, math.nan))), default=0.0)


def _share_doubt(rows: Sequence[SwingRow]) -> float:
    """The least doubt of the share at impact, taken back to even weight."""
    name, least = "share_impact", math.inf
    for row in rows:
        share, u = row.values.get(name, math.nan), row.doubts.get(name, math.nan)
        if not math.isnan(share + u):
            least = min(least, u / max(4 * share * (1 - share), 0.1))
    return least if math.isfinite(least) else 0.0


def _change(looked: LessonMeasure, gap: Gap, looks: int, each: int, *, whole: bool) -> Change:
    verdict = _verdict(looked, gap, whole=whole)
    need = (0, each)
    if verdict == UNKNOWN:
        wanted = max(abs(abs(gap.size) - looked.step), looked.step / 2)
        need = blocks_to_tell(gap, wanted, each, looks), each
    return Change(looked, gap.before, gap.after, gap, verdict, need)


def _verdict(looked: LessonMeasure, gap: Gap, *, whole: bool) -> str:
    if math.isnan(gap.size):
        return TOO_FEW
    if gap.low > -looked.step and gap.high < looked.step:
        return SAME
    if not (gap.low > looked.step or gap.high < -looked.step):
        return UNKNOWN
    if not whole:
        return DIFFER
    gains = [looked.outside(gap.before) - looked.outside(gap.before + end) for end in (gap.low, gap.high)]
    # Both inside the band, or through it: it moved, and neither is better.
    return BETTER if min(gains) > 0 else WORSE if max(gains) < 0 else CHANGED


def share_change(before: StrikeCounts, after: StrikeCounts, looks: float = 1.0, blocks: int = 1) -> ShareGap:
    """Change of the share inside the centre circle with the interval that decides; NaN without."""
    return share_gap((before.inside, before.placed), (after.inside, after.placed), looks, blocks=blocks)


def share_verdict(gap: ShareGap, *, whole: bool) -> str:
    """What a share's gap says, more of it being better."""
    if math.isnan(gap.size):
        return TOO_FEW
    if gap.low > -SHARE_STEP and gap.high < SHARE_STEP:
        return SAME
    if not (gap.low > SHARE_STEP or gap.high < -SHARE_STEP):
        return UNKNOWN
    return DIFFER if not whole else BETTER if gap.size > 0 else WORSE


def _inside_verdict(
    counts: tuple[StrikeCounts, StrikeCounts], inside: tuple[float, float, float], *, whole: bool
) -> str:
    if min(side.placed for side in counts) < LEAST_SHARE:
        return TOO_FEW
    return share_verdict(ShareGap(*inside), whole=whole)


def _strike_sentence(
    counts: tuple[StrikeCounts, StrikeCounts], inside: tuple[float, float, float], verdict: str
) -> str:
    (before, after), (_, low, high) = counts, inside
    if verdict == TOO_FEW:
        return f"Strikes inside the centre circle: too few told to say; {LEAST_SHARE} a side are the least."
    return (
        f"Strikes inside the centre circle: {verdict} ({before.inside} of {before.placed} before, "
        f"{after.inside} of {after.placed} after; change {low * 100:+.0f} to {high * 100:+.0f} points)."
    )


def _proves(rows: tuple[Sequence[SwingRow], Sequence[SwingRow]], *, whole: bool) -> tuple[str, ...]:
    """What such blocks cannot prove, whatever they show."""
    out = []
    if len({row.run[:1] for side in rows for row in side}) > 1:
        out.append("Feet and zero were found anew between the two: that doubt is in the figures.")
    times = sorted(row.t_s for side in rows for row in side if not math.isnan(row.t_s))
    if len({row.run[:1] for side in rows for row in side}) == 1 and len(times) > 1 and max(np.diff(times)) > _PAUSE_S:
        out.append("More than an hour lies between two of the swings: a pause changes a golfer too.")
    if not whole and all(rows):
        out.append("Two blocks can differ and nothing be better: three blocks a side or more, in turn, would say more.")
    if main_fault(rows[0]) is not None:
        out.append("What stood out before was chosen from these very swings: a part of the way back comes by itself.")
    return tuple(out)


def _conditions(before: BlockRows, after: BlockRows) -> tuple[str, ...]:
    out = []
    for word, a, b in (("clubs", before.club, after.club), ("lies", before.lie, after.lie)):
        sides = f"{a or _UNSAID} before, {b or _UNSAID} after"
        if word == "clubs" and a != b and a and club_class(a) == club_class(b):
            out.append(f"Two clubs of one class ({sides}): compared as {club_class(a)}s.")
        elif a != b:
            out.append(f"Different {word} ({sides}): what changed may come from that alone.")
    if before.cues != after.cues:
        where = "after" if after.cues else "before"
        out.append(f"Cues sounded only {where}: compare blocks in silence to see what stayed.")
    if "mat" in (before.lie, after.lie):
        out.append("An artificial mat hides fat strikes.")
    return tuple(out)
