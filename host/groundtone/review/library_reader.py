"""Sessions and lessons out of the library, for whoever looks at them afterwards: the one reader of what it holds.

Measuring a long recording anew takes a minute, the library has what was measured when the session ended. A recording
that is not in the library (from elsewhere) is measured first.
"""

from __future__ import annotations

import contextlib
import functools
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Row, Select, bindparam, func, select

from groundtone.cue.personal import called_faults, read_personal, write_personal
from groundtone.errors import AwayError, GroundtoneError
from groundtone.files import data_folder
from groundtone.record.library import Library
from groundtone.record.tables import (
    OF_GOLFER,
    OF_SWING,
    blocks,
    findings,
    golfers,
    lessons,
    measures,
    recordings,
    strikes,
    swings,
)
from groundtone.review.strikes import Strike, StrikeError, strike_of
from groundtone.review.swings import KINDS, BlockRows, Fault, Lesson, RecordedSession, SwingRow, balls, with_middle
from groundtone.swing.bands import default_bands
from groundtone.swing.clubs import club_class
from groundtone.swing.doubts import Measure
from groundtone.swing.findings import style_of

_NAMED = select(recordings, golfers.c.name, lessons.c.name.label("lesson")).select_from(OF_GOLFER)
_OF_ONE = _NAMED.where(golfers.c.name == bindparam("golfer")).order_by(recordings.c.started, recordings.c.id)
_IN_ONE = blocks.c.recording_id == bindparam("recording")
_BLOCKS = select(blocks).where(_IN_ONE).order_by(blocks.c.number)
_SWINGS = select(swings, blocks.c.kind.label("role")).select_from(OF_SWING).where(_IN_ONE).order_by(swings.c.number)
_MEASURES = select(measures).select_from(measures.join(OF_SWING)).where(_IN_ONE)
_FINDINGS = (
    select(findings.c.swing_id, findings.c.probability, findings.c.detail)
    .select_from(findings.join(OF_SWING))
    .where(_IN_ONE)
)
_STRIKES = select(strikes).select_from(strikes.join(OF_SWING, strikes.c.swing_id == swings.c.id)).where(_IN_ONE)


@dataclass(frozen=True)
class SessionLine:
    """A session in a list."""

    path: Path
    started: str
    golfer: str
    swings: int
    strikes: int
    simulated: bool
    lesson: str = ""


def session_lines(library: Library, most: int = 200) -> list[SessionLine]:
    """The newest sessions first."""
    rows = library.rows(_newest(), {"most": most})
    return [
        SessionLine(library.file_of(r), r.started, r.name, r.swings, r.strikes, bool(r.simulated), r.lesson)
        for r in rows
    ]


@functools.cache
def _newest() -> Select[Any]:
    in_it = blocks.c.recording_id == recordings.c.id
    counts = (
        select(func.count()).select_from(OF_SWING).where(in_it, swings.c.kind == "swing").correlate(recordings),
        select(func.count()).select_from(strikes).where(strikes.c.recording_id == recordings.c.id),
    )
    query = _NAMED.add_columns(
        counts[0].scalar_subquery().label("swings"), counts[1].scalar_subquery().label("strikes")
    )
    return query.order_by(recordings.c.started.desc(), recordings.c.id.desc()).limit(bindparam("most"))


def recording_named(library: Library, word: str) -> Path:
    """The file of this bay's newest recording ("last"), else of the one whose session's id begins so.

    Raises
    ------
    GroundtoneError
        There is none, or more than one.
    """
    if word == "last":
        own = select(recordings).where(recordings.c.bay == library.bay)
        newest = library.rows(own.order_by(recordings.c.started.desc(), recordings.c.id.desc()).limit(1))
        if not newest:
            raise GroundtoneError("nothing has been recorded yet: 'groundtone practise' records a session")
        return library.here(newest[0])
    if len(word) < 4:
        raise GroundtoneError(f"{word!r} is neither a file nor enough of a session's id: give 4 letters of it")
    rows = library.rows(
        select(recordings).where(func.lower(recordings.c.session).startswith(word.lower(), autoescape=True))
    )
    if len(rows) != 1:
        several = "more than one session begins" if rows else "no file of that name is here and no session begins"
        raise GroundtoneError(f"{several} with {word!r}: see 'groundtone library list NAME'")
    return library.here(rows[0])


