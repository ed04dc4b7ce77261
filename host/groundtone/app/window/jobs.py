"""What the desk does: every job is a function of plain data that gives plain data."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groundtone.app.language import date_words, tr
from groundtone.cue.bands import Bands
from groundtone.errors import GroundtoneError
from groundtone.files import data_folder

if TYPE_CHECKING:
    from groundtone.app.window.views import Array
    from groundtone.lesson.outcome import Outcome
    from groundtone.lesson.progress import ProgressView
    from groundtone.review.lane_store import SwingLane
    from groundtone.review.library_reader import SessionLine
    from groundtone.review.strikes import Strike
    from groundtone.review.swings import BlockRows, RecordedSession


def check_history() -> tuple[list[str], list[float], list[str]]:
    """Days, common changes in per cent and verdicts of the checks of the mat that was checked last."""
    from groundtone.calibration.checking.check_log import read_checks

    files = sorted((data_folder() / "profiles").glob("*.checks.jsonl"), key=lambda path: path.stat().st_mtime)
    if not files:
        return [], [], []
    checks = read_checks(files[-1])[-40:]
    days = [_day(kept.date) for kept in checks]
    changes = [100.0 * (1.0 / (1.0 + kept.common) - 1.0) for kept in checks]
    return days, changes, [kept.verdict for kept in checks]


def day_words(iso: str) -> str:
    """A date as a person says it: 26 Nov 2026."""
    try:
        day = datetime.date.fromisoformat(iso[:10])
    except ValueError:
        return iso[:10]
    return date_words(day)


def _day(date: str) -> str:
    try:
        then = datetime.datetime.fromisoformat(date)
        # The axis has no room for the year.
        return f"{tr(date_words(then.date())).rsplit(' ', 1)[0]} {then:%H:%M}"
    except ValueError:
        return date[:10]


def ready() -> float:
    """Imports what the other jobs need, so that the first of them does not wait for it."""
    import groundtone.lesson.compare
    import groundtone.lesson.pair
    import groundtone.review.session_review  # noqa: F401

    return math.pi


def twin_profile(seed: int) -> str:
    """Sees to it that the simulated mat of a seed has a profile, by a simulated bench run; says what was done."""
    from groundtone.app.calibration.demo_profile import quick_profile
    from groundtone.app.twin import mat_of
    from groundtone.calibration.own_profile import profile_path, set_aside
    from groundtone.calibration.profile import read_profile, write_profile
    from groundtone.twin.scenario import Empty, Scenario

    mat = mat_of(seed)
    path = profile_path(mat.uid)
    if path.exists() and read_profile(path).layout == mat.layout:
        return ""
    set_aside(path)  # of the simulated mat of an earlier release, which had another grid
    write_profile(path, quick_profile(Scenario(mat, Empty())))
    return "The simulated mat has been calibrated with simulated weights."


def opened_session(path: Path) -> RecordedSession:
    """A session for the list; its lanes come with `lanes`."""
    from groundtone.lesson.lesson_measures import measure_words
    from groundtone.review.library_reader import open_session

    seen = open_session(path)
    return replace(seen, words={row.number: measure_words(row, block) for block in seen.blocks for row in block.swings})


def lanes(view: RecordedSession) -> dict[int, SwingLane]:
    """The lanes of a session."""
    from groundtone.review.lane_store import swing_lanes

    return swing_lanes(view)


Limits = dict[str, float | None]
"""Limits of bands by name; None: the pupil has none of their own there."""


@dataclass(frozen=True)
class PairView:
    """The pair; numbers of its swings, the sentence between them, and the drill's band fitted.

    Attributes
    ----------
    bands : Bands or None
        None: they stay as they are.
    limits, before : dict
        What would change in them, and what is in force there.
    """

    clean: int
    poor: int
    sentence: str
    fitted: str
    bands: Bands | None
    limits: Limits = field(default_factory=dict)
    before: Limits = field(default_factory=dict)


def pair(view: RecordedSession, bands: Bands | None) -> PairView | None:
    """The pair of a session; None where no two swings differ. Nothing is written.

    `bands` are those of a walk-in; None: the pupil's own are what a fitted band would replace.
    """
    from groundtone.cue.personal import bands_for, called_faults
    from groundtone.lesson.lesson_measures import lesson_measures
    from groundtone.lesson.pair import fitted, the_pair
    from groundtone.review.swings import contacts_of

    club = view.blocks[0].club if view.blocks else ""
    found = the_pair(
        view.swings, lesson_measures(club=club, contacts=contacts_of(view.swings), coach=called_faults(view.golfer))
    )
    if found is None:
        return None
    bands = bands or bands_for(view.golfer).as_bands()
    drill, sentence = fitted(found, bands)
    limits: Limits = {name: value for name, value in vars(drill).items() if value != getattr(bands, name)}
    before: Limits = {name: getattr(bands, name) for name in limits}
    numbers = found.clean.number, found.poor.number
    return PairView(*numbers, found.sentence, sentence, drill if limits else None, limits, before)


def keep_limits(golfer: str, limits: Limits) -> Limits:
    """Puts limits that the coach has set into the pupil's own bands, for this lesson and those to come.

    Returns
    -------
    dict
        What was there before, for `keep_limits` to put back.

    Raises
    ------
    GroundtoneError
        The pupil's file cannot be read or written.
    """
    from groundtone.cue.personal import Own, read_personal, write_personal

    personal = read_personal(golfer)
    before: Limits = {name: personal.own[name].limit if name in personal.own else None for name in limits}
    own = {name: kept for name, kept in personal.own.items() if name not in limits}
    own |= {name: Own(limit, "coach") for name, limit in limits.items() if limit is not None}
    write_personal(replace(personal, own=own))
    return before


BlockChoice = tuple[Path, int, str, str]
"""A block to compare: file, number (below nought: all blocks of that one's kind), kind and words."""


def lesson_blocks(view: RecordedSession) -> list[BlockChoice]:
    """Blocks with swings of this pupil's lesson (the same day), oldest first."""
    from groundtone.review.library_reader import open_session

    day = view.started[:10]
    paths = [line.path for line in session_list() if (line.golfer, line.started[:10]) == (view.golfer, day)][::-1]
    out: list[BlockChoice] = []
    for path in paths if view.path in paths else [*paths, view.path]:
        out += lesson_blocks_of(view if path == view.path else open_session(path))
    return out


def earlier_lessons(view: RecordedSession) -> list[tuple[str, list[BlockChoice]]]:
    """Lessons of this pupil before the day of a session, the newest first: day, ISO 8601, and blocks with swings."""
    from groundtone.record.library import Library
    from groundtone.review.library_reader import sessions_of

    if not view.golfer:
        return []
    with Library(data_folder()) as library:
        seen = sessions_of(library, view.golfer) if library.knows(view.golfer) else []
    before = [each for each in seen if each.started[:10] < view.started[:10]]
    days: dict[str, list[BlockChoice]] = {}
    for each in before:
        days.setdefault(each.started[:10], []).extend(lesson_blocks_of(each))
    return [(day, blocks) for day, blocks in sorted(days.items(), reverse=True) if blocks]


def lesson_blocks_of(seen: RecordedSession) -> list[BlockChoice]:
    """Blocks of a session with swings; blocks in turn stand first, each kind as one."""
    from groundtone.feel.in_blocks import LEAST_BLOCKS
    from groundtone.review.swings import balls

    out: list[BlockChoice] = []
    hit = [block for block in seen.blocks if block.swings]
    for role in ("baseline", "drill"):
        several = [block for block in hit if block.role == role]
        if len(several) >= LEAST_BLOCKS:
            many = sum(len(balls(block.swings)) for block in several)
            words = f"{seen.started[11:16]} {role}, {len(several)} blocks, {many} swings"
            out.append((seen.path, -several[0].number, role, words))
    for block in hit:
        club = f", {block.club}" if block.club else ""
        n = len(balls(block.swings))
        swings = "1 swing" if n == 1 else f"{n} swings"
        out.append((seen.path, block.number, block.role, f"{seen.started[11:16]} {block.role}, {swings}{club}"))
    return out


def _kind(block: BlockRows) -> tuple[str, str, str, bool]:
    """What blocks have in common that count as one: never two clubs or lies."""
    from groundtone.swing.clubs import club_class

    return block.role, club_class(block.club), block.lie, block.cues


def compared(first: tuple[Path, int], second: tuple[Path, int]) -> list[str]:
    """Two blocks compared, in sentences; what must be known comes first."""
    from groundtone.cue.personal import called_faults
    from groundtone.lesson.compare import compare_blocks
    from groundtone.review.library_reader import lessons_known, open_session

    sides, days = [], []
    for path, number in (first, second):
        view = open_session(path)
        days.append(view.started[:10])
        found = [block for block in view.blocks if block.number == abs(number)]
        if not found:
            raise GroundtoneError("this block is not there any more: choose again")
        alike = [b for b in view.blocks if _kind(b) == _kind(found[0])] if number < 0 else found
        sides.append(replace(found[0], swings=tuple(row for block in alike for row in block.swings)))
    before, after = sides
    called = called_faults(view.golfer)
    result = compare_blocks(before, after, coach=called, earlier=lessons_known(view.golfer))
    return [
        *_counted(before, after, days if days[0] != days[1] else ("", "")),
        *(text[:1].upper() + text[1:] for text in result.sentences),
    ]


def _counted(before: BlockRows, after: BlockRows, days: Sequence[str]) -> list[str]:
    """The one count of both blocks: swings at a ball, and how many of them were outside by the main finding."""
    from groundtone.lesson.outside import main_fault, outside, title_of
    from groundtone.review.swings import balls

    sides = (before, after)
    many = ["1 swing" if len(balls(side.swings)) == 1 else f"{len(balls(side.swings))} swings" for side in sides]
    when = [f"{day_words(day)}, " if day else "" for day in days]
    out = [f"Before: {when[0]}{before.role}, {many[0]}. After: {when[1]}{after.role}, {many[1]}."]
    about = main_fault(before.swings) or main_fault(after.swings)
    if about is not None:
        was, now = (outside(side.swings, about.name) for side in sides)
        out.append(f"{title_of(about.name).capitalize()}: {was.words} before, {now.words} after.")
    return out


def together(view: RecordedSession) -> list[str]:
    """What goes with what in a session."""
    from groundtone.lesson.strike_links import strike_links

    return [answer.sentence for answer in strike_links(view.swings)]


def prepared(path: str) -> str:
    """Puts a session that has just been saved into the library and measures its lanes; a sentence where it failed."""
    from groundtone.app.live.recording import into_library
    from groundtone.review.lane_store import prepare

    sentence = into_library(Path(path))
    prepare(Path(path))
    return sentence


def discarded(path: str) -> str:
    """Removes a session that has just ended in which no swing was seen: nothing of a lesson is in it."""
    from groundtone.record.library import Library
    from groundtone.review.golfers import delete_empty

    with Library(data_folder()) as library:
        delete_empty(library, Path(path))
    return ""


def told_strike(path: Path, number: int, strike: Strike) -> Strike:
    """Tells or mends the strike of a recorded swing, in the recording and the library; what was told before."""
    from groundtone.review.library_reader import open_session
    from groundtone.review.told_later import tell_strike

    found = [swing for swing in open_session(path).swings if swing.number == number]
    if not found:
        raise GroundtoneError(f"swing {number} is not in this recording: choose again")
    tell_strike(path, found[0], strike)
    return found[0].strike


def call_fault(path: Path, golfer: str, code: str) -> bool:
    """The coach's word for a pupil: a described finding is a fault from now on, or no longer; whether it is one now.

    The session is filed anew, so that its counts follow; others follow when they are filed anew.
    """
    from groundtone.app.live.recording import into_library
    from groundtone.cue.personal import read_personal, write_personal

    personal = read_personal(golfer)
    write_personal(replace(personal, faults=personal.faults ^ {code}))
    if sentence := into_library(path):
        raise GroundtoneError(sentence)
    return code not in personal.faults


def with_strike(view: RecordedSession, number: int, strike: Strike) -> RecordedSession:
    """The same session with a strike as it is now told."""

    def block(each: Any) -> Any:
        return replace(each, swings=tuple(replace(s, strike=strike) if s.number == number else s for s in each.swings))

    return replace(view, blocks=tuple(block(each) for each in view.blocks))


def caught_up() -> int:
    """Puts recordings into the library that it does not know (the window was closed at once, a crash); how many."""
    from groundtone.app.live.recording import file_unfiled

    return file_unfiled(lambda sentence: None)


def session_list() -> list[SessionLine]:
    """The newest sessions first."""
    from groundtone.record.library import Library
    from groundtone.review.library_reader import session_lines

    with Library(data_folder()) as library:
        return session_lines(library)


def field_of(path: Path, begin_s: float, end_s: float) -> tuple[Array, Any, Array]:
    """Force of each cell around a swing; see `swing_lanes.swing_field`."""
    from groundtone.review.lane_store import swing_field

    return swing_field(path, begin_s, end_s)


def noted(path: Path, text: str) -> tuple[str, ...]:
    """Writes a note, or none where it is empty; all notes of the recording."""
    from groundtone.review.told_later import write_note

    return write_note(path, text)


@dataclass(frozen=True)
class ProgressSeen:
    """A pupil's lessons: each fault in counts, and the measures behind them."""

    faults: tuple[Outcome, ...]
    view: ProgressView


def progress_of(golfer: str) -> ProgressSeen:
    """A pupil's lessons.

    Raises
    ------
    GroundtoneError
        Nothing of them has been recorded.
    """
    from groundtone.cue.personal import called_faults
    from groundtone.lesson.outcome import outcomes
    from groundtone.lesson.progress import club_of, progress_of_club, progress_view
    from groundtone.record.library import Library
    from groundtone.review.library_reader import lessons_of

    with Library(data_folder()) as library:
        lessons = lessons_of(library, golfer)
    if not lessons:
        raise GroundtoneError(f"nothing of {golfer!r} has been recorded yet: Practise does it")
    club = club_of(lessons) or None
    called = called_faults(golfer)
    return ProgressSeen(tuple(outcomes(lessons, club)), progress_view(progress_of_club(lessons, club, called)))
