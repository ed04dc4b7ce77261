"""The demo's judge: what was measured and heard, set against what the twin knows. Nothing of it is on the live path."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from groundtone.engine.session import Sample, Session
from groundtone.swing.summary import SwingSummary
from groundtone.twin.swing_knots import SwingTimes
from groundtone.twin.truth import Truth

WANTED = {"good": (), "toe_drift": ("toes",), "trail_hang": ("trail side",), "centred": (), "pitch": ()}
"""What must be heard for each of the demo's styles."""


@dataclass(frozen=True)
class SwingResult:
    """One swing of the demo, true and measured; times in s, shares and positions 0-1."""

    number: int
    style: str
    heard: tuple[tuple[str, float, float], ...]
    right: bool
    share_setup: tuple[float, float]
    share_top: tuple[float, float]
    share_impact: tuple[float, float]
    position_setup: tuple[float, float]
    position_impact: tuple[float, float]


@dataclass(frozen=True)
class DemoResult:
    """What the demo measured against what the twin knows.

    Attributes
    ----------
    swings : list of SwingResult
        Pairs in it are (true, measured).
    share_error, centre_error_mm : float
        95 % of the frames with both feet loaded are nearer to the truth than this: lead share, and the overall
        centre of pressure along the foot.
    path : str
        Over which the frames came.
    reviewed : bool
        The swings found anew in the recording are those that were heard live.
    """

    swings: list[SwingResult]
    share_error: float
    centre_error_mm: float
    frames: int
    missed: int
    path: str
    reviewed: bool = True

    @property
    def right(self) -> bool:
        """Every swing was found and answered as it must be."""
        return len(self.swings) == 8 and all(swing.right for swing in self.swings) and self.reviewed


def film_us(device_us: int, start_us: int) -> int:
    """Time in the twin's film of a device time, both clocks of 32 bits."""
    return (device_us - start_us) & 0xFFFFFFFF


def judge(session: Session, known: Truth, start_us: int, path: str) -> DemoResult:
    """What was measured against what the twin knows."""

    def film_s(t_s: float) -> float:
        return film_us(round(t_s * 1e6), start_us) * 1e-6

    share, centre = _errors(session.samples, known, start_us)
    left = list(session.swings)
    results = []
    for number, swing in enumerate(known.swings, start=1):
        found = next((s for s in left if s.impact and abs(film_s(s.impact.t_s) - swing.impact_s) < 0.6), None)
        if found is not None:
            left.remove(found)
        results.append(_swing_result(number, swing, found, known))
    for extra in left:
        results.append(_swing_result(extra.number, None, extra, known))
    return DemoResult(results, share, centre, len(session.samples), session.missed, path)


def _errors(samples: Iterable[Sample], known: Truth, start_us: int) -> tuple[float, float]:
    share, centre = [], []
    for sample in samples:
        true = known.at(film_us(round(sample.t_s * 1e6), start_us))
        if sample.both_feet and not any(map(math.isnan, true.heel_toe)):
            share.append(abs(sample.share - true.lead_share))
            centre.append(abs(sample.centre_y_mm - true.cop_stance_mm[1]))
    if not share:
        return math.nan, math.nan
    return float(np.percentile(share, 95)), float(np.percentile(centre, 95))


def _swing_result(number: int, true: SwingTimes | None, found: SwingSummary | None, known: Truth) -> SwingResult:
    def true_at(when_s: float, what: str) -> float:
        return float(getattr(known, what)[known.index(round(when_s * 1e6))])

    nan = math.nan
    style = true.style if true is not None else "none"
    heard = found.heard if found is not None else ()
    right = true is not None and found is not None and {cue for cue, _, _ in heard} == set(WANTED[style])
    times = (true.takeaway_s, true.top_s, true.impact_s) if true is not None else None
    lead = [true_at(t, "lead_share") for t in times] if times else [nan] * 3
    place = [true_at(t, "heel_toe_overall") for t in (times[0], times[2])] if times else [nan] * 2
    return SwingResult(
        number,
        style,
        heard,
        right,
        (lead[0], found.share_setup if found else nan),
        (lead[1], found.share_top if found else nan),
        (lead[2], found.share_impact if found else nan),
        (place[0], found.position_setup if found else nan),
        (place[1], found.position_impact if found else nan),
    )
