"""Curves from placements that were made by a known law, with scatter, slipped weights and pucks off their cell."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from groundtone.calibration.film import UNSEEN_ARCH
from groundtone.calibration.fitting import fit as fit_module
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.expected import TYPICAL
from groundtone.calibration.fitting.fit import different_loads, film_of, fit_curves
from groundtone.calibration.fitting.forms import SATURATION_S, Form
from groundtone.calibration.fitting.robust import robust_deviation
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
            step = ((1, 0), (-1, 0), (0, 1), (0, -1))[rng.integers(4)] if off else (0, 0)
            there = row + step[0], column + step[1]
            grid[row, column] = conductance_for(force * (1 - beside), level[row, column], exponent, bend)
            # Beside its panel a part is lost.
            if beside and 0 <= there[0] < ROWS and 0 <= there[1] < COLUMNS and there[1] // 4 == column // 4:
                grid[there] = conductance_for(force * beside, level[there], exponent, bend)
            out.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0))
    return out, level


def errors(fit, level, exponent=1.1, bend=0.03, at=(20.0, 40.0, 60.0, 100.0, 180.0)):
    """ln of the force that the curves make of what each load ought to read, over the load: (loads, rows, columns)."""
    out = []
    for force in at:
        reading = [[conductance_for(force, level[cell], exponent, bend) for cell in row] for row in CELL_ROWS]
        out.append(np.log(fit.curves.force_n(np.array(reading)) / force))
    return np.array(out)


CELL_ROWS = [[(row, column) for column in range(COLUMNS)] for row in range(ROWS)]


def test_exact_placements_give_the_law_back():
    made, level = placements()
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.model == "power with bend"
    assert fit.curves.exponent == pytest.approx(1.1, abs=1e-3)
    assert fit.curves.bend == pytest.approx(0.03, abs=1e-3)
    np.testing.assert_allclose(fit.curves.level, level, atol=1e-3)
    assert fit.missing == ()
    assert fit.scatter < 0.005
    x = [math.log(p.conductance_s[p.row, p.column] / 100e-6) for p in made]
    assert (fit.curves.x_low, fit.curves.x_high) == pytest.approx((min(x), max(x)), abs=1e-3)
    assert fit.on_cell_n == pytest.approx([p.force_n for p in made], rel=1e-9)
    assert fit.highest_n == pytest.approx(180.0)
    assert (fit.cell_points == 4).all()
    assert fit.trust.min() > 0.9


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("bend", [0.0, 0.05, -0.03])
def test_with_five_per_cent_scatter(seed, bend):
    made, level = placements(bend=bend, scatter=0.05, seed=seed)
    fit = fit_curves(made, ROWS, COLUMNS)
    error = errors(fit, level, bend=bend)
    # The whole panel: 512 placements of 5 %; the cells: four points each, and a little for what is robust.
    assert np.abs(np.median(error, axis=(1, 2))).max() < 0.012
    assert error.std(axis=(1, 2)).max() < 0.034
    # What it says of itself: a placement scatters by 5 %, a cell is known to half of that.
    np.testing.assert_allclose(fit.repeatability_panel, 0.05, rtol=0.25)
    assert np.median(fit.level_u) == pytest.approx(0.025, rel=0.1)
    assert fit.scatter == pytest.approx(0.05 * math.sqrt(0.75), rel=0.2)
    assert 0.85 < np.std(error[2] / fit.level_u) < 1.3
    assert fit.gain_spread == pytest.approx(0.25, rel=0.15)


def test_cells_with_one_placement_say_nothing_of_how_placements_repeat():
    """Twelve cells under four loads among 116 under one: a single load is met by its cell's level, without an error."""
    ladder = [(row, column) for row in (3, 8, 12) for column in (1, 2, 5, 6)]
    single = [(row, column) for row, column in np.ndindex(ROWS, COLUMNS) if (row, column) not in ladder]
    made, _ = placements(scatter=0.004, bend=0.0, cells=ladder)
    more, _ = placements(scatter=0.004, bend=0.0, seed=2, cells=single, weights=(60.0,))
    fit = fit_curves([*made, *more], ROWS, COLUMNS)
    np.testing.assert_allclose(fit.repeatability_panel, 0.004, rtol=0.35)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_tenth_of_the_weights_slipped(seed):
    made, level = placements(scatter=0.05, gross=0.10, seed=seed)
    fit = fit_curves(made, ROWS, COLUMNS)
    error = errors(fit, level)
    assert np.abs(np.median(error, axis=(1, 2))).max() < 0.02
    # Two of four slipped on every twentieth cell: there nobody can tell which two. Nine in ten come out well.
    assert np.percentile(np.abs(error), 90) < 0.07
    # Plain least squares a cell would be taken along by a quarter of ln 2 in every third cell.
    plain = np.array(
        [np.mean([math.log(p.force_n) - 1.1 * x - 0.03 * x * x for p in made if (p.row, p.column) == cell
                  for x in [math.log(p.conductance_s[cell] / 100e-6)]]) for cell in np.ndindex(ROWS, COLUMNS)]
    ).reshape(ROWS, COLUMNS) - level  # fmt: skip
    assert np.percentile(np.abs(error[2]), 80) < 0.4 * np.percentile(np.abs(plain), 80)
    assert abs(np.mean(error[2])) < 0.5 * abs(np.mean(plain))
    slipped = [p.conductance_s[p.row, p.column] < conductance_for(p.force_n * 0.6, level[p.row, p.column], 1.1, 0.03)
               for p in made]  # fmt: skip
    assert np.mean(fit.trust[slipped] < 0.2) > 0.85
    assert np.mean(fit.trust[~np.array(slipped)] > 0.5) > 0.9


