"""What the desk does: every job is a function of plain data that gives plain data."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groundtone.cue.bands import Bands
from groundtone.errors import GroundtoneError, Telling
from groundtone.files import data_folder

if TYPE_CHECKING:
    from groundtone.app.window.views import Array
    from groundtone.lesson.progress import ProgressView
    from groundtone.lesson.report.choice import PageChoice
    from groundtone.lesson.report.data import PageData
    from groundtone.review.lane_store import SwingLane
    from groundtone.review.library_reader import SessionLine
    from groundtone.review.swings import RecordedSession


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


def _day(date: str) -> str:
    try:
        return f"{datetime.datetime.fromisoformat(date):%d.%m. %H:%M}"
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
    from groundtone.calibration.own_profile import profile_path
    from groundtone.calibration.profile import write_profile
    from groundtone.twin.scenario import Empty, Scenario

    mat = mat_of(seed)
    path = profile_path(mat.uid)
    if path.exists():
        return ""
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
    limits : dict
        What has changed in them.
    """

    clean: int
    poor: int
    sentence: str
    fitted: str
    bands: Bands | None
    limits: Limits = field(default_factory=dict)


def pair(view: RecordedSession, bands: Bands | None) -> PairView | None:
    """The pair of a session; None where no two swings differ. `bands` None: the pupil's own are fitted."""
    from groundtone.cue.personal import bands_for
    from groundtone.lesson.lesson_measures import lesson_measures
    from groundtone.lesson.pair import fitted, the_pair
    from groundtone.review.swings import contacts_of

    club = view.blocks[0].club if view.blocks else ""
    found = the_pair(view.swings, lesson_measures(club=club, contacts=contacts_of(view.swings)))
    if found is None:
        return None
    bands = bands or bands_for(view.golfer).as_bands()
    drill, sentence = fitted(found, bands)
    limits: Limits = {name: value for name, value in vars(drill).items() if value != getattr(bands, name)}
    numbers = found.clean.number, found.poor.number
    return PairView(*numbers, found.sentence, sentence, drill if limits else None, limits)


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


def lesson_blocks(view: RecordedSession) -> list[tuple[Path, int, str, str]]:
    """Blocks with swings of this pupil's lesson (the same day), oldest first: file, number, kind and words."""
    from groundtone.review.library_reader import open_session

    day = view.started[:10]
    paths = [line.path for line in session_list() if (line.golfer, line.started[:10]) == (view.golfer, day)][::-1]
    out = []
    for path in paths if view.path in paths else [*paths, view.path]:
        seen = view if path == view.path else open_session(path)
        for block in filter(lambda block: block.swings, seen.blocks):
            club = f", {block.club}" if block.club else ""
            words = f"{seen.started[11:16]} {block.role}, {len(block.swings)} swings{club}"
            out.append((path, block.number, block.role, words))
    return out


def compared(first: tuple[Path, int], second: tuple[Path, int]) -> list[str]:
    """Two blocks compared, in sentences; what must be known comes first."""
    from groundtone.lesson.compare import compare_blocks
    from groundtone.review.library_reader import open_session

    sides = []
    for path, number in (first, second):
        found = [block for block in open_session(path).blocks if block.number == number]
        if not found:
            raise GroundtoneError("this block is not there any more: choose again")
        sides.append(found[0])
    before, after = sides
    result = compare_blocks(before, after)
    return [
        f"Before: {before.role}, {len(before.swings)} swings. After: {after.role}, {len(after.swings)} swings.",
        *(text[:1].upper() + text[1:] for text in result.sentences),
    ]


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


def caught_up() -> int:
    """Puts recordings into the library that it does not know (the window was closed at once, a crash); how many."""
    from groundtone.app.live.recording import into_library
    from groundtone.record.contents import unlisted
    from groundtone.record.library import Library

    with Library(data_folder()) as library:
        missing = unlisted(library)
    return sum(not into_library(path) for path in missing)


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
    from groundtone.review.swings import write_note

    return write_note(path, text)


