"""How each style of swing moves the pressure: knots in time for the golfer's curves, with variation from the seed."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from groundtone.twin.scenario import GolferSpec, Session, SwingSpec
from groundtone.twin.stops import with_stops
from groundtone.twin.swing_knots import Knots, SwingKnots, SwingTimes

Draw = Callable[[float, float], float]

FOLLOW_S = 0.45
WAGGLE_S = 1.0
HEIGHT = 1.5  # body weights: the middle of the peaks drawn where none is given
RETURN_S = 1.0


def swing_knots(spec: SwingSpec, session: Session, index: int, setup_s: float) -> SwingKnots:
    """Draw one swing.

    Parameters
    ----------
    spec : SwingSpec
    session : Session
        Gives the golfer, the seed and how long setup and finish are held.
    index : int
        Which swing of the session it is; each draws its own numbers.
    setup_s : float
        When the golfer stands steady in the setup, s.
    """
    rng = np.random.default_rng([session.seed, 21, index])

    # What came later has a source of its own, so that the draws before it stay as they were.
    more = np.random.default_rng([session.seed, 22, index])

    def draw(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    slow = spec.slow
    backswing = slow * _given(spec.backswing_s, draw(0.70, 0.80))
    downswing = slow * _given(spec.downswing_s, draw(0.23, 0.27))
    turn_lead = slow * _given(spec.turn_lead_ms, draw(0.0, 250.0)) / 1000.0
    takeaway = setup_s + session.setup_s + WAGGLE_S * spec.waggles
    top = takeaway + backswing
    turn = max(top - turn_lead, takeaway + 0.1)
    impact = top + downswing
    finish = impact + FOLLOW_S * slow
    hold = _given(spec.hold_s, session.hold_s)
    end = finish + (max(hold, 1.4) if spec.style == "lost_balance" else hold)
    if spec.walks:
        finish, end = impact + 0.5 * slow, impact + 0.7 * slow
    steps: tuple[tuple[float, float], ...] = ()
    if spec.style == "lost_balance":
        steps = ((finish + 0.60, finish + 0.95), (end + 0.15, end + 0.50))
    lead_steps: tuple[tuple[float, float], ...] = ()
    if spec.lead_up_s > 0.0:
        lead_steps = ((max(turn - spec.lead_up_s, takeaway + 0.2), turn),)
    # The peak comes shortly before impact, the least of it near the top (both from memory, the spread invented).
    drawn_peak_s, dip = float(more.uniform(0.0, 0.06)), float(more.uniform(-0.1, 0.3))
    peak = impact - slow * (drawn_peak_s if spec.peak_lead_ms is None else spec.peak_lead_ms / 1000.0)
    times = SwingTimes(
        spec.style, setup_s, takeaway, turn, top, impact, finish, end, spec.strike, slow, spec.waggles, steps,
        lead_steps, 0.0, peak, spec.walks, spec.loud,
    )  # fmt: skip

    share, lead, trail, lead_lean, trail_lean = _shift(spec, session.golfer, times, draw)
    share = _before(spec, session.golfer, times, more) + share
    # Force goes with acceleration: so many times slower takes the square of that from it.
    push = 1.0 / slow**2
    if spec.peak_weights is not None:
        push *= (spec.peak_weights - 1.0) / (HEIGHT - 1.0)
    heights = draw(1.01, 1.04), draw(0.84, 0.90), draw(1.36, 1.64), draw(0.82, 0.90)
    rise, least, most, after = (1.0 + push * (height - 1.0) for height in heights)
    weights = [
        (takeaway, 1.0),
        (takeaway + 0.5 * backswing, rise),
        (top + dip * downswing, least),
        (max(peak, top + dip * downswing + 0.005), most),
        (impact + 0.13 * slow, after),
        (finish, 1.0),
        (end, 1.0),
    ]
    back = dict(share)[turn] - _given(spec.setup_share, session.golfer.setup_share)
    swing = SwingKnots(replace(times, back_change=back), share, lead, trail, lead_lean, trail_lean, weights)
    stops = [(turn, spec.pause_s)] if spec.pause_s > 0.0 else []
    for k in range(spec.halts):
        stops.append((takeaway + (k + 1) / (spec.halts + 1) * (turn - takeaway), float(more.uniform(0.3, 0.8))))
    return with_stops(swing, stops)


def _before(spec: SwingSpec, golfer: GolferSpec, at: SwingTimes, rng: np.random.Generator) -> Knots:
    """Lead share of the waggles and the forward press, all before the takeaway."""
    level = _given(spec.setup_share, golfer.setup_share)
    knots: Knots = []
    for k in range(spec.waggles):
        begin = at.setup_s + 0.4 + WAGGLE_S * k
        out, back = rng.uniform(0.03, 0.06), rng.uniform(-0.03, 0.01)
        knots += [(begin, level), (begin + rng.uniform(0.25, 0.4), level - out)]
        knots += [(begin + rng.uniform(0.55, 0.7), level - back), (begin + 0.9, level)]
    if spec.mill > 0.0:
        when, side = at.setup_s + 0.2, 1.0
        while when < at.takeaway_s - 0.3:
            knots.append((when, level + side * spec.mill * rng.uniform(0.6, 1.0)))
            when, side = when + rng.uniform(0.35, 0.7), -side
    if spec.press > 0.0:
        knots += [(at.takeaway_s - 0.45, level), (at.takeaway_s - 0.25, level + spec.press)]
        knots += [(at.takeaway_s - 0.04, level)]
    return knots


def _given(value: float | None, drawn: float) -> float:
    """A given value, else the drawn one. Both are always drawn, so that giving one leaves the others as they were."""
    return drawn if value is None else value


def _shift(spec: SwingSpec, golfer: GolferSpec, at: SwingTimes, draw: Draw) -> tuple[Knots, Knots, Knots, Knots, Knots]:
    """Lead share, heel-toe positions and leans of one swing."""
    h0 = _given(spec.setup_heel_toe, golfer.setup_heel_toe)
    start = (at.takeaway_s, _given(spec.setup_share, golfer.setup_share))
    least = (at.turn_s, _given(spec.least_share, draw(0.22, 0.30)))
    if spec.back_change is not None:
        least = (at.turn_s, min(max(start[1] + spec.back_change, 0.04), 0.97))
    held, k = at.end_s, at.slow
    down = at.impact_s - at.turn_s
    impact_share = _given(spec.impact_share, draw(0.75, 0.82))
    finish_share = _given(spec.finish_share, draw(0.87, 0.91))
    heel_after = _given(spec.lead_after, draw(0.41, 0.44))
    toes_after = _given(spec.trail_after, draw(0.82, 0.87))
    lead_back, trail_back = _given(spec.lead_back, draw(0.49, 0.52)), _given(spec.trail_back, draw(0.45, 0.47))
    lead_down, trail_down = draw(0.46, 0.49), draw(0.56, 0.61)
    # The path that most schools teach; the styles below change their part of it.
    share = [start, least, (at.impact_s, impact_share), (at.finish_s, finish_share), (held, finish_share - 0.01)]
    lead = [(at.takeaway_s, h0), (at.turn_s, lead_back), (at.impact_s, lead_down), (at.impact_s + 0.3 * k, heel_after)]
    lead += [(held, heel_after + 0.01)]
    trail = [(at.takeaway_s, h0), (at.turn_s, trail_back), (at.impact_s, trail_down)]
    trail += [(at.impact_s + 0.35 * k, toes_after)]
    trail += [(held, toes_after)]
    lead_lean = [(at.takeaway_s, 0.0), (at.turn_s, 0.15), (at.impact_s, -0.1), (at.finish_s, -0.3), (held, -0.3)]
    trail_lean = [(at.takeaway_s, 0.0), (at.turn_s, -0.15), (at.impact_s, 0.3), (at.finish_s, 0.3), (held, 0.3)]

    if spec.trail_edge is not None:
        trail_lean = [trail_lean[0], (at.turn_s, spec.trail_edge), *trail_lean[2:]]
    if spec.lead_edge is not None:
        rolled = [(at.impact_s + 0.12 * k, spec.lead_edge), (at.finish_s, spec.lead_edge), (held, spec.lead_edge)]
        lead_lean = [*lead_lean[:3], *rolled]
    if spec.down_heel_toe is not None:
        stay = at.impact_s + 0.25 * k
        lead = [*lead[:2], (at.impact_s, spec.down_heel_toe), (stay, spec.down_heel_toe)]
        lead += [(at.finish_s + 0.2, heel_after), (held, heel_after)]
        trail = [*trail[:2], (at.impact_s, spec.down_heel_toe), (stay, spec.down_heel_toe)]
        trail += [(at.finish_s + 0.2, toes_after), (held, toes_after)]
    elif spec.style in ("toe_drift", "heel_drift"):
        low, high = (0.80, 0.84) if spec.style == "toe_drift" else (0.215, 0.235)
        out = (draw(low, high), draw(low, high))
        stay, back = at.impact_s + 0.4 * k, at.finish_s + min(0.45, 0.8 * (held - at.finish_s))
        lead = [*lead[:2], (at.impact_s, out[0]), (stay, out[0]), (back, heel_after), (held, heel_after)]
        trail = [*trail[:2], (at.impact_s, out[1]), (stay, out[1]), (back, toes_after), (held, toes_after)]
    elif spec.style == "trail_hang":
        caught = _given(spec.impact_share, draw(0.38, 0.45))
        level = draw(0.475, 0.525)
        share = [start, least, (at.impact_s, caught), (at.finish_s, level)]
        share += [(at.finish_s + min(1.0, 0.7 * (held - at.finish_s)), level)]
        share += [(held, level + 0.08)]
        trail = [*trail[:2], (at.impact_s, 0.50), (at.impact_s + 0.35 * k, 0.58), (held, 0.58)]
    elif spec.style == "slide":
        far = _given(spec.impact_share, draw(0.89, 0.93))
        share = [start, least, (at.impact_s - 0.4 * down, far - 0.02), (at.impact_s, far), (at.finish_s, far)]
        share += [(held, far)]
        lead_lean = [(at.takeaway_s, 0.0), (at.turn_s, 0.2), (at.impact_s - 0.4 * down, -0.8), (held, -0.8)]
        # The lead heel does not take over: the foot is leant on, not turned into.
        flat = _given(spec.lead_after, lead_back + 0.02)
        lead = [*lead[:2], (at.impact_s, lead_back + 0.01), (at.impact_s + 0.3 * k, flat), (held, flat)]
    elif spec.style == "reverse":
        back = _given(spec.impact_share, draw(0.43, 0.47))
        share = [start, least, (at.turn_s + 0.45 * down, draw(0.58, 0.64)), (at.impact_s, back)]
        share += [(at.finish_s, draw(0.74, 0.82)), (held, 0.78)]
        toes = draw(0.61, 0.63)
        lead = [*lead[:2], (at.impact_s, toes - 0.005), (at.finish_s, heel_after), (held, heel_after)]
        trail = [*trail[:2], (at.impact_s, toes + 0.005), (at.finish_s, toes_after), (held, toes_after)]
    elif spec.style == "lost_balance":
        (off, on), (off2, on2) = at.step_s
        f = at.finish_s
        share = [*share[:3], (f, finish_share), (f + 0.25, draw(0.70, 0.76)), (f + 0.45, 0.95), (off, 1.0), (on, 1.0)]
        share += [(on + 0.2, 0.60), (held, 0.66), (off2, 1.0), (on2, 1.0)]
        lead = [*lead[:3], (f, heel_after), (f + 0.2, 0.34), (f + 0.45, 0.64), (on, 0.60), (held, 0.52)]
        trail = [*trail[:3], (f, toes_after), (off, 0.88), (on, 0.75), (held, 0.55)]
    for lift_s, land_s in at.lead_step_s:
        share = [start, (lift_s, 0.0), (land_s, 0.0), *share[2:]]
        lead = [start_of_foot for start_of_foot in lead if start_of_foot[0] < lift_s or start_of_foot[0] > land_s]
        lead = sorted([*lead, (land_s, 0.55)])
    if at.walks:
        share = [*share[:3], (at.impact_s + 0.3 * k, 0.96), (at.finish_s, 1.0), (held, 1.0)]
    return share, lead, trail, lead_lean, trail_lean
