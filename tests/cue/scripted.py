"""Invented golfers as short scripts: what each foot does in time, and what must be heard of it."""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from groundtone.cue.bands import Bands
from groundtone.cue.rules import CueRules
from groundtone.swing.tracker import SwingTracker

RATE_HZ = 100
NAN = math.nan

# Times of every golfer's swing: takeaway 3.00 s, turn of pressure 3.65, impact 4.00, finish held to 6.50.
TAKEAWAY, TURN, IMPACT = 3.0, 3.65, 4.0


@dataclass(frozen=True)
class Golfer:
    """Knots (time s, value), straight between them; NaN is nobody there.

    `heard` is what must be heard at all, `swings` how many swings must be found. The default golfer is a good one.
    """

    share: tuple = ((0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.26), (IMPACT, 0.78), (4.4, 0.89), (6.5, 0.88), (7.5, 0.5))
    lead: tuple = ((0, 0.53), (TAKEAWAY, 0.53), (TURN, 0.50), (IMPACT, 0.47), (4.3, 0.42), (6.5, 0.43), (7.5, 0.5))
    trail: tuple = ((0, 0.53), (TAKEAWAY, 0.53), (TURN, 0.46), (IMPACT, 0.58), (4.35, 0.87), (6.5, 0.87), (7.5, 0.5))
    strikes: tuple = (IMPACT,)
    bands: Bands = field(default_factory=Bands)
    heard: tuple = ()
    swings: int = 1
    noise: float = 0.0


@dataclass(frozen=True)
class Heard:
    """What came out, frame by frame."""

    t_s: np.ndarray
    toes: np.ndarray
    trail: np.ndarray
    phases: tuple
    swings: tuple

    @property
    def names(self):
        """Which cues sounded at all."""
        both = (("toes", self.toes), ("trail side", self.trail))
        return tuple(name for name, sizes in both if (sizes > 0).any())

    def spans(self, name):
        """Begin and end of each time in which a cue sounded, s."""
        on = np.concatenate([[False], (self.toes if name == "toes" else self.trail) > 0, [False]])
        edge = np.flatnonzero(on[1:] != on[:-1])
        return [(self.t_s[a], self.t_s[b - 1]) for a, b in zip(edge[::2], edge[1::2], strict=True)]


def curve(knots, t):
    times, values = zip(*knots, strict=True)
    return float(np.interp(t, times, values))


def listen(golfer, seed=1):
    """Plays a golfer to tracker and rules, wired as the live engine wires them."""
    rng = np.random.default_rng(seed)
    tracker, rules = SwingTracker(), CueRules(golfer.bands)
    t_s, toes, trail, phases, swings = [], [], [], [], []
    for i in range(round(golfer.share[-1][0] * RATE_HZ) + 1):
        t = i / RATE_HZ
        share, lead, back = (curve(knots, t) for knots in (golfer.share, golfer.lead, golfer.trail))
        overall = share * lead + (1 - share) * back
        share, overall, lead = (v + golfer.noise * rng.standard_normal() for v in (share, overall, lead))
        struck = next((s for s in golfer.strikes if t - 1 / RATE_HZ < s <= t), None)
        tracked = tracker.step(t, share, strike_s=struck)
        swing = tracker.swing
        turn = swing.turn if swing else None
        impact = swing.impact if swing else None
        sizes = rules.sizes_out(
            t,
            tracked.phase,
            share=share,
            overall=overall,
            lead_foot=lead,
            since_turn_s=t - turn.t_s if turn else NAN,
            sure=tracker.sure,
            after_impact=impact is not None and t > impact.t_s,
        )
        t_s.append(t)
        toes.append(sizes.get("toes", 0.0))
        trail.append(sizes.get("trail side", 0.0))
        phases.append(tracked.phase)
        swings += [tracked.ended] if tracked.ended else []
    return Heard(np.array(t_s), np.array(toes), np.array(trail), tuple(phases), tuple(swings))


def set_up(position):
    """Both feet at a position until takeaway, then as the good golfer's."""
    return {
        name: tuple((t, position if t <= TAKEAWAY else value) for t, value in getattr(Golfer(), name))
        for name in ("lead", "trail")
    }


def changed(**knots):
    return replace(Golfer(), **knots)


