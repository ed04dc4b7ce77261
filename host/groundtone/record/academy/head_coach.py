"""What the head coach sees of all bays: told by the bays as they file, and read with one query."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, case, func, literal, select, union_all, update

from groundtone.record.library import Library
from groundtone.record.tables import OF_SWING, blocks, golfers, lessons, mats, recordings


@dataclass(frozen=True)
class Mat:
    """A mat as its bay told of it last; dates are ISO 8601, empty for never."""

    uid: str
    bay: str
    calibrated: str
    checked: str
    verdict: str


@dataclass(frozen=True)
class Line:
    """One line of what the head coach sees.

    Attributes
    ----------
    kind : str
        "pupil", "bay", "coach" or "mat".
    name : str
        Whose; a mat's id.
    where : str
        The bay of a mat, or of a pupil's last session.
    lessons, swings : int
        So far; 0 for a mat.
    last : str
        When the last session, or the mat's last check, was.
    due : str
        A pupil's retention test, or when a mat was calibrated.
    words : str
        What the mat's last check said.
    """

    kind: str
    name: str
    where: str
    lessons: int
    swings: int
    last: str
    due: str
    words: str


def tell_mat(library: Library, mat: Mat) -> None:
    """Keeps what is known of a mat; LibraryError."""
    with library.writing(alone=False) as execute:
        execute(library.insert_new(mats), vars(mat))
        execute(update(mats).where(mats.c.uid == mat.uid), vars(mat))


def tell_due(library: Library, golfer: str, day: str) -> None:
    """Keeps the day of a golfer's retention test; LibraryError."""
    with library.writing(alone=False) as execute:
        execute(update(golfers).where(golfers.c.name == golfer, golfers.c.due != day).values(due=day))


def overview(library: Library) -> list[Line]:
    """Pupils, coaches, bays and mats, from one query; LibraryError."""
    rows = library.rows(_query())
    return [Line(r[0], r[1], r[2], int(r[3]), int(r[4]), r[5], r[6], r[7]) for r in rows]


def _query() -> Select[Any]:
    done = (
        select(
            recordings.c.id.label("recording_id"), golfers.c.name, golfers.c.due, recordings.c.bay, recordings.c.coach,
            recordings.c.lesson_id, recordings.c.started,
            select(func.count()).select_from(OF_SWING).where(blocks.c.recording_id == recordings.c.id)
            .correlate(recordings).scalar_subquery().label("swings"),
        )
        .select_from(golfers.outerjoin(lessons).outerjoin(recordings))
        .cte("done")
    )  # fmt: skip
    last = select(done.c.name, func.max(done.c.started).label("started")).group_by(done.c.name).cte("last")
    last_bay = (
        select(func.max(done.c.bay))
        .where(done.c.name == last.c.name, done.c.started == last.c.started)
        .correlate(last)
        .scalar_subquery()
    )

    def counted(kind: str, name: Any, where: Any, due: Any) -> Select[Any]:
        return select(
            literal(kind).label("kind"), name, where,
            func.count(func.distinct(done.c.lesson_id)),
            func.coalesce(func.sum(done.c.swings), 0).label("swings"), func.coalesce(func.max(done.c.started), ""),
            due, literal(""),
        )  # fmt: skip

    pupils = (
        counted("pupil", done.c.name, func.coalesce(last_bay, ""), done.c.due)
        .select_from(done.join(last, last.c.name == done.c.name))
        .group_by(done.c.name, done.c.due, last.c.name, last.c.started)
    )
    bays = counted("bay", done.c.bay, literal(""), literal("")).where(done.c.bay != "").group_by(done.c.bay)
    coaches = counted("coach", done.c.coach, literal(""), literal("")).where(done.c.coach != "").group_by(done.c.coach)
    of_mats = select(
        literal("mat"), mats.c.uid, mats.c.bay, literal(0), literal(0), mats.c.checked, mats.c.calibrated,
        mats.c.verdict,
    )  # fmt: skip
    every = union_all(pupils, bays, coaches, of_mats).subquery()
    order = case((every.c[0] == "pupil", 1), (every.c[0] == "coach", 2), (every.c[0] == "bay", 3), else_=4)
    return select(*every.c).order_by(order, every.c[1])
