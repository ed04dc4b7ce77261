"""What goes onto a mat for a golfer: its calibration, limits, weight and hand, and what of them has to stay behind."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass

import numpy as np

from groundtone.calibration.profile import Profile
from groundtone.cue.rulebook import WHEN, Rulebook
from groundtone.errors import GroundtoneError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import Layout
from groundtone.onboard.pack import (
    AFTER_IMPACT_ONLY,
    ANY_TIME,
    CUES,
    LEFT_HANDED,
    NEVER,
    ON_BOARD,
    OPEN,
    OnMat,
    electrical,
    limits_of,
    places_of,
)  # fmt: skip
from groundtone.onboard.tables import BOUND_FROM_N, BOUND_TO_N, PLACES, tables_of
from groundtone.wire.messages import Hello

VOLUME = 200
"""Of 255."""
# Above this part of a steady force that a decade of time adds, what the film remembers moves the share visibly.
_CREEP_TOLD = 0.01


@dataclass(frozen=True)
class Made:
    """What can go onto a mat.

    Attributes
    ----------
    left : tuple of str
        Sentences: what of the rules and the calibration the mat alone does without.
    bound : float
        Largest relative error of the tables against the curves.
    """

    what: OnMat
    left: tuple[str, ...]
    bound: float


def made_for(
    hello: Hello, layout: Layout, profile: Profile, book: Rulebook, *, hand: str, mass_kg: float | None,
    until: datetime.date | None = None,
) -> Made:  # fmt: skip
    """All that a golfer's mat is given.

    Parameters
    ----------
    mass_kg : float or None
        Of the golfer with clothes and shoes; None: not known.
    until : date or None
        Its last day; None: for ever.

    Raises
    ------
    ProfileError
        The profile is another mat's, or of another layout.
    GroundtoneError
        Nothing is left that the mat alone could sound for.
    """
    profile.check_mat(hello, layout)
    limits, left = limits_of(book)
    if not limits:
        raise GroundtoneError("no cue is on that the mat alone could sound for: switch one on with groundtone bands")
    tables = tables_of(profile.film.curves, layout.pulldown_ohm)
    force = tables.force.copy()
    for row, column in profile.film.dead:
        force[row, column] = 0
    layout = layout.as_in(profile.layout_digest) or layout
    drivers = layout.nominal_drivers()
    what = OnMat(
        hello.uid, layout.id,
        LEFT_HANDED * (hand == "left") | AFTER_IMPACT_ONLY * (book.sound == "after impact"), VOLUME,
        0.0 if mass_kg is None else mass_kg * STANDARD_GRAVITY, NEVER if until is None else _end_of(until),
        float(drivers.low_ohm[0]), float(drivers.high_ohm[0]), layout.series_ohm, layout.reference_ohm,
        layout.pulldown_ohm, (1 << PLACES,) * layout.columns, limits, electrical(force, layout), places_of(layout),
        layout.row_pitch_mm,
    )  # fmt: skip
    return Made(what, (*left, *_of_the_film(profile)), tables.worst)


def _of_the_film(profile: Profile) -> list[str]:
    film = profile.film
    out = []
    without = len(film.dead) + int(np.isnan(film.curves.level).sum())
    if without:
        out.append(f"{without} cells without a curve count for nothing on the mat alone: nobody fills them in.")
    if film.creep > _CREEP_TOLD and not math.isnan(film.kept):
        out.append(f"The mat alone does not take out the film's creep, {film.creep:.1%} of a force a decade of time.")
    return out


def _end_of(day: datetime.date) -> int:
    """The last second of a day here, seconds since 1970."""
    return int(datetime.datetime.combine(day, datetime.time(23, 59, 59)).astimezone().timestamp())


def sentences(what: OnMat) -> list[str]:
    """What is on a mat, in words."""
    hand = "left" if what.flags & LEFT_HANDED else "right"
    mass = f"{what.weight_n / STANDARD_GRAVITY:.1f} kg" if what.weight_n else "a weight that is not known"
    until = "without an end"
    if what.expires_s != NEVER:
        until = f"until {datetime.datetime.fromtimestamp(what.expires_s).date().isoformat()}"
    out = [f"For a {hand}-handed golfer of {mass}, {until}."]
    for limit in what.limits:
        edges = [f"below {limit.low / 2**PLACES:.2f}"] * (limit.low != OPEN)
        edges += [f"above {limit.high / 2**PLACES:.2f}"] * (limit.high != OPEN)
        late = [f", from {ms} ms after {event} on" for ms, event in
                ((limit.from_turn_ms, "the turn"), (limit.from_impact_ms, "impact")) if ms != ANY_TIME]  # fmt: skip
        when = ", ".join(name for bit, name in enumerate(WHEN) if limit.when >> bit & 1)
        words = f"{CUES[limit.cue]}: {ON_BOARD[limit.measure]} {' or '.join(edges)} ({when}){''.join(late)}"
        out.append(words + ".")
    if what.flags & AFTER_IMPACT_ONLY:
        out.append("Nothing sounds between takeaway and impact.")
    return out


def table_words(made: Made) -> str:
    """How exactly the tables hold the curves, in words."""
    cells = int(made.what.force.any(-1).sum())
    span = f"{BOUND_FROM_N:g} to {BOUND_TO_N:g} N"
    return f"{cells} cells; the tables are within {made.bound:.2%} of the curves from {span}."
