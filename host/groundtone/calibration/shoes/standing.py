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
from groundtone.calibration.force_curve import UNIT_S
from groundtone.calibration.shoes.body_weight import Gains, Weighed, prior_gains, sole_basis, weigh
from groundtone.calibration.shoes.postures import NOBODY_N, Postures, SteadyFrames
from groundtone.calibration.shoes.shoe import MASS_U, SHOE_SPAN, film_prior, soles_from
from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]

# So long the empty mat is looked at; a mat on which this much lies then is not empty, N.
TARE_S, EMPTY_N = 1.5, 25.0
# Still time that a run wants, s, and postures without which it is refused.
STILL_S, LEAST_POSTURES = 25.0, 12
# Free is a mat that reads less than this part of what the person made it read, for so long; who does not leave is
# waited for this long, s.
GONE, FREE_S, WAIT_S = 0.6, 1.2, 30.0
# A mass that lies further than this many standard deviations from what the mat says is asked about.
_DOUBT = 3.5
# A cell counts as seen when the run has taken this part of its own prior variance away.
_SEEN = 0.25
MASSES_KG = (20.0, 160.0)
# A film that was never calibrated: standard deviation of ln of its level against the typical one (films of other makers
# and thicknesses lie from a quarter to four times it) and of its exponent over the typical one (both invented).
UNKNOWN_LEVEL_U, UNKNOWN_EXPONENT_U = 0.7, 0.2
# Exponents that are tried, over the typical one; the load about which they turn, N; and no exponent is surer than this.
_EXPONENTS = np.linspace(0.7, 1.6, 10)
# Those of pooled films, in standard deviations about theirs.
_AROUND = np.linspace(-2.0, 2.0, 9)
_ABOUT_N, _LEAST_EXPONENT_U = 20.0, 0.03
# Saturations, spreads between cells (ln of conductance), and what creep, hysteresis and a body that is not quite still
# leave of a posture's total: each is tried.
_SATURATIONS_S, _SPREADS = (math.inf, 5e-3, 2.5e-3, 1.5e-3), (0.25, 0.5)
_LEFT = (0.01, 0.02, 0.04, 0.08)


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
        self._start_s = math.nan
        self._rate = 0.0
        # Of a film that was never calibrated everything is kept, for what it remembers shows when the person leaves.
        self._seen: list[tuple[float, Array]] | None = [] if film.level_u is None else None
        self._stood_s, self._left_s, self._total_s = math.nan, math.nan, 0.0
        self.ask = Ask.EMPTY

    @property
    def progress(self) -> float:
        """Part of the still time that has been gathered, 0 to 1."""
        if self._rate <= 0:
            return 0.0
        return min(1.0, self._steady.still / self._rate / STILL_S)

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
        if float(force.sum()) < NOBODY_N:
            done = self.progress >= 1.0
            self.ask = Ask.DONE if done else Ask.STEP_ON
            return self.ask
        before = self._steady.moving + self._steady.still
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
            film = remembering(film, t_s, conductance_s)
            force = ForceMeter(film, self._layout.pitch_mm).forces_n(t_s, conductance_s)
            quiet = force[(t_s >= t_s[0]) & (t_s < t_s[0] + TARE_S)].mean(0)
            steady = SteadyFrames(self._layout.rows, self._layout.columns, across=True, unknown=True)
            for at, frame in zip(t_s, force - quiet, strict=True):
                steady.add(float(at), frame)
            postures = steady.postures()
        return standing_film(
            postures, film, self._layout, self._mass_kg * self._gravity, gravity=self._gravity, expected=self._expected
        )


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
    level_u = expected.level_u if expected.mats else UNKNOWN_LEVEL_U
    count = len(postures.frames)
    if postures.still + postures.moving == 0:
        raise CalibrationError("nobody stood on the mat: step on with both feet and rock slowly")
    if count < LEAST_POSTURES:
        raise CalibrationError(
            f"only {count} of {LEAST_POSTURES} postures were seen ({postures.moving} frames were too quick): "
            "rock slowly from heels to toes and from foot to foot, for half a minute"
        )
    soles = soles_from(postures.force_n.max(0), layout)
    if soles is None:
        raise CalibrationError("only one foot was seen: stand with one foot on each panel")
    basis = sole_basis(soles, layout.u_mm, layout.rows, layout.columns)
    prior = film_prior(film, raw_common_u=level_u)
    if film.level_u is None:
        film, postures, prior = _by_weight(postures, film, basis, weight_n, level_u, expected)
    alone = weigh(prior, basis, postures.force_n, postures.u)
    # On an unknown film the mass is what is known; only a film that nobody sells contradicts it.
    u = level_u if film.level_u is None else math.hypot(alone.weight_u, MASS_U)
    doubt = math.log(alone.weight_n / weight_n) / u
    if abs(doubt) > _DOUBT:
        raise CalibrationError(
            f"the mat says {alone.weight_n / gravity:.0f} kg (within {200 * alone.weight_u:.0f} %) where "
            f"{weight_n / gravity:.1f} kg were stated: give the mass in kilograms, with shoes and clothes, "
            "of the person who stands there"
        )
    told = weigh(prior, basis, postures.force_n, postures.u, weight_n, MASS_U)
    return _result(postures, film, prior, told, alone, gravity)


