"""What a recording was measured as by one version and by the one before: kept side by side, and compared."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from groundtone.record.channels import without_nan
from groundtone.record.contents import put
from groundtone.record.library import Library
from groundtone.record.reader import Recording
from groundtone.record.swing_rows import SwingRow
from groundtone.record.tables import OF_GOLFER, OF_SWING, blocks, former, golfers, measures, recordings, swings

# The same swing, found by two versions: its impacts are no farther apart, s.
_SAME_S = 0.5

Measured = dict[int, tuple[float, dict[str, float]]]
"""Impact (s; NaN: not known) and measures of swings, by their number."""


def to_measure(library: Library, version: str, since: str = "", pupil: str = "", again: bool = False) -> list[Any]:
    """Rows of the recordings that another version has measured, oldest first.

    Parameters
    ----------
    since : str
        Only those that began on this day or later, ISO 8601.
    pupil : str
        Only this golfer's.
    again : bool
        Those of this version too.

    Raises
    ------
    LibraryError
        There is no golfer of that name.
    """
    query = select(recordings, golfers.c.name).select_from(OF_GOLFER).order_by(recordings.c.started, recordings.c.id)
    if pupil:
        library.golfer(pupil)
        query = query.where(golfers.c.name == pupil)
    if since:
        query = query.where(recordings.c.started >= since)
    return library.rows(query if again else query.where(recordings.c.version != version))


def row_of(library: Library, session: str) -> Any:
    """The row of a recording by its own id; None where there is none."""
    rows = library.rows(select(recordings).where(recordings.c.session == session))
    return rows[0] if rows else None


def put_anew(
    library: Library, recording: Recording, found: Iterable[SwingRow], doubts: Iterable[str], version: str
) -> None:
    """Puts in what a version found in a recording, and keeps what the version before had found beside it.

    To put the same in twice changes nothing. Errors as `contents.put`.
    """
    session = recording.about.session
    with library.writing() as execute:
        before = row_of(library, session)
        # What the same version measured again tells nothing about versions: what was kept stays.
        kept: list[tuple[Any, ...]] = []
        if before is not None and before.version == version:
            kept = [tuple(row)[1:] for row in library.rows(select(former).where(former.c.recording_id == before.id))]
        elif before is not None:
            kept = [
                (number, without_nan(impact_s), name, without_nan(value), before.version)
                for number, (impact_s, values) in measured(library, before.id).items()
                for name, value in values.items()
            ]
        put(library, recording, found, doubts, version)
        if before is None:
            return
        now = row_of(library, session)
        execute(former.delete().where(former.c.recording_id == now.id))
        library.insert_rows(former, [(now.id, *row) for row in kept])


def measured(library: Library, recording_id: int) -> Measured:
    """What the library holds of a recording's swings; what has no value is NaN."""
    out: Measured = {}
    rows = (
        select(swings.c.number, swings.c.impact_s, measures.c.name, measures.c.value)
        .select_from(OF_SWING.outerjoin(measures))
        .where(blocks.c.recording_id == recording_id)
    )
    for number, impact_s, name, value in library.rows(rows):
        values = out.setdefault(number, (_float(impact_s), {}))[1]
        if name is not None:
            values[name] = _float(value)
    return out


@dataclass(frozen=True)
class Change:
    """What a version changed in one measure of one golfer.

    Attributes
    ----------
    before, now : str
        Versions.
    swings : int
        In which it has another value, or only one of the two has any.
    of : int
        Swings that both found.
    mean, most : float
        Mean difference (now less before) and the largest, in the measure's unit, over the swings that differ; NaN
        where none has both values.
    """

    golfer: str
    measure: str
    before: str
    now: str
    swings: int
    of: int
    mean: float
    most: float


def changes(library: Library, pupil: str = "") -> tuple[list[Change], list[tuple[str, int, int]]]:
    """What changed for whom between the version before and the one that measured last.

    Returns
    -------
    changes : list of Change
        By golfer and measure; those without any difference are left out.
    found : list of (golfer, came, went)
        Swings that only the later, and only the earlier version found; where there are any.

    Raises
    ------
    LibraryError
    """
    differences: dict[tuple[str, str, str, str], list[tuple[float, float]]] = {}
    counts: dict[str, tuple[int, int]] = {}
    for row in to_measure(library, "", "", pupil, again=True):
        before = _former(library, row.id)
        if not before:
            continue
        version, then = before
        now = measured(library, row.id)
        pairs = _pairs(then, now)
        came, went = counts.get(row.name, (0, 0))
        counts[row.name] = (came + len(now) - len(pairs), went + len(then) - len(pairs))
        for one, other in pairs:
            for name in sorted({*then[one][1], *now[other][1]}):
                values = (then[one][1].get(name, math.nan), now[other][1].get(name, math.nan))
                differences.setdefault((row.name, name, version, row.version), []).append(values)
    told = [Change(*key, *_sizes(values)) for key, values in sorted(differences.items())]
    return [each for each in told if each.swings], [(n, *c) for n, c in sorted(counts.items()) if any(c)]


def _former(library: Library, recording_id: int) -> tuple[str, Measured] | None:
    out: Measured = {}
    version = ""
    for row in library.rows(select(former).where(former.c.recording_id == recording_id)):
        out.setdefault(row.swing, (_float(row.impact_s), {}))[1][row.name] = _float(row.value)
        version = row.version
    return (version, out) if out else None


def _pairs(then: Measured, now: Measured) -> list[tuple[int, int]]:
    """Numbers of the same swings: by impact, nearest first, each once; by number where no impact is known."""
    near = sorted(
        (0.0 if math.isnan(gap) else gap, one, other)
        for one, (t0, _) in then.items()
        for other, (t1, _) in now.items()
        if (gap := abs(t0 - t1)) <= _SAME_S or (math.isnan(t0) and math.isnan(t1) and one == other)
    )
    out: list[tuple[int, int]] = []
    for _, one, other in near:
        if all(one != a and other != b for a, b in out):
            out.append((one, other))
    return out


def _sizes(values: list[tuple[float, float]]) -> tuple[int, int, float, float]:
    differ = [(a, b) for a, b in values if not (a == b or (math.isnan(a) and math.isnan(b)))]
    both = [b - a for a, b in differ if not math.isnan(b - a)]
    mean = sum(both) / len(both) if both else math.nan
    return len(differ), len(values), mean, max(both, key=abs, default=math.nan)


def _float(value: Any) -> float:
    return math.nan if value is None else float(value)
