"""When a cue sounds, and how large: the two cues of the design.

Toes: the overall position at setup and in the backswing; after the turn of pressure the overall position and the lead
foot's. The trail foot alone never sounds: in every good swing it runs onto its toes after impact.
Trail side: armed by the turn of pressure; never in the backswing, where pressure belongs on the trail side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groundtone.cue.bands import Bands
from groundtone.swing.events import Phase

# The smallest size that sounds: a cue just outside its band must be heard at all.
_LEAST = 0.15


@dataclass(frozen=True)
class CueSizes:
    """Size of each cue, 0 (silent) to 1 (as far out as it gets)."""

    toes: float = 0.0
    trail: float = 0.0


SILENT = CueSizes()


class CueRules:
    """The state of the two cues: since when each has been outside, and whether it sounds."""

    def __init__(self, bands: Bands | None = None) -> None:
        self.bands = bands or Bands()
        self._outside_since: float | None = None
        self._toes = False
        self._trail = False

    def step(
        self,
        t_s: float,
        phase: Phase,
        *,
        share: float,
        overall: float,
        lead_foot: float,
        since_turn_s: float,
        sure: bool,
        after_impact: bool,
    ) -> CueSizes:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s.
        phase : Phase
        share, overall, lead_foot : float
            Lead share, overall heel-toe position and the lead foot's; NaN (nothing known) is silent.
        since_turn_s : float
            Time since the turn of pressure; NaN before it.
        sure : bool
            The swing under way is one beyond doubt.
        after_impact : bool
        """
        return CueSizes(
            self._toes_size(t_s, phase, overall, lead_foot),
            self._trail_size(phase, share, since_turn_s, sure, after_impact),
        )

    def _toes_size(self, t_s: float, phase: Phase, overall: float, lead_foot: float) -> float:
        bands = self.bands
        match phase:
            case Phase.SETUP | Phase.BACKSWING:
                excess, dwell = overall - bands.toes_before, bands.dwell_setup_s
            case Phase.DOWNSWING | Phase.FINISH:
                excess = max(_known(overall - bands.toes_after), _known(lead_foot - bands.toes_lead))
                dwell = bands.dwell_swing_s
            case _:
                excess, dwell = -math.inf, 0.0
        excess = _known(excess)
        if excess <= (-bands.ease if self._toes else 0.0):
            self._outside_since, self._toes = None, False
            return 0.0
        if self._outside_since is None:
            self._outside_since = t_s
        self._toes = self._toes or t_s - self._outside_since >= dwell
        return _size(excess, bands.full_toes) if self._toes else 0.0

    def _trail_size(self, phase: Phase, share: float, since_turn_s: float, sure: bool, after_impact: bool) -> float:
        bands = self.bands
        armed = phase in (Phase.DOWNSWING, Phase.FINISH) and sure and since_turn_s >= bands.dwell_trail_s
        excess = _known(bands.trail - share)
        if not armed or (after_impact and not bands.trail_after_impact):
            self._trail = False
            return 0.0
        self._trail = excess > (-bands.ease if self._trail else 0.0)
        return _size(excess, bands.full_trail) if self._trail else 0.0


def _known(value: float) -> float:
    return -math.inf if math.isnan(value) else value


def _size(excess: float, full: float) -> float:
    return min(1.0, max(_LEAST, excess / full))
