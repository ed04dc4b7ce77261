"""Golfers as the library keeps them: rows, their order, what two desks changed, what is left of the erased."""

from __future__ import annotations

import functools
import hashlib
from dataclasses import replace
from typing import Any

from sqlalchemy import Row, Select, distinct, func, select

from groundtone.errors import LibraryError
from groundtone.record.session import Golfer
from groundtone.record.tables import OF_SWING, blocks, golfers, lessons, recordings, strikes


@functools.cache
def everybody() -> Select[Any]:
    """Golfers with their lessons, recordings, swings, strikes, and when the last recording began."""
    of_golfer = golfers.c.id == lessons.c.golfer_id
    told = (
        select(
            lessons.c.golfer_id,
            func.count(distinct(lessons.c.id)).label("lessons"),
            func.count(recordings.c.id).label("recordings"),
            func.max(recordings.c.started).label("last"),
        )
        .select_from(lessons.outerjoin(recordings))
        .group_by(lessons.c.golfer_id)
        .subquery()
    )
    counts = [
        select(func.count()).select_from(source).where(of_golfer).correlate(golfers).scalar_subquery().label(name)
        for name, source in (
            ("swings", OF_SWING.join(recordings, recordings.c.id == blocks.c.recording_id).join(lessons)),
            ("strikes", strikes.join(recordings, recordings.c.id == strikes.c.recording_id).join(lessons)),
        )
    ]
    return select(golfers, told.c.lessons, told.c.recordings, told.c.last, *counts).select_from(
        golfers.outerjoin(told, told.c.golfer_id == golfers.c.id)
    )


def golfer_of(row: Row[*tuple[Any, ...]]) -> Golfer:
    """A golfer from a row of `golfers`."""
    return Golfer(row.name, row.hand, row.mass_kg, row.shoe_mm, row.notes)


_WORDS = {"hand": "the hand", "mass_kg": "the weight", "shoe_mm": "the shoes' length", "notes": "the notes"}


def merged(mine: Golfer, was: Golfer, now: Golfer) -> Golfer:
    """What two desks changed of the same golfer, where they changed different things."""
    out = now
    for name, words in _WORDS.items():
        wanted, before, there = (getattr(each, name) for each in (mine, was, now))
        if wanted in (before, there):
            continue
        if there != before:
            raise LibraryError(
                f"another desk has changed {words} of {mine.name!r} to {there!r} meanwhile: nothing was written over, "
                "look again"
            )
        out = replace(out, **{name: wanted})
    return out


def columns_of(golfer: Golfer) -> dict[str, Any]:
    """A golfer as a row of `golfers`."""
    return {
        "name": golfer.name,
        "hand": golfer.hand,
        "mass_kg": golfer.mass_kg,
        "shoe_mm": golfer.shoe_mm,
        "notes": golfer.notes,
    }


def digest_of(salt: str, name: str) -> str:
    """What is kept of somebody who was erased."""
    return hashlib.pbkdf2_hmac("sha256", folded(name).encode("utf-8", "replace"), salt.encode(), 2000).hex()


def in_order(name: str) -> tuple[str, str]:
    """What names are put in order by: small letters, those of the Latin alphabet alone, as the database would."""
    return "".join(letter.lower() if letter.isascii() else letter for letter in name), name


def folded(name: str) -> str:
    """Names that are alike to people are the same so."""
    return " ".join(name.casefold().split())
