"""What a golfer does between swings: stands, shifts, waggles, rests on a foot, bends, paces, taps, walks off."""

from dataclasses import dataclass, field

import numpy as np

from groundtone.twin.scenario import Doing, GolferSpec
from groundtone.twin.taps import Tap, tap
from groundtone.twin.tracks import Track


@dataclass
class Tracks:
    """The golfer's curves as they are drawn, one after the other in time; index 0 of a pair is the lead foot.

    `moved` holds (time s, foot 0 lead or 1 trail) of each foot that was lifted and comes down in another place, `taps`
    what was tapped.
    """

    share: Track
    weights: Track
    calm: Track
    heel_toe: tuple[Track, Track]
    lean: tuple[Track, Track]
    moved: list[tuple[float, int]] = field(default_factory=list)
    taps: list[Tap] = field(default_factory=list)

    def still(self, now: float) -> None:
        """All curves stay as they are until now."""
        for track in (self.share, self.weights, self.calm, *self.heel_toe, *self.lean):
            if track.knots[-1][0] < now - 1e-6:
                track.stay(now)


def do(doing: Doing, tracks: Tracks, golfer: GolferSpec, rng: np.random.Generator, now: float) -> float:
    """Draw one doing other than walking off; returns when it is over.

    Parameters
    ----------
    doing : Doing
    tracks : Tracks
    golfer : GolferSpec
    rng : Generator
    now : float
        Time, s; the curves end before or at it.
    """
    tracks.still(now)
    end = now + doing.seconds
    if doing.kind == "shift":
        _shift(tracks, rng, now, end)
    elif doing.kind == "waggle":
        _waggle(tracks, golfer, rng, now, end)
    elif doing.kind == "one_leg":
        side = rng.choice([0.12, 0.9])
        tracks.share.extend([(now + 0.8, float(side)), (end - 0.8, float(side + rng.uniform(-0.03, 0.03))), (end, 0.5)])
    elif doing.kind == "bend":
        _bend(tracks, rng, now)
        end = max(end, now + 2.6)
    elif doing.kind == "pace":
        end = _pace(tracks, rng, now, end)
    elif doing.kind == "tap":
        tracks.still(end)
        made, end = tap(doing.place, tracks.share, tracks.heel_toe, tracks.weights, golfer.mass_kg, rng, end)
        if made.rest == 0.0:
            tracks.moved.append((made.begin_s - 0.05, 0 if made.place.startswith("lead") else 1))
        tracks.taps.append(made)
    elif doing.kind in _WIDER:
        end = max(end, _WIDER[doing.kind](tracks, rng, now, end))
    elif doing.kind == "visitor":
        _visitor(doing, tracks, golfer, rng, now, max(end, now + 4.0))
        end = max(end, now + 4.0)
    tracks.still(end)
    return end