def open_session(path: Path) -> RecordedSession:
    """A session, from the user's library where it is listed there, else measured: so too where it cannot be reached.

    Raises
    ------
    GroundtoneError
        It cannot be read.
    """
    with contextlib.suppress(AwayError), Library(data_folder()) as library:
        whole, folder = path.resolve(), library.folder.resolve()
        inside = whole.relative_to(folder).as_posix() if whole.is_relative_to(folder) else ""
        rows = library.rows(_NAMED.where(recordings.c.path == inside))
        if rows and library.here(rows[0]).exists():
            return _session(library, rows[0])
    # Half a second to import.
    from groundtone.record.reader import open_recording
    from groundtone.review.session_review import review

    return review(open_recording(path)).recorded()


def sessions_of(library: Library, golfer: str) -> list[RecordedSession]:
    """A golfer's sessions, oldest first.

    Raises
    ------
    LibraryError
        There is no golfer of that name.
    """
    library.golfer(golfer)
    return [_session(library, row) for row in library.rows(_OF_ONE, {"golfer": golfer})]


def lessons_of(library: Library, golfer: str) -> list[Lesson]:
    """A golfer's lessons, oldest first; errors as `sessions_of`."""
    found: dict[str, Lesson] = {}
    for seen in sessions_of(library, golfer):
        so_far = found.get(seen.lesson, Lesson(seen.lesson, seen.started, ()))
        simulated = so_far.simulated or seen.simulated
        found[seen.lesson] = replace(so_far, blocks=(*so_far.blocks, *seen.blocks), simulated=simulated)
    return list(found.values())


def lessons_known(golfer: str) -> list[Lesson]:
    """What the user's library knows of a golfer; nothing where it does not, or cannot be reached."""
    with contextlib.suppress(GroundtoneError), Library(data_folder()) as library:
        return lessons_of(library, golfer) if golfer and library.knows(golfer) else []
    return []


def last_lesson(library: Library, golfer: str) -> list[Path]:
    """The recordings of a golfer's last lesson, oldest first.

    Raises
    ------
    GroundtoneError
        There is no such golfer, or nothing of them has been recorded.
    """
    library.golfer(golfer)
    rows = library.recordings_of(golfer)
    if not rows:
        raise GroundtoneError(f"nothing of {golfer!r} has been recorded yet: 'groundtone practise --golfer' does it")
    return [library.here(row) for row in rows if row.lesson == rows[-1].lesson]


def well_struck(library: Library, golfer: str) -> list[tuple[str, dict[str, float]]]:
    """Class of the club and measures of a golfer's well-struck swings, oldest first; what was not known is missing.

    Errors as `sessions_of`.
    """
    return [
        (club_class(block.club), {name: value for name, value in row.values.items() if not math.isnan(value)})
        for seen in sessions_of(library, golfer)
        for block in seen.blocks
        for row in balls(block.swings)
        if row.strike.well_struck
    ]


# So many of the last swings have to show a style, so large a part of them the same (invented).
_STYLE_SWINGS, _STYLE_PART, _STYLE_LAST = 5, 0.8, 20


def learnt_style(library: Library, golfer: str) -> str:
    """Which of two styles a golfer's last swings show; "" where fewer than five show any, or they differ.

    Errors as `sessions_of`.
    """
    names = ("share_most_down", "share_impact")
    shown: list[str] = []
    for row in (row for seen in sessions_of(library, golfer) for row in balls(seen.swings)):
        known = {n: Measure(n, row.values.get(n, math.nan), row.doubts.get(n, 0.01), "1") for n in names}
        style, sure = style_of(known)
        shown += [style] if style and sure >= _STYLE_PART else []
    last = shown[-_STYLE_LAST:]
    best = max(set(last), key=last.count, default="")
    return best if len(last) >= _STYLE_SWINGS and last.count(best) >= _STYLE_PART * len(last) else ""


