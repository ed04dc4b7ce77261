"""Simulated mats and what a calibration makes of them, in blocks: the working part of the calibration studies."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.checking.check_result import CheckResult
from groundtone.calibration.checking.check_steps import CheckRun
from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.film_memory import step_response
from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.calibration.fitting.gain_memory import TELLS_S
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.guided.lying import binned
from groundtone.calibration.shoes.body_weight import Gains
from groundtone.calibration.shoes.postures import Postures, SteadyFrames
from groundtone.calibration.shoes.shoe import ShoeResult, above_empty, shoe_from, soles_from
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.mat.hum import Hum
from groundtone.mat.layout import Layout, layout_of
from groundtone.mat.network import conductances
from groundtone.mat.references import References, above_end, drivers_from
from groundtone.pressure.feet import Stance, centres
from groundtone.twin.bench import placements as twin_placements
from groundtone.twin.film import Film as TwinFilm
from groundtone.twin.rapid import Scans, scans
from groundtone.twin.scenario import Act, Bench, GolferSpec, MatSpec, Put, Scenario, Session, SwingSpec
from groundtone.twin.truth import Truth, truth

Array = NDArray[np.float64]

RATE_HZ = 100.0
BENCH_RATE_HZ = 22.0
CHECK_RATE_HZ = 50.0
"""As the command asks the mat for frames."""
FIGURES = ("foot %", "share", "along mm", "between mm")


def golfer_of(seed: int) -> GolferSpec:
    """One of four invented golfers, 30 to 110 kg, both hands and three kinds of shoe in turn."""
    mass, shoe, stance = ((30.0, 215.0, 300.0), (50.0, 245.0, 350.0), (75.0, 285.0, 400.0), (110.0, 310.0, 450.0))[
        seed % 4
    ]
    hand = "right" if seed // 4 % 2 == 0 else "left"
    sole = ("plain", "studded", "soft")[seed % 3]
    return GolferSpec(hand=hand, mass_kg=mass, shoe_mm=shoe, stance_mm=stance, sole=sole)


def conductance_of(run: Scans, layout: Layout) -> Array:
    """Conductances of a run that begins on an empty mat, (n, rows, columns), S."""
    quiet = slice(0, 60)
    zero, supply, high, low = (float(v[quiet].mean()) for v in (run.zero, run.supply, run.tap_high, run.tap_low))
    references = References(zero, supply, high, low, 30, 30)
    drivers = drivers_from(references, layout, np.zeros((layout.rows, layout.columns)))
    hum = Hum()
    reading = []
    for seq, t_us in enumerate(run.t_us.tolist()):
        above = above_end(run.cells[seq], seq, float(run.supply[seq]), references)
        reading.append(hum.without(above[0], t_us, *above[1:]))
    found, _ = conductances(np.stack(reading), drivers, tolerance=1e-6)
    return found


def typical_film(mat: MatSpec) -> Film:
    """What doing nothing means: the true typical curve, creep and loop of the film, as if a data sheet told them."""
    plain = replace(mat, gain_sigma=0.0, exponent_sigma=0.0, dead_cells=(), shorted_cells=(), noisy_cells=())
    force = np.geomspace(0.5, 400.0, 80)
    # One second after loading, on the way up: where the twin's curve is defined.
    film = TwinFilm(replace(plain, hysteresis=0.0, creep_per_decade=0.0), 0.01)
    cells = np.repeat(force[:, None, None], mat.rows, 1) * np.ones((1, 1, mat.columns))
    x = np.log(film.step(cells)[:, 0, 0] / 100e-6)
    bend, exponent, level = np.polyfit(x, np.log(force), 2)
    # The host takes creep out from the first moment on; at one second the film has crept by so much.
    level += math.log(step_response(mat.creep_per_decade, 1.0))
    curves = Curves(np.full((mat.rows, mat.columns), level), exponent, bend, float(x[0]), float(x[-1]))
    return Film(curves, mat.creep_per_decade, 0.075)


# Every cell once at the middle weight; a dozen cells at five loads up, and from the highest down to the middle one.
LOADS_N = (20.0, 40.0, 60.0, 120.0, 200.0)


def bench_act(mat: MatSpec, seed: int) -> Bench:
    """A bench run of 200 placements: 27 minutes at 8 s each, shortened to 1.4 s each on the twin."""
    cells = [(row, column) for column in range(mat.columns) for row in range(mat.rows)]
    plan = [Put(cell, LOADS_N[2]) for cell in cells]
    # Load by load over the dozen, so that each cell rests in between: the run is shortened, the film's memory is not.
    dozen = cells[3 :: len(cells) // 12][:12]
    plan += [Put(cell, load) for load in LOADS_N[:-1] for cell in dozen]
    for cell in dozen:
        plan += [Put(cell, LOADS_N[-1]), Put(cell, LOADS_N[2], stay=True)]
    return Bench(seed=seed, plan=tuple(plan))


def bench_placements(mat: MatSpec, seed: int, act: Bench | None = None) -> list[Placement]:
    """The placements of a bench run on a mat, as the capture reads them."""
    layout = layout_of(mat.layout)
    act = act if act is not None else bench_act(mat, seed)
    run = scans(Scenario(mat, act), BENCH_RATE_HZ)
    conductance = conductance_of(run, layout)
    t_s = run.t_us * 1e-6
    found = []
    peak_n, peak_s = math.nan, 1.0
    before = None
    puts = twin_placements(mat, act)
    for put, after in zip(puts, [*puts[1:], None], strict=True):
        falling = before is not None and put.on_s == before.off_s
        if falling and before is not None:
            peak_n = before.load_n if math.isnan(peak_n) else peak_n
        else:
            peak_n, peak_s = math.nan, act.on_s
        start = put.on_s + put.hand_s
        # What lies on is read when it has lain as long as the others.
        read_s = min(put.off_s, put.on_s + act.on_s) - 0.1
        dwell = np.flatnonzero((t_s > start + 0.42) & (t_s < read_s))
        early = (t_s > start + 0.07) & (t_s < start + 0.27)
        late = (t_s > start + 0.6) & (t_s < read_s)
        cell = (slice(None), *put.cell)
        loaded_s = put.on_s + put.hand_s / 2
        empty = (t_s > put.on_s - 0.16) & (t_s < put.on_s)
        stays = after is not None and after.on_s == put.off_s
        decades = math.log10((t_s[late].mean() - loaded_s) / (t_s[early].mean() - loaded_s))
        drift = math.log(conductance[late][cell].mean() / conductance[early][cell].mean()) / decades
        found.append(
            Placement(
                *put.cell, put.load_n, conductance[dwell].mean(0), slice(int(dwell[0]), int(dwell[-1]) + 1), falling,
                math.nan if falling else drift, mass_u=0.002, peak_n=peak_n, peak_s=peak_s, t_s=put.on_s,
                after_s=float(t_s[dwell].mean()) - loaded_s,
                before_s=None if falling else conductance[empty].mean(0),
                lifted_s=math.nan if stays else put.off_s - put.hand_s / 2,
                grew=_grown(
                    np.asarray(t_s - loaded_s, np.float64), conductance[cell], put.off_s - loaded_s,
                    float(conductance[dwell][cell].mean()),
                ),
            )
        )  # fmt: skip
        before = put
    return found


def _grown(after_s: Array, reading_s: Array, lifted_s: float, taken_s: float) -> tuple[tuple[float, float], ...]:
    """How the reading of what lay for long had grown, as the guide tells it."""
    if lifted_s < TELLS_S:
        return ()
    lies = (after_s > 0) & (after_s < lifted_s - 0.5)
    return binned(after_s[lies], np.log(reading_s[lies] / taken_s), 0.35)


def bench_film(mat: MatSpec, seed: int) -> Film:
    """The film from a bench run on a mat."""
    return film_from_placements(bench_placements(mat, seed), mat.rows, mat.columns).film


@dataclass(frozen=True)
class Played:
    """An act on a mat: what the twin knows and what the board read."""

    mat: MatSpec
    act: Act
    golfer: GolferSpec

    @cached_property
    def layout(self) -> Layout:
        """The mat's."""
        return layout_of(self.mat.layout)

    @cached_property
    def run(self) -> Scans:
        """The scans."""
        return scans(Scenario(self.mat, self.act), RATE_HZ)

    @cached_property
    def t_s(self) -> Array:
        """Time of each scan, s."""
        out: Array = np.asarray(self.run.t_us * 1e-6, np.float64)
        return out

    @cached_property
    def conductance_s(self) -> Array:
        """Conductances, (n, rows, columns), S."""
        return conductance_of(self.run, self.layout)

    @cached_property
    def known(self) -> Truth:
        """The truth."""
        return truth(Scenario(self.mat, self.act))

    @cached_property
    def rows(self) -> NDArray[np.intp]:
        """Row of the truth of each scan."""
        return np.array([self.known.index(int(t)) for t in self.run.t_us])

    @property
    def stance(self) -> Stance:
        """As the golfer stands."""
        lead = 0 if self.golfer.hand == "right" else 1
        return Stance(lead, self.golfer.stance_mm, 0.0, self.golfer.flare_deg)

    @property
    def weight_n(self) -> float:
        """The golfer's weight."""
        return self.golfer.mass_kg * STANDARD_GRAVITY

    def forces(self, film: Film) -> Array:
        """Forces by a film's curves, (n, rows, columns), N."""
        pitch_mm = (self.layout.row_pitch_mm, self.layout.column_pitch_mm)
        return ForceMeter(film, pitch_mm).forces_n(self.t_s, self.conductance_s)

    def above_empty(self, film: Film) -> Array:
        """The same with the empty mat's reading, of the last second before the golfer steps on, taken off."""
        force = self.forces(film)
        before = (self.t_s < self.known.step_on_s - 0.1) & (self.t_s > self.known.step_on_s - 1.1)
        if not before.any():
            return above_empty(force, np.zeros(force.shape[1:]))
        return above_empty(force, force[before].mean(0), force[before].std(0))

    def measured(self, force_n: Array) -> dict[str, Array]:
        """Errors of each scan, NaN where a foot (or both) carries less than max(30 N, 5 % of the body's weight).

        Every frame from step-on to step-off counts, standing and swinging alike.
        """
        known, rows = self.known, self.rows
        true = known.force_n[rows]
        least = max(30.0, 0.05 * self.weight_n)
        loaded = true >= least
        both = loaded.all(1)
        nan2, nan1 = np.where(loaded, 1.0, np.nan), np.where(both, 1.0, np.nan)
        force, u, v = centres(force_n, self.layout, 1.0)
        x = overall_x(force, u, v, self.stance, self.layout)
        lead = self.stance.lead
        return {
            "foot %": nan2 * (force / np.where(loaded, true, 1.0) - 1.0) * 100.0,
            "share": nan1 * (force[:, lead] / force.sum(1) - known.lead_share[rows]),
            "along mm": nan2 * (u - known.cop_u_mm[rows]),
            "across mm": nan2 * (v - known.cop_v_mm[rows]),
            "between mm": nan1 * (x - known.cop_stance_mm[rows, 0]),
        }


