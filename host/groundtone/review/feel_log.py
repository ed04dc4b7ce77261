"""What the library holds of a golfer's feel: what was asked and guessed, good swings' paths, balls for the model."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from groundtone.feel.guess import Guess
from groundtone.feel.purpose import Try
from groundtone.record.library import Library
from groundtone.record.tables import OF_GOLFER, feel, golfers, lessons, recordings
from groundtone.review.lane_store import swing_lanes
from groundtone.review.library_reader import sessions_of
from groundtone.review.swings import balls
from groundtone.swing.clubs import club_class
from groundtone.tone.echo import EchoPath

# Paths are looked up in so many of the newest sessions that hold well-struck swings, and no more than so many of them.
_SESSIONS, _PATHS = 6, 40
# Of a path, so much before the takeaway and after impact, s.
_BEFORE_S, _AFTER_S = 0.2, 0.8


StruckBalls = tuple[list[tuple[float, float, float]], list[bool]]
"""Position, share and tempo of some balls, and whether each was well struck."""


@dataclass(frozen=True)
class FeelLesson:
    """What was asked and guessed in one lesson."""

    name: str
    started: str
    tries: tuple[Try, ...]
    guesses: tuple[Guess, ...]


def feel_of(tables: Iterable[Mapping[str, Any]]) -> tuple[tuple[Try, ...], tuple[Guess, ...]]:
    """Tries and guesses from the entries of a recording; what makes no sense is left out."""
    tries, guesses = [], []
    for table in tables:
        place, position, share = table.get("place"), _number(table, "position"), _number(table, "share")
        if not isinstance(place, str):
            continue
        if table.get("what") == "purpose":
            tries.append(Try(place, str(table.get("moment")), position, share, str(table.get("row", "")), _line(table)))
        elif table.get("what") == "guess":
            guesses.append(Guess(place, position, share, _line(table)))
    return tuple(tries), tuple(guesses)


def feel_lessons(library: Library, golfer: str) -> list[FeelLesson]:
    """A golfer's lessons in which anything was asked or guessed, oldest first.

    Raises
    ------
    LibraryError
        There is no golfer of that name.
    """
    library.golfer(golfer)
    query = (
        select(feel.c.detail, lessons.c.name, recordings.c.started)
        .select_from(OF_GOLFER.join(feel))
        .where(golfers.c.name == golfer)
        .order_by(recordings.c.started, recordings.c.id, feel.c.number)
    )
    found: dict[str, tuple[str, list[dict[str, Any]]]] = {}
    for row in library.rows(query):
        found.setdefault(row.name, (row.started, []))[1].append(json.loads(row.detail))
    return [FeelLesson(name, started, *feel_of(tables)) for name, (started, tables) in found.items()]


def struck_balls(library: Library, golfer: str) -> dict[str, StruckBalls]:
    """Balls whose strike was told, by the club's class ("" for none). Errors as `feel_lessons`."""
    out: dict[str, StruckBalls] = {}
    for seen in sessions_of(library, golfer):
        for block in seen.blocks:
            where, good = out.setdefault(club_class(block.club), ([], []))
            for row in balls(block.swings):
                if row.strike.clean is not None:
                    names = ("overall_impact", "share_impact", "tempo")
                    position, share, tempo = (row.values.get(name, math.nan) for name in names)
                    where.append((position, share, tempo))
                    good.append(row.strike.well_struck)
    return {name: found for name, found in out.items() if found[0]}


def good_paths(library: Library, golfer: str) -> dict[str, list[EchoPath]]:
    """Paths of a golfer's well-struck swings, by the club's class; the newest count. Errors as `feel_lessons`."""
    out: dict[str, list[EchoPath]] = {}
    looked = 0
    for seen in reversed(sessions_of(library, golfer)):
        good = {row.number: club_class(block.club) for block in seen.blocks for row in balls(block.swings)
                if row.strike.well_struck}  # fmt: skip
        if not good or looked >= _SESSIONS:
            continue
        looked += 1
        for number, lane in swing_lanes(seen).items():
            if number in good and len(paths := out.setdefault(good[number], [])) < _PATHS:
                begin = next((at for at, name in lane.events if name == "takeaway"), -math.inf) - _BEFORE_S
                end = lane.impact_s - lane.device_s[0] + lane.t_s[0] + _AFTER_S if len(lane.t_s) else math.inf
                part = (lane.t_s >= begin) & (lane.t_s <= end)
                paths.append(EchoPath(
                    lane.device_s[part], lane.share[part], lane.overall[part], lane.turn_s, lane.impact_s, lane.lead
                ))  # fmt: skip
    return out


def _line(table: Mapping[str, Any]) -> str:
    return str(table.get("line", ""))


def _number(table: Mapping[str, Any], name: str) -> float:
    value = table.get(name)
    return float(value) if isinstance(value, int | float) else math.nan