def keep_style(library: Library, golfer: str) -> None:
    """Keeps what `learnt_style` says with what is the golfer's own, unless the coach has said otherwise.

    Errors as `sessions_of`, and RulesError where their file cannot be read or written.
    """
    personal = read_personal(golfer, library.folder)
    style = learnt_style(library, golfer)
    if personal.style_from != "coach" and style not in ("", personal.style):
        write_personal(replace(personal, style=style, style_from="learnt"), library.folder)


def _session(library: Library, row: Row[*tuple[Any, ...]]) -> RecordedSession:
    found = _swings(library, int(row.id), called_faults(row.name, library.folder))
    told = tuple(
        BlockRows(
            f"{b.number} ({b.kind})", tuple(found.get(b.id, ())), b.kind, b.club, b.lie, b.usual_m, bool(b.cues),
            b.number, row.session,
        )
        for b in library.rows(_BLOCKS, {"recording": row.id})
    )  # fmt: skip
    return RecordedSession(
        library.file_of(row), row.session, row.started, row.name, row.lesson, bool(row.simulated), told,
        tuple(json.loads(row.doubts)),
    )  # fmt: skip


def _swings(library: Library, recording: int, called: frozenset[str]) -> dict[int, list[SwingRow]]:
    """The swings of a recording, by the row of their block; `called` is what the coach calls a fault in any case."""
    of_it = {"recording": recording}
    values: dict[int, dict[str, float]] = {}
    doubts: dict[int, dict[str, float]] = {}
    for swing, name, value, doubt, _ in library.rows(_MEASURES, of_it):
        values.setdefault(swing, {})[name] = _float(value)
        if value is not None and doubt is not None:
            doubts.setdefault(swing, {})[name] = float(doubt)
    faults: dict[int, list[Fault]] = {}
    for swing, probability, detail in library.rows(_FINDINGS, of_it):
        faults.setdefault(swing, []).append(_fault(json.loads(detail), _float(probability), called))
    told = _strikes(library.rows(_STRIKES, of_it))
    out: dict[int, list[SwingRow]] = {}
    for s in library.rows(_SWINGS, of_it):
        events = {name: (float(v[0]), str(v[1]), float(v[2])) for name, v in json.loads(s.events).items()}
        strike, entry = told.get(s.id, (Strike(), None))
        row = SwingRow(
            s.number, *with_middle(values.get(s.id, {}), doubts.get(s.id, {})),
            Fault.ordered(faults.get(s.id, [])), strike, _float(s.impact_s), KINDS.get(s.kind, s.kind),
            events, entry, s.role,
        )  # fmt: skip
        out.setdefault(s.block_id, []).append(row)
    return out


def _strikes(rows: Iterable[Row[*tuple[Any, ...]]]) -> dict[int, tuple[Strike, str]]:
    """What was told, by the row of its swing; a damaged entry of one strike is no reason to show nothing."""
    out = {}
    for row in rows:
        try:
            out[row.swing_id] = strike_of(json.loads(row.detail)), row.entry
        except (StrikeError, ValueError, AttributeError):
            continue
    return out


def _fault(table: dict[str, Any], probability: float, called: frozenset[str]) -> Fault:
    """A finding as it was kept, and as the coach sees it now; what is only described brings no drill."""
    name, drill = str(table.get("name", "")), str(table.get("drill_text", ""))
    concern = bool(table.get("concern", True)) or name in called
    if concern and not drill and name in called:
        drill = default_bands().drills[default_bands().band(name).drill]
    return Fault(
        str(table.get("title", "")), probability, str(table.get("sentence", "")), drill if concern else "", concern,
        name,
    )  # fmt: skip


def _float(value: Any) -> float:
    return math.nan if value is None else float(value)