def progress_of(golfer: str) -> ProgressView:
    """A pupil's lessons, measure by measure.

    Raises
    ------
    GroundtoneError
        Nothing of them has been recorded.
    """
    from groundtone.lesson.progress import club_of, progress_of_club, progress_view
    from groundtone.record.library import Library
    from groundtone.review.library_reader import lessons_of

    with Library(data_folder()) as library:
        lessons = lessons_of(library, golfer)
    if not lessons:
        raise GroundtoneError(f"nothing of {golfer!r} has been recorded yet: Practise does it")
    return progress_view(progress_of_club(lessons, club_of(lessons) or None))


@dataclass(frozen=True)
class LessonLine:
    """A lesson that a page can be made of: words for a choice, whose it is, and its recordings."""

    words: str
    golfer: str
    paths: tuple[Path, ...]


def lesson_lines() -> list[LessonLine]:
    """The newest lessons first."""
    found: dict[tuple[str, str], list[SessionLine]] = {}
    for line in session_list():
        found.setdefault((line.golfer, line.started[:10]), []).append(line)
    return [
        LessonLine(
            f"{day}  {golfer or 'nobody named'}, {sum(line.swings for line in lines)} swings", golfer,
            tuple(line.path for line in reversed(lines)),
        )
        for (golfer, day), lines in found.items()
    ]  # fmt: skip


def page_options() -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Languages of the page, and its drills: name and title."""
    from groundtone.lesson.drills import all_drills, words_of
    from groundtone.lesson.wording import languages, words

    say = words("en")
    return languages(), tuple((name, words_of(drill, say).title) for name, drill in all_drills().items())


@dataclass(frozen=True)
class PagePreview:
    """What a page will say and show.

    Attributes
    ----------
    said : tuple of (str, str)
        Heading and text.
    lines : tuple of str
        What else stands on it.
    notes : tuple of str
        What must be known.
    picture, card : bytes
        PNG; empty where there is none.
    """

    said: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    picture: bytes
    card: bytes
    html: str


def _page_data(paths: tuple[Path, ...]) -> PageData:
    """What the page of these recordings is made of: they are reviewed once, the page is made anew as it is chosen."""
    if not paths:
        raise GroundtoneError("there is no lesson to make a page of: record one first")
    with Telling(GroundtoneError, "a recording of this lesson cannot be read", "choose again"):
        return _reviewed(paths, tuple(path.stat().st_mtime_ns for path in paths))


@lru_cache(2)
def _reviewed(paths: tuple[Path, ...], _changed_ns: tuple[int, ...]) -> PageData:
    from groundtone.lesson.report.data import data_for, reviews_of

    return data_for(reviews_of(paths))


def page_preview(paths: tuple[Path, ...], choice: PageChoice) -> PagePreview:
    """The page as it would be saved.

    Raises
    ------
    GroundtoneError
        A recording cannot be read, or the texts do not fit.
    """
    import io

    from groundtone.lesson.report.page import build_page
    from groundtone.lesson.report.pictures import drawing, swings_picture
    from groundtone.lesson.wording import words

    data = _page_data(paths)
    page = build_page(data, choice)
    content = page.content
    picture = b""
    if content.picture:
        with drawing():
            file = io.BytesIO()
            swings_picture(data, words(choice.language)).savefig(file, format="png", facecolor="white")
            picture = file.getvalue()
    drill = content.drill
    lines = [f"{drill.title}: {drill.aim} {drill.often}"] if drill is not None else []
    lines += ["  ·  ".join(filter(None, side)) for side in content.sides]
    lines += ["  ·  ".join(filter(None, row)) for row in content.rows]
    notes = tuple(filter(None, (content.banner, *page.doubts)))
    return PagePreview(content.said, tuple(lines), notes, picture, page.card, page.html)


def page_saved(paths: tuple[Path, ...], choice: PageChoice, folder: Path) -> list[str]:
    """Writes the page; the files.

    Raises
    ------
    GroundtoneError
        As `page_preview`, or the folder cannot be written.
    """
    from groundtone.lesson.report.page import build_page, write_page

    return [str(path) for path in write_page(build_page(_page_data(paths), choice), folder)]
