"""The check before a lesson: a minute with the pupil in their own shoes, and a verdict with its reasons.

Steps are data, in their order; `CheckRun` follows them frame by frame, causal, and says what to do next. A step that is
not done in its time is passed over and said so. What the minute showed is judged by `calibration.checking.verdict`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import CheckResult, Shown
from groundtone.calibration.checking.verdict import judge
from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.guided.tare import Empty, Standing, Tare
from groundtone.calibration.shoes.postures import NOBODY_N, Postures, SteadyFrames
from groundtone.calibration.shoes.shoe import above_empty, soles_from
from groundtone.errors import CalibrationError
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.layout import Layout

Array = NDArray[np.float64]


class Step(Enum):
    """What is to be done."""

    EMPTY = "keep off the mat"
    MARK_LEFT = "put the known weight on the left panel's mark"
    MARK_RIGHT = "put it on the right panel's mark"
    STAND = "step on with both feet and stand still"
    ROCK = "rock slowly from heels to toes"
    LIFT_LEFT = "lift the left foot"
    LIFT_RIGHT = "lift the right foot"
    DONE = "done"


ORDER = tuple(Step)

LONGEST_S = {
    Step.EMPTY: 10.0,
    Step.MARK_LEFT: 20.0,
    Step.MARK_RIGHT: 20.0,
    Step.STAND: 15.0,
    Step.ROCK: 20.0,
    Step.LIFT_LEFT: 15.0,
    Step.LIFT_RIGHT: 15.0,
}
"""A step that takes longer is passed over, s."""
STILL_S, LIFT_S, MARK_S = 3.0, 4.0, 1.5
"""How long to stand still, to stand on one foot, and a weight to lie."""

# A rock has shown both ends when each foot's centre has gone over this part of its sole.
_ROCK_SPAN = 0.40
# A foot is off the mat below this part of the total, and both stand above that part.
_LIFTED, _BOTH = 0.04, 0.20
# A mark's weight is recognised from this part of itself on.
_MARK_PART = 0.4


@dataclass(frozen=True)
class Now:
    """Where the check stands.

    Attributes
    ----------
    done : float
        Part of the step that is done, 0 to 1.
    stands : bool
        Something stands on the mat that should be empty.
    passed_over : tuple of Step
        Steps that were not done in their time.
    """

    step: Step
    done: float
    stands: bool
    passed_over: tuple[Step, ...]


class CheckRun:
    """Follows a check.

    Parameters
    ----------
    film : Film
        The mat's calibration.
    mass_kg : float, optional
        The pupil's mass with all they wear, where it is known.
    mark_n : float, optional
        A known weight, N, that is laid on each panel's mark first.
    gravity : float
        m/s².

    Raises
    ------
    CalibrationError
        A mass or weight that cannot be.
    """

    def __init__(
        self,
        layout: Layout,
        film: Film,
        *,
        mass_kg: float | None = None,
        mark_n: float | None = None,
        gravity: float = STANDARD_GRAVITY,
    ) -> None:
        if mass_kg is not None and not (math.isfinite(mass_kg) and 20 <= mass_kg <= 160):
            raise CalibrationError(f"a person of {mass_kg:g} kg is none: give the mass in kilograms, 20 to 160")
        if mark_n is not None and not (math.isfinite(mark_n) and 10 <= mark_n <= 500):
            raise CalibrationError(f"a weight of {mark_n:g} N on the mark: use one of 1 to 50 kg")
        self._layout, self._film = layout, film
        self._mass_kg, self._mark_n, self._gravity = mass_kg, mark_n, gravity
        self._meter, self._tare = ForceMeter(film, layout.pitch_mm), Tare()
        self._steady = SteadyFrames(layout.rows, layout.columns)
        self._empty: Empty | None = None
        self._empty_n: Array | None = None
        self._resting: list[Array] = []
        self._marks: tuple[list[Array], list[Array]] = ([], [])
        self._most = np.zeros((layout.rows, layout.columns))
        self._span = np.array([[np.inf, -np.inf], [np.inf, -np.inf]])
        self._todo = [s for s in ORDER if mark_n is not None or s not in (Step.MARK_LEFT, Step.MARK_RIGHT)]
        self._passed: list[Step] = []
        self._began_s = math.nan
        self._last_s = math.nan
        self._held_s = 0.0
        self._stands = False
        self._begun = False
        self._mark_lies = False

    @property
    def now(self) -> Now:
        """Where the check stands."""
        step = self._todo[0]
        need = {Step.STAND: STILL_S, Step.LIFT_LEFT: LIFT_S, Step.LIFT_RIGHT: LIFT_S}.get(step, MARK_S)
        part = self._rocked() / _ROCK_SPAN if step is Step.ROCK else self._held_s / need
        return Now(step, min(1.0, max(0.0, part)), self._stands, tuple(self._passed))

    def step(self, t_s: float, conductance_s: Array) -> Now:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)
            S; a frame with NaN says nothing.
        """
        if not np.isfinite(conductance_s).all() or self._todo[0] is Step.DONE:
            return self.now
        force = self._meter.force_n(t_s, conductance_s)
        passed = t_s - self._last_s if t_s > self._last_s else 0.0
        self._last_s = t_s
        if math.isnan(self._began_s):
            self._began_s = t_s
        if self._todo[0] is Step.EMPTY:
            self._look_at_empty(t_s, conductance_s, np.nan_to_num(force))
        else:
            self._follow(t_s, min(passed, 0.1), above_empty(np.nan_to_num(force), self._rest()))
        longest = LONGEST_S.get(self._todo[0])
        if longest is not None and t_s - self._began_s > longest:
            self._passed.append(self._todo[0])
            self._next(t_s)
        return self.now

    def _rest(self) -> Array:
        return self._empty_n if self._empty_n is not None else np.zeros_like(self._most)

    def _next(self, t_s: float) -> None:
        self._todo.pop(0)
        self._began_s, self._held_s, self._begun = t_s, 0.0, False

    def _look_at_empty(self, t_s: float, conductance_s: Array, force_n: Array) -> None:
        self._resting.append(force_n)
        seen = self._tare.step(t_s, conductance_s)
        if seen is None:
            return
        self._stands = isinstance(seen, Standing) and seen.foot
        if isinstance(seen, Empty):
            self._empty = seen
            self._empty_n = np.median(np.stack(self._resting[-100:]), axis=0)
            self._resting.clear()
            self._next(t_s)

    def _follow(self, t_s: float, passed_s: float, force_n: Array) -> None:
        panels = self._layout.by_panel(force_n)
        by_foot = panels.sum((-2, -1))
        total = float(by_foot.sum())
        step = self._todo[0]
        if step in (Step.MARK_LEFT, Step.MARK_RIGHT) and self._mark_n is not None:
            side = 0 if step is Step.MARK_LEFT else 1
            if by_foot[side] > _MARK_PART * self._mark_n and total < 3 * self._mark_n:
                self._held_s += passed_s
                if self._held_s > 0.5:
                    self._marks[side].append(force_n)
                if self._held_s >= MARK_S:
                    self._mark_lies = True
                    self._next(t_s)
            return
        if self._mark_lies and self._mark_n is not None:
            # Ten kilograms that still lie on the mark would pass for a light person who stands very still.
            self._mark_lies = total > _MARK_PART * self._mark_n
        if total < NOBODY_N or self._mark_lies:
            return
        if not self._begun:
            # A step's time counts from when somebody stands there.
            self._begun, self._began_s = True, t_s if step is Step.STAND else self._began_s
        still = self._steady.add(t_s, force_n)
        np.maximum(self._most, force_n, out=self._most)
        left = float(by_foot[0]) / total
        held = {
            Step.STAND: still and _BOTH < left < 1 - _BOTH,
            Step.LIFT_LEFT: left < _LIFTED,
            Step.LIFT_RIGHT: left > 1 - _LIFTED,
        }
        if step is Step.ROCK:
            self._watch_rock(panels, by_foot, total)
            if self._rocked() >= _ROCK_SPAN and self._back(panels, by_foot):
                self._next(t_s)
            return
        need = STILL_S if step is Step.STAND else LIFT_S
        if held[step]:
            self._held_s += passed_s
        if self._held_s >= need:
            self._next(t_s)

    def _places(self, panels: Array, by_foot: Array) -> Array:
        out: Array = panels.sum(-1) @ self._layout.u_mm / np.maximum(by_foot, 1.0)
        return out

    def _watch_rock(self, panels: Array, by_foot: Array, total: float) -> None:
        places = self._places(panels, by_foot)
        for foot in (0, 1):
            if by_foot[foot] > 0.15 * total:
                low, high = self._span[foot]
                self._span[foot] = min(low, places[foot]), max(high, places[foot])

    def _rocked(self) -> float:
        """Part of its sole over which the foot's centre has gone that went least."""
        soles = soles_from(self._most, self._layout)
        if soles is None or not np.isfinite(self._span).all():
            return 0.0
        return min(float(s[1] - s[0]) / (toe - heel) for s, (heel, toe) in zip(self._span, soles, strict=True))

    def _back(self, panels: Array, by_foot: Array) -> bool:
        """The centre is on its way back from the far end."""
        span = self._span[:, 1] - self._span[:, 0]
        places = self._places(panels, by_foot)
        return bool((places < self._span[:, 1] - 0.3 * span).any() and (places > self._span[:, 0] + 0.2 * span).any())

    def result(self) -> CheckResult:
        """The verdict on what has been seen so far.

        Raises
        ------
        CalibrationError
            The mat was never empty, or nobody stood on it.
        """
        if self._empty is None and self._stands:
            raise CalibrationError("somebody stood on the mat all the time: step off for two seconds and begin again")
        if self._empty is None:
            raise CalibrationError("the mat has not been seen empty: keep off for two seconds and begin again")
        postures: Postures = self._steady.postures()
        if postures.still + postures.moving == 0:
            raise CalibrationError("nobody stood on the mat: step on with both feet and begin again")
        marks = tuple(np.mean(seen, axis=0) if seen else None for seen in self._marks)
        shown = Shown(
            postures,
            self._rest(),
            dict(self._empty.ill),
            (marks[0], marks[1]),
            self._mark_n,
            self._mass_kg * self._gravity if self._mass_kg is not None else None,
            tuple(s.value for s in self._passed),
            self._gravity,
        )
        return judge(shown, self._film, self._layout)
