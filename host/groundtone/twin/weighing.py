"""What a person does to be weighed by the mat: rocks for the standing calibration, or goes through the check."""

import numpy as np

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.footprint import H_MAX, H_MIN
from groundtone.twin.golfer import WEIGHT_GAP_S, WEIGHT_ON_S, Curves
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Check, Standing
from groundtone.twin.tracks import Track, sway

# Turns a second of the standing person's three movements: they meet in ever new ways.
_TO_AND_FRO_HZ, _SIDEWAYS_HZ, _OVER_EDGES_HZ = 0.13, 0.083, 0.21
_FASTER, _BOUNCE = 3.0, 0.08
_STEP_ON_S, _STEP_OFF_S = 2.2, 1.6


def standing_curves(act: Standing) -> Curves:
    """Draw the curves of the standing procedure on its grid.

    Parameters
    ----------
    act : Standing
    """
    rng = np.random.default_rng([act.seed, 25])
    begin = act.empty_s + _STEP_ON_S
    end = begin + act.rock_s
    t = _grid(end + _STEP_OFF_S + 1.5, act.grid_us)
    middle = begin + 0.5 * act.rock_s
    fast = np.clip(np.minimum((t - middle) / 0.5, (middle + act.fast_s - t) / 0.5), 0.0, 1.0)
    phase = np.cumsum(1.0 + (_FASTER - 1.0) * fast) * act.grid_us * 1e-6
    inside = np.clip(np.minimum((t - begin) / 2.0, (end - t) / 2.0), 0.0, 1.0)
    starts = rng.uniform(0.0, 2.0 * np.pi, 3)

    def wave(hertz: float, start: float) -> FloatArray:
        out: FloatArray = np.sin(2.0 * np.pi * hertz * phase + start) * inside * act.sway
        return out

    share, weights, place = _on_and_off(act.empty_s, end, rng)
    share_t = share.at(t) + 0.47 * wave(_SIDEWAYS_HZ, starts[0])
    to_and_fro = wave(_TO_AND_FRO_HZ, starts[1])
    place_t = place.at(t) + np.where(to_and_fro > 0.0, 0.42, 0.29) * to_and_fro
    lean_t = 0.7 * wave(_OVER_EDGES_HZ, starts[2])
    bounce = _BOUNCE * fast * np.sin(2.0 * np.pi * 1.3 * t + starts[0])
    return _curves(
        act, t, share_t, weights.at(t) * (1.0 + bounce), (place_t, place_t), (lean_t, -lean_t), rng,
        step=(act.empty_s, end + _STEP_OFF_S),
    )  # fmt: skip


def check_curves(act: Check) -> Curves:
    """Draw the curves of a check on its grid.

    Parameters
    ----------
    act : Check
    """
    rng = np.random.default_rng([act.seed, 26])
    now = act.empty_s
    weight_s: list[tuple[float, float]] = []
    if act.weight_n > 0.0:
        for _ in range(2):
            weight_s.append((now, now + WEIGHT_ON_S))
            now += WEIGHT_ON_S + WEIGHT_GAP_S
        now += 1.0
    step_on = 0.0 if act.foot_left else now
    rock = now + _STEP_ON_S + act.still_s
    lift = rock + act.rock_s + 1.0
    end = lift + (2.0 * (act.lift_s + 3.0) if act.lifts else 0.0)
    share, weights, place = _on_and_off(now, end, rng)
    if act.foot_left:
        share, weights, place = _on_and_off(0.1, end, rng)
    places = [place, Track(0.2)]
    places[1].knots = list(place.knots)
    for track in places:
        track.knots.pop()
        track.stay(rock)
        part = act.rock_s
        for fraction, value in ((0.2, 0.16), (0.32, 0.17), (0.68, 0.86), (0.8, 0.85), (1.0, 0.45)):
            track.to(rock + fraction * part, value + float(rng.uniform(-0.01, 0.01)))
        track.stay(lift)
    lead_is_left = act.golfer.hand == "right"
    off = share.knots.pop(), share.knots.pop()
    share.stay(lift - 0.5)
    if act.lifts:
        for lifted in (0, 1):  # left, then right
            alone = 1.0 if (lifted == 1) == lead_is_left else 0.0
            down = lift + 1.2 + act.lift_s
            share.extend([(lift + 1.2, alone), (down, alone), (down + 1.2, 0.5)])
            standing = places[0 if alone == 1.0 else 1]
            k = act.lift_s / 4.0
            for step, side in enumerate((-0.8, 1.0, -0.5, 0.5), start=1):
                wander = act.lift_wander * (side + float(rng.uniform(-0.2, 0.2)))
                standing.to(lift + 1.2 + step * k - 0.4 * k, 0.47 + wander)
            standing.to(down + 1.2, 0.45)
            lift = down + 1.8
    for knot in reversed(off):
        share.to(*knot)
    for track in places:
        track.to(end + _STEP_OFF_S + 1.0, 0.4)
    t = _grid(end + _STEP_OFF_S + 1.5, act.grid_us)
    zero = np.zeros(t.size)
    return _curves(
        act, t, share.at(t), weights.at(t), (places[0].at(t), places[1].at(t)), (zero, zero), rng,
        step=(step_on, end + _STEP_OFF_S), weight_s=tuple(weight_s),
    )  # fmt: skip


