"""A bench run on the twin's mat: the film found must beat the typical one at a load that it has never seen."""

import math

import numpy as np
import pytest

from groundtone.calibration.film import UNSEEN_ARCH, Film, ForceMeter
from groundtone.calibration.fitting.fit import film_from_bench
from groundtone.calibration.force_curve import typical_curves
from groundtone.errors import CalibrationError
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import layout_of
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import Bench, MatSpec, Scenario
from groundtone.twin.truth import truth

LAYOUT = layout_of("reference-16x4")
RATE_HZ = 10
# A third of the cells of both panels is enough to judge, and quick. Not the panels' outer columns: a puck that lies
# partly beside the panel loses a part that nothing can measure.
CELLS = tuple((row, column) for column in (1, 5, 6) for row in range(16))


def record(scenario):
    """Time and conductances of a run, through frames as the wire carries them."""
    meter = ConductanceMeter(LAYOUT)
    t_s, conductance = [], []
    for frame in InProcessMat(scenario).frames(RATE_HZ):
        t_s.append(frame.t_us * 1e-6)
        conductance.append(meter.measure(frame))
    return np.array(t_s), np.array(conductance)


@pytest.fixture(scope="module", params=[1, 2, 3])
def calibrated(request):
    """A mat's seed, and what its bench run gave."""
    seed = request.param
    act = Bench(cells=CELLS, seed=seed)
    return seed, film_from_bench(*record(Scenario(MatSpec.reference(seed=seed), act)), act.loads_n)


def fresh_load_errors(seed, film):
    """Relative errors of the loaded cells at loads of 110 N and, after it, 45 N; none of them was on the bench."""
    act = Bench(cells=CELLS[::3], loads_n=(110.0, 45.0), seed=seed + 100, on_s=2.0, repeatability=0.0)
    plan = Scenario(MatSpec.reference(seed=seed), act)
    meter, known = ForceMeter(film), truth(plan)
    force = [meter.force_n(float(t), g) for t, g in zip(*record(plan), strict=True)]
    up, down = [], []
    for place in known.placements:
        middle = round((place.on_s + 0.7) * RATE_HZ)
        measured = np.mean([force[i][place.cell] for i in range(middle - 1, middle + 8)])
        (up if place.load_n == 110.0 else down).append(measured / place.load_n - 1)
    return np.array(up), np.array(down)


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def test_it_beats_the_typical_curve_at_a_fresh_load(calibrated):
    seed, result = calibrated
    up, down = fresh_load_errors(seed, result.film)
    typical_up, typical_down = fresh_load_errors(seed, Film(typical_curves(16, 8)))
    assert rms(up) < 0.035
    assert rms(down) < 0.04
    assert abs(np.mean(up)) < 0.02
    assert rms(typical_up) > 5 * rms(up)
    assert rms(typical_down) > 5 * rms(down)


def test_what_it_says_of_the_film(calibrated):
    _, result = calibrated
    # The twin's film: exponent 0.90 of conductance in force with a saturation of 5 mS, creep 0.03 of conductance a
    # decade, hysteresis 5 % of conductance. In force each is larger by about 1/0.9.
    assert result.film.curves.exponent == pytest.approx(1 / 0.9, abs=0.09)
    assert result.film.creep == pytest.approx(0.03 / 0.9, abs=0.012)
    assert 0.04 < result.film.arch < 0.14
    assert result.placements == 4 * len(CELLS)
    assert 0.002 < result.scatter < 0.03
    others = {(r, c) for r, c in np.ndindex(16, 8)} - set(CELLS)
    assert set(result.missing) == others


def test_creep_and_hysteresis_each_earn_their_place(calibrated):
    seed, result = calibrated
    film = result.film
    up, down = fresh_load_errors(seed, film)
    without_arch = fresh_load_errors(seed, Film(film.curves, film.creep, 0.0))
    assert abs(np.mean(down)) < 0.5 * abs(np.mean(without_arch[1]))
    without_creep = fresh_load_errors(seed, Film(film.curves, 0.0, film.arch))
    assert abs(np.mean(up)) < 0.5 * abs(np.mean(without_creep[0]))


def test_a_run_with_a_forgotten_weight_is_refused():
    act = Bench(cells=CELLS[:4])
    run = record(Scenario(MatSpec.reference(), act))
    with pytest.raises(CalibrationError, match="4 times where 3 weights"):
        film_from_bench(*run, act.loads_n[:3])


def test_a_run_without_unloading_has_the_usual_arch():
    act = Bench(cells=CELLS[:8], loads_n=(20.0, 60.0, 180.0))
    result = film_from_bench(*record(Scenario(MatSpec.reference(), act)), act.loads_n)
    assert result.film.arch == UNSEEN_ARCH
    assert any("a usual loop of hysteresis stands in" in sentence for sentence in result.fit.said)
    assert result.film.creep > 0.01
    assert not math.isnan(result.film.curves.level.sum())
