"""The golfer: where the pressure is and how much of it, in time, from stepping on to stepping off."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.doings import Tracks, do
from groundtone.twin.footprint import H_MAX, H_MIN
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Session, SwingSpec
from groundtone.twin.styles import RETURN_S, swing_knots
from groundtone.twin.swing_knots import SwingTimes
from groundtone.twin.taps import Tap
from groundtone.twin.tracks import Track, sway

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
        -1 outer edge to +1 inner edge; below -1 the foot has rolled onto its outer edge.
    placement : (n, 2) array of int
        Which of its placements each foot stands in; it changes only while the foot is off.
    swings : tuple of SwingTimes
    strikes : tuple of (time s, peak 0 to 1)
        What the strike sensor hears, in order.
    step_on_s, step_off_s : float
        First load by the golfer and last.
    weight_s : tuple of (time on s, time off s)
        When the known weight lies on the left and on the right panel; empty without one.
    away_s : tuple of (time s, time s)
        When the golfer was off the mat in between.
    taps : tuple of Tap
        Answers with the foot, in order.
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
    away_s: tuple[tuple[float, float], ...] = ()
    taps: tuple[Tap, ...] = ()


def session_curves(session: Session) -> Curves:
    """Draw the curves of a whole session on its grid.

    Parameters
    ----------
    session : Session
    """
    rng = np.random.default_rng([session.seed, 20])
    golfer = session.golfer
    share, weights, calm = Track(0.5), Track(0.0), Track(1.0)
    heel_toe = (Track(0.2), Track(0.2))
    lean = (Track(0.0), Track(0.0))
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
    tracks = Tracks(share, weights, calm, heel_toe, lean)
    between = np.random.default_rng([session.seed, 23])
    swings: list[SwingTimes] = []
    lifts: list[tuple[float, float]] = []
    visits: list[tuple[float, float]] = []
    for index, spec in enumerate(session.swings):
        now = _besides(session, index, tracks, between, visits, now)
        _shuffle(session, spec, rng, share, heel_toe, now)
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
        tracks.moved += [((off + on) / 2, 0) for off, on in at.lead_step_s]
        swings.append(at)
        lifts.extend([(off, on) for off, on in at.step_s])
        if at.walks:
            now = _walk_off(tracks, visits, between, at.end_s)
            continue
        now = at.end_s + RETURN_S
        share.to(now, 0.5)
        for track in heel_toe:
            track.to(now, 0.48)
        for track in lean:
            track.to(now, 0.0)
    now = _besides(session, len(session.swings), tracks, between, visits, now)
    step_off = _step_off(share, weights, heel_toe, now + 0.6)
    duration = step_off + max(session.empty_s, 1.5)

    t = np.arange(round(duration * 1e6 / session.grid_us) + 1, dtype=np.float64) * (session.grid_us * 1e-6)
    calm_t = calm.at(t)
    lead_share = share.at(t)
    lead_share = lead_share + sway(t, rng, 0.004) * calm_t * np.minimum(1.0, 8.0 * lead_share * (1.0 - lead_share))
    lead_share = np.clip(lead_share, 0.0, 1.0)
    total = golfer.mass_kg * STANDARD_GRAVITY * weights.at(t) * (1.0 + sway(t, rng, 0.003))
    common = sway(t, rng, 0.004)
    positions = [np.clip(track.at(t) + (common + sway(t, rng, 0.0025)) * calm_t, H_MIN, H_MAX) for track in heel_toe]
    leans = [np.clip(track.at(t) + sway(t, rng, 0.03) * calm_t, -3.0, 1.0) for track in lean]
    total[total < 1e-6] = 0.0  # what rounding leaves between two knots at 0
    force = np.stack([total * lead_share, total * (1.0 - lead_share)], axis=1)

    placement = np.zeros((t.size, 2), dtype=np.intp)
    for i, (off, _) in enumerate(lifts):
        placement[t >= off + 0.1, 1] = (i + 1) % 2
    # Whoever comes back, or lifts a foot on the spot, stands where nobody has stood before.
    moved = tracks.moved + [((off + on) / 2, foot) for off, on in visits for foot in (0, 1)]
    for when, foot in sorted(moved):
        later = t >= when
        placement[later, foot] += 2
    return Curves(
        t, force, np.stack(positions, axis=1), np.stack(leans, axis=1), placement, tuple(swings),
        _strikes(session, rng, swings), step_on, step_off, tuple(weight_s), tuple(visits),
        tuple(tracks.taps),
    )  # fmt: skip


def _step_on(share: Track, weights: Track, heel_toe: tuple[Track, Track], first: int, now: float) -> float:
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


def _rock(session: Session, share: Track, heel_toe: tuple[Track, Track], now: float) -> float:
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


def _besides(
    session: Session,
    index: int,
    tracks: Tracks,
    rng: np.random.Generator,
    visits: list[tuple[float, float]],
    now: float,
) -> float:
    """What the golfer does before swing `index`; returns when that is over."""
    for doing in session.doings:
        if doing.before != index:
            continue
        if doing.kind != "walk":
            now = do(doing, tracks, session.golfer, rng, now + 0.05)
            continue
        tracks.still(now + 0.4)
        off = _step_off(tracks.share, tracks.weights, tracks.heel_toe, now + 0.6)
        back = off + 1.2 + doing.seconds
        visits.append((off, back))
        tracks.still(back - 0.3)
        now = _step_on(tracks.share, tracks.weights, tracks.heel_toe, int(rng.integers(2)), back)
        if doing.rock:
            now = _rock(session, tracks.share, tracks.heel_toe, now)
    return now


def _walk_off(tracks: Tracks, visits: list[tuple[float, float]], rng: np.random.Generator, now: float) -> float:
    """Walk off over the lead foot, on which all weight is, and come back after some steps; returns when both stand."""
    tracks.weights.extend([(now + 0.2, 1.08), (now + 0.5, 0.0)])
    away = now + 0.5
    back = away + float(rng.uniform(3.0, 5.0))
    visits.append((away, back))
    tracks.still(back - 0.3)
    return _step_on(tracks.share, tracks.weights, tracks.heel_toe, int(rng.integers(2)), back)


def _shuffle(
    session: Session,
    spec: SwingSpec,
    rng: np.random.Generator,
    share: Track,
    heel_toe: tuple[Track, Track],
    now: float,
) -> None:
    """Shuffle into the setup, which begins 0.9 s after `now`."""
    golfer = session.golfer
    share.extend([(now + 0.3, rng.uniform(0.56, 0.62)), (now + 0.6, rng.uniform(0.42, 0.47))])
    share.to(now + 0.9, golfer.setup_share if spec.setup_share is None else spec.setup_share)
    for track in heel_toe:
        track.to(now + 0.35, rng.uniform(0.42, 0.50))
        track.to(now + 0.9, golfer.setup_heel_toe if spec.setup_heel_toe is None else spec.setup_heel_toe)


def _step_off(share: Track, weights: Track, heel_toe: tuple[Track, Track], now: float) -> float:
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
    drawn = [(swing, float(rng.uniform(0.45, 0.9))) for swing in swings if swing.strike]
    heard = [(swing.impact_s, peak if swing.loud is None else swing.loud) for swing, peak in drawn]
    heard += [(t, float(rng.uniform(0.15, 0.35))) for t in session.stray_strikes_s]
    return tuple(sorted(heard))
