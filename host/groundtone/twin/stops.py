"""Stops in a swing: everything after a moment comes later, and what happens at it is held meanwhile."""

from dataclasses import replace

from groundtone.twin.swing_knots import Knots, SwingKnots, SwingTimes

_EVENTS = ("turn_s", "top_s", "impact_s", "finish_s", "end_s", "peak_s")


def with_stops(swing: SwingKnots, stops: list[tuple[float, float]]) -> SwingKnots:
    """Put stops into a swing.

    Parameters
    ----------
    swing : SwingKnots
    stops : list of (when s, how long s)
        In the swing's own time, without the other stops. An event at a stop happens at its end.
    """
    for when, long in sorted(stops, reverse=True):
        swing = SwingKnots(
            _later(swing.times, when, long),
            *(
                _held(knots, when, long)
                for knots in (
                    swing.share, swing.lead, swing.trail, swing.lead_lean, swing.trail_lean, swing.weights,
                )
            ),
        )  # fmt: skip
    return swing


def _later(at: SwingTimes, when: float, long: float) -> SwingTimes:
    moved = replace(at, **{name: getattr(at, name) + long for name in _EVENTS if getattr(at, name) >= when - 1e-9})
    return replace(moved, step_s=_after(at.step_s, when, long), lead_step_s=_after(at.lead_step_s, when, long))


def _after(steps: tuple[tuple[float, float], ...], when: float, long: float) -> tuple[tuple[float, float], ...]:
    return tuple((off + long, on + long) if off >= when else (off, on) for off, on in steps)


def _held(knots: Knots, when: float, long: float) -> Knots:
    """Knots with a flat part: what the straight line between two knots has at the stop is held."""
    before = [(t, value) for t, value in knots if t < when - 1e-9]
    after = [(t, value) for t, value in knots if t >= when - 1e-9]
    if not before or not after:
        return [(t + long if t >= when - 1e-9 else t, value) for t, value in knots]
    (t0, v0), (t1, v1) = before[-1], after[0]
    level = v0 + (v1 - v0) * (when - t0) / (t1 - t0)
    flat = [(when, level), (when + long, level)]
    rest = [(t + long, value) for t, value in after if t > when + 1e-6]
    return before + flat + rest
