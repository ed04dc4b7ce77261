"""Standing calibration: a person of known mass rocks for half a minute, and every cell is told by the total.

The total force equals the person's weight in every posture (see `calibration.shoes.body_weight`). Rocking from heels
to toes, from foot to foot and over the edges of the feet gives some hundred postures, each with its own mixture of
cells; a regularised least-squares problem over all cells at once, with the bench result or the film's typical curve as
prior, tells the cells apart as far as the postures do. What the person's shoes do at heel and toes cannot be told from
what the film does there: both keep their part of the doubt, so the result is honestly less sure than a bench run.

On a film that was never calibrated the level and the exponent are unknown too, and the mass is what is known: the same
weight on one foot and on two, on a heel and on a whole sole, is right for one exponent only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.fitting.expected import TYPICAL, Expected
from groundtone.calibration.fitting.film_memory import kept_creep
from groundtone.calibration.shoes.body_weight import Gains, Weighed, sole_basis, weigh
from groundtone.calibration.shoes.postures import NOBODY_N, Postures, SteadyFrames
from groundtone.calibration.shoes.shoe import MASS_U, film_prior, soles_from
from groundtone.calibration.shoes.unknown_film import LEAN_U, UNKNOWN_LEVEL_U, learn, read_back
from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]

# So long the empty mat is looked at; a mat on which this much lies then is not empty, N.
TARE_S, EMPTY_N = 1.5, 25.0
# Still time that a run wants, s, and postures without which it is refused.
STILL_S, LEAST_POSTURES = 25.0, 12
# Who does not stand still enough (or whose film trembles) is not asked for ever: what there is after so long counts, s.
LONGEST_S = 90.0
# Free is a mat that reads less than this part of what the person made it read, for so long; who does not leave is
# waited for this long, s.
GONE, FREE_S, WAIT_S = 0.6, 1.2, 30.0
# A mass that lies further than this many standard deviations from what the mat says is asked about.
_DOUBT = 3.5
# A cell counts as seen when the run has taken this part of its own prior variance away.
_SEEN = 0.25
MASSES_KG = (20.0, 160.0)
# What another exponent does to the reading of a person, in ln.
EXPONENT_TELLS_U = 0.3
# Nobody has seen a film keep more a decade (published: 3 to 28 % in all); what seems more is noise that lies there.
MOST_KEPT = 0.28
# Before and after somebody stood there, so long of stepping on and off tells nothing, s.
_STEPS_S = 0.4


class Ask(Enum):
    """What the person is to do."""

    STEP_OFF = "step off"
    EMPTY = "keep off"
    STEP_ON = "step on"
    ROCK = "rock slowly"
    LEAVE = "step off now"
    DONE = "step off, done"


@dataclass(frozen=True)
class StandingResult:
    """What a standing run found.

    Attributes
    ----------
    film : Film
        The prior's with new levels and their uncertainties.
    factor : ndarray, shape (rows, columns)
        New over old force of each cell.
    unseen : tuple of (row, column)
        Cells of which the run says next to nothing.
    postures, still, moving : int
        Postures, frames in them, and frames left out because the body was moving.
    left : float
        Root mean square of what is left of total over weight.
    mass_kg, mass_u : float
        What the mat alone, without being told, would have said, kg, and its relative standard uncertainty.
    """

    film: Film
    factor: Array
    unseen: tuple[tuple[int, int], ...]
    postures: int
    still: int
    moving: int
    left: float
    mass_kg: float
    mass_u: float


class StandingRun:
    """Follows a standing calibration frame by frame; causal.

    Parameters
    ----------
    film : Film
        The bench result, or the film's typical curve.
    mass_kg : float
        Of the person with all they wear.
    gravity : float
        m/s².

    Raises
    ------
    CalibrationError
        A mass that no person has.
    """

    def __init__(
        self, layout: Layout, film: Film, mass_kg: float, *, gravity: float = STANDARD_GRAVITY,
        expected: Expected = TYPICAL,
    ) -> None:  # fmt: skip
        if not (math.isfinite(mass_kg) and MASSES_KG[0] <= mass_kg <= MASSES_KG[1]):
            raise CalibrationError(
                f"a person of {mass_kg:g} kg is none: give the mass of the person in kilograms, "
                f"{MASSES_KG[0]:g} to {MASSES_KG[1]:g}"
            )
        self._layout, self._film, self._mass_kg, self._gravity = layout, film, mass_kg, gravity
        self._expected = expected
        self._meter = ForceMeter(film, layout.pitch_mm)
        self._steady = SteadyFrames(layout.rows, layout.columns, across=True, unknown=film.level_u is None)
        self._empty: list[Array] = []
        self._tare: Array | None = None
        self._start_s = self._newest_s = math.nan
        self._rate = 0.0
        self._nobody_n = NOBODY_N / 4 if film.level_u is None else NOBODY_N
        # Of a film that was never calibrated everything is kept, for what it remembers shows when the person leaves.
        self._seen: list[tuple[float, Array]] | None = [] if film.level_u is None else None
        self._stood_s, self._left_s, self._total_s = math.nan, math.nan, 0.0
        self.ask = Ask.EMPTY

    @property
    def progress(self) -> float:
        """Part of the still time that has been gathered, or of the longest that is waited for it, 0 to 1."""
        if self._rate <= 0:
            return 0.0
        return min(1.0, max(self._steady.still / self._rate / STILL_S, (self._newest_s - self._start_s) / LONGEST_S))

    def step(self, t_s: float, conductance_s: Array) -> Ask:
        """One frame; what the person is to do now.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)
            S; NaN counts as nothing.
        """
        force = np.nan_to_num(self._meter.force_n(t_s, conductance_s))
        if self._seen is not None:
            self._seen.append((t_s, np.nan_to_num(conductance_s)))
        if self._tare is None:
            self.ask = self._look_at_empty(t_s, force)
            return self.ask
        force = force - self._tare
        if self.progress >= 1.0 and self._seen is not None:
            self.ask = self._leaving(t_s, conductance_s)
            return self.ask
        if float(force.sum()) < self._nobody_n:
            done = self.progress >= 1.0
            self.ask = Ask.DONE if done else Ask.STEP_ON
            return self.ask
        before = self._steady.moving + self._steady.still
        self._newest_s = t_s
        self._steady.add(t_s, force)
        if before == 0:
            self._start_s = t_s
        elif t_s > self._start_s:
            self._rate = before / (t_s - self._start_s)
        self.ask = Ask.DONE if self.progress >= 1.0 and self._seen is None else Ask.ROCK
        return self.ask

    def _leaving(self, t_s: float, conductance_s: Array) -> Ask:
        """Waits until the mat has been free for a moment, but not for ever."""
        total = float(np.nansum(conductance_s))
        if math.isnan(self._stood_s):
            self._stood_s, self._left_s, self._total_s = t_s, t_s, total
        if total > GONE * self._total_s:
            self._left_s = t_s
        left = t_s - self._left_s > FREE_S and t_s - self._stood_s > FREE_S
        return Ask.DONE if left or t_s - self._stood_s > WAIT_S else Ask.LEAVE

    def _look_at_empty(self, t_s: float, force_n: Array) -> Ask:
        if float(force_n.sum()) > EMPTY_N + float(np.abs(force_n).mean()) * 0.0 and _foot(force_n):
            self._empty.clear()
            self._start_s = math.nan
            return Ask.STEP_OFF
        if not self._empty:
            self._start_s = t_s
        self._empty.append(force_n)
        if t_s - self._start_s >= TARE_S:
            self._tare = np.median(np.stack(self._empty), axis=0)
            self._empty.clear()
            return Ask.STEP_ON
        return Ask.EMPTY

    def result(self) -> StandingResult:
        """The film of what has been gathered so far.

        Raises
        ------
        CalibrationError
            The mat was never empty or nobody came, too little was gathered, or the person is not of the stated mass.
        """
        if self._tare is None:
            raise CalibrationError("the mat was never empty: step off, wait two seconds, and begin again")
        film, postures = self._film, self._steady.postures()
        if self._seen:
            t_s, conductance_s = np.array([t for t, _ in self._seen]), np.stack([frame for _, frame in self._seen])
            film, postures = stood_on(film, self._layout, t_s, conductance_s, self._mass_kg * self._gravity)
        return standing_film(
            postures, film, self._layout, self._mass_kg * self._gravity, gravity=self._gravity, expected=self._expected
        )


def stood_on(film: Film, layout: Layout, t_s: Array, conductance_s: Array, weight_n: float) -> tuple[Film, Postures]:
    """A film that was never calibrated, with its memory, and the postures of who stood on it.

    What a film keeps of a person who has left, or reads of one who comes, is no posture: only the time in which the
    person was there from beginning to end counts.

    Parameters
    ----------
    t_s, conductance_s : ndarray, shapes (n,) and (n, rows, columns)
        From the empty mat on, s and S.
    weight_n : float
        The person's: a film that conducts a fifth of the typical one makes them a fifth as heavy, and nobody is there.
    """
    film = remembering(film, t_s, conductance_s)
    force = ForceMeter(film, layout.pitch_mm).forces_n(t_s, conductance_s)
    force = force - force[t_s < t_s[0] + TARE_S].mean(0)
    total = force.sum((1, 2))
    carried = total[total > 0.2 * float(np.percentile(total, 90))]
    mostly = float(np.median(carried)) if carried.size else 0.0
    factor = weight_n / mostly if mostly > 0 else 1.0
    there = t_s[total > 0.5 * mostly]
    steady = SteadyFrames(layout.rows, layout.columns, across=True, unknown=True)
    if there.size and mostly > NOBODY_N / 4:
        inside = (t_s > there[0] + _STEPS_S) & (t_s < there[-1] - _STEPS_S)
        steady.add_all(t_s[inside], factor * force[inside])
    postures = steady.postures()
    return film, replace(postures, force_n=postures.force_n / factor)


def remembering(film: Film, t_s: Array, conductance_s: Array) -> Film:
    """A film that was never calibrated, with the memory that shows when a person has stepped off.

    Parameters
    ----------
    t_s, conductance_s : ndarray, shapes (n,) and (n, rows, columns)
        From the empty mat on until after the person has left, s and S.
    """
    empty = conductance_s[t_s < t_s[0] + TARE_S / 2].mean(0)
    stays = kept_creep(t_s, conductance_s - empty)
    if math.isnan(stays):
        return film
    stays = min(stays, MOST_KEPT)
    # What does not stay is not seen by standing: as much as films usually have, and none where more than that stays.
    whole = max(stays, film.creep / film.curves.exponent)
    return replace(film, creep=whole * film.curves.exponent, kept=stays / whole if whole > 0 else 1.0)


def _foot(force_n: Array) -> bool:
    """More than noise or a single sick cell lies there: at least four cells with 3 N or more each."""
    return int(np.count_nonzero(force_n > 3.0)) >= 4


def standing_film(
    postures: Postures, film: Film, layout: Layout, weight_n: float, *, gravity: float = STANDARD_GRAVITY,
    expected: Expected = TYPICAL,
) -> StandingResult:  # fmt: skip
    """The film from postures of a person of known weight.

    Parameters
    ----------
    postures : Postures
        Forces by `film`, the empty mat's reading taken off; told apart across too (`SteadyFrames(across=True)`).
    film : Film
        The prior: with uncertainties from a bench run, without them a film that was never calibrated.
    gravity : float
        m/s², only for the mass that is reported.
    expected : Expected
        How sure level, exponent and spread of a film are that was never calibrated.

    Raises
    ------
    CalibrationError
    """
    count = len(postures.frames)
    if postures.still + postures.moving == 0:
        raise CalibrationError("nobody stood on the mat: step on with both feet and rock slowly")
    if count < LEAST_POSTURES:
        raise CalibrationError(
            f"only {count} of {LEAST_POSTURES} postures were seen ({postures.moving} frames were too quick): "
            "rock slowly from heels to toes and from foot to foot, for half a minute"
        )
    unknown = film.level_u is None
    # On an unknown film every newton is another's: soles are looked for by what the weight makes of it.
    size = weight_n / max(float(np.median(postures.force_n.sum((1, 2)))), 1.0) if unknown else 1.0
    soles = soles_from(size * postures.force_n.max(0), layout)
    if soles is None:
        raise CalibrationError("only one foot was seen: stand with one foot on each panel")
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    if unknown:
        level_u = expected.level_u if expected.mats else UNKNOWN_LEVEL_U
        # The mass is what is known here; only a film that nobody sells contradicts it, its exponent another too.
        if abs(math.log(size)) > _DOUBT * (level_u + EXPONENT_TELLS_U):
            raise CalibrationError(_no_such_mass(weight_n / size, 2 * level_u, weight_n, gravity))
        return _by_weight(postures, film, basis, weight_n, gravity, expected)
    prior = film_prior(film)
    alone = weigh(prior, basis, postures.force_n, postures.u)
    doubt = math.log(alone.weight_n / weight_n) / math.hypot(alone.weight_u, MASS_U)
    if abs(doubt) > _DOUBT:
        raise CalibrationError(_no_such_mass(alone.weight_n, 2 * alone.weight_u, weight_n, gravity))
    told = weigh(prior, basis, postures.force_n, postures.u, weight_n, MASS_U)
    return _result(postures, film, prior, told, alone, gravity)


def _no_such_mass(says_n: float, within: float, weight_n: float, gravity: float) -> str:
    return (
        f"the mat says {says_n / gravity:.0f} kg (within {100 * within:.0f} %) where "
        f"{weight_n / gravity:.1f} kg were stated: give the mass in kilograms, with shoes and clothes, "
        "of the person who stands there"
    )


def _by_weight(
    postures: Postures, film: Film, basis: Array, weight_n: float, gravity: float, expected: Expected
) -> StandingResult:
    """An uncalibrated film with what a known weight tells of it; the result without what was said of the run."""
    learnt = learn(postures, film, basis, weight_n, expected)
    curves = replace(
        film.curves,
        level=learnt.level - learnt.exponent * learnt.x_from,
        exponent=learnt.exponent,
        bend=0.0,
        saturation_s=learnt.saturation_s,
        lean=learnt.lean,
        lean_from=learnt.x_from,
    )
    force = np.maximum(np.nan_to_num(postures.force_n), 0.0)
    read = curves.force_n(read_back(film.curves, force))
    by_typical = float(np.median(force.sum((1, 2)))) / gravity
    unseen = np.argwhere(learnt.level_u**2 > (1 - _SEEN) * learnt.before_u**2)
    fresh = replace(
        film,
        curves=curves,
        level_u=learnt.level_u,
        highest_n=float(read.max()),
        # Errors of the exponent turn about the loads that this person's cells carried.
        x_centre=learnt.x_from,
        shape_cov=np.diag([learnt.exponent_u**2, 0.0]),
        exponent_spread=LEAN_U,
    )
    factor = np.exp(learnt.level - film.curves.level - film.curves.exponent * learnt.x_from)
    cells = tuple((int(row), int(column)) for row, column in unseen)
    count, still, moving = len(postures.frames), postures.still, postures.moving
    return StandingResult(fresh, factor, cells, count, still, moving, learnt.left, by_typical, UNKNOWN_LEVEL_U)


def _result(
    postures: Postures, film: Film, prior: Gains, told: Weighed, alone: Weighed, gravity: float
) -> StandingResult:
    shape = film.curves.level.shape
    cells = film.curves.level.size
    # Its own, without what all cells have in common.
    before = prior.covariance.diagonal()[:cells] - prior.covariance[0, 1]
    after = told.gains.covariance.diagonal()[:cells]
    unseen = np.flatnonzero(after > (1 - _SEEN) * before)
    factor = told.gains.film
    curves = replace(film.curves, level=film.curves.level + np.log(factor))
    heaviest = float(np.nanmax(postures.force_n * factor))
    highest = heaviest if math.isnan(film.highest_n) else max(film.highest_n, heaviest)
    fresh = replace(film, curves=curves, level_u=np.sqrt(after).reshape(shape), highest_n=highest)
    return StandingResult(
        fresh,
        factor,
        tuple((int(c) // shape[1], int(c) % shape[1]) for c in unseen),
        len(postures.frames),
        postures.still,
        postures.moving,
        float(np.sqrt(np.mean(told.residual**2))),
        alone.weight_n / gravity,
        alone.weight_u,
    )