def _by_weight(
    postures: Postures, film: Film, basis: Array, weight_n: float, level_u: float, expected: Expected
) -> tuple[Film, Postures, Gains]:
    """An uncalibrated film with what a known weight tells of its curve, the postures as it reads them, and its prior.

    Exponents, saturations and spreads between cells are tried; each is as likely as it makes the weight in all.
    A smaller exponent makes every difference smaller, right or wrong: what it does to the scale of the readings is
    counted (the determinant of a change of variables).
    """
    curves, force = film.curves, np.maximum(np.nan_to_num(postures.force_n), 0.0)
    conductance = UNIT_S * np.exp((np.log(np.maximum(force, 1e-3)) - curves.level) / curves.exponent)
    shape = curves.level.shape
    # A saturation near what was read or below it is none; pooled films tell theirs.
    tried = (math.inf, 1 / max(expected.values["inverse"], 1.0)) if expected.mats else _SATURATIONS_S
    saturations = [s for s in tried if s > 1.2 * float(conductance.max())]
    exponent_u = expected.widths["exponent"] / curves.exponent if expected.mats else UNKNOWN_EXPONENT_U
    exponents = _EXPONENTS if not expected.mats else 1.0 + exponent_u * _AROUND
    spread_s = _SPREADS if math.isnan(expected.spread) else (max(expected.spread / curves.exponent, 0.05),)
    found = []
    for saturation in saturations:
        bent = force * (1 - np.minimum(conductance / saturation, 0.9)) ** -curves.exponent
        for q in exponents:
            read = _to_power(bent, float(q))
            for spread in spread_s:
                prior = prior_gains(np.full(shape, spread * q), level_u, SHOE_SPAN)
                for left, cost in zip(_LEFT, _costs(prior, basis, read, weight_n), strict=True):
                    cost += ((q - 1) / exponent_u) ** 2 - 2 * len(force) * math.log(q)
                    found.append((cost, float(q), saturation, spread, left))
    cost, qs, at_s, spreads, lefts = (np.array(column) for column in zip(*found, strict=True))
    likely = np.exp(-0.5 * (cost - cost.min()))
    saturation = max(saturations, key=lambda s: float(likely[at_s == s].sum()))
    likely = np.where(at_s == saturation, likely, 0.0)
    q, spread = float(np.average(qs, weights=likely)), float(np.average(spreads, weights=likely))
    u = np.hypot(postures.u, float(np.average(lefts, weights=likely)))
    least_u = min(_LEAST_EXPONENT_U, exponent_u)
    u_q = math.sqrt(float(np.average((qs - q) ** 2, weights=likely)) + least_u**2)
    fresh = replace(
        curves,
        level=q * curves.level + (1 - q) * math.log(_ABOUT_N),
        exponent=q * curves.exponent,
        bend=q * curves.bend,
        saturation_s=saturation,
    )
    shape_cov = np.diag([(u_q * curves.exponent) ** 2, 0.0])
    read = np.where(force > 0.0, fresh.force_n(conductance), postures.force_n)
    prior = prior_gains(np.full(shape, spread * q), level_u, SHOE_SPAN)
    return replace(film, curves=fresh, shape_cov=shape_cov), replace(postures, force_n=read, u=u), prior


def _costs(prior: Gains, basis: Array, force_n: Array, weight_n: float) -> Array:
    """How unlikely it is that all postures weigh what the person does, for each of `_LEFT`: -2 ln of the density."""
    force = force_n.reshape(len(force_n), -1)
    total = np.maximum(force.sum(1), 1.0)
    slope = (force / total[:, None]) @ basis
    values, vectors = np.linalg.eigh(slope @ prior.covariance @ slope.T + MASS_U**2)
    missing = (math.log(weight_n) - np.log(total)) @ vectors
    variance = np.maximum(values, 0.0) + np.square(_LEFT)[:, None]
    out: Array = (missing**2 / variance + np.log(variance)).sum(1)
    return out


def _to_power(force_n: Array, q: float) -> Array:
    """What forces become when the curve's exponent is q times as large."""
    out: Array = np.copysign(_ABOUT_N * (np.abs(force_n) / _ABOUT_N) ** q, force_n)
    return out


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
    if film.level_u is None:
        # Errors of the exponent turn about the loads that this person's cells carried.
        centre = (math.log(_ABOUT_N) - float(np.nanmedian(curves.level))) / curves.exponent
        fresh = replace(fresh, x_centre=centre)
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
