"""Curves from placements that were made by a known law, with scatter, slipped weights and pucks off their cell."""

import math

import numpy as np
import pytest

from groundtone.calibration.capture import Placement
from groundtone.calibration.fit import fit_curves, robust_deviation
from groundtone.errors import CalibrationError

ROWS, COLUMNS = 16, 8
WEIGHTS = (20.0, 60.0, 180.0, 40.0)


def conductance_for(force, level, exponent, bend):
    """The law turned round: x from ln F = level + exponent x + bend x², the root that continues the straight line."""
    y = np.log(force) - level
    if bend == 0:
        return 100e-6 * np.exp(y / exponent)
    return 100e-6 * np.exp((-exponent + np.sqrt(exponent**2 + 4 * bend * y)) / (2 * bend))


def placements(exponent=1.1, bend=0.03, scatter=0.0, gross=0.0, off=0.0, seed=1, weights=WEIGHTS, cells=None):
    """One of each weight on every cell; `gross` of them slipped to half, up to `off` of the weight beside the cell."""
    rng = np.random.default_rng(seed)
    level = rng.normal(math.log(35.0), 0.25, (ROWS, COLUMNS))
    out = []
    for row, column in cells if cells is not None else np.ndindex(ROWS, COLUMNS):
        for weight in weights:
            force = weight * np.exp(scatter * rng.standard_normal())
            if rng.uniform() < gross:
                force = weight * 0.5
            grid = np.zeros((ROWS, COLUMNS))
            beside = off * rng.uniform()
            next_row = row + 1 if row + 1 < ROWS else row - 1
            grid[row, column] = conductance_for(force * (1 - beside), level[row, column], exponent, bend)
            if beside:
                grid[next_row, column] = conductance_for(force * beside, level[next_row, column], exponent, bend)
            out.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0))
    return out, level


def test_exact_placements_give_the_law_back():
    made, level = placements()
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=1e-3)
    assert fit.curves.bend == pytest.approx(0.03, abs=1e-3)
    # The small pull towards the panel's mean is 0.02 of 4.02 points.
    np.testing.assert_allclose(fit.curves.level - level, 0, atol=0.006 * np.abs(level - level.mean()).max() + 1e-3)
    assert fit.missing == ()
    assert fit.scatter < 0.005
    x = [math.log(p.conductance_s[p.row, p.column] / 100e-6) for p in made]
    assert (fit.curves.x_low, fit.curves.x_high) == pytest.approx((min(x), max(x)))
    assert fit.on_cell_n == pytest.approx([p.force_n for p in made], rel=1e-9)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("bend", [0.0, 0.05, -0.03])
def test_with_five_per_cent_scatter(seed, bend):
    made, level = placements(bend=bend, scatter=0.05, seed=seed)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=0.02)
    assert fit.curves.bend == pytest.approx(bend, abs=0.012)
    # Four points a cell: 0.05 / 2 each, and a little for what is robust.
    assert np.std(fit.curves.level - level) < 0.035
    # Three quarters of the scatter's freedom is left over after a level for each four points.
    assert fit.scatter == pytest.approx(0.05 * math.sqrt(0.75), rel=0.15)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_tenth_of_the_weights_slipped(seed):
    made, level = placements(scatter=0.05, gross=0.10, seed=seed)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=0.03)
    assert fit.curves.bend == pytest.approx(0.03, abs=0.02)
    error = fit.curves.level - level
    assert abs(np.median(error)) < 0.02
    # Two of four slipped on every twentieth cell: there nobody can tell which two. Nine in ten come out well.
    assert np.percentile(np.abs(error), 90) < 0.08
    # Plain least squares a cell would be taken along by a quarter of ln 2 in every third cell.
    plain = np.array(
        [np.mean([math.log(p.force_n) - 1.1 * x - 0.03 * x * x for p in made if (p.row, p.column) == cell
                  for x in [math.log(p.conductance_s[cell] / 100e-6)]]) for cell in np.ndindex(ROWS, COLUMNS)]
    ).reshape(ROWS, COLUMNS) - level  # fmt: skip
    assert np.percentile(np.abs(error), 80) < 0.4 * np.percentile(np.abs(plain), 80)
    assert abs(np.mean(error)) < 0.5 * abs(np.mean(plain))


def test_a_puck_off_its_cell_is_corrected():
    made, level = placements(off=0.3)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=0.01)
    error = fit.curves.level - level
    assert np.abs(error).max() < 0.03
    # Without the neighbours' part every level would be 15 % too high on average.
    on_cell = np.array(fit.on_cell_n) / [p.force_n for p in made]
    assert on_cell.min() == pytest.approx(0.70, abs=0.02)
    assert np.mean(on_cell) == pytest.approx(0.85, abs=0.02)


def test_cells_without_a_placement_are_named_and_take_the_mean():
    cells = [(r, c) for r, c in np.ndindex(ROWS, COLUMNS) if (r, c) not in ((0, 0), (7, 3), (15, 7))]
    made, level = placements(cells=cells)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.missing == ((0, 0), (7, 3), (15, 7))
    known = np.mean([fit.curves.level[cell] for cell in cells])
    assert fit.curves.level[7, 3] == pytest.approx(known, abs=1e-12)
    assert fit.curves.level[8, 3] == pytest.approx(level[8, 3], abs=0.02)


def test_two_weights_make_a_straight_line():
    made, _ = placements(bend=0.0, weights=(20.0, 180.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.bend == 0.0
    assert fit.curves.exponent == pytest.approx(1.1, abs=2e-3)


def changed(made, index=3, **change):
    out = list(made)
    values = {**vars(out[index]), **change}
    out[index] = Placement(**values)
    return out


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("few", "only 7 placements"),
        ("zero weight", "zero, negative"),
        ("nan weight", "not a number"),
        ("dead cell", "read nothing"),
        ("nan reading", "read nothing"),
        ("one weight", "about the same"),
        ("falling", "do not belong together"),
    ],
)
def test_useless_placements_are_refused_with_a_remedy(what, says):
    made, _ = placements()
    match what:
        case "few":
            made = made[:7]
        case "zero weight":
            made = changed(made, force_n=0.0)
        case "nan weight":
            made = changed(made, force_n=math.nan)
        case "dead cell":
            made = changed(made, conductance_s=np.zeros((ROWS, COLUMNS)))
        case "nan reading":
            made = changed(made, conductance_s=np.full((ROWS, COLUMNS), np.nan))
        case "one weight":
            made, _ = placements(weights=(50.0, 60.0))
        case "falling":
            made = [Placement(**{**vars(p), "force_n": 1000.0 / p.force_n}) for p in made]
    with pytest.raises(CalibrationError, match=says) as caught:
        fit_curves(made, ROWS, COLUMNS)
    assert ": " in str(caught.value)


def test_robust_deviation_by_hand():
    # Deviations from the median 3 are 2 1 0 1 97: the middle one is 1.
    assert robust_deviation(np.array([1.0, 2.0, 3.0, 4.0, 100.0])) == pytest.approx(1.4826)
    normal = np.random.default_rng(1).normal(0, 0.05, 50000)
    assert robust_deviation(normal) == pytest.approx(0.05, rel=0.02)
