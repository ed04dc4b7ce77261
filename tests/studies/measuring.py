"""A whole session as a calibrated mat measures it, in blocks: for studies over many golfers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.calibration.film import Film, ForceMeter
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.mat.network import conductances
from groundtone.mat.references import References, drivers_from, fractions
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import Rows, Series, joined, rows_of, series_from_rows
from groundtone.review.shoes import SoleForces
from groundtone.review.stated import KeptFrames
from groundtone.swing.doubts import Doubts, doubts_of
from groundtone.twin.loads import GolferLoads
from groundtone.twin.rapid import scans
from groundtone.twin.scenario import Empty, GolferSpec, MatSpec, Scenario, Session
from groundtone.twin.truth import Truth, truth

RATE_HZ = 200.0
_BLOCK = 500


@dataclass(frozen=True)
class Measured:
    """A session, measured and true, with what the program's review takes for the calibration's and shoes' doubt."""

    session: Session
    series: Series
    known: Truth
    doubts: Doubts


@cache
def film_of(mat_seed: int) -> Film:
    """The film of a fresh mat, by its bench calibration."""
    return quick_profile(Scenario(MatSpec.reference(seed=mat_seed), Empty())).film


def measured(mat_seed: int, session: Session, sensor_s: tuple[float, float] = (0.0, 0.003)) -> Measured:
    """A session on a fresh, bench-calibrated mat, shoes learnt and doubts stated as in review (`review.measured`).

    Parameters
    ----------
    mat_seed : int
    session : Session
    sensor_s : (float, float)
        How late the strike sensor hears a strike, drawn evenly (invented: the way of the sound and the threshold).
    """
    scenario = Scenario(MatSpec.reference(seed=mat_seed), session)
    layout = layout_of(scenario.mat.layout)
    heard = _strikes(scenario, sensor_s)
    golfer = session.golfer
    lead = LEFT if golfer.hand == "right" else RIGHT
    stance = Stance(lead=lead, width_mm=golfer.stance_mm, flare_deg=golfer.flare_deg)
    film, kept = film_of(mat_seed), KeptFrames()
    soles = SoleForces(layout, film)
    series = series_from_rows(_rows(scenario, film, soles, kept), layout, stance, strikes=heard)
    stated = kept.stated(layout, film, soles.stands, lead)
    return Measured(
        session, series, truth(scenario), replace(doubts_of(film, layout).with_left(soles.left), stated=stated)
    )


def _rows(scenario: Scenario, film: Film, soles: SoleForces, kept: KeptFrames) -> Rows:
    layout = layout_of(scenario.mat.layout)
    waiting: list[NDArray[np.float64]] = []
    blocks: list[Rows] = []

    def ready(force: NDArray[np.float64]) -> None:
        # Frames come when their stand's shoes are learnt, in order.
        times = np.concatenate(waiting)
        waiting[:] = [times[len(force) :]]
        if len(force):
            blocks.append(rows_of(times[: len(force)], force, layout))
            kept.take(times[: len(force)], force)

    for t_s, film_n in forces(scenario, film, RATE_HZ):
        waiting.append(t_s)
        ready(soles.take(t_s, film_n))
    ready(soles.end())
    return joined(blocks, sum(block.t_s.size for block in blocks))


def forces(scenario: Scenario, film: Film, rate_hz: float) -> Iterator[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """What the film's curves say of a whole act, in blocks: times, s, and forces of the cells, N."""
    layout = layout_of(scenario.mat.layout)
    got = scans(scenario, rate_hz)
    zero, supply, high, low = (float(np.mean(v)) for v in (got.zero, got.supply, got.tap_high, got.tap_low))
    references = References(zero, supply, high, low, even=1, odd=1)
    t_s: NDArray[np.float64] = np.asarray(got.t_us, np.float64) * 1e-6
    first, _ = conductances(fractions(got.cells[:50], references), layout.nominal_drivers(), tolerance=1e-6)
    drivers = drivers_from(references, layout, first.mean(axis=0))
    meter = ForceMeter(film, layout.pitch_mm)
    for begin in range(0, t_s.size, _BLOCK):
        cut = slice(begin, begin + _BLOCK)
        cells, _ = conductances(fractions(got.cells[cut], references), drivers, tolerance=1e-6)
        yield t_s[cut], meter.forces_n(t_s[cut], cells)


def _strikes(scenario: Scenario, sensor_s: tuple[float, float]) -> list[tuple[float, float]]:
    loads = GolferLoads(scenario.mat, scenario.act)  # type: ignore[arg-type]
    assert isinstance(scenario.act, Session)
    rng = np.random.default_rng([scenario.act.seed, 77])
    return [(t + float(rng.uniform(*sensor_s)), peak) for t, peak in loads.curves.strikes]


def draw_golfer(rng: np.random.Generator) -> GolferSpec:
    """An invented golfer of either hand, 25 to 130 kg, feet together to 700 mm, flared up to 30 degrees."""
    mass = float(np.exp(rng.uniform(np.log(25.0), np.log(130.0))))
    shoe = float(np.clip(205.0 + 0.95 * (mass - 25.0) + rng.uniform(-12.0, 12.0), 195.0, 318.0))
    return GolferSpec(
        hand="right" if rng.random() < 0.5 else "left",
        mass_kg=mass,
        shoe_mm=shoe,
        flare_deg=(float(rng.uniform(0, 30)), float(rng.uniform(0, 30))),
        stance_mm=float(rng.uniform(145, 700)),
        sole=("plain", "studded", "soft")[int(rng.integers(3))],
    )