def _grid(duration_s: float, grid_us: int) -> FloatArray:
    return np.arange(round(duration_s * 1e6 / grid_us) + 1, dtype=np.float64) * (grid_us * 1e-6)


def _on_and_off(on_s: float, end_s: float, rng: np.random.Generator) -> tuple[Track, Track, Track]:
    """Lead share, body weights and place along the soles of one who steps on, stands, and steps off after `end_s`."""
    share, weights, place = Track(0.5), Track(0.0), Track(0.2)
    first = float(rng.integers(2))
    if on_s > 0.3:
        share.to(on_s - 0.2, first)
        weights.to(on_s, 0.0)
        place.to(on_s, 0.2)
    share.extend([(on_s + 1.0, first), (on_s + 1.7, 0.5)])
    weights.extend([(on_s + 0.2, 0.35), (on_s + 0.5, 1.05), (on_s + 0.8, 1.0), (end_s + 0.9, 1.0)])
    weights.extend([(end_s + _STEP_OFF_S, 0.0), (end_s + _STEP_OFF_S + 1.0, 0.0)])
    place.extend([(on_s + 0.8, 0.43), (on_s + _STEP_ON_S, 0.45), (end_s, 0.45)])
    share.extend([(end_s, 0.5), (end_s + 0.8, 1.0)])
    return share, weights, place


def _curves(
    act: Standing | Check,
    t: FloatArray,
    share: FloatArray,
    weights: FloatArray,
    places: tuple[FloatArray, FloatArray],
    leans: tuple[FloatArray, FloatArray],
    rng: np.random.Generator,
    *,
    step: tuple[float, float],
    weight_s: tuple[tuple[float, float], ...] = (),
) -> Curves:
    """Curves with a standing person's sway."""
    share = np.clip(share + sway(t, rng, 0.004) * np.minimum(1.0, 8.0 * share * (1.0 - share)), 0.0, 1.0)
    total = act.golfer.mass_kg * STANDARD_GRAVITY * weights * (1.0 + sway(t, rng, 0.003))
    total[total < 1e-6] = 0.0
    common = sway(t, rng, 0.004)
    at = [np.clip(place + common + sway(t, rng, 0.0025), H_MIN, H_MAX) for place in places]
    lean = [np.clip(value + sway(t, rng, 0.03), -1.0, 1.0) for value in leans]
    force = np.stack([total * share, total * (1.0 - share)], axis=1)
    placement = np.zeros((t.size, 2), dtype=np.intp)
    return Curves(t, force, np.stack(at, axis=1), np.stack(lean, axis=1), placement, (), (), *step, weight_s)