def test_placements_that_contradict_each_other_are_said_and_make_the_cell_unsure():
    made, level = placements(scatter=0.02)
    # On one cell two of four stand for half their weight: nobody can tell which two.
    for i, p in enumerate(made):
        if (p.row, p.column) == (5, 2) and p.force_n in (20.0, 60.0):
            g = p.conductance_s.copy()
            g[5, 2] = conductance_for(p.force_n / 2, level[5, 2], 1.1, 0.03)
            made[i] = Placement(5, 2, p.force_n, g, slice(0, 1), False, 0.0)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert any("row 5, column 2 contradict each other" in sentence for sentence in fit.said)
    error = abs(errors(fit, level)[1, 5, 2])
    assert error < 3 * fit.level_u[5, 2]
    assert fit.level_u[5, 2] > 5 * np.median(fit.level_u)


def test_one_slipped_weight_is_named():
    made, level = placements(scatter=0.02)
    index = next(i for i, p in enumerate(made) if (p.row, p.column, p.force_n) == (9, 5, 60.0))
    g = np.zeros((ROWS, COLUMNS))
    g[9, 5] = conductance_for(42.0, level[9, 5], 1.1, 0.03)
    made[index] = Placement(9, 5, 60.0, g, slice(0, 1), False, 0.0)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert any(sentence.startswith("the 60 N on row 9, column 5 lie -") for sentence in fit.said)
    assert abs(errors(fit, level)[1, 9, 5]) < 0.03
    assert fit.trust[index] < 0.2


def test_a_weight_that_is_not_what_it_says_is_named():
    five = (15.0, 30.0, 60.0, 110.0, 200.0)
    made, _ = placements(scatter=0.02, weights=five)
    wrong = [Placement(**{**vars(p), "force_n": 64.8}) if p.force_n == 60.0 else p for p in made]
    said = fit_curves(wrong, ROWS, COLUMNS).said
    assert any("all placements of 64.8 N" in sentence and "weigh that weight again" in sentence for sentence in said)
    assert not any("weigh that" in sentence for sentence in fit_curves(made, ROWS, COLUMNS).said)


def test_a_puck_off_its_cell_is_corrected():
    made, level = placements(off=0.3)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=0.02)
    error = errors(fit, level)[1]
    inner = np.zeros((ROWS, COLUMNS), bool)
    inner[1:-1, [1, 2, 5, 6]] = True
    assert np.abs(error[inner]).max() < 0.04
    # In the mean 15 % lie beside, and at an edge a quarter of that is lost and not seen: 4 % that are put back.
    on_cell = (np.array(fit.on_cell_n) / [p.force_n for p in made]).reshape(ROWS, COLUMNS, 4)
    assert np.mean(on_cell[inner]) == pytest.approx(0.85, abs=0.02)
    assert abs(np.mean(error[~inner])) < 0.025
    assert np.median(fit.level_u[~inner]) > 1.5 * np.median(fit.level_u[inner])


