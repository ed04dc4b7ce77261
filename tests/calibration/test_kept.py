"""Which part of the creep stays after lifting: told by lifts on films of either kind, and taken out accordingly."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.calibration.test_profile import PROFILE

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.film_memory import kept_part, step_response
from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.calibration.fitting.gain_memory import GainMemory
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.profile import profile_from_text, profile_text
from groundtone.calibration.uncertainty import budget_of
from groundtone.mat.layout import layout_of
from groundtone.twin.film import Film as TwinFilm
from groundtone.twin.scenario import MatSpec

DT_S = 0.02
SHAPE = (16, 8)
LOADS_N = (20.0, 60.0, 150.0)


def readings(mat, force_n):
    """The twin's film under forces, (n, 16, 8), noise of 0.15 uS added."""
    rng = np.random.default_rng(5)
    out = TwinFilm(mat, DT_S).step(force_n)
    return out + 0.15e-6 * rng.standard_normal(out.shape)


def bench(mat):
    """A weight after the other on 24 cells, 1.4 s each, lifted for a second: placements as they are read."""
    cells = [(r, c) for c in (1, 2, 5) for r in range(1, 16, 2)]
    plan, t = [], 1.0
    for load in LOADS_N:
        for cell in cells:
            plan.append((cell, load, t))
            t += 2.4
    force = np.zeros((round((t + 1) / DT_S), *SHAPE))
    for cell, load, at in plan:
        force[round(at / DT_S) : round((at + 1.4) / DT_S), *cell] = load
    g = readings(mat, force)
    time = np.arange(len(g)) * DT_S

    def mean(low, high):
        return g[(time >= low) & (time < high)].mean(0)

    out = []
    for cell, load, at in plan:
        early, late = mean(at + 0.15, at + 0.35)[cell], mean(at + 0.7, at + 1.0)[cell]
        drift = math.log(late / early) / math.log10(0.85 / 0.25)
        out.append(
            Placement(*cell, load, mean(at + 0.45, at + 0.95), slice(0, 1), False, drift, t_s=at,
                      before_s=mean(at - 0.2, at - 0.03), lifted_s=at + 1.4)
        )  # fmt: skip
    return out


def film(kept, creep=0.12):
    return MatSpec.reference(creep_per_decade=creep, creep_kept=kept, hysteresis=0.0, exponent_sigma=0.0)


@pytest.mark.parametrize("kept", [0.0, 0.5, 1.0])
def test_lifts_tell_the_kind_and_the_size(kept):
    result = film_from_placements(bench(film(kept)), *SHAPE)
    assert result.film.kept == pytest.approx(kept, abs=0.15)
    # (1 + 2.3 s) / (1 + 1.3 s) = 1.12 for the growth from one second to ten: s is a sixth.
    assert result.film.creep / result.film.curves.exponent == pytest.approx(0.155, abs=0.03)


@pytest.mark.parametrize("kept", [0.0, 0.5, 1.0])
def test_what_is_taken_out_live_gives_the_force_back_and_nothing_after_a_lift(kept):
    """Half a minute of standing, and a lift: within 2 %, and never below nothing by more than the noise."""
    mat = film(kept)
    found = film_from_placements(bench(mat), *SHAPE).film
    force = np.zeros((2250, *SHAPE))
    force[100:1600, 3:13:2, 1] = 100.0
    force[700:900, 3:13:2, 1] = 40.0
    g, t = readings(mat, force), np.arange(2250) * DT_S
    meter = ForceMeter(found)
    one = np.stack([meter.force_n(float(a), b) for a, b in zip(t[:900], g[:900], strict=True)])
    block = np.concatenate([one, meter.forces_n(t[900:], g[900:])])
    np.testing.assert_allclose(ForceMeter(found).forces_n(t, g), block, atol=1e-9)
    cells = block[:, 3:13:2, 1]
    assert cells[150:690].mean() == pytest.approx(100.0, rel=0.02)
    assert cells[1400:1600].mean() == pytest.approx(100.0, rel=0.02)
    after = cells[1610:1700].mean(0)
    assert after.min() > -0.3
    wrong = ForceMeter(replace(found, kept=0.0 if kept > 0 else 1.0)).forces_n(t, g)[1610:1620, 3:13:2, 1]
    # Taken for the other kind it would still carry something, or lie at the floor below which nothing is taken off.
    assert wrong.mean() > 1.0 if kept > 0 else -0.3 < wrong.mean() < -0.08


def test_a_run_without_lifts_is_read_as_ever_and_an_unclear_one_compensates_nothing():
    seen = bench(film(0.0))
    blind = [replace(p, lifted_s=math.nan) for p in seen]
    assert film_from_placements(blind, *SHAPE).film.kept == 1.0
    rng = np.random.default_rng(1)
    unclear = [replace(p, before_s=p.before_s + 2e-5 * rng.standard_normal(SHAPE)) for p in seen]
    assert kept_part(unclear, 0.155)[1] > 0.2
    found = film_from_placements(unclear, *SHAPE).film
    assert math.isnan(found.kept)
    grid = np.full((2, *SHAPE), 1e-4)
    plain = found.curves.force_n(grid[0])
    held = ForceMeter(replace(found, arch=0.0))
    np.testing.assert_allclose(held.forces_n(np.array([0.0, 30.0]), grid)[1], plain)
    force = np.full((1, *SHAPE), 10.0)
    layout = layout_of("reference-16x4")
    doubt = [budget_of(layout, f).of(force).force_n[0, 0] for f in (replace(found, kept=0.0), found)]
    assert doubt[1] > 2 * doubt[0]


def test_a_gain_grows_while_loaded_and_is_itself_after_a_lift():
    memory = GainMemory(0.1, np.full((1,), 1e-6))
    t = np.array([0.0, 0.5, 1.0, 3.0, 3.5, 4.0, 5.0])
    g = np.array([0.0, 1e-4, 1e-4, np.nan, 1e-4, 0.0, 2e-4])[:, None]
    out = memory.steadies_s(t, g)[:, 0]
    ages = [0.0, 0.5, 1.0, math.nan, 3.5, 0.0, 1.0]
    for value, reading, age in zip(out, g[:, 0], ages, strict=True):
        expected = reading / step_response(0.1, age) if age == age else math.nan
        assert value == pytest.approx(expected, rel=1e-3, nan_ok=True)


def test_a_cells_load_is_found_on_its_own_curve():
    curves = Curves(np.log([[20.0, 80.0]]), 1.1, 0.02, -4.0, 2.0, 5e-3, 1e-7)
    at = curves.conductance_of(1.5)
    np.testing.assert_allclose(curves.force_n(at), 1.5, rtol=2e-3)


@pytest.mark.parametrize("kept", [0.0, 0.4, math.nan])
def test_the_profile_keeps_it(kept):
    text = profile_text(replace(PROFILE, film=replace(PROFILE.film, kept=kept)))
    assert profile_from_text(text, "x").film.kept == pytest.approx(kept, nan_ok=True)


def test_an_old_film_remembers_all_of_it():
    assert Film(Curves(np.zeros((1, 1)), 1.0, 0.0, -1.0, 1.0)).kept == 1.0
