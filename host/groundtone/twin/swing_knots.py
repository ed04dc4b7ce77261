"""A swing as knots in time: what each curve of the golfer goes through, and when the events happen."""

from dataclasses import dataclass

Knots = list[tuple[float, float]]


@dataclass(frozen=True)
class SwingTimes:
    """When the events of one swing happen, s from the film's start.

    `slow` and `waggles` as in the swing's spec; `step_s`: when the trail foot lifts and is back, `lead_step_s` the same
    of the lead foot. `back_change` is how far the lead share went in the backswing, `peak_s` when the vertical force is
    greatest, `walks` whether the golfer walked off after the ball, `loud` the strike's peak (None: drawn).
    """

    style: str
    setup_s: float
    takeaway_s: float
    turn_s: float
    top_s: float
    impact_s: float
    finish_s: float
    end_s: float
    strike: bool
    slow: float = 1.0
    waggles: int = 0
    step_s: tuple[tuple[float, float], ...] = ()
    lead_step_s: tuple[tuple[float, float], ...] = ()
    back_change: float = 0.0
    peak_s: float = 0.0
    walks: bool = False
    loud: float | None = None


@dataclass(frozen=True)
class SwingKnots:
    """Knots (time s, value) of one swing's curves, from takeaway to the return into standing.

    `share` is the lead share, `lead` and `trail` each foot's heel-toe position, `lead_lean` and `trail_lean` its lean,
    `weights` the total vertical force in body weights.
    """

    times: SwingTimes
    share: Knots
    lead: Knots
    trail: Knots
    lead_lean: Knots
    trail_lean: Knots
    weights: Knots