def overall_x(force: Array, u_mm: Array, v_mm: Array, stance: Stance, layout: Layout) -> Array:
    """Overall centre of pressure from trail to lead foot, mm, of a block of frames; force, u and v (n, 2)."""
    x = np.zeros(len(force))
    for panel in (0, 1):
        # A point of a panel goes straight into the stance: three points tell how.
        at = [stance.to_stance(panel, a, b, layout)[0] for a, b in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))]
        x += force[:, panel] * (at[0] + (at[1] - at[0]) * u_mm[:, panel] + (at[2] - at[0]) * v_mm[:, panel])
    out: Array = x / force.sum(1)
    return out


def session_of(seed: int, golfer: GolferSpec, rock: str = "round", swings: int = 2) -> Session:
    """A golfer steps on, rocks, and swings.

    Parameters
    ----------
    seed : int
    golfer : GolferSpec
    rock : str
        "straight": once from heels to toes and back. "round": twice, over one foot to the toes and over the other back,
        then the other way round.
    swings : int
        1 or 2, the second of another style from mat to mat.
    """
    styles = ("good", ("toe_drift", "trail_hang", "slide", "reverse", "heel_drift")[seed % 5])[:swings]
    rocks, sway = (2, 0.35) if rock == "round" else (1, 0.0)
    specs = tuple(SwingSpec(style) for style in styles)
    return Session(golfer, specs, seed=seed, rocks=rocks, rock_share_sway=sway)