def test_what_a_neighbour_remembers_of_an_earlier_weight_is_not_the_pucks_part():
    made, level = placements()
    tail = np.zeros((ROWS, COLUMNS))
    for i, p in enumerate(made):
        g, before = p.conductance_s.copy(), tail.copy()
        beside = (p.row + 1 if p.row + 1 < ROWS else p.row - 1), p.column
        before[beside] = g[beside] = 8e-6
        made[i] = Placement(**{**vars(p), "conductance_s": g, "before_s": before})
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.on_cell_n == pytest.approx([p.force_n for p in made], rel=1e-9)
    np.testing.assert_allclose(fit.curves.level, level, atol=2e-3)


def test_cells_without_a_placement_are_named_and_take_their_panels_mean():
    gone = ((0, 0), (7, 3), (15, 7))
    cells = [cell for cell in np.ndindex(ROWS, COLUMNS) if cell not in gone]
    made, level = placements(cells=cells)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.missing == gone
    left = np.mean([level[cell] for cell in cells if cell[1] < 4])
    assert fit.curves.level[7, 3] == pytest.approx(left, abs=2e-3)
    assert fit.curves.level[0, 0] == fit.curves.level[7, 3] != fit.curves.level[15, 7]
    assert fit.curves.level[8, 3] == pytest.approx(level[8, 3], abs=2e-3)
    # What is not known of them is how far cells differ.
    assert fit.level_u[7, 3] == pytest.approx(0.25, rel=0.2)
    assert fit.level_u[8, 3] < 0.01
    assert any("3 cells have no placement (first: row 0, column 0)" in sentence for sentence in fit.said)


def test_a_panel_without_any_placement_takes_the_others_mean():
    cells = [cell for cell in np.ndindex(ROWS, COLUMNS) if cell[1] < 4]
    made, level = placements(cells=cells)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert len(fit.missing) == 64
    assert fit.curves.level[3, 6] == pytest.approx(np.mean([level[cell] for cell in cells]), abs=0.01)
    assert fit.level_u[3, 6] > 0.2


def test_any_order_repeats_and_unequal_numbers():
    made, level = placements(scatter=0.03)
    rng = np.random.default_rng(7)
    # Some cells twice, some with a single weight, in no order.
    some = [p for p in made if (p.row * 8 + p.column) % 5 or p.force_n == 60.0]
    some += [p for p in made if (p.row * 8 + p.column) % 7 == 0]
    order = rng.permutation(len(some))
    fit = fit_curves(some, ROWS, COLUMNS)
    other = fit_curves([some[i] for i in order], ROWS, COLUMNS)
    np.testing.assert_allclose(other.curves.level, fit.curves.level, atol=1e-5)
    np.testing.assert_allclose(other.residual, fit.residual[order], atol=1e-5)
    singles = fit.cell_points == 1
    assert singles.sum() > 15
    # A cell of one point is unsure by that point's scatter, drawn a little towards its panel.
    np.testing.assert_allclose(fit.level_u[singles], 0.03, rtol=0.25)
    assert np.std(errors(fit, level)[2][singles]) == pytest.approx(0.03, rel=0.45)
    few = np.median(fit.level_u[fit.cell_points == 8])
    assert few == pytest.approx(0.03 / math.sqrt(8), rel=0.25)


def test_shrinkage_helps_where_cells_are_alike_and_points_poor():
    """Gains within 5 %, one placement of 20 % scatter each: the panel knows more of a cell than its own point does."""
    rng = np.random.default_rng(3)
    level = rng.normal(math.log(35.0), 0.05, (ROWS, COLUMNS))
    made = []
    for row, column in np.ndindex(ROWS, COLUMNS):
        weight = (20.0, 60.0, 180.0, 40.0)[(row + column) % 4]
        for _ in range(4 if (row + column) % 8 == 0 else 1):
            grid = np.zeros((ROWS, COLUMNS))
            force = weight * np.exp(0.2 * rng.standard_normal())
            grid[row, column] = conductance_for(force, level[row, column], 1.1, 0.0)
            made.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    alone = fit.cell_points == 1
    own = np.array([math.log(p.force_n) - 1.1 * math.log(p.conductance_s[p.row, p.column] / 100e-6) for p in made])
    one = np.array([(p.row + p.column) % 8 != 0 for p in made])
    plain = own[one] - np.array([level[p.row, p.column] for p in made])[one]
    assert np.std((fit.curves.level - level)[alone]) < 0.5 * np.std(plain)


