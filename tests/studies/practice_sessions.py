"""Sessions for the study of practice: invented golfers who swing about the bands' edges, and answer with a foot."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from groundtone.engine.live import LiveEngine
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import DOINGS, STYLES, TAPS, Doing, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.taps import Tap
from groundtone.twin.truth import Truth, truth
from studies.measuring import draw_golfer, film_of, forces

MATS = 6
SWINGS = 10
RATES, RATE_PARTS = (50.0, 100.0, 200.0), (0.35, 0.5, 0.15)


@dataclass
class Played:
    """What came out of a session.

    Attributes
    ----------
    known : Truth
    lead : int
    frame_s : float
    taps : tuple of Tap
    sounds : dict
        Cue to its (begin, end), s.
    answers : list of (float, str)
    ticks : int
    """

    known: Truth
    lead: int
    frame_s: float
    taps: tuple[Tap, ...]
    sounds: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    answers: list[tuple[float, str]] = field(default_factory=list)
    ticks: int = 0


def draw_swing(rng: np.random.Generator, slow: bool) -> SwingSpec:
    """A swing inside the bands, at their edge, or beyond."""
    what = rng.choice(["good", "toes", "hang", "late", "setup", "style"], p=[0.20, 0.25, 0.15, 0.10, 0.15, 0.15])
    more: dict[str, Any] = {"slow": float(rng.uniform(2.0, 4.0)), "strike": False} if slow else {}
    if what == "toes":
        return SwingSpec(down_heel_toe=float(rng.uniform(0.52, 0.84)), **more)
    if what == "hang":
        return SwingSpec("trail_hang", impact_share=float(rng.uniform(0.35, 0.5)), **more)
    if what == "late":
        return SwingSpec(impact_share=float(rng.uniform(0.5, 0.8)), **more)
    if what == "setup":
        return SwingSpec(setup_heel_toe=float(rng.uniform(0.52, 0.80)), **more)
    return SwingSpec("good" if what == "good" else STYLES[int(rng.integers(len(STYLES)))], **more)


def draw_doing(rng: np.random.Generator, before: int) -> Doing:
    """What a golfer does after a swing who answers nothing; who walks off rocks again, for else nothing is heard."""
    kind = str(rng.choice([name for name in DOINGS if name != "visitor"]))
    return Doing(kind, float(rng.uniform(2.0, 5.0)), before, rock=True)


def draw_session(seed: int, *, taps: bool, slow: bool = False) -> Session:
    """A session of ten swings; with `taps` one after each."""
    rng = np.random.default_rng([seed, 41 if taps else 43 if slow else 42])
    swings = tuple(draw_swing(rng, slow) for _ in range(SWINGS))
    doings: list[Doing] = []
    for k in range(1, SWINGS + 1):
        if taps:
            doings.append(Doing("tap", float(rng.uniform(0.1, 2.5)), k, place=TAPS[int(rng.integers(len(TAPS)))]))
        elif rng.random() < 0.6:
            doings.append(draw_doing(rng, k))
    return Session(draw_golfer(rng), swings, seed=seed, setup_s=float(rng.uniform(1.2, 2.0)), doings=tuple(doings))


def play(seed: int, session: Session) -> Played:
    """A session on a fresh, bench-calibrated mat through the live engine, at one of three frame rates.

    Every second golfer has a strike sensor. Everything but the way from counts to forces is the live code, frame by
    frame; that part is the same algebra in blocks (`record.analyse`).
    """
    rng = np.random.default_rng([seed, 44])
    scenario = Scenario(MatSpec.reference(seed=seed % MATS), session)
    film, rate_hz = film_of(seed % MATS), float(rng.choice(RATES, p=RATE_PARTS))
    golfer = session.golfer
    lead = LEFT if golfer.hand == "right" else RIGHT
    curves = GolferLoads(scenario.mat, session).curves
    strikes = [t for t, _ in curves.strikes] if seed % 2 else []
    engine = LiveEngine(layout_of(scenario.mat.layout), film, Stance(lead, golfer.stance_mm, 0.0, golfer.flare_deg))
    out = Played(truth(scenario), lead, 1.0 / rate_hz, curves.taps)
    sounding: dict[str, float] = {}
    last_s = -1.0
    for times, block in forces(scenario, film, rate_hz):
        for t_s, force in zip(times.tolist(), block, strict=True):
            struck = next((at for at in strikes if last_s < at <= t_s), None)
            last_s = t_s
            live = engine.take_forces(t_s, force, struck)
            out.ticks += "tick" in live.signals
            if live.answer is not None:
                out.answers.append((t_s, live.answer))
            for name in live.sizes:
                sounding.setdefault(name, t_s)
            for name in set(sounding) - set(live.sizes):
                out.sounds.setdefault(name, []).append((sounding.pop(name), t_s))
    return out