def gathered(
    played: Played, force_n: Array, until_s: float, *, across: bool = False, unknown: bool = False
) -> Postures:
    """Postures of a run up to a time; `unknown`: on a film that was never calibrated."""
    steady = SteadyFrames(played.layout.rows, played.layout.columns, across=across, unknown=unknown)
    for i in np.flatnonzero(played.t_s < until_s):
        steady.add(float(played.t_s[i]), force_n[i])
    return steady.postures()


def shoe_of(played: Played, force_n: Array, gains: Gains, *, told: bool = True, told_off: float = 0.0) -> ShoeResult:
    """What stepping on and rocking teach, as the live engine learns it before the first takeaway.

    Parameters
    ----------
    played : Played
    force_n : ndarray, shape (n, rows, columns)
        By the film's curves, the empty mat's reading taken off.
    gains : Gains
        What is believed beforehand.
    told : bool
        Whether the golfer's mass was told.
    told_off : float
        By which part it was told wrong.
    """
    postures = gathered(played, force_n, played.known.swings[0].takeaway_s)
    soles = soles_from(postures.force_n.max(0), played.layout)
    assert soles is not None
    found = shoe_from(gains, postures, soles, played.layout, played.weight_n * (1 + told_off) if told else None)
    assert found is not None
    return found


def checked(played: Played, film: Film, mass_kg: float | None) -> CheckResult:
    """The check's result on a run of the act `Check`."""
    run = CheckRun(played.layout, film, mass_kg=mass_kg)
    every = round(RATE_HZ / CHECK_RATE_HZ)
    for t, conductance in zip(played.t_s[::every], played.conductance_s[::every], strict=True):
        run.step(float(t), conductance)
    return run.result()


def cell_places(stance: Stance, layout: Layout) -> Array:
    """Where each cell lies in the stance frame, (cells, 2), mm."""
    out = [
        stance.to_stance(
            c // layout.columns_per_panel, layout.u_mm[r], layout.v_mm[c % layout.columns_per_panel], layout
        )
        for r in range(layout.rows)
        for c in range(layout.columns)
    ]
    return np.array(out)


def worst_95(errors: dict[str, Array]) -> list[float]:
    """95 % of the frames are nearer to the truth than this, for each of `FIGURES`."""
    return [float(np.nanpercentile(np.abs(errors[name]), 95)) for name in FIGURES]


def limits(golfer: GolferSpec) -> list[float]:
    """What is asked for on an ordinary mat, for each of `FIGURES`."""
    return [6.0, 0.012, 3.0, 0.012 * golfer.stance_mm + 1.0]
