"""What a golfer does who follows the words of a drill: one act for each, with draws of its own.

The words are the program's (its lesson's files); what is acted here is read from them by hand, as a golfer would.
"Half speed" is 1.4 to 1.8 times slower, "slowly" 2.2 to 3.5 times (both invented).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from groundtone.twin.golfer_spec import Doing, GolferSpec, SwingSpec
from groundtone.twin.scenario import Session

HALF, SLOW = (1.4, 1.8), (2.2, 3.5)
TEN_SECONDS = (5.0, 6.0)  # times slower: about ten seconds from start to finish


def drill_session(name: str, golfer: GolferSpec, seed: int, repeats: int = 6) -> Session:
    """A golfer who does a drill so many times.

    Parameters
    ----------
    name : str
        One of `DRILLS`.
    golfer : GolferSpec
    seed : int
    repeats : int

    Raises
    ------
    KeyError
        When no such drill is known.
    """
    rng = np.random.default_rng([seed, 78])
    act = DRILLS[name]
    swings: list[SwingSpec] = []
    doings: list[Doing] = []
    for index in range(repeats):
        swing, before = act(rng, index)
        if swing is not None:
            swings.append(swing)
        doings += [replace(doing, before=len(swings) - (0 if swing is None else 1)) for doing in before]
    narrow = {"feet-together": 150.0, "step-in": 180.0, "turn-into-heel": 220.0}.get(name)
    if narrow is not None:
        golfer = replace(golfer, stance_mm=narrow)
    return Session(golfer, tuple(swings), seed=seed, doings=tuple(doings))


Made = tuple[SwingSpec | None, list[Doing]]


def _between(rng: np.random.Generator, pair: tuple[float, float]) -> float:
    return float(rng.uniform(*pair))


def _half(rng: np.random.Generator, **sizes: object) -> SwingSpec:
    """A half swing at half speed with a ball."""
    plain = SwingSpec(
        slow=_between(rng, HALF), back_change=_between(rng, (-0.26, -0.12)), impact_share=_between(rng, (0.68, 0.84)),
        finish_share=_between(rng, (0.78, 0.92)), peak_weights=_between(rng, (1.2, 1.7)),
        loud=_between(rng, (0.3, 0.8)),
    )  # fmt: skip
    return replace(plain, **sizes)  # type: ignore[arg-type]


def _slowly(rng: np.random.Generator, **sizes: object) -> SwingSpec:
    """A slow swing without a ball, across to the lead foot."""
    plain = SwingSpec(
        slow=_between(rng, SLOW), back_change=_between(rng, (-0.30, -0.16)), impact_share=_between(rng, (0.70, 0.86)),
        strike=False,
    )  # fmt: skip
    return replace(plain, **sizes)  # type: ignore[arg-type]


def _heels_down(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, down_heel_toe=_between(rng, (0.46, 0.58))), []


def _ball_of_foot(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, setup_heel_toe=_between(rng, (0.52, 0.60)), down_heel_toe=_between(rng, (0.48, 0.60))), []


def _step_through(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, walks=True), []


def _over_the_stick(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, impact_share=_between(rng, (0.72, 0.85))), []


def _off_the_card(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, trail_back=_between(rng, (0.30, 0.38)), down_heel_toe=_between(rng, (0.46, 0.56))), []


def _turn_into_heel(rng: np.random.Generator, _: int) -> Made:
    return _slowly(rng, lead_after=_between(rng, (0.34, 0.42))), []


def _even_feet(rng: np.random.Generator, _: int) -> Made:
    return SwingSpec(setup_share=_between(rng, (0.50, 0.55))), [Doing("heels", 4.0)]


def _rock_and_settle(rng: np.random.Generator, _: int) -> Made:
    return SwingSpec(setup_heel_toe=_between(rng, (0.50, 0.60))), [Doing("rocks", 11.0)]


def _back_pocket(rng: np.random.Generator, _: int) -> Made:
    return None, [Doing("turn_back", 6.0)]


def _count_back(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, pause_s=_between(rng, (0.5, 1.1)), turn_lead_ms=_between(rng, (0.0, 60.0))), []


def _hold_it(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, hold_s=_between(rng, (3.2, 4.5)), finish_share=_between(rng, (0.86, 0.95))), []


def _toe_lift(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, hold_s=_between(rng, (2.5, 4.0)), lead_after=_between(rng, (0.34, 0.44))), []


def _slow_rocks(rng: np.random.Generator, _: int) -> Made:
    return None, [Doing("rocks", 11.0)]


def _feet_together(rng: np.random.Generator, _: int) -> Made:
    return _half(
        rng, setup_share=_between(rng, (0.46, 0.54)), back_change=_between(rng, (-0.12, -0.02)),
        impact_share=_between(rng, (0.50, 0.66)), finish_share=_between(rng, (0.55, 0.75)),
        peak_weights=_between(rng, (1.1, 1.4)), hold_s=_between(rng, (2.0, 4.0)),
    ), []  # fmt: skip


def _slow_rehearsal(rng: np.random.Generator, _: int) -> Made:
    return _slowly(rng, slow=_between(rng, TEN_SECONDS), halts=1, backswing_s=0.7), []


def _pause_at_turn(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, pause_s=_between(rng, (0.9, 1.5)), turn_lead_ms=_between(rng, (0.0, 40.0))), []


def _step_in(rng: np.random.Generator, _: int) -> Made:
    return _half(
        rng, setup_share=_between(rng, (0.46, 0.54)), lead_up_s=_between(rng, (0.3, 0.6)),
        impact_share=_between(rng, (0.70, 0.86)), turn_lead_ms=_between(rng, (0.0, 100.0)),
    ), []  # fmt: skip


def _heel_first(rng: np.random.Generator, _: int) -> Made:
    return _slowly(rng, lead_after=_between(rng, (0.34, 0.42))), []


def _side_rocks(rng: np.random.Generator, _: int) -> Made:
    return None, [Doing("sides", 6.0)]


def _trail_press(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, back_change=_between(rng, (-0.28, -0.18)), trail_back=_between(rng, (0.38, 0.46))), []


def _big_toe_back(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, trail_edge=_between(rng, (-0.1, 0.3)), pause_s=_between(rng, (0.8, 1.5))), []


def _flat_finish(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, lead_edge=_between(rng, (-0.3, 0.1)), hold_s=_between(rng, (2.5, 4.0))), []


def _push_then_swing(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, peak_lead_ms=_between(rng, (40.0, 110.0)), peak_weights=_between(rng, (1.3, 1.8))), []


def _lead_heel_down(rng: np.random.Generator, _: int) -> Made:
    return _half(rng, lead_back=_between(rng, (0.44, 0.54))), []


DRILLS: dict[str, Callable[[np.random.Generator, int], Made]] = {
    "heels-down": _heels_down, "ball-of-foot": _ball_of_foot, "step-through": _step_through,
    "turn-into-heel": _turn_into_heel, "even-feet": _even_feet, "rock-and-settle": _rock_and_settle,
    "back-pocket": _back_pocket, "count-back": _count_back, "hold-it": _hold_it, "toe-lift": _toe_lift,
    "slow-rocks": _slow_rocks, "feet-together": _feet_together, "slow-rehearsal": _slow_rehearsal,
    "pause-at-turn": _pause_at_turn, "step-in": _step_in, "heel-first": _heel_first, "side-rocks": _side_rocks,
    "trail-press": _trail_press, "big-toe-back": _big_toe_back, "flat-finish": _flat_finish,
    "over-the-stick": _over_the_stick, "off-the-card": _off_the_card,
    "push-then-swing": _push_then_swing, "lead-heel-down": _lead_heel_down,
}  # fmt: skip