def test_two_weights_leave_the_bend_and_the_saturation_to_their_priors():
    made, level = placements(bend=0.0, weights=(20.0, 180.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.bend == 0.0
    assert fit.curves.saturation_s == pytest.approx(5e-3)
    assert any("saturation was not fitted" in s and "2 different" in s and "prior" in s for s in fit.said)
    # At the two weights it must be right whatever stands in, and its doubt grows away from them.
    error = errors(fit, level, bend=0.0, at=(20.0, 60.0, 180.0))
    assert np.percentile(np.abs(error), 90) < 0.03
    assert math.sqrt(fit.shape_cov[1, 1]) > 0.03


def test_one_weight_leaves_the_exponent_to_its_prior():
    made, level = placements(bend=0.0, scatter=0.03, weights=(50.0, 50.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.curves.exponent == pytest.approx(1.1, abs=0.1)
    assert any("all weights are about the same" in sentence for sentence in fit.said)
    assert np.abs(errors(fit, level, bend=0.0, at=(50.0,))).max() < 0.08
    assert math.sqrt(fit.shape_cov[0, 0]) > 0.05


def saturated(scatter, weights, saturation=4e-3, offset=0.0, seed=1):
    """Placements by a law of saturation and offset."""
    rng = np.random.default_rng(seed)
    level = rng.normal(math.log(35.0), 0.25, (ROWS, COLUMNS))
    out = []
    for row, column in np.ndindex(ROWS, COLUMNS):
        for weight in weights:
            free = 100e-6 * math.exp((math.log(weight) + scatter * rng.standard_normal() - level[row, column]) / 1.1)
            grid = np.full((ROWS, COLUMNS), offset)
            grid[row, column] = free / (1 + free / saturation) + offset
            out.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0, before_s=np.full((16, 8), offset)))
    return out, level


def test_a_saturation_is_found_where_four_loads_span_it():
    made, _ = saturated(0.02, (15.0, 40.0, 100.0, 250.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.model == "power with saturation"
    assert fit.curves.saturation_s == pytest.approx(4e-3, rel=0.15)
    assert fit.scores["power"] > 1.1 * fit.scores["power with saturation"]
    assert set(fit.scores) == {
        "power", "power with saturation", "power with saturation by gain", "power with bend", "power with offset",
        "power with bend and offset",
    }  # fmt: skip
    three, _ = saturated(0.02, (15.0, 100.0, 250.0))
    assert set(fit_curves(three, ROWS, COLUMNS).scores) == {"power", "power with bend"}
    narrow, _ = saturated(0.02, (60.0, 80.0, 110.0, 150.0))
    assert fit_curves(narrow, ROWS, COLUMNS).curves.saturation_s == pytest.approx(5e-3)


def test_an_offset_is_found_where_there_is_one():
    made, _ = saturated(0.005, (5.0, 15.0, 50.0, 150.0), saturation=1e3, offset=1.5e-6)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.model == "power with offset"
    assert fit.curves.offset_s == pytest.approx(1.5e-6, rel=0.2)


def test_the_plain_power_wins_where_nothing_more_is_asked_for():
    made, _ = placements(bend=0.0, scatter=0.03, seed=5)
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.model == "power"
    assert fit.scores["power"] == pytest.approx(0.03 * math.sqrt(4 / 3), rel=0.12)


def test_the_score_is_that_of_fits_without_the_placement():
    """Thirty-two placements, each left out in turn and predicted by a fit to the others, against the closed form."""
    made, _ = placements(bend=0.0, scatter=0.03, cells=[(r, c) for r in range(2, 6) for c in (1, 5)])
    form = Form("power")
    whole = fit_curves(made, ROWS, COLUMNS, forms=[form])
    left_out = []
    for i, p in enumerate(made):
        rest = fit_curves(made[:i] + made[i + 1 :], ROWS, COLUMNS, forms=[form])
        x = math.log(p.conductance_s[p.row, p.column] / 100e-6)
        lean = rest.exponent_cell[p.row, p.column] - rest.curves.exponent
        predicted = rest.curves.level[p.row, p.column] + rest.curves.exponent * x + lean * (x - rest.x_centre)
        left_out.append(math.log(p.force_n) - predicted)
    assert whole.scores["power"] == pytest.approx(np.sqrt(np.mean(np.square(left_out))), rel=0.2)


def test_exponents_that_differ_from_cell_to_cell_are_no_slipped_weights():
    rng = np.random.default_rng(2)
    level, lean = rng.normal(math.log(35.0), 0.25, (ROWS, COLUMNS)), rng.normal(0.0, 0.03, (ROWS, COLUMNS))
    made = []
    for row, column in np.ndindex(ROWS, COLUMNS):
        for weight in (10.0, 30.0, 90.0, 200.0):
            grid = np.zeros((ROWS, COLUMNS))
            force = weight * np.exp(0.01 * rng.standard_normal())
            grid[row, column] = conductance_for(force, level[row, column], 1.1 + lean[row, column], 0.0)
            made.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0))
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.exponent_spread == pytest.approx(0.03, rel=0.2)
    assert np.corrcoef(fit.exponent_cell.ravel(), lean.ravel())[0, 1] > 0.95
    assert np.mean(fit.trust < 0.2) < 0.04
    np.testing.assert_allclose(fit.repeatability_panel, 0.01, rtol=0.35)
    # The covariance of a cell's exponent holds the spread.
    assert math.sqrt(fit.cell_cov[4, 4, 1, 1]) == pytest.approx(0.03, rel=0.25)


def with_unloading(arch=0.09, scatter=0.01, seed=1):
    """Up to 180 N on every cell, then 60 N on the way down with the excess b (1 - F/P) of ln F."""
    rng = np.random.default_rng(seed)
    up, level = placements(bend=0.0, scatter=scatter, seed=seed, weights=(20.0, 60.0, 180.0))
    for row, column in np.ndindex(ROWS, COLUMNS):
        grid = np.zeros((ROWS, COLUMNS))
        reads = 60.0 * math.exp(arch * (1 - 60 / 180) + scatter * rng.standard_normal())
        grid[row, column] = conductance_for(reads, level[row, column], 1.1, 0.0)
        up.append(Placement(row, column, 60.0, grid, slice(0, 1), True, math.nan, peak_n=180.0))
    return up, level


def test_unloading_tells_the_hysteresis_and_serves_the_level_too():
    made, level = with_unloading()
    fit = fit_curves(made, ROWS, COLUMNS)
    assert fit.arch == pytest.approx(0.09, abs=3 * fit.arch_u)
    assert 0.001 < fit.arch_u < 0.01
    # Half of the arch at half the peak.
    np.testing.assert_allclose(fit.hysteresis_panel, 0.045, atol=0.004)
    assert np.median(fit.hysteresis_cell) == pytest.approx(0.045, abs=0.004)
    assert np.abs(np.median(errors(fit, level, bend=0.0, at=(20.0, 60.0, 180.0)), axis=(1, 2))).max() < 0.01
    rising = fit_curves([p for p in made if not p.falling], ROWS, COLUMNS)
    assert math.isnan(rising.arch)
    assert np.isnan(rising.hysteresis_panel).all()
    assert np.median(fit.level_u) < np.median(rising.level_u)


def test_a_way_down_from_an_unknown_peak_counts_next_to_nothing():
    made, _ = with_unloading()
    unknown = [Placement(**{**vars(p), "peak_n": math.nan}) if p.falling else p for p in made]
    rising = fit_curves([p for p in made if not p.falling], ROWS, COLUMNS)
    np.testing.assert_allclose(fit_curves(unknown, ROWS, COLUMNS).curves.level, rising.curves.level, atol=2e-3)


def test_a_weight_that_is_badly_known_counts_less():
    made, _ = placements(bend=0.0, scatter=0.02, seed=4)
    wrong = [Placement(**{**vars(p), "force_n": 198.0, "mass_u": 0.1}) if p.force_n == 180.0 else p for p in made]
    trusted = [Placement(**{**vars(p), "mass_u": 0.0}) for p in wrong]
    form = [Form("power")]
    honest = fit_curves(wrong, ROWS, COLUMNS, forms=form)
    assert abs(honest.curves.exponent - 1.1) < 0.4 * abs(
        fit_curves(trusted, ROWS, COLUMNS, forms=form).curves.exponent - 1.1
    )


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


def test_loads_that_differ_by_a_tenth_are_others():
    assert different_loads([]) == (0, 1.0)
    assert different_loads([50.0]) == (1, pytest.approx(1.0))
    # In logarithms: 0.0953 is none, 0.1044 is one.
    assert different_loads([20.0, 10.0, 11.0]) == (2, pytest.approx(2.0))
    assert different_loads([20.0, 10.0, 11.1]) == (3, pytest.approx(2.0))


@pytest.mark.parametrize(
    ("arch", "taken"), [(math.nan, UNSEEN_ARCH), (-0.1, 0.0), (0.0, 0.0), (0.2, 0.2), (0.5, 0.5), (0.6, 0.5)]
)
def test_a_films_arch_is_between_nothing_and_a_half(arch, taken):
    fit = fit_curves(placements(cells=[(r, 1) for r in range(4)])[0], ROWS, COLUMNS, forms=[Form("power")])
    film = film_of(replace(fit, arch=arch))
    assert (film.arch, film.creep) == (taken, 0.0)
    assert (film.highest_n, film.mass_u) == (fit.highest_n, fit.mass_u)


@pytest.mark.parametrize(
    ("kept", "share", "held", "told"),
    [
        (math.nan, 0.2, None, (0.2, 1.0, 0.6)),  # nothing is known of lifts: as ever
        (0.25, 0.002, None, (0.002, 1.0, 0.6)),  # it hardly creeps
        (1.0, 0.2, None, (0.2, 1.0, 0.6)),
        (0.25, 0.2, None, (0.25 * 0.2 + 0.75 * 0.1, 0.25, 0.6)),  # the gain's part by its form
        (0.25, 0.2, (0.3, 0.9), (0.3, 0.25, 0.9)),  # a load that lay for long tells
    ],
)
def test_what_a_run_tells_of_the_films_memory(monkeypatch, kept, share, held, told):
    asked = []
    monkeypatch.setattr(fit_module, "creep_from_drift", lambda drift, exponent: share * exponent)
    monkeypatch.setattr(fit_module, "kept_part", lambda _, creep: asked.append(creep) or (kept, 0.1))
    monkeypatch.setattr(fit_module, "told_by_holds", lambda _, part: held)
    monkeypatch.setattr(fit_module, "same_start", lambda creep, straight: creep / 2)
    creep, part, u, straight = fit_module._memory_of(placements(cells=[(0, 0)])[0])
    assert (creep, part, straight) == pytest.approx(told)
    assert u == 0.1
    # What the long load told is asked of the lifts again, once.
    assert asked == ([share] if held is None else [share, 0.3])


def test_a_saturation_that_stands_in_is_a_siemens_at_the_most():
    for inverse, held_s in ((200.0, 0.005), (2.0, 0.5), (0.5, 1.0)):
        assert fit_module._held_s(replace(TYPICAL, values={"inverse": inverse})) == pytest.approx(held_s)
    assert fit_module._held_s(replace(TYPICAL, values={})) == pytest.approx(min(SATURATION_S, 1.0))


@pytest.mark.parametrize(("bend", "rises"), [(0.24, True), (0.26, False), (-0.49, True), (-0.51, False)])
def test_a_curve_rises_at_both_ends_of_what_was_loaded(bend, rises):
    """Exponent 1, x from -2 to 1: 1 - 4 b and 1 + 2 b."""
    assert fit_module._rises(SimpleNamespace(exponent=1.0, bend=bend, x=np.array([-2.0, 0.0, 1.0]))) == rises


def test_no_cell_rises_less_steeply_than_three_tenths_of_the_film():
    fitted = SimpleNamespace(
        exponent=1.0, bend=0.1, x=np.array([-2.0, 1.0]), saturation_s=5e-3, offset_s=0.0, centre=0.0, gain=np.zeros(2),
        solved=SimpleNamespace(level=np.array([3.0, 4.0]), lean=np.array([-0.5, -0.3])),
        form=SimpleNamespace(by_gain=False),
    )  # fmt: skip
    curves = fit_module._curves(fitted, 1, 2)
    # It is flattest at its low end: 1 - 0.4.
    assert curves.lean.tolist() == [[pytest.approx(-0.7 * 0.6), -0.3]]
    assert (curves.level.tolist(), curves.x_low, curves.x_high) == ([[3.0, 4.0]], -2.0, 1.0)