HANG = ((0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.26), (IMPACT, 0.42), (4.4, 0.50), (6.5, 0.50), (7.5, 0.5))
BACK_AGAIN = (
    (0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.26), (3.85, 0.63), (IMPACT, 0.45), (4.4, 0.50), (6.5, 0.50), (7.5, 0.5),
)  # fmt: skip
NEARLY = (*BACK_AGAIN[:3], (3.85, 0.59), *BACK_AGAIN[4:])
LATE = ((0, 0.52), (TAKEAWAY, 0.52), (TURN, 0.26), (IMPACT, 0.42), (4.2, 0.50), (4.6, 0.80), (6.5, 0.85), (7.5, 0.5))
TOES_AT_IMPACT = ((0, 0.53), (TAKEAWAY, 0.53), (TURN, 0.50), (IMPACT, 0.82), (4.4, 0.82), (4.9, 0.42), (7.5, 0.5))
SILENT = Bands(trail_after_impact=False)

GOLFERS = {
    "a good swing": Golfer(),
    "a good swing that hits no ball": changed(strikes=()),
    "a good swing, noisy readings": changed(noise=0.005),
    "over the toes at setup": changed(**set_up(0.76), heard=("toes",)),
    "over the balls of the feet at setup, and back in the backswing": changed(**set_up(0.70)),
    "far over the heels at setup": changed(**set_up(0.35)),
    "toes in the backswing": changed(
        lead=((0, 0.53), (TAKEAWAY, 0.53), (3.2, 0.75), (TURN, 0.75), (IMPACT, 0.47), (7.5, 0.47)),
        trail=((0, 0.53), (TAKEAWAY, 0.53), (3.2, 0.75), (TURN, 0.75), (IMPACT, 0.58), (7.5, 0.58)), heard=("toes",),
    ),
    "pressure runs to the toes in the downswing": changed(lead=TOES_AT_IMPACT, heard=("toes",)),
    "the lead foot alone, onto its toes in the finish": changed(
        lead=((0, 0.53), (IMPACT, 0.47), (4.6, 0.80), (5.2, 0.80), (5.6, 0.5), (7.5, 0.5)), heard=("toes",),
    ),
    "the trail foot alone, right up on its toes": changed(
        trail=((0, 0.53), (TURN, 0.46), (IMPACT, 0.75), (4.2, 0.95), (6.5, 0.95), (7.5, 0.5)),
    ),
    "a long backswing deep on the trail side": changed(
        share=((0, 0.52), (2.0, 0.52), (2.5, 0.15), (TURN, 0.14), (IMPACT, 0.78), (4.4, 0.89), (6.5, 0.88), (7.5, 0.5)),
    ),
    "hangs on the trail side to the end": changed(share=HANG, heard=("trail side",)),
    "hangs, and hits no ball": changed(share=HANG, strikes=(), heard=("trail side",)),
    "comes across and goes back before impact": changed(share=BACK_AGAIN),
    "comes nearly across and goes back": changed(share=NEARLY, heard=("trail side",)),
    "comes across late": changed(share=LATE, heard=("trail side",)),
    "toes and trail side together": changed(share=HANG, lead=TOES_AT_IMPACT, trail=TOES_AT_IMPACT,
                                            heard=("toes", "trail side")),
    "hangs, but the coach has switched that off after impact": changed(share=HANG, bands=SILENT),
    "only waggles": changed(
        share=((0, 0.52), (2, 0.52), *((2 + 0.3 * i, 0.52 - 0.05 * (i % 2)) for i in range(1, 12)), (7, 0.52)),
        strikes=(), swings=0,
    ),
    "sways far and slowly": changed(
        share=((0, 0.52), (2, 0.52), (3, 0.34), (6, 0.52), (9, 0.52)), lead=((0, 0.5),), trail=((0, 0.5),), strikes=(),
        swings=0,
    ),
    "holds a finish": changed(share=((0, 0.9), (9, 0.9)), lead=((0, 0.43),), trail=((0, 0.88),), strikes=(), swings=0),
    "steps off in the finish": changed(share=(*Golfer().share[:5], (4.9, 0.89), (4.91, NAN), (7, NAN))),
    "steps off while the trail side sounds": changed(
        share=(*HANG[:5], (4.9, 0.5), (4.91, NAN), (7, NAN)), heard=("trail side",),
    ),
    "is not there": changed(share=((0, NAN), (5, NAN)), swings=0),
}  # fmt: skip
