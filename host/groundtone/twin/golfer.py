"""The golfer: where the pressure is and how much of it, in time, from stepping on to stepping off."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from groundtone.twin.footprint import H_MAX, H_MIN
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Session
from groundtone.twin.styles import RETURN_S, Knots, SwingTimes, swing_knots

G_N_PER_KG = 9.80665
WEIGHT_ON_S, WEIGHT_GAP_S = 3.0, 1.0


@dataclass(frozen=True)
class Curves:
    """A session's curves; axis 0 is time, index 0 of the last axis is the lead foot where there are two.

    Attributes
    ----------
    t_s : (n,) array
        Times, s, on the session's grid.
    force_n : (n, 2) array
        Vertical force under the lead and the trail foot.
    heel_toe : (n, 2) array
        Wanted centre of pressure of each foot along its sole, 0 heel edge to 1 toe edge.
    lean : (n, 2) array
        -1 outer edge to +1 inner edge.
    placement : (n, 2) array of int
        Which of its placements each foot stands in; it changes only while the foot is off.
    swings : tuple of SwingTimes
    strikes : tuple of (time s, peak 0 to 1)
        What the strike sensor hears, in order.
    step_on_s, step_off_s : float
        First load by the golfer and last.
    weight_s : tuple of (time on s, time off s)
        When the known weight lies on the left and on the right panel; empty without one.
    """

    t_s: FloatArray
    force_n: FloatArray
    heel_toe: FloatArray
    lean: FloatArray
    placement: NDArray[np.intp]
    swings: tuple[SwingTimes, ...]
    strikes: tuple[tuple[float, float], ...]
    step_on_s: float
    step_off_s: float
    weight_s: tuple[tuple[float, float], ...]


class _Track:
    """Knots of one curve, in order of time; between them the curve is smooth (C1) and overshoots no knot."""

    def __init__(self, value: float) -> None:
        self.knots: Knots = [(-1.0, value), (0.0, value)]

    def to(self, t: float, value: float) -> None:
        if t <= self.knots[-1][0] + 1e-6:
            raise ValueError(f"knots must go forward in time: {t:g} after {self.knots[-1][0]:g}")
        self.knots.append((t, value))

    def stay(self, t: float) -> None:
        self.to(t, self.knots[-1][1])

    def extend(self, knots: Knots) -> None:
        for t, value in knots:
            self.to(t, value)

    def at(self, t: FloatArray) -> FloatArray:
        times, values = zip(*self.knots, strict=True)
        out: FloatArray = PchipInterpolator(times, values)(np.minimum(t, times[-1]))
        return out


def sway(t: FloatArray, rng: np.random.Generator, rms: float) -> FloatArray:
    """Slow random sway: nine sinusoids of 0.1 to 1.6 Hz with random phases, of the given rms over long times."""
    f = np.geomspace(0.1, 1.6, 9) * rng.uniform(0.9, 1.1, 9)
    amplitude = f**-0.5
    amplitude *= rms * np.sqrt(2.0 / np.sum(amplitude**2))
    out: FloatArray = np.sin(2.0 * np.pi * np.outer(t, f) + rng.uniform(0.0, 2.0 * np.pi, 9)) @ amplitude
    return out


def session_curves(session: Session) -> Curves:
    """Draw the curves of a whole session on its grid.

    Parameters
    ----------
    session : Session
    """
    rng = np.random.default_rng([session.seed, 20])
    golfer = session.golfer
    share, weights, calm = _Track(0.5), _Track(0.0), _Track(1.0)
    heel_toe = (_Track(0.2), _Track(0.2))
    lean = (_Track(0.0), _Track(0.0))
    now = session.empty_s
    weight_s: list[tuple[float, float]] = []
    if session.weight_n > 0.0:
        for _ in range(2):
            weight_s.append((now, now + WEIGHT_ON_S))
            now += WEIGHT_ON_S + WEIGHT_GAP_S

    step_on = now
    first = int(rng.integers(2))
    now = _step_on(share, weights, heel_toe, first, now)
    if session.rocks > 0:
        end = now + session.rocks * session.rock_s
        calm.extend([(now, 1.0), (now + 0.4, 0.4), (end, 0.4), (end + 0.4, 1.0)])
    now = _rock(session, share, heel_toe, now)
    swings, lifts = [], []
    for index, spec in enumerate(session.swings):
        _shuffle(session, rng, share, heel_toe, now)
        knots = swing_knots(spec, session, index, now + 0.9)
        at = knots.times
        if index == 0:
            weights.stay(at.setup_s)
            calm.stay(at.setup_s)
            for track in lean:
                track.stay(at.setup_s)
        share.extend(knots.share)
        parts = (knots.lead, knots.trail, knots.lead_lean, knots.trail_lean)
        for track, part in zip((*heel_toe, *lean), parts, strict=True):
            track.extend(part)
        weights.extend(knots.weights)
        calm.extend([(at.takeaway_s, 1.0), (at.takeaway_s + 0.2, 0.4), (at.finish_s, 0.4), (at.finish_s + 0.3, 1.0)])
        now = at.end_s + RETURN_S
        share.to(now, 0.5)
        for track in heel_toe:
            track.to(now, 0.48)
        for track in lean:
            track.to(now, 0.0)
        swings.append(at)
        lifts.extend([(off, on) for off, on in at.step_s])
    step_off = _step_off(share, weights, heel_toe, now + 0.6)
    duration = step_off + max(session.empty_s, 1.5)

    t = np.arange(round(duration * 1e6 / session.grid_us) + 1, dtype=np.float64) * (session.grid_us * 1e-6)
    calm_t = calm.at(t)
    lead_share = share.at(t)
    lead_share = lead_share + sway(t, rng, 0.004) * calm_t * np.minimum(1.0, 8.0 * lead_share * (1.0 - lead_share))
    lead_share = np.clip(lead_share, 0.0, 1.0)
    total = golfer.mass_kg * G_N_PER_KG * weights.at(t) * (1.0 + sway(t, rng, 0.003))
    common = sway(t, rng, 0.004)
    positions = [np.clip(track.at(t) + (common + sway(t, rng, 0.0025)) * calm_t, H_MIN, H_MAX) for track in heel_toe]
    leans = [np.clip(track.at(t) + sway(t, rng, 0.03) * calm_t, -1.0, 1.0) for track in lean]
    total[total < 1e-6] = 0.0  # what rounding leaves between two knots at 0
    force = np.stack([total * lead_share, total * (1.0 - lead_share)], axis=1)

    placement = np.zeros((t.size, 2), dtype=np.intp)
    for i, (off, _) in enumerate(lifts):
        placement[t >= off + 0.1, 1] = (i + 1) % 2
    return Curves(
        t, force, np.stack(positions, axis=1), np.stack(leans, axis=1), placement, tuple(swings),
        _strikes(session, rng, swings), step_on, step_off, tuple(weight_s),
    )  # fmt: skip


def _step_on(share: _Track, weights: _Track, heel_toe: tuple[_Track, _Track], first: int, now: float) -> float:
    """One foot, then the other, heels first; the rest of the weight is still beside the mat at first."""
    alone = 1.0 if first == 0 else 0.0
    share.to(now - 0.2, alone)
    share.stay(now + 1.0)
    share.extend([(now + 1.3, 0.5 + 0.15 * (2.0 * alone - 1.0)), (now + 1.6, 0.5)])
    weights.stay(now)
    weights.extend([(now + 0.15, 0.3), (now + 0.5, 1.06), (now + 0.8, 1.0)])
    for i, track in enumerate(heel_toe):
        lands = now if i == first else now + 1.0
        track.stay(lands)
        track.to(lands + 0.6, 0.45)
        track.stay(now + 1.9)
    return now + 1.9


def _rock(session: Session, share: _Track, heel_toe: tuple[_Track, _Track], now: float) -> float:
    """Slow rocks from the heels to the toes and back, with the weight going from side to side if asked for."""
    share.stay(now)
    for k in range(session.rocks):
        part = session.rock_s
        for track in heel_toe:
            track.extend([(now + 0.17 * part, 0.16), (now + 0.52 * part, 0.88), (now + 0.85 * part, 0.16)])
            track.to(now + part, 0.45)
        if session.rock_share_sway > 0.0:
            side = session.rock_share_sway * (1.0 if k % 2 == 0 else -1.0)
            share.extend([(now + 0.25 * part, 0.5 + side), (now + 0.75 * part, 0.5 - side)])
        share.to(now + part, 0.5)
        now += part
    for track in heel_toe:
        track.stay(now + 0.4)
    share.stay(now + 0.4)
    return now + 0.4


def _shuffle(
    session: Session, rng: np.random.Generator, share: _Track, heel_toe: tuple[_Track, _Track], now: float
) -> None:
    """Shuffle into the setup, which begins 0.9 s after `now`."""
    golfer = session.golfer
    share.extend([(now + 0.3, rng.uniform(0.56, 0.62)), (now + 0.6, rng.uniform(0.42, 0.47))])
    share.to(now + 0.9, golfer.setup_share)
    for track in heel_toe:
        track.to(now + 0.35, rng.uniform(0.42, 0.50))
        track.to(now + 0.9, golfer.setup_heel_toe)


def _step_off(share: _Track, weights: _Track, heel_toe: tuple[_Track, _Track], now: float) -> float:
    """Trail foot first; returns when the lead foot has left."""
    for track in (share, weights, *heel_toe):
        track.stay(now)
    share.to(now + 0.6, 1.0)
    weights.extend([(now + 0.8, 1.0), (now + 1.2, 0.0)])
    for track in heel_toe:
        track.extend([(now + 1.2, 0.70), (now + 1.5, 0.2)])
    for track in (share, weights, *heel_toe):
        track.stay(now + 2.0)
    return now + 1.2


def _strikes(session: Session, rng: np.random.Generator, swings: list[SwingTimes]) -> tuple[tuple[float, float], ...]:
    """Strikes of the golfer's own swings (0.45 to 0.9 of the range) and the fainter ones of the next bay."""
    heard = [(swing.impact_s, float(rng.uniform(0.45, 0.9))) for swing in swings if swing.strike]
    heard += [(t, float(rng.uniform(0.15, 0.35))) for t in session.stray_strikes_s]
    return tuple(sorted(heard))
