"""The live engine: a frame in, what the golfer should hear out. The same code serves the live path and a replay."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, ForceMeter
from groundtone.cue.bands import Bands
from groundtone.cue.rules import SILENT, CueRules, CueSizes
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import Layout
from groundtone.pressure.feet import Feet, Stance, feet_of, lead_share, least_force_n, overall_centre
from groundtone.pressure.footprint import FootprintFinder
from groundtone.swing.events import Phase, Swing
from groundtone.swing.tracker import SwingTracker
from groundtone.wire.messages import Flag, Frame

# Nobody is on the mat below this; the smallest golfer of the design weighs 25 kg.
_NOBODY_N = 60.0
_AWAY_S = 0.4


@dataclass(frozen=True)
class Live:
    """What the engine knows after one frame.

    Attributes
    ----------
    t_s : float
        Device time, s.
    force_n : ndarray, shape (rows, columns)
    feet : Feet
    share, overall : float
        Lead share, and overall heel-toe position (the feet's positions weighted by their force).
    position : (float, float)
        Heel-toe position of the left and the right foot; NaN before the footprint has been found.
    centre_mm : (float, float)
        Overall centre of pressure in the stance frame.
    phase : Phase
    sizes : CueSizes
    signals : tuple of str
        One-shot sounds due now: "ready", "tick".
    ended : Swing or None
        The swing that ended with this frame.
    """

    t_s: float
    force_n: NDArray[np.float64]
    feet: Feet
    share: float
    overall: float
    position: tuple[float, float]
    centre_mm: tuple[float, float]
    phase: Phase
    sizes: CueSizes
    signals: tuple[str, ...] = ()
    ended: Swing | None = None


class LiveEngine:
    """Follows one golfer on one mat.

    Parameters
    ----------
    layout : Layout
    film : Film
        The mat's calibration.
    stance : Stance
    bands : Bands, optional
    shoe_mm : float, optional
        Outer length of the shoes, where it is known.
    """

    def __init__(
        self,
        layout: Layout,
        film: Film,
        stance: Stance,
        bands: Bands | None = None,
        shoe_mm: float | None = None,
    ) -> None:
        self.layout, self.stance = layout, stance
        self.meter = ConductanceMeter(layout)
        self.prints = FootprintFinder(layout, shoe_mm)
        self.tracker = SwingTracker()
        self._forces = ForceMeter(film)
        self._rules = CueRules(bands)
        self._least_n = least_force_n(0.0)
        self._standing: deque[float] = deque(maxlen=400)
        self._empty_since: float | None = None
        self._sounding: dict[str, float] = {}

    @property
    def ready(self) -> bool:
        """The footprints have been found."""
        return self.prints.prints is not None

    def step(self, frame: Frame, device_us: int) -> Live:
        """One frame.

        Parameters
        ----------
        frame : Frame
        device_us : int
            Its device time, unwrapped, µs.
        """
        t_s = device_us * 1e-6
        force = self._forces.force_n(t_s, self.meter.measure(frame))
        feet = feet_of(force, self.layout, self._least_n)
        share = lead_share(feet, self.stance.lead, _NOBODY_N)
        signals: list[str] = []
        self._weigh(t_s, feet)
        if self.prints.add(force, feet.u_mm):
            signals.append("ready")
            self._least_n = least_force_n(float(np.median(self._standing)) if self._standing else 0.0)
        position, overall = self._positions(feet)
        strike_s = t_s - frame.strike_offset_us * 1e-6 if frame.flags & Flag.STRIKE else None
        tracked = self.tracker.step(t_s, share if self.ready else math.nan, strike_s=strike_s)
        swing = tracked.ended or self.tracker.swing
        sizes = self._cues(t_s, tracked.phase, share, overall, position)
        self._log(t_s, sizes, swing, over=tracked.ended is not None)
        if tracked.ended is not None:
            signals.append("tick")
        centre = overall_centre(feet, self.stance, self.layout)
        return Live(
            t_s, force, feet, share, overall, position, centre, tracked.phase, sizes, tuple(signals), tracked.ended
        )

    def _weigh(self, t_s: float, feet: Feet) -> None:
        """Keeps the usual force of whoever stands there, and forgets the footprints when nobody does."""
        if feet.total_n >= _NOBODY_N:
            self._empty_since = None
            if self.tracker.phase in (Phase.AWAY, Phase.STANDING, Phase.SETUP):
                self._standing.append(feet.total_n)
            return
        if self._empty_since is None:
            self._empty_since = t_s
        if t_s - self._empty_since >= _AWAY_S and self._standing:
            self._standing.clear()
            self.prints.forget()
            self._least_n = least_force_n(0.0)

    def _positions(self, feet: Feet) -> tuple[tuple[float, float], float]:
        prints = self.prints.prints
        if prints is None:
            return (math.nan, math.nan), math.nan
        left, right = (mark.position(u) for mark, u in zip(prints, feet.u_mm, strict=True))
        sums = [(f * p, f) for f, p in zip(feet.force_n, (left, right), strict=True) if not math.isnan(p)]
        weight = sum(force for _, force in sums)
        return (left, right), (sum(moment for moment, _ in sums) / weight if weight > 0 else math.nan)

    def _cues(self, t_s: float, phase: Phase, share: float, overall: float, position: tuple[float, float]) -> CueSizes:
        if not self.ready:
            return SILENT
        swing = self.tracker.swing
        turn = swing.turn if swing is not None else None
        impact = swing.impact if swing is not None else None
        return self._rules.step(
            t_s,
            phase,
            share=share,
            overall=overall,
            lead_foot=position[self.stance.lead],
            since_turn_s=t_s - turn.t_s if turn is not None else math.nan,
            sure=self.tracker.confirmed,
            after_impact=impact is not None and t_s > impact.t_s,
        )

    def _log(self, t_s: float, sizes: CueSizes, swing: Swing | None, *, over: bool) -> None:
        """Writes down in the swing which cue was heard from when to when."""
        for name, size in (("toes", sizes.toes), ("trail side", sizes.trail)):
            if size > 0 and not over:
                self._sounding.setdefault(name, t_s)
            elif name in self._sounding:
                begin = self._sounding.pop(name)
                if swing is not None:
                    swing.heard.append((name, begin, t_s))