def _shift(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> None:
    """From foot to foot, each time another distance and speed, the feet rolling a little."""
    t, side = now, 1.0 if rng.random() < 0.5 else -1.0
    while True:
        t += float(rng.uniform(0.6, 2.6))
        if t > end - 0.8:
            break
        tracks.share.to(t, float(np.clip(0.5 + side * rng.uniform(0.05, 0.38), 0.08, 0.92)))
        for track in tracks.heel_toe:
            track.to(t, float(0.47 + rng.uniform(-0.07, 0.07)))
        side = -side
        if rng.random() < 0.5:
            # A pause there.
            t += float(rng.uniform(0.3, 2.0))
            if t > end - 0.8:
                break
            tracks.share.stay(t)
    tracks.share.to(end, 0.5)
    for track in tracks.heel_toe:
        track.to(end, 0.48)


def _waggle(tracks: Tracks, golfer: GolferSpec, rng: np.random.Generator, now: float, end: float) -> None:
    """Takes a setup, waggles and does not swing."""
    tracks.share.to(now + 0.5, golfer.setup_share)
    for track in tracks.heel_toe:
        track.to(now + 0.5, golfer.setup_heel_toe)
    t = now + 1.0
    while t < end - 1.6:
        tracks.share.stay(t)
        tracks.share.to(t + float(rng.uniform(0.2, 0.45)), golfer.setup_share + float(rng.uniform(-0.08, 0.03)))
        tracks.share.to(t + float(rng.uniform(0.5, 0.75)), golfer.setup_share + float(rng.uniform(-0.03, 0.05)))
        tracks.share.to(t + 0.95, golfer.setup_share)
        t += float(rng.uniform(1.0, 2.2))


def _bend(tracks: Tracks, rng: np.random.Generator, now: float) -> None:
    """Down to the ball and up: the force drops and rises twice, the weight goes to the toes and to one side."""
    side = float(rng.uniform(-0.2, 0.2))
    dip = float(rng.uniform(0.05, 0.22))
    tracks.weights.extend([
        (now + 0.25, 1.0 - dip), (now + 0.6, 1.0 + dip), (now + 0.9, 1.0), (now + 1.5, 1.0), (now + 1.75, 1.0 + dip),
        (now + 2.1, 1.0 - dip), (now + 2.5, 1.0),
    ])  # fmt: skip
    tracks.share.extend([(now + 0.7, 0.5 + side), (now + 1.6, 0.5 + side), (now + 2.4, 0.5)])
    for track in tracks.heel_toe:
        track.extend([(now + 0.8, float(rng.uniform(0.55, 0.75))), (now + 1.7, 0.6), (now + 2.5, 0.48)])


def _pace(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """Steps on the spot: each foot is lifted in turn and comes down elsewhere, with the force of walking."""
    t, foot = now, int(rng.integers(2))
    while t < end - 1.5:
        alone = 1.0 if foot == 1 else 0.0
        length = float(rng.uniform(0.35, 0.6))
        tracks.share.extend([(t + 0.3, alone), (t + 0.3 + length, alone), (t + 0.7 + length, 0.5)])
        push = float(rng.uniform(0.05, 0.30))
        tracks.weights.extend([
            (t + 0.15, 1.0 + push), (t + 0.3 + length / 2, 1.0 - push), (t + 0.45 + length, 1.0 + push),
            (t + 0.7 + length, 1.0),
        ])  # fmt: skip
        lifted = tracks.heel_toe[foot]
        lifted.extend([(t + 0.25, 0.75), (t + 0.3 + length, 0.25), (t + 0.65 + length, 0.47)])
        tracks.moved.append((t + 0.3 + length / 2, foot))
        t += 0.8 + length
        foot = 1 - foot
        tracks.still(t)
    return max(t, end)


def _visitor(
    doing: Doing, tracks: Tracks, golfer: GolferSpec, rng: np.random.Generator, now: float, end: float
) -> None:
    """A second person steps on beside the golfer, moves about, and off again; both press through the same soles."""
    more = doing.visitor_kg / golfer.mass_kg
    half, full = 1.0 + 0.55 * more, 1.0 + more
    tracks.weights.extend([(now + 0.5, half), (now + 1.1, full * 1.03), (now + 1.6, full)])
    tracks.weights.extend([(end - 1.5, full), (end - 0.9, half), (end - 0.3, 1.0)])
    tracks.share.extend([(now + 0.5, float(rng.uniform(0.3, 0.7))), (now + 1.6, float(rng.uniform(0.4, 0.6)))])
    t = now + 1.6
    while t < end - 3.0:
        t += float(rng.uniform(0.8, 1.4))
        tracks.share.to(t, float(rng.uniform(0.3, 0.7)))
    tracks.share.to(end - 0.3, 0.5)


def _mill(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """To and fro without rest, on both axes; the bounds are those of restless people (invented)."""
    t = now
    while t < end - 1.5:
        t += float(rng.uniform(0.4, 1.3))
        tracks.share.to(t, float(rng.uniform(0.33, 0.67)))
        for track in tracks.heel_toe:
            track.to(t, float(rng.uniform(0.38, 0.62)))
    return _back_to_the_middle(tracks, max(t + 0.6, end))


def _settle(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """The weight sinks slowly to the trail side, rests there and comes back in a moment."""
    sunk = now + float(rng.uniform(1.2, 3.0))
    tracks.share.to(sunk, 0.5 - float(rng.uniform(0.10, 0.18)))
    rest = max(sunk + float(rng.uniform(0.2, 1.5)), end - 0.6)
    tracks.share.stay(rest)
    return _back_to_the_middle(tracks, rest + float(rng.uniform(0.25, 0.6)))


def _hop(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """A small jump on the spot; both feet land where they have not stood before."""
    air = float(rng.uniform(0.08, 0.25))
    off, on = now + 0.5, now + 0.5 + air
    tracks.weights.extend([
        (now + 0.15, 0.75), (now + 0.38, 1.6), (off, 0.0), (on, 0.0), (on + 0.08, float(rng.uniform(1.7, 2.4))),
        (on + 0.3, 0.85), (on + 0.6, 1.0),
    ])  # fmt: skip
    tracks.moved += [((off + on) / 2, foot) for foot in (0, 1)]
    return max(end, on + 0.7)


def _rocks(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """From heels to toes and back, slowly, each time a little otherwise."""
    t = now
    while t < end - 5.0:
        for goal in (rng.uniform(0.64, 0.74), rng.uniform(0.50, 0.58), rng.uniform(0.26, 0.36), 0.50):
            t += float(rng.uniform(1.0, 1.8))
            for track in tracks.heel_toe:
                track.to(t, float(goal))
    return _back_to_the_middle(tracks, max(t + 0.6, end))


def _sides(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """From foot to foot, each time half as far, until nothing moves."""
    t, reach, side = now, float(rng.uniform(0.25, 0.35)), 1.0
    while reach > 0.02:
        t += float(rng.uniform(0.8, 1.3))
        tracks.share.to(t, 0.5 + side * reach)
        reach, side = 0.6 * reach, -side
    return _back_to_the_middle(tracks, max(t + 0.6, end))


def _heels(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """One heel is lifted a finger's height, then the other."""
    t = now
    for foot, side in ((0, -1.0), (1, 1.0)):
        tracks.heel_toe[foot].extend([(t + 0.5, 0.82), (t + 0.9, 0.82), (t + 1.4, 0.5)])
        tracks.share.extend([(t + 0.5, 0.5 + side * float(rng.uniform(0.05, 0.15))), (t + 1.4, 0.5)])
        t += 1.6
    return _back_to_the_middle(tracks, max(t + 0.3, end))


def _turn_back(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """Slowly into the trail heel, wait there, and back."""
    there = now + float(rng.uniform(1.0, 1.8))
    wait = there + float(rng.uniform(1.0, 2.0))
    tracks.share.to(there, float(rng.uniform(0.2, 0.32)))
    tracks.share.stay(wait)
    heel = float(rng.uniform(0.34, 0.44))
    tracks.heel_toe[1].extend([(there, heel), (wait, heel)])
    return _back_to_the_middle(tracks, max(wait + float(rng.uniform(1.0, 1.8)), end))


def _pick_up(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """Down for a ball, some time there, and up: over one foot, the other on its toes, or over both."""
    down, dip = float(rng.uniform(0.45, 1.2)), float(rng.uniform(0.02, 0.30))
    there = now + 0.1 + down
    up = max(there + float(rng.uniform(0.3, 2.5)), end - 2.0)
    rise = float(rng.uniform(0.5, 1.2))
    side = float(rng.uniform(-0.42, 0.42))
    for begin, length, first in ((now, down, -1.0), (up, rise, 1.0)):
        tracks.weights.extend([
            (begin + 0.1, 1.0), (begin + 0.1 + 0.3 * length, 1.0 + first * dip),
            (begin + 0.1 + 0.75 * length, 1.0 - first * dip * float(rng.uniform(0.6, 1.2))),
            (begin + 0.1 + 1.15 * length, 1.0),
        ])  # fmt: skip
    tracks.share.extend([(now + 0.1, 0.5), (there, 0.5 + side), (up, 0.5 + side), (up + 0.1 + rise, 0.5)])
    lean = float(rng.uniform(0.50, 0.74))
    light = 1 if side > 0 else 0
    on_toes = float(rng.uniform(0.74, 0.86)) if abs(side) > 0.25 else lean
    for foot, track in enumerate(tracks.heel_toe):
        place = on_toes if foot == light else lean
        track.extend([(now + 0.1, 0.48), (there, place), (up, place), (up + 0.1 + rise, 0.48)])
    return _back_to_the_middle(tracks, up + 0.6 + 1.2 * rise)


def _look_round(tracks: Tracks, rng: np.random.Generator, now: float, end: float) -> float:
    """Turns to somebody: nearly all weight on one foot, the other rolls on its toes, a little force; and back."""
    go, come = float(rng.uniform(0.4, 1.1)), float(rng.uniform(0.4, 1.1))
    back = max(now + 0.1 + go + float(rng.uniform(0.5, 3.0)), end - 1.5)
    side = float(rng.choice([-1.0, 1.0]))
    level = 0.5 + side * float(rng.uniform(0.2, 0.42))
    push = float(rng.uniform(0.0, 0.06))
    for begin, length in ((now + 0.1, go), (back, come)):
        tracks.weights.extend([(begin, 1.0), (begin + 0.5 * length, 1.0 + push), (begin + length, 1.0)])
    tracks.share.extend([(now + 0.1, 0.5), (now + 0.1 + go, level), (back, level), (back + come, 0.5)])
    track = tracks.heel_toe[1 if side > 0 else 0]
    place = 0.48 + float(rng.uniform(0.05, 0.30))
    track.extend([(now + 0.1, 0.48), (now + 0.1 + go, place), (back, place), (back + come, 0.48)])
    return _back_to_the_middle(tracks, back + come + 0.3)


def _back_to_the_middle(tracks: Tracks, when: float) -> float:
    tracks.share.to(when, 0.5)
    for track in tracks.heel_toe:
        track.to(when, 0.48)
    return when


_WIDER = {
    "mill": _mill, "settle": _settle, "hop": _hop, "rocks": _rocks, "sides": _sides, "heels": _heels,
    "turn_back": _turn_back, "pick_up": _pick_up, "look_round": _look_round,
}  # fmt: skip
